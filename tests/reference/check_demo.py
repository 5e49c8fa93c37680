"""Runs the program on a qualification folder and compares its record with the recomputation; then proves that the
comparison can fail: a copy of the record in which one input's u is scaled by 1.001 must be refused.

Usage: check_demo.py LUXDOSSIER FOLDER
"""
import copy
import json
import pathlib
import subprocess
import sys
import tempfile

from compare import compare, mutate
from folder import load


def main(program, folder):
    with tempfile.TemporaryDirectory() as scratch:
        out = pathlib.Path(scratch) / "dossier"
        ran = subprocess.run([program, "report", folder, "--out", str(out)], capture_output=True, text=True)
        assert ran.returncode in (0, 1), f"exit {ran.returncode}: {ran.stderr}"
        record = json.loads((out / "record.json").read_text())
    header, runs = load(folder)
    faults, compared = compare(header, runs, record)
    for fault in faults[:40]:
        print(fault)
    print(f"{sum(compared.values())} results compared: " + ", ".join(f"{k} {v}" for k, v in sorted(compared.items())))
    print(f"{len(faults)} disagreements")
    changed = copy.deepcopy(record)
    scaled = mutate(changed)
    refused, _ = compare(header, runs, changed)
    print(f"with u of {scaled} scaled by 1.001: {len(refused)} disagreements")
    assert compared and len(refused) > len(faults), "the comparison cannot fail"
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
