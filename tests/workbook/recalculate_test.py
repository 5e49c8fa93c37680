"""LibreOffice calculates the workbook anew: every number and every verdict stays.

    recalculate_test.py EVALUATE_FOLDER FOLDER LIMITS [STORED_CELLS [ROWS_OF_A_SHEET|trials]]

EVALUATE_FOLDER writes the workbook. Compared are the values that the file stores with its formulas and those that another
program computes from the same formulas, to 1e-9. Where a cell is the small rest of larger numbers (a sensitivity that
cancels, say) the difference is judged against what the cell stands beside: 1e-12 of the result's u, or of the numbers that
were subtracted.

STORED_CELLS is a text file: how many cells the workbook stores instead of a formula, by reason ("NUMBER REASON" a line).
"trials" evaluates by the Monte Carlo method too: verdicts that rest on the interval of trials follow limits and rules.
ROWS_OF_A_SHEET makes sheets end early, so that short logs go on in further sheets: no formula may lose a row.
"""

import math
import pathlib
import re
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import spreadsheet  # noqa: E402

RELATIVE = 1e-9
REST = 1e-12
FIRST_ROW = 4
# A text export gives numbers below 1e-4 with 20 decimals.
EXPORTED_DECIMALS = 1e-20


def number_of(text):
    return float(text[:-1]) / 100 if text.endswith("%") else float(text)


class Scales:
    """What a difference is small against, cell by cell."""

    def __init__(self, sheets):
        self.sheets = sheets
        self.u_of_budget_row = self.budget_scales()
        self.largest_derivative = self.derivative_scales()

    def value(self, sheet, row, column):
        cell = self.sheets[sheet].get((row, column))
        return cell.value if cell is not None and isinstance(cell.value, float) else 0.0

    def budget_scales(self):
        scales, u = {}, 0.0
        for row in range(FIRST_ROW, 1 + max((row for row, _ in self.sheets["budgets"]), default=0)):
            if (row, 11) in self.sheets["budgets"]:
                u = self.value("budgets", row, 11)
            scales[row] = u
        return scales

    def derivative_scales(self):
        largest = {}
        for (row, column), cell in self.sheets["derivatives"].items():
            if column == 2 and row >= FIRST_ROW:
                of = self.sheets["derivatives"][(row, 0)].value
                largest[of] = max(largest.get(of, 0.0), abs(cell.value))
        return largest

    def of(self, sheet, row, column):
        if sheet == "budgets":
            u = self.u_of_budget_row[row]
            if column == 4:
                input_u = self.value(sheet, row, 2)
                return u / input_u if input_u else math.inf
            return {5: u, 6: 1.0, 7: u**4, 8: u * u}.get(column, 0.0)
        if sheet == "derivatives":
            return self.largest_derivative[self.sheets[sheet][(row, 0)].value]
        if sheet == "results" and column in (10, 11):
            # Sum of two numbers each of which is compared to 1e-9.
            return (abs(self.value(sheet, row, 4)) + self.value(sheet, row, 9)) * RELATIVE / REST
        if sheet == "verdicts" and column == 14:
            return RELATIVE / REST  # a probability
        if sheet == "verdicts" and column == 22:
            return (abs(self.value(sheet, row, 13)) / self.value(sheet, row, 6) + 1) * RELATIVE / REST
        if sheet == "verdicts" and column == 13:
            return sum(abs(self.value(sheet, row, at)) for at in (5, 6, 11, 12)) * RELATIVE / REST
        if sheet == "means" and column == 8:
            return 1.0
        if sheet == "means" and column == 13:
            return self.value(sheet, row, 5) ** 2
        if sheet == "plots":
            return max(abs(self.value(sheet, row, at)) for at in (2, 3)) * RELATIVE / REST
        return 0.0


def disagreements(sheets, calculated):
    """Formula cells whose stored value another program does not find; and how many formula cells there are."""
    scales = Scales(sheets)
    found, count = [], 0
    for name, cells in sheets.items():
        for (row, column), cell in cells.items():
            if cell.formula is None:
                continue
            count += 1
            text = spreadsheet.text_at(calculated[name], (row, column))
            if isinstance(cell.value, float):
                try:
                    difference = abs(number_of(text) - cell.value)
                except ValueError:
                    difference = math.inf
                tolerance = max(RELATIVE * abs(cell.value), REST * scales.of(name, row, column), EXPORTED_DECIMALS)
                if difference <= tolerance:
                    continue
            elif text == cell.value:
                continue
            found.append(f"{name} row {row + 1} column {column + 1}: stored {cell.value}, calculated {text}, "
                         f"formula {cell.formula[:200]}")
    return found, count


# Numbers of these sheets are results of a calculation: a formula, or a cell marked as stored.
COMPUTED = {"verdicts": range(5, 23), "results": range(4, 12), "budgets": range(1, 13), "model": range(2, 4),
            "derivatives": range(2, 3), "pools": range(3, 6), "means": range(5, 12)}


