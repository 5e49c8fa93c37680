"""The program as its users meet it: the demonstration, the tiny folder, and the same bytes everywhere.

Usage: outputs.py LUXDOSSIER FIXTURES [COMMA_LOCALE_PATH]
"""

import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import unittest

PROGRAM, FIXTURES = sys.argv[1], pathlib.Path(sys.argv[2]).resolve()
OUTPUTS = ("report.pdf", "workbook.xlsx", "record.json", "manifest-sha256.txt")
WORDS = {"pass": "pass", "conditional_pass": "conditional pass", "not_decided": "not decided",
         "conditional_fail": "conditional fail", "fail": "fail"}


def run(*arguments, cwd=None, before=(), **environment):
    return subprocess.run([*before, PROGRAM, *map(str, arguments)], capture_output=True, text=True, cwd=cwd,
                          env={**os.environ, **environment})


def text_of(pdf, *options):
    return subprocess.run(["pdftotext", *options, str(pdf), "-"], capture_output=True, text=True, check=True).stdout


class Scratch(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls._scratch = tempfile.TemporaryDirectory(prefix="whole-")
        cls.scratch = pathlib.Path(cls._scratch.name)

    @classmethod
    def tearDownClass(cls):
        cls._scratch.cleanup()


class Demonstration(Scratch):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.dossier = cls.scratch / "dossier"
        cls.ran = run("report", FIXTURES / "bridge-dimmer", "--limits", FIXTURES / "bridge-dimmer/limits.json", "--out",
                      cls.dossier)
        if cls.ran.returncode != 1:
            raise AssertionError(f"exit code {cls.ran.returncode}, expected 1: {cls.ran.stderr}")
        cls.record = json.loads((cls.dossier / "record.json").read_text())
        cls.limits = json.loads((FIXTURES / "bridge-dimmer/limits.json").read_text())["limits"]

    def worst(self):
        order = list(WORDS)
        found = {}
        for verdict in self.record["verdicts"]:
            name = verdict["limit"]
            found[name] = max(found.get(name, "pass"), verdict["outcome"], key=order.index)
        return found

    def test_writes_its_four_outputs_and_copies_of_its_inputs(self):
        for name in OUTPUTS:
            self.assertGreater((self.dossier / name).stat().st_size, 0, name)
        for path in ("inputs/qualification.json", "inputs/led/bare-S1.csv", "inputs/spectra/led.csv"):
            original = FIXTURES / "bridge-dimmer" / path.removeprefix("inputs/")
            self.assertEqual((self.dossier / path).read_bytes(), original.read_bytes(), path)

    def test_most_limits_pass_one_is_conditional_one_fails_one_is_not_decided_one_is_not_assessed(self):
        worst = self.worst()
        by_outcome = {}
        for name, outcome in worst.items():
            by_outcome.setdefault(outcome, []).append(name)
        self.assertEqual(by_outcome.get("conditional_pass"), ["L-03"])
        self.assertEqual(by_outcome.get("fail"), ["L-13"])
        self.assertEqual(by_outcome.get("not_decided"), ["L-07"])
        self.assertNotIn("conditional_fail", by_outcome)
        self.assertGreaterEqual(len(by_outcome["pass"]), 24)
        self.assertEqual([limit["id"] for limit in self.limits if limit["id"] not in worst], ["L-30"])

    def test_every_limit_and_the_word_for_its_outcome_stand_on_the_pages(self):
        text = " ".join(text_of(self.dossier / "report.pdf", "-layout").split())
        for limit in self.limits:
            self.assertIn(limit["id"], text)
        for name, outcome in self.worst().items():
            self.assertRegex(text, re.escape(name) + r"\b.{0,400}?" + WORDS[outcome], name)
        self.assertIn("not assessed", text)

    def test_every_page_tells_number_revision_and_place(self):
        pages = text_of(self.dossier / "report.pdf").split("\f")[:-1]
        self.assertGreater(len(pages), 5)
        for number, page in enumerate(pages, 1):
            words = " ".join(page.split())
            self.assertIn("BD-2026-014", words, f"page {number}")
            self.assertRegex(words, rf"page\s+{number}\s+of\s+{len(pages)}", f"page {number}")

    def test_the_manifest_holds_for_every_file_and_breaks_with_one_bit(self):
        command = ["sha256sum", "--check", "--strict", "--quiet", "manifest-sha256.txt"]
        holds = subprocess.run(command, cwd=self.dossier, capture_output=True, text=True)
        self.assertEqual((holds.returncode, holds.stdout + holds.stderr), (0, ""))
        listed = {line.split(maxsplit=1)[1].lstrip("*") for line in
                  (self.dossier / "manifest-sha256.txt").read_text().splitlines()}
        there = {str(path.relative_to(self.dossier)) for path in self.dossier.rglob("*") if path.is_file()}
        self.assertEqual(there - listed, {"manifest-sha256.txt"})
        copy = self.scratch / "copy"
        shutil.copytree(self.dossier, copy)
        target = copy / "inputs/qualification.json"
        changed = bytearray(target.read_bytes())
        changed[100] ^= 1
        target.write_bytes(changed)
        self.assertNotEqual(subprocess.run(command, cwd=copy, capture_output=True).returncode, 0)

    def test_an_existing_folder_is_left_alone_without_replace(self):
        before = (self.dossier / "record.json").stat().st_mtime_ns
        ran = run("report", FIXTURES / "bridge-dimmer", "--out", self.dossier)
        self.assertNotIn(ran.returncode, (0, 1))
        self.assertIn("--replace", ran.stderr)
        self.assertEqual((self.dossier / "record.json").stat().st_mtime_ns, before)

    def test_the_terminal_table_tells_every_limit_and_the_overall_outcome_last(self):
        ran = run("verdicts", FIXTURES / "bridge-dimmer", "--limits", FIXTURES / "bridge-dimmer/limits.json")
        self.assertEqual(ran.returncode, 1, ran.stderr)
        for limit in self.limits:
            self.assertIn(limit["id"], ran.stdout)
        self.assertIn("fail", ran.stdout.strip().splitlines()[-1].lower())


class SameBytes(Scratch):
    """Same inputs, same date: same bytes, wherever and however the program runs."""

    def dossier(self, name, **environment):
        folder = self.scratch / name / "somewhere else" / "bench"
        shutil.copytree(FIXTURES / "bridge-dimmer", folder, ignore=shutil.ignore_patterns("generator", "*.py", "dossier"))
        ran = run("report", folder.name, cwd=folder.parent,
                  SOURCE_DATE_EPOCH="1775000000", **environment)
        self.assertEqual(ran.returncode, 1, ran.stderr)
        return {str(p.relative_to(folder / "dossier")): p.read_bytes()
                for p in (folder / "dossier").rglob("*") if p.is_file()}

    def test_in_two_folders_under_a_comma_locale_in_another_zone_and_on_one_thread(self):
        first = self.dossier("a", LC_ALL="C", TZ="UTC")
        others = {"another zone": {"TZ": "Pacific/Kiritimati", "LC_ALL": "C.UTF-8"},
                  "one thread": {"before": ("taskset", "--cpu-list", "0")}}
        if len(sys.argv) > 3 and pathlib.Path(sys.argv[3]).is_dir():
            others["comma"] = {"LOCPATH": sys.argv[3], "LC_ALL": "de_DE.UTF-8", "LANG": "de_DE.UTF-8",
                               "TZ": "America/St_Johns"}
        for name, environment in others.items():
            with self.subTest(name):
                again = self.dossier(name, **environment)
                self.assertEqual(sorted(first), sorted(again))
                self.assertEqual([path for path in first if first[path] != again[path]], [])


class TinyFolder(Scratch):
    def test_gives_a_draft_report_without_verdicts_and_ends_with_0(self):
        ran = run("report", FIXTURES / "tiny", "--out", self.scratch / "dossier")
        self.assertEqual(ran.returncode, 0, ran.stderr)
        record = json.loads((self.scratch / "dossier/record.json").read_text())
        self.assertEqual(record["verdicts"], [])
        self.assertIsNone(record["overall"])
        levels = [r["conditions"]["level"]["value"] for r in record["results"] if r["metric"] == "reading_error"]
        self.assertEqual(sorted(levels), [10, 100, 1000])
        for page in text_of(self.scratch / "dossier/report.pdf").split("\f")[:-1]:
            self.assertIn("Draft", page)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], verbosity=2)
