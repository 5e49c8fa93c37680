"""The cells of a workbook written once more, by Python's XlsxWriter: what our cells per second are measured against.

Usage: xlsxwriter_bench.py WORKBOOK OUT      prints "CELLS SECONDS"

Same work: every cell of every sheet in its place, with its formula and stored value, its style out of as many formats, its
links; no row is kept (constant_memory). Reading the workbook that is to be copied is not timed, nor are charts.
"""

import pathlib
import sys
import time

import xlsxwriter

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "workbook"))
import spreadsheet  # noqa: E402


def rows_of(path):
    """Sheets with their cells in the order in which they are written."""
    return {name: sorted(cells.items()) for name, cells in spreadsheet.read(path).items()}


def write(sheets, links, path):
    book = xlsxwriter.Workbook(path, {"constant_memory": True, "strings_to_formulas": False, "strings_to_urls": False})
    styles = sorted({cell.style for cells in sheets.values() for _, cell in cells})
    # As many formats as there, no two alike.
    formats = {style: None if style == 0 else book.add_format({"num_format": "0." + "0" * (1 + style)}) for style in styles}
    count = 0
    for name, cells in sheets.items():
        sheet = book.add_worksheet(name)
        targets = links[name]
        for place, cell in cells:
            row, column = place
            style = formats[cell.style]
            if cell.formula is not None:
                sheet.write_formula(row, column, cell.formula, style, cell.value)
            elif place in targets:
                sheet.write_url(row, column, "internal:" + targets[place], style, cell.value)
            elif isinstance(cell.value, float):
                sheet.write_number(row, column, cell.value, style)
            elif cell.value is not None:
                sheet.write_string(row, column, cell.value, style)
            count += 1
    book.close()
    return count


def main():
    source, target = sys.argv[1:]
    sheets, links = rows_of(source), spreadsheet.links(source)
    start = time.process_time()
    count = write(sheets, links, target)
    print(count, time.process_time() - start)


if __name__ == "__main__":
    main()
