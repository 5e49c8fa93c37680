"""One walks from a verdict to its result, its budget and the rows that were read, and back, by links alone.

    links_test.py EVALUATE_FOLDER FOLDER LIMITS
"""

import pathlib
import subprocess
import sys
import tempfile
import zipfile
from xml.etree import ElementTree

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import spreadsheet  # noqa: E402

DRAWING = "{http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing}"
FIRST_ROW = 4
VERDICT_LIMIT, VERDICT_RESULT, VERDICT_VALUE, VERDICT_OUTCOME = 0, 2, 5, 4
RESULT_QUANTITY, RESULT_VERDICT, RESULT_VALUE, RESULT_BUDGET, RESULT_READINGS = 0, 3, 4, 12, 13
BUDGET_VALUE, BUDGET_READINGS = 10, 9


def place_of(target):
    sheet, cell = target.rsplit("!", 1)
    return sheet.strip("'").replace("''", "'"), spreadsheet.split_name(cell.split(":")[0])


def anchors(path):
    """Cells at whose corner a chart begins."""
    cells = set()
    with zipfile.ZipFile(path) as archive:
        for name in archive.namelist():
            if name.startswith("xl/drawings/drawing"):
                for corner in ElementTree.fromstring(archive.read(name)).iter(DRAWING + "from"):
                    cells.add((int(corner.find(DRAWING + "row").text), int(corner.find(DRAWING + "col").text)))
    return cells


class Book:
    def __init__(self, path):
        self.sheets = spreadsheet.read(path)
        self.links = {sheet: {cell: place_of(target) for cell, target in targets.items()}
                      for sheet, targets in spreadsheet.links(path).items()}
        self.anchors = anchors(path)
        self.failures = []

    def value(self, sheet, row, column):
        cell = self.sheets[sheet].get((row, column))
        return None if cell is None else cell.value

    def check(self, holds, words):
        if not holds:
            self.failures.append(words)

    def check_targets(self):
        """Every link ends at a sheet of the book, in a cell or at a row that holds something."""
        count = 0
        for sheet, links in self.links.items():
            for cell, (target, (row, column)) in links.items():
                count += 1
                if target not in self.sheets:
                    self.check(False, f"{sheet} {cell} leads to a sheet {target} that is not there")
                    continue
                there = (target == "charts" and (row, column) in self.anchors or
                         any((row, at) in self.sheets[target] for at in range(column, column + 20)))
                self.check(there, f"{sheet} {cell} leads to {target} {row, column}, where nothing stands")
        return count

    def follow(self, sheet, row, column, expected):
        """Where a link leads: (sheet, row); None, and a failure, where it does not lead to the sheet expected."""
        target, (at, _) = self.links[sheet].get((row, column), (None, (None, None)))
        good = target == expected if isinstance(expected, str) else target is not None and expected(target)
        self.check(good, f"{sheet} row {row + 1}, column {column + 1} leads to {target}")
        return at if good else None

    def check_verdicts(self):
        walked, row = 0, FIRST_ROW
        while self.value("verdicts", row, VERDICT_LIMIT) is not None:
            limit = self.follow("verdicts", row, VERDICT_LIMIT, "limits")
            self.check(limit is None or self.value("limits", limit, 0) == self.value("verdicts", row, VERDICT_LIMIT),
                       f"verdict of row {row + 1} leads to another limit")
            if (row, VERDICT_RESULT) in self.links["verdicts"]:
                walked += 1
                self.check_result(row)
            else:
                self.check(self.value("verdicts", row, VERDICT_OUTCOME) == "not decided",
                           f"verdict of row {row + 1} has no link to its result")
            row += 1
        return walked

    def check_result(self, verdict):
        result = self.follow("verdicts", verdict, VERDICT_RESULT, "results")
        if result is None:
            return
        words = self.value("verdicts", verdict, VERDICT_RESULT)
        self.check(words.startswith(self.value("results", result, RESULT_QUANTITY)), f"\"{words}\" leads to another result")
        # A verdict is linked back from its result; a result of several limits leads to one of them.
        back = self.follow("results", result, RESULT_VERDICT, "verdicts")
        self.check(back is None or self.links["verdicts"][(back, VERDICT_RESULT)] == ("results", (result, 0)),
                   f"result of row {result + 1} leads to a verdict on another result")
        value = self.value("results", result, RESULT_VALUE)
        if (result, RESULT_BUDGET) in self.links["results"]:
            budget = self.follow("results", result, RESULT_BUDGET, "budgets")
            self.check(budget is None or self.value("budgets", budget, BUDGET_VALUE) == value,
                       f"result of row {result + 1} leads to the budget of another value")
            if budget is not None and (budget, BUDGET_READINGS) in self.links["budgets"]:
                self.follow("budgets", budget, BUDGET_READINGS, lambda sheet: sheet.startswith("run "))
        rows = self.follow("results", result, RESULT_READINGS, lambda sheet: sheet.startswith("run "))
        self.check(rows is not None, f"result of row {result + 1} leads to no readings")


def main():
    evaluate, folder, limits = sys.argv[1:]
    with tempfile.TemporaryDirectory() as scratch:
        path = pathlib.Path(scratch) / "book.xlsx"
        subprocess.run([evaluate, folder, limits, str(path)], check=True, capture_output=True)
        book = Book(path)
    count, walked = book.check_targets(), book.check_verdicts()
    for failure in book.failures[:40]:
        print(failure)
    print(f"{count} links, {walked} verdicts followed to their readings, {len(book.failures)} failures")
    sys.exit(1 if book.failures or walked == 0 else 0)


if __name__ == "__main__":
    main()
