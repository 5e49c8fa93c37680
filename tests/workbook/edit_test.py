"""Edits follow: a reading, a bound, a rule or a multiple changed in the workbook, and in the folder.

    edit_test.py LUXDOSSIER EVALUATE_FOLDER FOLDER LIMITS EDITS [RUN ...]

Each edit is made twice: in a copy of the workbook, which LibreOffice then calculates anew (many copies in one start), and
in a copy of the folder or limits file, which the program evaluates anew: LUXDOSSIER gives the workbook and the verdicts,
EVALUATE_FOLDER values and U with all digits. Outcomes agree in all; values and U agree to 1e-9 where no stored number lies
upstream. Edits are drawn by a generator of fixed seed: first one reading of each kind of run, then readings, bounds, rules
and multiples in turn. With RUNs the folder is cut down to these, and their long logs to fewer rows (the workbook of a whole
folder may take half a minute to calculate, and each edit needs one): every kind of run of the whole folder is to be among
them, and every kind of which the program knows. The first edit of each kind is to reach a result.
"""

import copy
import json
import pathlib
import random
import re
import shutil
import subprocess
import sys
import tempfile
import zipfile

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import spreadsheet  # noqa: E402

FIRST_ROW = 4
RULES = {"simple-acceptance": "simple acceptance", "guarded-acceptance": "guarded acceptance",
         "four-outcome": "four outcomes"}
RULE_COLUMN, MULTIPLE_COLUMN = 10, 11
READINGS = ("sensor", "meter", "monitor", "irradiance", "signal")


def name_of(row, column):
    return f"{chr(ord('A') + column)}{row + 1}"


class Workbook:
    """The workbook as parts, for copies that differ in one cell."""

    def __init__(self, path):
        self.path = path
        with zipfile.ZipFile(path) as archive:
            self.parts = spreadsheet.sheet_parts(archive)
            self.content = {part: archive.read(part).decode() for part in archive.namelist()}
        self.sheets = spreadsheet.read(path)

    def copy(self, target, changes):
        """Writes a copy; changes: [(sheet, row, column, number or text)]."""
        content = dict(self.content)
        for sheet, row, column, value in changes:
            part = self.parts[sheet]
            cell = name_of(row, column)
            body = f'<v>{value!r}</v></c>' if isinstance(value, float) else f'<is><t>{value}</t></is></c>'
            kind = "" if isinstance(value, float) else ' t="inlineStr"'
            pattern = re.compile(rf'<c r="{cell}"( s="\d+")?[^>]*>.*?</c>', re.S)
            changed, count = pattern.subn(lambda match: f'<c r="{cell}"{match[1] or ""}{kind}>{body}', content[part], count=1)
            assert count == 1, f"{sheet} has no cell {cell}"
            content[part] = changed
        with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
            for part, text in content.items():
                archive.writestr(part, text)


class Edit:
    def __init__(self, kind, what, workbook_changes, file, before, after):
        self.kind = kind          # of the run, or "limit"
        self.what = what
        self.workbook_changes = workbook_changes
        self.file = file          # relative to the folder, or "limits"
        self.before = before      # content
        self.after = after


def reading_edits(workbook, folder, header, choose, reaches):
    """One reading of each kind of run that reaches a result, then more of any kind."""
    by_kind = runs_by_kind(header)
    for kind in sorted(by_kind):
        drawn = (reading_edit(workbook, folder, kind, choose.choice(by_kind[kind]), choose) for _ in range(20))
        yield next(edit for edit in drawn if reaches(edit))
    while True:
        kind = choose.choice(sorted(by_kind))
        yield reading_edit(workbook, folder, kind, choose.choice(by_kind[kind]), choose)


def kind_of(run, header):
    """The kind that the header states, and what else has a run evaluated in another way."""
    whole = header.get("run_defaults", {}).get(run["kind"], {}) | run
    words = [whole["kind"]]
    if whole["kind"] == "comparison":
        words += [whole["method"], "in a chamber" if "temperature" in whole.get("conditions", {}) else ""]
    elif whole["kind"] == "dark":
        words += [whole["conditions"]["light"], "own light " + whole["conditions"].get("own_light", "none"),
                  "" if "sensor" in columns_of(run) else "of the meter"]
    elif whole["kind"] == "near_infrared" and "visible_source" in whole:
        words += ["beside visible light"]
    if "sample" in columns_of(run):
        words += ["of several samples"]
    return ", ".join(word for word in words if word)


