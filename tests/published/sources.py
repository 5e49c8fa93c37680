"""Code and docs name sources plainly, and no document that is not in the repository.

What was written down as it was known, and how each was checked by computation, stands in one list in docs/validation.md.
"""

import re
import subprocess
import sys
from pathlib import Path

SOURCE = Path(__file__).resolve().parents[2]
FOLDERS = ("src", "docs", "tests", "fixtures", "templates", "README.md", "DEVELOPERS.md", "CMakeLists.txt")
TEXT = {".cpp", ".hpp", ".in", ".py", ".md", ".json", ".txt", ".sh", ".cmake"}
# Put together here so that this file is none of those that it finds.
PHRASES = ("from" + r"\s+(?:(?://+|#|\*)\s*)?" + "memory", "page" + " design", "models of" + " the product",
           r"\bdesign" + r" (?:section )?\d", r"\bthe" + r" design(?:'s)?\b")


def files():
    for name in FOLDERS:
        path = SOURCE / name
        for file in sorted(path.rglob("*")) if path.is_dir() else [path]:
            if file.is_file() and file.suffix in TEXT and "__pycache__" not in file.parts:
                yield file


def faults_of(file):
    text = file.read_text(encoding="utf-8", errors="replace")
    where = file.relative_to(SOURCE)
    for phrase in PHRASES:
        for found in re.finditer(phrase, text, re.IGNORECASE):
            line = text.count("\n", 0, found.start()) + 1
            yield f"{where}:{line}: found \"{' '.join(found.group().split())}\""
    for found in re.finditer(r"[\w./-]+\.md\b", text):
        name = found.group().lstrip("/")
        near = [file.parent / name, SOURCE / name, SOURCE / "docs" / name, SOURCE / "docs" / "metrics" / name,
                SOURCE / "templates" / name, SOURCE / "tests" / "cases" / name]
        is_example = file.is_relative_to(SOURCE / "tests") or file.name in ("template_text.cpp", "options.cpp")
        if not is_example and not any(path.exists() for path in near) and not name.endswith("NAME.md"):
            line = text.count("\n", 0, found.start()) + 1
            yield f"{where}:{line}: found {name}, which is not in the repository"


def main():
    faults = [fault for file in files() if file != Path(__file__).resolve() for fault in faults_of(file)]
    print("\n".join(faults) or "no source but published ones and files of the repository")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
