"""The JSON Schemas under docs/schema agree with the reader on every fixture, good and bad.

A good folder is valid. Of a bad case, `case.json` says whether the schemas refuse it or cannot see its fault; both are
held to, so that neither the schemas nor the list of what lies beyond them goes stale. The reader's side of the same
cases is tested in cases_test.cpp: every case here is a fault to it.
"""

import json
import math
import sys
import tempfile
from pathlib import Path

import jsonschema

SOURCE = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(SOURCE / "tests" / "cases"))
import make_case  # noqa: E402


def schema(name):
    document = json.loads((SOURCE / "docs" / "schema" / f"{name}.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(document)
    return jsonschema.Draft202012Validator(document)


SCHEMAS = {"qualification.json": schema("qualification-1"), "limits.json": schema("limits-1")}


def finite(text):
    number = float(text)
    if not math.isfinite(number):
        raise ValueError(f"{text} is beyond the range of numbers")
    return number


def refuse(constant):
    raise ValueError(f"{constant} is no JSON")


def first_fault(file):
    """Why the file is refused; None where it is valid."""
    if not file.is_file():
        return "no regular file"
    try:
        document = json.loads(file.read_bytes().decode("utf-8"), parse_float=finite, parse_constant=refuse)
    except (ValueError, UnicodeDecodeError) as error:
        return str(error)
    for error in SCHEMAS[file.name].iter_errors(document):
        return f"/{'/'.join(map(str, error.absolute_path))}: {error.message}"
    return None


def folder_fault(folder):
    faults = [first_fault(folder / name) for name in SCHEMAS if (folder / name).exists() or name == "qualification.json"]
    return next((fault for fault in faults if fault), None)


def main():
    wrong = []
    good = [SOURCE / "tests" / "cases" / "base", *sorted(p for p in (SOURCE / "fixtures").iterdir() if p.is_dir())]
    for folder in good:
        fault = folder_fault(folder)
        if fault:
            wrong.append(f"{folder.relative_to(SOURCE)}: is good, but the schema says {fault}")
    names = make_case.all_cases()
    for name in names:
        with tempfile.TemporaryDirectory() as scratch:
            folder = Path(scratch) / "folder"
            said = make_case.make(name, folder)["schema"]
            fault = folder_fault(folder)
        if (fault is not None) != (said == "refuses"):
            wrong.append(f"{name}: case.json says the schema {said}, it says {fault}")
    print("\n".join(wrong) or f"{len(good)} good folders and {len(names)} bad cases: schemas and reader agree")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
