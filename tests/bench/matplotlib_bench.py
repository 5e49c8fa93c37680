"""The pages of a report drawn once more, by matplotlib: what our pages per second are measured against.

Usage: matplotlib_bench.py ITEMS OUT      prints "PAGES SECONDS", CPU time

ITEMS is what dossier_bench leaves: the texts and paths of every page at their places. So matplotlib is spared the measuring
of text, the breaking of lines and pages, the scales and ticks, and tags, links and outline; our time holds all of them.
Starting Python and reading ITEMS is not timed.
"""

import sys
import time

import matplotlib

matplotlib.use("pdf")
from matplotlib.backends.backend_pdf import PdfPages  # noqa: E402
from matplotlib.figure import Figure  # noqa: E402
from matplotlib.lines import Line2D  # noqa: E402
from matplotlib.patches import Polygon  # noqa: E402

MILLIMETRES_PER_INCH = 25.4
POINTS_PER_MILLIMETRE = 72 / MILLIMETRES_PER_INCH


def pages_of(path):
    pages = []
    with open(path, encoding="utf-8") as items:
        for line in items:
            kind, *fields = line.rstrip("\n").split("\t")
            if kind == "page":
                width, height = map(float, fields)
                pages.append((width, height, [], []))
            elif kind == "text":
                x, y, size = map(float, fields[:3])
                pages[-1][2].append((x / width, 1 - y / height, size, fields[3]))
            else:
                line_width, filled = float(fields[0]), fields[1] == "1"
                numbers = list(map(float, fields[2:]))
                pages[-1][3].append((line_width * POINTS_PER_MILLIMETRE, filled,
                                     [x / width for x in numbers[::2]], [1 - y / height for y in numbers[1::2]]))
    return pages


def draw(pages, path):
    with PdfPages(path) as pdf:
        for width, height, texts, paths in pages:
            figure = Figure(figsize=(width / MILLIMETRES_PER_INCH, height / MILLIMETRES_PER_INCH))
            for line_width, filled, x, y in paths:
                if filled:
                    figure.add_artist(Polygon(list(zip(x, y)), linewidth=line_width))
                else:
                    figure.add_artist(Line2D(x, y, linewidth=line_width))
            for x, y, size, words in texts:
                figure.text(x, y, words, fontsize=size, parse_math=False)
            pdf.savefig(figure)


def main(items, out):
    pages = pages_of(items)
    start = time.process_time()
    draw(pages, out)
    print(len(pages), time.process_time() - start)


if __name__ == "__main__":
    main(*sys.argv[1:])
