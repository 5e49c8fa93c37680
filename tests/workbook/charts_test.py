"""Every plot of the report has its native chart, with the limits as series that say which they are.

    charts_test.py EVALUATE_FOLDER FOLDER LIMITS FAMILY[+] ...

EVALUATE_FOLDER writes the workbook and says which panels the report's plots have, with their series and limits. The charts
are read from the workbook's parts. Named are the metric families that have plots, with + where limits are drawn.
"""

import pathlib
import subprocess
import sys
import tempfile
import zipfile
from xml.etree import ElementTree

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import spreadsheet  # noqa: E402

CHART = "{http://schemas.openxmlformats.org/drawingml/2006/chart}"
TEXT = "{http://schemas.openxmlformats.org/drawingml/2006/main}t"
FIRST_ROW = 4


class Panel:
    def __init__(self, family, figure, title, panels):
        self.family, self.figure, self.title = family, figure, title
        self.is_alone = panels == "1"
        self.series, self.lines = [], {}

    def is_drawn_by(self, chart):
        return chart.title == self.figure if self.is_alone else chart.title.startswith(f"{self.figure}: {self.title}")


class Chart:
    """A chart with the series that it draws: name in the sheet of numbers -> points, and the words beside points."""

    def __init__(self, title, root, plots):
        self.title = title
        self.description = ""
        self.series, self.labels = {}, []
        for series in root.iter(CHART + "ser"):
            self.labels += [text.text for label in series.iter(CHART + "dLbl") for text in label.iter(TEXT)]
            ranges = {axis: part.find(f".//{CHART}f").text for axis in ("xVal", "yVal")
                      if (part := series.find(CHART + axis)) is not None}
            if len(ranges) == 2:
                x, y = (points_of(plots, ranges[axis]) for axis in ("xVal", "yVal"))
                row = first_cell(ranges["yVal"])[0]
                name = plots[(row, 1)].value if (row, 1) in plots else ""
                self.series[name] = list(zip(x, y))


def first_cell(reference):
    return spreadsheet.split_name(reference.rsplit("!", 1)[1].split(":")[0])


def points_of(plots, reference):
    first, last = reference.rsplit("!", 1)[1].split(":")
    (row, column), (last_row, _) = spreadsheet.split_name(first), spreadsheet.split_name(last)
    return [plots[(at, column)].value if (at, column) in plots else None for at in range(row, last_row + 1)]


def charts_of(book):
    """Charts in the order of the list at the top of their sheet."""
    sheets = spreadsheet.read(book, ("charts", "plots"))
    # Under the headings two titles stand beside each other in a row, up to the first row without.
    titles, row = [], FIRST_ROW
    while (row, 0) in sheets["charts"]:
        titles += [sheets["charts"][row, at].value for at in range(20) if (row, at) in sheets["charts"]]
        row += 1
    with zipfile.ZipFile(book) as archive:
        count = sum(name.startswith("xl/charts/chart") for name in archive.namelist())
        assert count == len(titles), f"{count} charts, {len(titles)} in the list"
        return [Chart(title, ElementTree.fromstring(archive.read(f"xl/charts/chart{i + 1}.xml")), sheets["plots"])
                for i, title in enumerate(titles)]


def panels_of(lines):
    panels = []
    for line in lines:
        kind, *fields = line.split("\t")
        if kind == "panel":
            panels.append(Panel(*fields))
        elif kind == "series":
            panels[-1].series.append(fields[0])
        elif kind in ("limit", "acceptance") and fields[2:]:
            name = f"{fields[0]} {fields[1]}" + (", acceptance" if kind == "acceptance" else "")
            panels[-1].lines[name] = [tuple(float(number) for number in point.split()) for point in fields[2:]]
    return panels


def is_close(a, b):
    return a is not None and abs(a - b) <= 1e-12 * max(abs(a), abs(b))


def is_drawn(points, drawn):
    """Points of a limit against those of a chart; polar plots draw them at x = r sin(angle), so only their number counts."""
    return len(points) == len(drawn) and all(x is not None and y is not None for x, y in drawn)


def short_of(panel, chart, polar):
    """What the chart of a panel lacks."""
    for name in panel.series:
        if name not in chart.series:
            yield f"{chart.title}: no series \"{name}\""
    for name, points in panel.lines.items():
        drawn = chart.series.get(name)
        if drawn is None:
            yield f"{chart.title}: no series \"{name}\""
        elif not is_drawn(points, drawn):
            yield f"{chart.title}: {name} has {drawn}"
        elif not polar and not all(is_close(x, a) and is_close(y, b) for (x, y), (a, b) in zip(drawn, points)):
            yield f"{chart.title}: {name} is drawn at {drawn}, the report draws it at {points}"
        elif not name.endswith("acceptance") and name.split()[0] not in chart.labels:
            yield f"{chart.title}: nothing says which line is {name}"


def main():
    evaluate, folder, limits, *families = sys.argv[1:]
    with tempfile.TemporaryDirectory() as scratch:
        book = pathlib.Path(scratch) / "book.xlsx"
        told = subprocess.run([evaluate, folder, limits, str(book)], check=True, capture_output=True, text=True).stdout
        charts = charts_of(book)
    panels = panels_of(told.splitlines())
    failures = []
    for panel in panels:
        found = [chart for chart in charts if panel.is_drawn_by(chart) and set(panel.series) <= set(chart.series)]
        if not found:
            failures.append(f"no chart draws {panel.figure}: {panel.title}, {panel.series}")
        else:
            failures += short_of(panel, found[0], panel.family == "angular")
    seen = {panel.family for panel in panels}
    with_limits = {panel.family for panel in panels if panel.lines}
    if {family + ("+" if family in with_limits else "") for family in seen} != set(families):
        failures.append(f"plots of {sorted(seen)}, limits in {sorted(with_limits)}; expected {families}")
    titles = [chart.title for chart in charts]
    failures += [f"two charts are called {title}" for title in sorted(set(titles)) if titles.count(title) > 1]
    for failure in failures[:40]:
        print(failure)
    print(f"{len(panels)} panels of {len(seen)} families, {len(charts)} charts, "
          f"{sum(len(panel.lines) for panel in panels)} limit lines, {len(failures)} failures")
    return 1 if failures or not panels else 0


if __name__ == "__main__":
    sys.exit(main())
