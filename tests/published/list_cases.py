"""The table of published figures in docs/validation.md, made from what the tests found.

Usage: list_cases.py check|write TEST...      runs the tests tagged [published] and compares or rewrites the table
"""

import collections
import os
import subprocess
import sys
import tempfile
from pathlib import Path

A_TABLE = 40  # a source with more figures is a table, and one line
PAGE = Path(__file__).resolve().parents[2] / "docs/validation.md"
BEGIN, END = "<!-- made by tests/published/list_cases.py: do not edit -->\n", "<!-- end of the made part -->\n"


def cases(tests):
    """(test, kind, source, what, printed, found, digits) of every published figure, in the order of the tests."""
    found = {}
    for test in tests:
        with tempfile.TemporaryDirectory() as scratch:
            file = Path(scratch, "cases")
            ran = subprocess.run([test, "[published]"], capture_output=True, text=True,
                                 env={**os.environ, "LUXDOSSIER_PUBLISHED": str(file)})
            if ran.returncode != 0:
                raise SystemExit(f"{test}: {ran.stdout}")
            for line in file.read_text(encoding="utf-8").splitlines():
                kind, source, what, *rest = line.split("\t")
                found[source, what] = (Path(test).name, kind, source, what, *rest)
    return list(found.values())


def table(found):
    rows = ["| source | figure | printed | found | correct digits | held by |", "|---|---|---|---|---|---|"]
    numbers = collections.Counter(source for _, _, source, *_ in found)
    for test, kind, source, what, printed, number, digits in found:
        if numbers[source] > A_TABLE:
            if what == next(w for _, _, s, w, *_ in found if s == source):
                rows.append(f"| {source} | {numbers[source]} entries | | | all printed | `{test}` |")
            continue
        # Figures by trials differ in digits that are not printed; all others are the same everywhere.
        shown = f"{float(number):.{3 if 'by trials' in what else 9}g}"
        rows.append(f"| {source} | {what} | {printed} | {shown} | {digits if kind == 'certified' else 'all printed'} | `{test}` |")
    return "\n".join(rows) + "\n"


def main(mode, tests):
    text = PAGE.read_text(encoding="utf-8")
    before, rest = text.split(BEGIN)
    made, after = rest.split(END)
    found = cases(tests)
    fresh = f"\n{len(found)} figures, each met by the test named.\n\n{table(found)}\n"
    if mode == "write":
        PAGE.write_text(before + BEGIN + fresh + END + after, encoding="utf-8")
    elif made != fresh:
        differences = [f"- {old}\n+ {new}" for old, new in zip(made.splitlines(), fresh.splitlines()) if old != new]
        raise SystemExit("docs/validation.md is not what the tests found; write it anew with this program's `write`\n"
                         + "\n".join(differences[:20]))
    print(f"{len(found)} published figures")


main(sys.argv[1], sys.argv[2:])