def runs_by_kind(header):
    by_kind = {}
    for run in header["runs"]:
        if "file" in run:
            by_kind.setdefault(kind_of(run, header), []).append(run)
    return by_kind


def kinds_known_to(program, header, scratch):
    """The kinds of run that a header may state, from what the program says to one that states another."""
    folder = scratch / "unknown"
    folder.mkdir()
    run = {"id": "any", "kind": "no such kind", "file": "any.csv"}
    (folder / "qualification.json").write_text(json.dumps(header | {"runs": [run], "exclusions": [], "accepted_remarks": []}))
    said = subprocess.run([program, "check", str(folder)], check=False, capture_output=True, text=True).stderr
    line = next(line for line in said.splitlines() if "no such kind" in line)
    return set(re.findall(r'"([a-z_]+)"', line.split("expected", 1)[1]))


def sheet_of(workbook, run):
    return next(name for name, cells in workbook.sheets.items() if name.startswith("run ") and cells[(0, 0)].value == run)


def reading_edit(workbook, folder, kind, run, choose):
    sheet = sheet_of(workbook, run["id"])
    cells = workbook.sheets[sheet]
    meanings = {}
    for column in range(2, 20):
        heading = cells.get((FIRST_ROW - 1, column))
        if heading is not None and heading.value.split(" / ")[0] in READINGS:
            meanings[column] = heading.value.split(" / ")[0]
    column = choose.choice(sorted(meanings))
    rows = [row for row, at in cells if at == column and row >= FIRST_ROW and (row, 1) not in cells]
    row = choose.choice(sorted(rows))
    lines = (folder / run["file"]).read_text().split("\n")
    data = [i for i, line in enumerate(lines) if line.strip() and not line.startswith("#")]
    headings = lines[data[0]].split(",")
    at_line = data[1 + row - FIRST_ROW]
    fields = lines[at_line].split(",")
    at_field = headings.index(columns_of(run)[meanings[column]])
    old = float(fields[at_field])
    # A step of the reading or a per cent of it: pools, ranges and lines stay as they are.
    decimals = len(fields[at_field].partition(".")[2])
    new = round(old * (1 + choose.uniform(-0.004, 0.004)) + choose.choice((-1, 1)) * 10.0 ** -decimals, decimals)
    fields[at_field] = f"{new:.{decimals}f}"
    changed = list(lines)
    changed[at_line] = ",".join(fields)
    before, after = "\n".join(lines), "\n".join(changed)
    scale = cells[(row, column)].value / old if old else 1.0
    if abs(scale - 1) < 1e-12:
        scale = 1.0
    return Edit(kind, f"{run['id']}, {meanings[column]} of row {row - FIRST_ROW + 1}: {old} -> {new}",
                [(sheet, row, column, float(fields[at_field]) * scale)], run["file"], before, after)


DEFAULTS = {}


def columns_of(run):
    columns = DEFAULTS.get(run["kind"], {}).get("columns", {}) | run.get("columns", {})
    return {meaning: column["column"] for meaning, column in columns.items()}


def limit_edit(workbook, limits_file, choose):
    before = limits_file.read_text()
    limits = json.loads(before)
    rows = {cell.value: row for (row, column), cell in workbook.sheets["limits"].items() if column == 0 and row > FIRST_ROW}
    kind = choose.choice(("bound", "bound", "rule", "multiple", "default rule", "default multiple"))
    limit = choose.choice([limit for limit in limits["limits"] if "not_assessed" not in limit])
    row = rows[limit["id"]]
    if kind == "bound" and ("lower" in limit or "upper" in limit):
        side = choose.choice([side for side in ("lower", "upper") if side in limit])
        moved = limit[side] * choose.uniform(0.2, 1.3)
        if side == "lower" and "upper" in limit:
            moved = min(moved, limit["upper"] - 0.01 * abs(limit["upper"]))
        if side == "upper" and "lower" in limit:
            moved = max(moved, limit["lower"] + 0.01 * abs(limit["lower"]))
        limit[side] = moved
        change = ("limits", row, 4 if side == "lower" else 5, float(limit[side]))
    elif kind == "bound" and "plus_minus" in limit:
        limit["plus_minus"]["percent_of_level"] = choose.uniform(0.5, 8)
        change = ("limits", row, 7, limit["plus_minus"]["percent_of_level"])
    elif kind in ("rule", "multiple", "bound"):
        own = limit.setdefault("decision_rule", copy.deepcopy(limits["decision_rule"]))
        if kind == "rule":
            own["kind"] = choose.choice(sorted(RULES))
            own.setdefault("guard_band_multiple", 1.0)
            multiple = workbook.sheets["limits"][(row, MULTIPLE_COLUMN)].value
            own["guard_band_multiple"] = multiple
            change = ("limits", row, RULE_COLUMN, RULES[own["kind"]])
        else:
            own["guard_band_multiple"] = choose.uniform(0, 2)
            change = ("limits", row, MULTIPLE_COLUMN, own["guard_band_multiple"])
        if own["kind"] == "simple-acceptance":
            own.pop("guard_band_multiple")
    else:
        own = limits["decision_rule"]
        if kind == "default rule":
            own["kind"] = choose.choice(sorted(RULES))
            change = ("limits", FIRST_ROW, RULE_COLUMN, RULES[own["kind"]])
        else:
            own["guard_band_multiple"] = choose.uniform(0, 2)
            change = ("limits", FIRST_ROW, MULTIPLE_COLUMN, own["guard_band_multiple"])
        if own["kind"] == "simple-acceptance":
            own.pop("guard_band_multiple", None)
    return Edit("limit", f"{limit['id']}: {kind} -> {change[3]}", [change], "limits", before, json.dumps(limits, indent=1))