def stored_cells(sheets, italic):
    """What is wrong with the marks of stored cells, and how many there are by reason.

    A cell is marked by its face and listed on the sheet "stored" with its reason; the guide counts the list.
    """
    wrong = []
    marked = {(name, *place) for name, cells in sheets.items() for place, cell in cells.items() if cell.style in italic}
    listed, counts = set(), {}
    for row in range(FIRST_ROW, 1 + max(row for row, _ in sheets["stored"])):
        if (row, 0) not in sheets["stored"]:
            continue
        sheet, cell = sheets["stored"][(row, 0)].value.rsplit("!", 1)
        listed.add((sheet.strip("'"), *spreadsheet.split_name(cell)))
        reason = sheets["stored"][(row, 1)].value
        counts[reason] = counts.get(reason, 0) + 1
    wrong += [f"marked as stored but not listed: {place}" for place in sorted(marked - listed)]
    wrong += [f"listed as stored but not marked: {place}" for place in sorted(listed - marked)]
    for name, columns in COMPUTED.items():
        wrong += [f"{name} row {row + 1} column {column + 1}: a number that is neither formula nor marked as stored"
                  for (row, column), cell in sheets[name].items()
                  if row >= FIRST_ROW and column in columns and isinstance(cell.value, float) and cell.formula is None
                  and cell.style not in italic]
    guide = sheets["guide"]
    told = {guide[(row, 1)].value: int(cell.value) for (row, column), cell in guide.items()
            if column == 0 and cell.formula is not None and cell.formula.startswith("COUNTIF(stored!")}
    if told != counts:
        wrong.append(f"the guide counts {told}, the list has {counts}")
    return wrong, counts


# Excel 2010 and LibreOffice 7 know these under these names, without a prefix.
FUNCTIONS = {"ABS", "ACOS", "AND", "ASIN", "ATAN", "AVERAGE", "BETAINV", "COS", "COUNT", "COUNTIF", "DEVSQ", "EXP", "GAMMALN", "IF",
             "INDEX", "INT", "ISNUMBER", "LN", "MATCH", "MAX", "MIN", "NORMSDIST", "NORMSINV", "NOT", "OR", "PI", "POWER",
             "SIGN", "SIN", "SLOPE", "SQRT", "STDEV", "STEYX", "SUM", "SUMPRODUCT", "SUMSQ", "TAN", "TDIST"}


def unknown_functions(sheets):
    """Functions that older spreadsheets do not know, and array formulas."""
    used = {}
    for name, cells in sheets.items():
        for place, cell in cells.items():
            if cell.formula is not None:
                plain = re.sub(r'"[^"]*"|\'[^\']*\'!', "", cell.formula)
                for function in re.findall(r"([A-Za-z_.][A-Za-z0-9_.]*)\(", plain):
                    used.setdefault(function, (name, *place))
                if "{" in plain:
                    used.setdefault("array constant", (name, *place))
    return [f"{function} in {place} is not among the functions that Excel 2010 and LibreOffice 7 share"
            for function, place in sorted(used.items()) if function not in FUNCTIONS]


def difference_of_counts(expected, found):
    return [f"stored because \"{reason}\": {found.get(reason, 0)} cells, expected {expected.get(reason, 0)}"
            for reason in sorted(expected.keys() | found.keys()) if expected.get(reason, 0) != found.get(reason, 0)]


def main():
    evaluate, folder, limits, *stored = sys.argv[1:]
    with tempfile.TemporaryDirectory() as scratch:
        books = [pathlib.Path(scratch) / name for name in ("one.xlsx", "two.xlsx")]
        for book in books:
            subprocess.run([evaluate, folder, limits, str(book), *stored[1:]], check=True, stdout=subprocess.DEVNULL)
        failures = []
        if books[0].read_bytes() != books[1].read_bytes():
            failures.append("two runs give different bytes")
        sheets = spreadsheet.read(books[0])
        if stored[1:] and stored[1] != "trials":
            readings = [1 + max(row for row, _ in cells) for name, cells in sheets.items() if name.startswith("run ")]
            if max(readings) > int(stored[1]) or not any(name.endswith(" 2") for name in sheets):
                failures.append(f"sheets of up to {max(readings)} rows, expected further sheets after {stored[1]}")
        calculated = spreadsheet.recalculate(books[:1])[books[0]]
        found, count = disagreements(sheets, calculated)
        failures += found[:40]
        # A comparison that compares nothing proves nothing.
        if count < 1000:
            failures.append(f"only {count} formulas were compared")
        outcomes = [cell for (row, column), cell in sheets["verdicts"].items()
                    if column == 4 and row >= FIRST_ROW and cell.formula is not None]
        if limits != "-" and not outcomes:
            failures.append("no verdict is a formula")
        wrong, counts = stored_cells(sheets, spreadsheet.italic_styles(books[0]))
        failures += wrong[:40] + unknown_functions(sheets)
        if stored:
            lines = pathlib.Path(stored[0]).read_text().splitlines()
            expected = {reason: int(number) for number, reason in (line.split(maxsplit=1) for line in lines)}
            failures += difference_of_counts(expected, counts)
        print(f"{count} formulas calculated anew, {len(outcomes)} live verdicts, {sum(counts.values())} stored cells, "
              f"{len(found)} disagreements")
    for failure in failures:
        print(failure)
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
