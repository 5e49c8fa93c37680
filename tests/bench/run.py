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


def beside_xlsxwriter(workbook, cells_per_second, scratch):
    """The same cells written by Python's XlsxWriter, CPU time beside CPU time."""
    ran = subprocess.run([sys.executable, "-B", HERE / "xlsxwriter_bench.py", workbook, scratch / "again.xlsx"],
                         capture_output=True, text=True)
    if ran.returncode != 0:
        print("XlsxWriter     not measured: install python3-xlsxwriter")
        return
    cells, seconds = ran.stdout.split()
    theirs = int(cells) / float(seconds)
    print(f"XlsxWriter     {cells} cells in {float(seconds):.2f} s of CPU: {theirs:.0f} cells/s")
    print(f"ours/theirs    {cells_per_second / theirs:.1f} times as fast (goal 2.5)")


def beside_matplotlib(items, pages_per_second, scratch):
    """The same pages drawn by matplotlib, CPU time beside CPU time."""
    ran = subprocess.run([sys.executable, "-B", HERE / "matplotlib_bench.py", items, scratch / "again.pdf"],
                         capture_output=True, text=True)
    if ran.returncode != 0:
        print("matplotlib     not measured: install python3-matplotlib")
        return
    pages, seconds = ran.stdout.split()
    theirs = int(pages) / float(seconds)
    print(f"matplotlib     {pages} pages in {float(seconds):.2f} s of CPU: {theirs:.1f} pages/s")
    print(f"ours/theirs    {pages_per_second / theirs:.1f} times as fast (goal 10)")


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
        beside_matplotlib(f"{workbook}.items", int(pages) / float(page_cpu), scratch)
        seconds, cpu = (float(number) for number in re.search(r"workbook +([0-9.]+) s, ([0-9.]+) s of CPU", text).groups())
        rows, cells = rows_and_cells_of(workbook)
        print(f"workbook       {rows} rows: {rows / seconds:.0f} rows/s; {cells} cells: {cells / cpu:.0f} cells/s of CPU")
        beside_xlsxwriter(workbook, cells / cpu, scratch)
    sys.stdout.flush()
    here = pathlib.Path(__file__).resolve().parent
    for processors in ("0", "0,1"):
        subprocess.run(["taskset", "-c", processors, build / "tests/bench/trials_bench", here / "reading-error.json"], check=True)
    subprocess.run(["taskset", "-c", "0", sys.executable, here / "trials_numpy.py"], check=True)
    subprocess.run([build / "tests/bench/csv_bench"], check=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
