"""Prints what luxdossier achieves on this machine. Figures, no tests.

Usage: run.py BUILD_FOLDER      (built with -DLUXDOSSIER_BENCHMARKS=ON and CMAKE_BUILD_TYPE=Release)
"""

import os
import pathlib
import re
import resource
import subprocess
import sys
import tempfile
import time
import zipfile

HERE = pathlib.Path(__file__).resolve().parent
DEMONSTRATION = HERE.parents[1] / "fixtures/bridge-dimmer"


def rows_and_cells_of(workbook):
    with zipfile.ZipFile(workbook) as archive:
        sheets = [archive.read(name) for name in archive.namelist() if name.startswith("xl/worksheets/sheet")]
    return sum(sheet.count(b"<row ") for sheet in sheets), sum(sheet.count(b"<c ") for sheet in sheets)


def beside(theirs, script, given, made, ours_per_second, unit, digits, goal):
    """The same work done by a Python library, CPU time beside CPU time."""
    ran = subprocess.run([sys.executable, "-B", HERE / script, given, made], capture_output=True, text=True)
    if ran.returncode != 0:
        print(f"{theirs:14} not measured: install python3-{theirs.lower()}")
        return
    number, seconds = ran.stdout.split()
    per_second = int(number) / float(seconds)
    print(f"{theirs:14} {number} {unit} in {float(seconds):.2f} s of CPU: {per_second:.{digits}f} {unit}/s")
    print(f"ours/theirs    {ours_per_second / per_second:.1f} times as fast (goal {goal})")


def whole(program, scratch):
    """Wall time and peak memory of a whole dossier, in a process of its own."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = time.monotonic()
    ran = subprocess.run([program, "report", DEMONSTRATION, "--out", scratch / "dossier"], capture_output=True, text=True)
    wall = time.monotonic() - start
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if ran.returncode not in (0, 1):
        raise SystemExit(ran.stderr)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    print(f"demonstration  {wall:.2f} s wall, {cpu:.2f} s of CPU, peak memory {after.ru_maxrss / 1024:.0f} MB")


def main(build):
    build = pathlib.Path(build).resolve()
    print(f"CPUs: {len(os.sched_getaffinity(0))} usable of {os.cpu_count()}, load {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory(prefix="bench-") as scratch:
        scratch = pathlib.Path(scratch)
        whole(build / "luxdossier", scratch)
        workbook = scratch / "workbook.xlsx"
        text = subprocess.run([build / "tests/bench/dossier_bench", DEMONSTRATION, workbook], check=True,
                              capture_output=True, text=True).stdout
        print(text, end="")
        pages, page_cpu = re.search(r"pages +([0-9]+) in .* ([0-9.]+) s of CPU", text).groups()
        beside("matplotlib", "matplotlib_bench.py", f"{workbook}.items", scratch / "again.pdf", int(pages) / float(page_cpu), "pages", 1,
               10)
        seconds, cpu = (float(number) for number in re.search(r"workbook +([0-9.]+) s, ([0-9.]+) s of CPU", text).groups())
        rows, cells = rows_and_cells_of(workbook)
        print(f"workbook       {rows} rows: {rows / seconds:.0f} rows/s; {cells} cells: {cells / cpu:.0f} cells/s of CPU")
        beside("XlsxWriter", "xlsxwriter_bench.py", workbook, scratch / "again.xlsx", cells / cpu, "cells", 0, 2.5)
    sys.stdout.flush()
    here = pathlib.Path(__file__).resolve().parent
    for processors in ("0", "0,1"):
        subprocess.run(["taskset", "-c", processors, build / "tests/bench/trials_bench", here / "reading-error.json"], check=True)
    subprocess.run(["taskset", "-c", "0", sys.executable, here / "trials_numpy.py"], check=True)
    subprocess.run([build / "tests/bench/csv_bench"], check=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