def evaluated(programs, folder, limits):
    """Value and U of each result; limit, result and outcome of each verdict."""
    program, evaluate = programs
    answer = subprocess.run([evaluate, str(folder), str(limits), "-"], check=False, capture_output=True, text=True)
    if answer.returncode != 0:
        raise RuntimeError(answer.stderr)
    results = {}
    for line in answer.stdout.splitlines():
        kind, *fields = line.split("\t")
        if kind == "result":
            results[fields[0]] = [None if field == "-" else float(field) for field in (fields[1], fields[3])]
    answer = subprocess.run([program, "verdicts", str(folder), "--limits", str(limits), "--json"], check=False,
                            capture_output=True, text=True)
    if answer.returncode not in (0, 1):
        raise RuntimeError(answer.stderr)
    verdicts = [(verdict["limit"], verdict["result"], verdict["outcome"].replace("_", " "))
                for verdict in json.loads(answer.stdout)["verdicts"]]
    return results, verdicts


LOG_ROWS = 600


def shorten_log(path, keep_span):
    """A log of fewer rows: every n-th where its span counts, else the first ones."""
    lines = path.read_text().splitlines(keepends=True)
    first = 1 + next(i for i, line in enumerate(lines) if line.strip() and not line.startswith("#"))
    rows = lines[first:]
    step = -(-len(rows) // LOG_ROWS) if keep_span else 1
    path.write_text("".join(lines[:first] + rows[::step][:LOG_ROWS]))


def cut_down(folder, limits, runs, target):
    """A copy of the folder with these runs only."""
    shutil.copytree(folder, target, ignore=shutil.ignore_patterns("generator", "*.py", "dossier"))
    path = target / "qualification.json"
    header = json.loads(path.read_text())
    DEFAULTS.update(header.get("run_defaults", {}))
    if runs:
        kinds = runs_by_kind(header).keys()
        header["runs"] = [run for run in header["runs"] if run["id"] in runs]
        assert len(header["runs"]) == len(runs), "a run that is not there"
        assert runs_by_kind(header).keys() == kinds, f"no run of {kinds - runs_by_kind(header).keys()}"
        for key in ("accepted_remarks", "exclusions"):
            header[key] = [one for one in header.get(key, []) if one.get("run", runs[0]) in runs]
        path.write_text(json.dumps(header, indent=1))
        for run in header["runs"]:
            if run["kind"] in ("warm_up", "waveform"):
                shorten_log(target / run["file"], run["kind"] == "warm_up")
    own = target / "limits.json"
    if not own.exists():
        shutil.copy(limits, own)
    return header, own


def compare(edit, calculated, results, verdicts):
    """What disagrees, and how many numbers were compared."""
    found, compared = [], 0
    outcomes = [row[4] for row in calculated["verdicts"][FIRST_ROW:]]
    if len(outcomes) != len(verdicts):
        return [f"{edit.what}: {len(outcomes)} verdicts in the workbook, {len(verdicts)} evaluated"], 0
    for outcome, (limit, result, expected) in zip(outcomes, verdicts):
        if outcome != expected:
            found.append(f"{edit.what}: {limit} on {result}: {outcome} in the workbook, {expected} evaluated")
    for row in calculated["results"][FIRST_ROW:]:
        name = row[16]
        value, expanded = results.get(name, (None, None))
        live = row[14]
        follows = {"live": (4, 9), "value live, U rests on stored cells": (4,), "live, without U": (4,)}.get(live, ())
        for column in follows:
            expected = value if column == 4 else expanded
            if expected is None or row[column] == "":
                found.append(f"{edit.what}: {name}: no number to compare")
                continue
            compared += 1
            scale = max(abs(expected), expanded or 0)
            if abs(float(row[column]) - expected) > 1e-9 * scale:
                found.append(f"{edit.what}: {name}, {'value' if column == 4 else 'U'}: {row[column]} in the workbook, "
                             f"{expected!r} evaluated")
    return found, compared


def write_dossier(program, folder, limits, target):
    """Limits that a folder which was cut down cannot meet are taken out."""
    command = [program, "report", str(folder), "--limits", str(limits), "--out", str(target)]
    answer = subprocess.run(command, check=False, capture_output=True, text=True)
    unmet = {int(number) for number in re.findall(r"that no run meets.*\(at /limits/(\d+)/where", answer.stderr)}
    if answer.returncode == 2 and unmet:
        content = json.loads(limits.read_text())
        content["limits"] = [limit for number, limit in enumerate(content["limits"]) if number not in unmet]
        limits.write_text(json.dumps(content, indent=1))
        answer = subprocess.run(command, check=False, capture_output=True, text=True)
    if answer.returncode not in (0, 1):
        raise RuntimeError(answer.stderr)


class Bench:
    """A folder, its limits and the workbook that was written from them."""

    def __init__(self, programs, folder, limits, runs, scratch):
        self.programs = programs
        self.folder = scratch / "folder"
        self.header, self.limits = cut_down(pathlib.Path(folder), limits, runs, self.folder)
        write_dossier(programs[0], self.folder, self.limits, scratch / "dossier")
        self.workbook = Workbook(scratch / "dossier" / "workbook.xlsx")
        self.results, _ = evaluated(programs, self.folder, self.limits)

    def evaluate(self, edit):
        """The program's answer to the edited folder."""
        edited = self.limits if edit.file == "limits" else self.folder / edit.file
        edited.write_text(edit.after)
        answer = evaluated(self.programs, self.folder, self.limits)
        edited.write_text(edit.before)
        return answer

    def edits(self, count, choose):
        readings = reading_edits(self.workbook, self.folder, self.header, choose,
                                 lambda edit: self.evaluate(edit)[0] != self.results)
        first = len(runs_by_kind(self.header))
        for i in range(count):
            yield next(readings) if i % 2 == 0 or i < first else limit_edit(self.workbook, self.limits, choose)


def calculated_anew(workbook, edits, scratch):
    """The sheets of a copy of the workbook for each edit, as LibreOffice calculates them."""
    books = [scratch / f"edit{i}.xlsx" for i in range(len(edits))]
    for edit, book in zip(edits, books):
        workbook.copy(book, edit.workbook_changes)
    answers = {}
    for i in range(0, len(books), 50):
        answers |= spreadsheet.recalculate(books[i:i + 50])
    return [answers[book] for book in books]


def main():
    *programs, folder, limits, count = sys.argv[1:6]
    runs = sys.argv[6:]
    choose = random.Random(20250310)
    with tempfile.TemporaryDirectory() as scratch:
        scratch = pathlib.Path(scratch)
        bench = Bench(programs, folder, limits, runs, scratch)
        edits = list(bench.edits(int(count), choose))
        failures, compared = [], 0
        for edit, calculated in zip(edits, calculated_anew(bench.workbook, edits, scratch)):
            found, numbers = compare(edit, calculated, *bench.evaluate(edit))
            failures += found
            compared += numbers
        if runs:
            edited = {edit.kind.split(",")[0] for edit in edits if edit.kind != "limit"}
            known = kinds_known_to(programs[0], bench.header, scratch)
            failures += [f"no reading of a run of kind {kind} was edited" for kind in sorted(known - edited)]
        for failure in failures[:40]:
            print(failure)
        kinds = sorted({edit.kind for edit in edits if edit.kind != "limit"})
        print(f"{count} edits (limits; readings of {'; '.join(kinds)}), {compared} numbers compared, "
              f"{len(failures)} disagreements")
        return 1 if failures or compared == 0 else 0


if __name__ == "__main__":
    sys.exit(main())
