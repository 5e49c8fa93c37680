"""Makes the folder of one case: a copy of `base` with the edits that the case's `case.json` states.

Used by every test that needs a bad folder on disk; `python3 tests/cases/make_case.py header/unknown-key DIR` makes one
to look at. What `case.json` may hold stands in README.md.
"""

import json
import os
import shutil
import sys
from pathlib import Path

CASES = Path(__file__).resolve().parent


def all_cases():
    """Names of all cases, such as "header/unknown-key", sorted."""
    return sorted(str(path.parent.relative_to(CASES)) for path in CASES.glob("*/*/case.json"))


def make(name, folder):
    """Makes the case in `folder`, which must not exist; returns its statement."""
    case = json.loads((CASES / name / "case.json").read_text(encoding="utf-8"))
    folder = Path(folder)
    shutil.copytree(CASES / "base", folder)
    for edit in case.get("edit", []):
        path = folder / edit["file"]
        text = path.read_bytes().decode("utf-8")
        if text.count(edit["find"]) != 1:
            raise ValueError(f"{name}: {edit['find']!r} stands {text.count(edit['find'])} times in {edit['file']}")
        path.write_bytes(text.replace(edit["find"], edit["replace"]).encode("utf-8"))
    for file, text in case.get("write", {}).items():
        (folder / file).write_bytes(text.encode("utf-8"))
    for file, digits in case.get("write_hex", {}).items():
        (folder / file).write_bytes(bytes.fromhex(digits))
    for file in case.get("remove", []):
        (folder / file).unlink()
    for file, kind in case.get("make", {}).items():
        (folder / file).unlink(missing_ok=True)
        if kind == "folder":
            (folder / file).mkdir()
        elif kind == "pipe":
            os.mkfifo(folder / file)
        elif kind == "link to outside":
            os.symlink("/etc/hostname", folder / file)
        elif kind == "broken link":
            os.symlink("nowhere.csv", folder / file)
        else:
            raise ValueError(f"{name}: no such kind of file: {kind}")
    return case


if __name__ == "__main__":
    make(sys.argv[1], sys.argv[2])
