"""The program as a process: exit codes, messages, what it writes and what it leaves alone.

Usage: cli_test.py LUXDOSSIER [LOCALES]      LOCALES: folder that holds de_DE.UTF-8 (made where it is missing)
"""

import hashlib
import json
import os
import pty
import re
import resource
import shlex
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import unittest
import zipfile
from pathlib import Path

PROGRAM = str(Path(sys.argv[1]).resolve())
SOURCE = Path(__file__).resolve().parents[2]
BENCH = SOURCE / "tests/metrics/small-bench"
TINY = SOURCE / "fixtures/tiny"
LOCALES = Path(sys.argv[2]) if len(sys.argv) > 2 else Path(tempfile.gettempdir()) / "luxdossier-locales"
sys.path.insert(0, str(SOURCE / "tests" / "cases"))
import make_case  # noqa: E402


def run(*arguments, cwd=None, **environment):
    return subprocess.run([PROGRAM, *map(str, arguments)], capture_output=True, text=True, cwd=cwd, timeout=300,
                          env={**os.environ, **environment})


def tree(folder):
    """Every path below a folder with its bytes (None: a folder)."""
    return {str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
            for path in sorted(Path(folder).rglob("*"))}


class Scratch(unittest.TestCase):
    def setUp(self):
        scratch = tempfile.TemporaryDirectory(prefix="luxdossier-cli-")
        self.addCleanup(scratch.cleanup)
        self.scratch = Path(scratch.name)

    def bench(self, name="bench"):
        shutil.copytree(BENCH, self.scratch / name, ignore=shutil.ignore_patterns("expected.json", "README.md"))
        return self.scratch / name

    def all_pass(self):
        """The small bench with the one limit that passes."""
        folder = self.bench("all-pass")
        limits = json.loads((folder / "limits.json").read_text())
        limits["limits"] = [limit for limit in limits["limits"] if limit["id"] == "A1"]
        (folder / "limits.json").write_text(json.dumps(limits))
        return folder


class Budget(Scratch):
    GUIDES = SOURCE / "tests/cli/models/guides.json"

    def test_prints_budget_intervals_and_validation(self):
        ran = run("budget", self.GUIDES)
        self.assertEqual(ran.returncode, 0, ran.stderr)
        for words in ("second order  y = ", "Monte Carlo   mean ", "the interval of the trials stands", "1996800 trials"):
            self.assertIn(words, ran.stdout)

    def test_gives_the_same_bytes_again(self):
        self.assertEqual(run("budget", self.GUIDES, "--json").stdout, run("budget", self.GUIDES, "--json").stdout)

    def test_tells_every_fault_and_prints_no_result(self):
        file = self.scratch / "models.json"
        file.write_text(self.GUIDES.read_text().replace("x1^2 + x2^2", "x1^2 + x3^2)").replace("V / I * cos", "V / I * coz"))
        ran = run("budget", file)
        self.assertEqual((ran.returncode, ran.stdout), (2, ""))
        for words in ('found unknown symbol "x3"', 'found ")"', 'found unknown function "coz"'):
            self.assertIn(words, ran.stderr)

    def test_a_missing_file_is_bad_input(self):
        ran = run("budget", self.scratch / "nowhere.json")
        self.assertEqual((ran.returncode, ran.stdout), (2, ""))
        self.assertIn("found no file", ran.stderr)

    def test_trials_give_joint_probabilities_unless_they_are_left_out(self):
        folder = self.bench()  # its header leaves them out
        self.assertIsNone(json.loads(run("verdicts", folder, "--json").stdout)["joint"])
        header = folder / "qualification.json"
        text = header.read_text()
        self.assertIn('"enabled": false', text)
        header.write_text(text.replace('"enabled": false', '"enabled": true'))
        self.assertIsNone(json.loads(run("verdicts", folder, "--json", "--no-trials").stdout)["joint"])
        with_trials = json.loads(run("verdicts", folder, "--json").stdout)
        joint = with_trials["joint"]
        self.assertGreaterEqual(joint["trials"], 50_000)
        self.assertTrue(0 <= joint["probability"] <= 1)
        for sample in joint["samples"]:
            self.assertGreaterEqual(sample["probability"], joint["probability"])


    def test_trials_of_judged_results_alone_change_no_verdict(self):
        folder = self.bench()
        header = folder / "qualification.json"
        text = header.read_text()
        found = {}
        for results in ("all", "judged"):
            header.write_text(text.replace('"enabled": false', f'"results": "{results}"'))
            found[results] = run("verdicts", folder, "--json").stdout
            self.assertEqual(run("report", folder, "--out", folder / results).returncode, 1)
        self.assertEqual(found["all"], found["judged"])
        judged = {verdict["result"] for verdict in json.loads(found["all"])["verdicts"]}
        tried, said, families = {}, {}, {}
        for results in ("all", "judged"):
            record = json.loads((folder / results / "record.json").read_text())
            self.assertEqual(record["evaluation"]["monte_carlo"]["results"], results)
            tried[results] = {result["id"] for result in record["results"] if result["monte_carlo"]}
            said[results] = any("no limit judges" in statement["text"] for statement in record["statements"])
            families[results] = {s["family"] for s in record["statements"] if s["text"].startswith("Monte Carlo method")}
        self.assertEqual(tried["judged"], tried["all"] & judged)
        self.assertTrue(tried["judged"] and tried["judged"] != tried["all"])
        self.assertEqual(said, {"all": False, "judged": True})
        self.assertEqual(families["all"], families["judged"])


class Needs(Scratch):
    def test_tells_which_input_has_to_shrink_by_how_much(self):
        folder = self.all_pass()
        self.assertIn("no limit needs less uncertainty", run("verdicts", folder, "--needs").stdout)
        verdicts = json.loads(run("verdicts", folder, "--json").stdout)["verdicts"]
        limit = max(abs(verdict["value"]) + 0.9 * verdict["expanded_uncertainty"] for verdict in verdicts)
        limits = json.loads((folder / "limits.json").read_text())
        limits["limits"][0].update(lower=-limit, upper=limit)
        (folder / "limits.json").write_text(json.dumps(limits))
        ran = run("verdicts", folder, "--needs")
        self.assertIn("passes with U at most 0.900 times what it is", ran.stdout)
        self.assertIn("of the variance: ", ran.stdout)

    def test_json_has_no_needs(self):
        ran = run("verdicts", self.bench(), "--needs", "--json")
        self.assertEqual((ran.returncode, ran.stdout), (2, ""))
        self.assertIn("found --needs beside --json", ran.stderr)


class ExitCodes(Scratch):
    def test_0_where_all_pass_and_1_where_something_does_not(self):
        ran = run("verdicts", self.all_pass())
        self.assertEqual((ran.returncode, ran.stderr), (0, ""))
        self.assertEqual(ran.stdout.splitlines()[-1], "overall: pass (1 limit, 1 pass)")
        ran = run("verdicts", BENCH)
        self.assertEqual((ran.returncode, ran.stderr), (1, ""))
        self.assertEqual(ran.stdout.splitlines()[-1],
                         "overall: not decided (8 limits, 5 pass, 2 conditional pass, 1 not decided)")

    def test_2_for_a_command_line_that_is_none(self):
        for arguments in ((), ("frobnicate",), ("report",), ("report", BENCH, "--colour"), ("verdicts", BENCH, "--out", "x"),
                          ("report", BENCH, "--limits"), ("report", BENCH, "another")):
            with self.subTest(arguments):
                ran = run(*arguments)
                self.assertEqual((ran.returncode, ran.stdout), (2, ""))
                self.assertRegex(ran.stderr, r"^luxdossier: .+\n  advice: luxdossier --help shows commands and options\n$")

    def test_2_for_a_command_that_is_none_with_the_nearest_one(self):
        ran = run("verdict", BENCH)
        self.assertEqual((ran.returncode, ran.stdout), (2, ""))
        self.assertRegex(ran.stderr, r'^luxdossier: found "verdict", expected a command: .*\n  advice: did you mean verdicts\?\n$')

    def test_2_for_a_character_that_no_face_holds_and_it_is_named(self):
        folder = self.scratch / "tiny"
        shutil.copytree(TINY, folder)
        header = json.loads((folder / "qualification.json").read_text())
        header["document"] = {"title": "Bridge \U00013000"}
        (folder / "qualification.json").write_text(json.dumps(header))
        ran = run("report", folder)
        self.assertEqual((ran.returncode, ran.stdout), (2, ""))
        self.assertIn("U+13000", ran.stderr)
        self.assertFalse((folder / "dossier").exists())

    def test_2_for_what_is_not_there(self):
        absent = self.scratch / "absent"
        for arguments, text in ((("report", absent), "found no folder"), (("check", absent), "found no folder"),
                                (("verdicts", BENCH, "--limits", absent), "found no file"),
                                (("report", BENCH, "--limits", self.scratch), "no regular file"),
                                (("report", BENCH, "--template", "fancy"), "found no template")):
            with self.subTest(arguments):
                ran = run(*arguments)
                self.assertEqual((ran.returncode, ran.stdout), (2, ""))
                self.assertIn(text, ran.stderr)
        self.assertFalse((BENCH / "dossier").exists())

    def test_2_for_verdicts_without_limits_and_0_for_a_report_without(self):
        folder = self.bench()
        (folder / "limits.json").unlink()
        self.assertEqual(run("verdicts", folder).returncode, 2)
        ran = run("report", folder)
        self.assertEqual(ran.returncode, 0, ran.stderr)
        self.assertEqual(ran.stdout.splitlines()[-1], "no limits: a measurement report without verdicts")

    def test_2_for_a_date_that_is_none(self):
        for text in ("soon", "-1", "1e9", "99999999999999", "12 "):
            ran = run("verdicts", BENCH, SOURCE_DATE_EPOCH=text)
            self.assertEqual((ran.returncode, ran.stdout), (2, ""), text)
            self.assertIn("SOURCE_DATE_EPOCH", ran.stderr)

    def test_3_where_the_environment_fails(self):
        blocker = self.scratch / "file"
        blocker.write_text("x")
        for out in ("/proc/dossier", blocker / "dossier", self.scratch / "nowhere/dossier"):
            with self.subTest(out):
                ran = run("report", BENCH, "--out", out)
                self.assertEqual((ran.returncode, ran.stdout), (3, ""))
                self.assertIn(str(out), ran.stderr)
        self.assertEqual([path.name for path in self.scratch.iterdir()], ["file"])

    def test_3_where_a_file_outgrows_what_is_allowed(self):
        def at_most_100_kilobytes():
            resource.setrlimit(resource.RLIMIT_FSIZE, (100000, 100000))

        # Python ignores SIGXFSZ, and the program inherits that: writing then fails as on a full disk.
        ran = subprocess.run([PROGRAM, "report", BENCH, "--out", self.scratch / "dossier"], capture_output=True, text=True,
                             preexec_fn=at_most_100_kilobytes, restore_signals=False)
        self.assertEqual((ran.returncode, ran.stdout), (3, ""), ran.stderr)
        self.assertEqual(list(self.scratch.iterdir()), [])

    def test_3_where_standard_output_is_full(self):
        with open("/dev/full", "w") as full:
            ran = subprocess.run([PROGRAM, "verdicts", BENCH], stdout=full, stderr=subprocess.PIPE, text=True)
        self.assertEqual(ran.returncode, 3)
        self.assertEqual(ran.stderr, "luxdossier: cannot write to standard output: No space left on device\n")

    def test_3_where_the_words_about_a_dossier_cannot_be_printed_and_it_says_that_it_is_there(self):
        with open("/dev/full", "w") as full:
            ran = subprocess.run([PROGRAM, "report", TINY, "--out", self.scratch / "dossier"], stdout=full,
                                 stderr=subprocess.PIPE, text=True)
        self.assertEqual(ran.returncode, 3)
        self.assertEqual(ran.stderr, f"luxdossier: {self.scratch / 'dossier'} is written and sealed, but cannot write to "
                         "standard output: No space left on device\n")
        self.assertTrue((self.scratch / "dossier/manifest-sha256.txt").exists())

    def test_3_where_the_unit_database_cannot_be_read(self):
        ran = run("report", TINY, "--out", self.scratch / "dossier", UDUNITS2_XML_PATH=str(self.scratch / "nowhere.xml"))
        self.assertEqual((ran.returncode, ran.stdout), (3, ""))
        self.assertIn("nowhere.xml", ran.stderr)

    @unittest.skipIf(os.geteuid() == 0, "root may write everywhere")
    def test_3_where_the_folder_is_read_only(self):
        folder = self.bench()
        folder.chmod(0o555)
        ran = run("report", folder)
        folder.chmod(0o755)
        self.assertEqual(ran.returncode, 3)
        self.assertIn("Permission denied", ran.stderr)


class BadInput(Scratch):
    def test_every_bad_folder_is_told_in_its_stated_words_and_nothing_is_written(self):
        names = make_case.all_cases()
        self.assertGreaterEqual(len(names), 60)
        for name in names:
            with self.subTest(name):
                folder = self.scratch / "case" / name.replace("/", "-")
                folder.parent.mkdir(exist_ok=True)
                make_case.make(name, folder)
                before = sorted(str(path) for path in folder.rglob("*"))
                ran = run("report", folder)
                expected = (make_case.CASES / name / "expected").read_text(encoding="utf-8")
                self.assertEqual((ran.returncode, ran.stdout, ran.stderr), (2, "", expected))
                self.assertEqual(sorted(str(path) for path in folder.rglob("*")), before)

    def test_an_older_dossier_is_untouched_by_bad_input(self):
        folder = self.bench()
        self.assertEqual(run("report", folder).returncode, 1)
        before = tree(folder / "dossier")
        (folder / "bare.csv").write_text("nothing\n")
        self.assertEqual(run("report", folder, "--replace").returncode, 2)
        self.assertEqual(tree(folder / "dossier"), before)

    def test_check_tells_faults_as_json_too(self):
        folder = self.scratch / "case"
        make_case.make(make_case.all_cases()[0], folder)
        ran = run("check", folder, "--json")
        self.assertEqual(ran.returncode, 2)
        self.assertGreaterEqual(len(json.loads(ran.stdout)["faults"]), 1)


class Dossier(Scratch):
    OUTPUTS = {"report.pdf", "workbook.xlsx", "record.json", "manifest-sha256.txt", "inputs"}

    def test_holds_its_outputs_copies_of_its_inputs_and_a_manifest_that_holds(self):
        folder = self.bench()
        ran = run("report", folder)
        self.assertEqual((ran.returncode, ran.stderr), (1, ""))
        dossier = folder / "dossier"
        self.assertEqual({path.name for path in dossier.iterdir()}, self.OUTPUTS)
        self.assertEqual(ran.stdout.splitlines()[0], str(dossier))
        for path in folder.iterdir():
            if path.is_file():
                self.assertEqual((dossier / "inputs" / path.name).read_bytes(), path.read_bytes(), path.name)
        check = subprocess.run(["sha256sum", "--strict", "--quiet", "-c", "manifest-sha256.txt"], cwd=dossier)
        self.assertEqual(check.returncode, 0)
        self.assertEqual([path.name for path in folder.iterdir() if path.name.startswith(".")], [])

    def test_the_report_is_on_a4_or_on_letter(self):
        folder = self.bench()
        for paper, size in (((), "595.276 x 841.89 pts (A4)"), (("--paper", "letter"), "612 x 792 pts (letter)")):
            self.assertEqual(run("report", folder, "--replace", *paper).returncode, 1)
            shown = subprocess.run(["pdfinfo", folder / "dossier/report.pdf"], capture_output=True, text=True).stdout
            self.assertIn(size, shown)
        before = tree(folder)
        ran = run("report", folder, "--replace", "--paper", "b5")
        self.assertEqual((ran.returncode, ran.stdout), (2, ""))
        self.assertIn("--paper", ran.stderr)
        self.assertEqual(tree(folder), before)

    def test_limits_from_elsewhere_are_copied_below_limits(self):
        folder = self.bench()
        limits = self.scratch / "agreed.json"
        (folder / "limits.json").rename(limits)
        self.assertEqual(run("report", folder, "--limits", limits).returncode, 1)
        self.assertEqual((folder / "dossier/inputs/limits/agreed.json").read_bytes(), limits.read_bytes())
        record = json.loads((folder / "dossier/record.json").read_text())
        self.assertIn("limits/agreed.json", [file["path"] for file in record["inputs"]])
        self.assertNotIn(str(self.scratch), (folder / "dossier/record.json").read_text())

    def test_is_never_written_over_without_replace(self):
        folder = self.bench()
        run("report", folder)
        before = tree(folder)
        ran = run("report", folder)
        self.assertEqual((ran.returncode, ran.stdout), (2, ""))
        self.assertIn("--replace", ran.stderr)
        self.assertEqual(tree(folder), before)
        ran = run("report", folder, "--replace", SOURCE_DATE_EPOCH="1700000000")
        self.assertEqual(ran.returncode, 1, ran.stderr)
        self.assertNotEqual(tree(folder)["dossier/record.json"], before["dossier/record.json"])
        self.assertEqual(sorted(tree(folder)), sorted(before))

    def test_a_dossier_that_was_changed_since_it_was_sealed_is_not_replaced(self):
        folder = self.bench()
        run("report", folder)
        report = folder / "dossier/report.pdf"
        report.write_bytes(report.read_bytes() + b"% a signature\n")
        before = tree(folder)
        ran = run("report", folder, "--replace")
        self.assertEqual((ran.returncode, ran.stdout), (2, ""))
        self.assertEqual(ran.stderr, f"luxdossier: {folder / 'dossier'} holds report.pdf, which was changed since it was "
                         "sealed and would be lost\n  advice: to keep it, move the folder elsewhere; or write the new "
                         "dossier elsewhere with --out\n")
        self.assertEqual(tree(folder), before)

    def test_a_dossier_of_another_document_is_not_replaced(self):
        folder = self.bench()
        header = json.loads((folder / "qualification.json").read_text())

        def report(number):
            header["document"] = {**header.get("document", {}), "number": number}
            (folder / "qualification.json").write_text(json.dumps(header))
            return run("report", folder, "--replace")

        self.assertEqual(report("Q-1").returncode, 1)
        before = tree(folder / "dossier")
        ran = report("Q-2")
        self.assertEqual((ran.returncode, ran.stdout), (2, ""))
        self.assertIn('is the dossier of document "Q-1", not of "Q-2"', ran.stderr)
        self.assertEqual(tree(folder / "dossier"), before)
        self.assertEqual(report("Q-1").returncode, 1)

    def test_the_inputs_of_a_dossier_are_a_folder_but_no_place_for_another_dossier(self):
        folder = self.bench()
        run("report", folder)
        before = tree(folder / "dossier")
        ran = run("report", folder / "dossier/inputs")
        self.assertEqual((ran.returncode, ran.stdout), (2, ""))
        self.assertIn("would lie inside the dossier", ran.stderr)
        self.assertEqual(tree(folder / "dossier"), before)
        self.assertEqual(run("report", folder / "dossier/inputs", "--out", self.scratch / "again").returncode, 1)
        self.assertEqual((self.scratch / "again/record.json").read_bytes(), before["record.json"])

    def test_replace_refuses_what_is_no_dossier(self):
        folder = self.bench()
        (folder / "dossier").mkdir()
        (folder / "dossier/photo.jpg").write_text("dear")
        self.assertEqual(run("report", folder, "--replace").returncode, 2)
        self.assertEqual((folder / "dossier/photo.jpg").read_text(), "dear")

    def test_a_template_of_the_users_own_is_used_and_kept_as_evidence(self):
        folder = self.bench()
        own = self.scratch / "short.md"
        own.write_text("# Only this\n\nThe number is {document.number}.\n")
        ran = run("report", folder, "--template", own)
        self.assertEqual(ran.returncode, 1, ran.stderr)
        self.assertEqual((folder / "dossier/inputs/template/short.md").read_bytes(), own.read_bytes())
        own.write_text("# Only this\n\n{document.colour}\n")
        ran = run("report", folder, "--template", own, "--replace")
        self.assertEqual((ran.returncode, ran.stdout), (2, ""))
        self.assertIn("document.colour", ran.stderr)

    def test_kinds_of_inputs_do_not_take_each_others_place(self):
        # The folder's own files are called as the folders of the other kinds would be.
        folder = self.scratch / "tiny"
        header = json.loads((TINY / "qualification.json").read_text())
        one, *_ = header["runs"]
        names = ("limits", "Template/t.md")
        header["samples"] = [{"id": f"S{i}"} for i in range(len(names))]
        header["runs"] = [{**one, "id": f"S{i}", "sample": f"S{i}", "file": name} for i, name in enumerate(names)]
        (folder / "Template").mkdir(parents=True)
        (folder / "qualification.json").write_text(json.dumps(header))
        readings = (TINY / "levels.csv").read_text()
        for name in names:
            (folder / name).write_text(readings)
        (self.scratch / "elsewhere").mkdir()
        limits = self.scratch / "elsewhere/limits"
        limits.write_text(json.dumps({"format": "luxdossier/limits/1", "decision_rule": {"kind": "simple-acceptance"},
                                      "limits": [{"id": "L", "metric": "reading_error", "where": {}, "lower": -50,
                                                  "upper": 50, "unit": "%"}]}))
        template = self.scratch / "t.md"
        template.write_text("# Own words\n")
        options = ("--limits", limits, "--template", template)
        ran = run("report", folder, *options)
        self.assertIn(ran.returncode, (0, 1), ran.stderr)
        inputs = folder / "dossier/inputs"
        for name in names:
            self.assertEqual((inputs / name).read_text(), readings)
        self.assertEqual((inputs / "limits-2/limits").read_bytes(), limits.read_bytes())
        self.assertEqual((inputs / "template-2/t.md").read_bytes(), template.read_bytes())
        record = json.loads((folder / "dossier/record.json").read_text())
        for file in record["inputs"]:
            self.assertEqual(hashlib.sha256((inputs / file["path"]).read_bytes()).hexdigest(), file["sha256"], file["path"])
        again = run("report", inputs, "--limits", inputs / "limits-2/limits", "--template", inputs / "template-2/t.md",
                    "--out", self.scratch / "again")
        self.assertEqual(again.returncode, ran.returncode, again.stderr)
        results = [json.loads((place / "record.json").read_text())["results"]
                   for place in (folder / "dossier", self.scratch / "again")]
        self.assertEqual(*results)

    def test_an_interruption_at_any_time_leaves_nothing_half_done(self):
        folder = self.bench()
        before = tree(folder)
        interrupted = 0
        for step in range(12):
            for number in (signal.SIGINT, signal.SIGTERM):
                # A shell in the background lets its children ignore SIGINT: start from the default.
                child = subprocess.Popen([PROGRAM, "report", folder, "--timings"], stdout=subprocess.DEVNULL,
                                         stderr=subprocess.DEVNULL,
                                         preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL))
                time.sleep(0.03 + 0.05 * step)
                child.send_signal(number)
                code = child.wait()
                if code == -number:
                    interrupted += 1
                    left = {path for path in tree(folder) if not path.startswith("dossier")}
                    self.assertEqual(left, set(before))
                if (folder / "dossier").exists():  # it was done, or the signal came after the rename: whole then
                    check = subprocess.run(["sha256sum", "--strict", "--quiet", "-c", "manifest-sha256.txt"],
                                           cwd=folder / "dossier")
                    self.assertEqual(check.returncode, 0)
                    self.assertEqual({path.name for path in (folder / "dossier").iterdir()}, self.OUTPUTS)
                    shutil.rmtree(folder / "dossier")
        self.assertGreater(interrupted, 0)


class SameBytes(Scratch):
    def test_two_runs_in_different_folders_locales_and_zones_give_the_same_bytes(self):
        environments = [{"LC_ALL": "C", "TZ": "UTC"}, {"LC_ALL": "C.UTF-8", "TZ": "Pacific/Kiritimati"}]
        if not (LOCALES / "de_DE.UTF-8").exists():
            LOCALES.mkdir(parents=True, exist_ok=True)
            subprocess.run(["localedef", "-i", "de_DE", "-f", "UTF-8", LOCALES / "de_DE.UTF-8"], check=True)
        comma = {"LOCPATH": str(LOCALES), "LC_ALL": "de_DE.UTF-8", "TZ": "America/St_Johns"}
        mark = subprocess.run(["locale", "decimal_point"], env={**os.environ, **comma}, capture_output=True, text=True)
        self.assertEqual(mark.stdout.strip(), ",")
        results = []
        for number, environment in enumerate([*environments, comma]):
            folder = self.bench(f"bench {number}")
            ran = run("report", folder.name, cwd=self.scratch, SOURCE_DATE_EPOCH="1741000000", **environment)
            self.assertEqual(ran.returncode, 1, ran.stderr)
            table = run("verdicts", folder, **environment).stdout
            results.append((tree(folder / "dossier"), table))
        for other in results[1:]:
            self.assertEqual(sorted(other[0]), sorted(results[0][0]))
            self.assertEqual([path for path in other[0] if other[0][path] != results[0][0][path]], [])
            self.assertEqual(other[1], results[0][1])

    def test_the_date_is_that_of_the_environment_else_the_headers(self):
        folder = self.bench()
        environment = {name: value for name, value in os.environ.items() if name != "SOURCE_DATE_EPOCH"}
        subprocess.run([PROGRAM, "report", folder], env=environment, capture_output=True)
        self.assertEqual(json.loads((folder / "dossier/record.json").read_text())["date"], "2025-03-20T00:00:00Z")
        run("report", folder, "--replace", SOURCE_DATE_EPOCH="1741000000")
        self.assertEqual(json.loads((folder / "dossier/record.json").read_text())["date"], "2025-03-03T11:06:40Z")


class Terminal(Scratch):
    def test_the_table_is_aligned_and_tells_the_worst_result_of_each_limit(self):
        lines = run("verdicts", BENCH).stdout.splitlines()
        self.assertEqual(lines[0].split()[:3], ["limit", "clause", "metric"])
        column = lines[0].index("outcome")
        for line in lines[1:9]:
            self.assertRegex(line[column:], r"^(pass|conditional pass|not decided)( \((all \d+|\d+ of \d+)\))?$")
        self.assertEqual([line.split()[0] for line in lines[1:9]], [f"A{n}" for n in range(1, 9)])

    def test_all_tells_every_verdict(self):
        verdicts = json.loads(run("verdicts", BENCH, "--json").stdout)["verdicts"]
        lines = run("verdicts", BENCH, "--all").stdout.split("\n\n")[0].splitlines()
        self.assertEqual(len(lines) - 1, len(verdicts))

    def test_json_gives_verdicts_and_the_overall_outcome(self):
        ran = run("verdicts", BENCH, "--json")
        self.assertEqual(ran.returncode, 1)
        answer = json.loads(ran.stdout)
        self.assertEqual(answer["overall"], "not_decided")

    def test_progress_is_for_terminals_that_understand_it(self):
        def stderr_on_a_terminal(**environment):
            try:
                leader, follower = pty.openpty()
            except OSError as missing:  # a bare chroot has none
                self.skipTest(f"no pseudo-terminal: {missing}")
            subprocess.run([PROGRAM, "verdicts", BENCH], stdout=subprocess.DEVNULL, stderr=follower,
                           env={**os.environ, "NO_COLOR": "", **environment})
            os.close(follower)
            written = b""
            try:
                while piece := os.read(leader, 65536):  # a terminal hands on in pieces
                    written += piece
            except OSError:  # nothing more will be written
                pass
            finally:
                os.close(leader)
            return written.decode()

        self.assertIn("evaluating", stderr_on_a_terminal(TERM="xterm"))
        self.assertEqual(stderr_on_a_terminal(TERM="dumb"), "")
        self.assertEqual(stderr_on_a_terminal(TERM="xterm", NO_COLOR="1"), "")
        self.assertEqual(run("verdicts", BENCH, TERM="xterm").stderr, "")

    def test_timings_are_told_on_stderr(self):
        ran = run("report", BENCH, "--out", self.scratch / "dossier", "--timings")
        self.assertRegex(ran.stderr.splitlines()[-1], r"^in all +[0-9.]+ s$")

    def test_version_tells_the_program_and_its_libraries(self):
        ran = run("--version")
        self.assertEqual((ran.returncode, ran.stderr), (0, ""))
        project = re.search(r"project\(luxdossier VERSION ([0-9.]+)", (SOURCE / "CMakeLists.txt").read_text()).group(1)
        lines = ran.stdout.splitlines()
        self.assertEqual(lines[0], f"luxdossier {project}")
        for line in lines[1:]:
            self.assertRegex(line, r"^  [A-Za-z0-9_]+ [0-9]+\.[0-9]+[0-9.]*$")
        # Numbers: units, functions of many trials, linear algebra, distributions, the C library's functions;
        # pages: from text to glyphs to a compressed file; workbook: archive and the parser that reads it back.
        named = {line.split()[0] for line in lines[1:]}
        for library in ("UDUNITS", "SLEEF", "Eigen", "Boost", "glibc", "Cairo", "Pango", "HarfBuzz", "fontconfig", "FreeType",
                        "GLib", "zlib", "qpdf", "libxlsxwriter", "libzip", "Expat"):
            self.assertIn(library, named)
        record, text = self.report_of_tiny()
        self.assertEqual(record["program"]["libraries"], dict(line.split() for line in lines[1:]))
        words = " ".join(text.split())
        for line in lines[1:]:
            self.assertIn(line.strip(), words)

    def report_of_tiny(self):
        self.assertEqual(run("report", TINY, "--out", self.scratch / "tiny").returncode, 0)
        text = subprocess.run(["pdftotext", "-layout", self.scratch / "tiny/report.pdf", "-"], capture_output=True, text=True)
        return json.loads((self.scratch / "tiny/record.json").read_text()), text.stdout

    def test_the_faces_that_are_listed_are_those_in_the_pages(self):
        folder = self.scratch / "rare"
        shutil.copytree(TINY, folder)
        header = json.loads((folder / "qualification.json").read_text())
        header["document"] = {"title": "With a sign \u2a01 that one face alone holds"}
        (folder / "qualification.json").write_text(json.dumps(header))
        own = self.scratch / "own.md"
        own.write_text("# One\n\nPlain words.\n\n![](part:tools)\n")
        for name, arguments in (("tiny", (TINY,)), ("rare", (folder,)), ("own", (TINY, "--template", own))):
            with self.subTest(name):
                dossier = self.scratch / f"dossier-{name}"
                ran = run("report", *arguments, "--out", dossier)
                self.assertEqual(ran.returncode, 0, ran.stderr)
                shown = subprocess.run(["pdffonts", dossier / "report.pdf"], capture_output=True, text=True).stdout
                embedded = {line.split()[0].split("+")[-1] for line in shown.splitlines()[2:]}
                record = json.loads((dossier / "record.json").read_text())
                self.assertEqual({Path(face["file"]).stem for face in record["faces"]}, embedded)

    def test_help_tells_every_command_and_its_examples_run(self):
        ran = run("--help")
        self.assertEqual((ran.returncode, ran.stderr), (0, ""))
        examples = [line.strip() for line in ran.stdout.splitlines() if line.startswith("  luxdossier ")]
        self.assertEqual([shlex.split(example)[1] for example in examples], ["report", "verdicts", "check", "budget"])
        self.bench("bridge")
        shutil.copy(Budget.GUIDES, self.scratch / "models.json")
        for example in examples:
            ran = run(*shlex.split(example)[1:], cwd=self.scratch)
            self.assertIn(ran.returncode, (0, 1), ran.stderr)
        for command in ("report", "verdicts", "check"):
            self.assertIn("--limits", run(command, "--help").stdout)


class Provenance(Scratch):
    SECTION = "## Linked into the program"

    def test_every_library_that_the_program_is_linked_with_stands_in_third_party(self):
        def stem(name):
            return name.split(".so")[0]

        shown = subprocess.run(["readelf", "--dynamic", "--wide", PROGRAM], capture_output=True, text=True, check=True).stdout
        needed = {stem(name) for name in re.findall(r"\(NEEDED\).*\[(.+?)\]", shown)}
        needed -= {"libasan", "libubsan"}  # of a build that is not handed out
        page = (SOURCE / "docs/third-party.md").read_text()
        section = page[page.index(self.SECTION) + len(self.SECTION):].split("\n## ")[0]
        listed = {stem(name) for name in re.findall(r"`(lib[^` ]+?\.so[^` ]*|ld-[^` ]+)`", section)}
        self.assertGreater(len(needed), 10)
        self.assertEqual(needed - listed, set())
        loaded = {stem(Path(line.split()[0]).name) for line in
                  subprocess.run(["ldd", PROGRAM], capture_output=True, text=True, check=True).stdout.splitlines()}
        self.assertEqual(listed - loaded, set())

    def test_the_workbook_names_its_own_maker_and_is_set_in_a_face_of_the_report(self):
        self.assertEqual(run("report", TINY, "--out", self.scratch / "dossier").returncode, 0)
        with zipfile.ZipFile(self.scratch / "dossier/workbook.xlsx") as book:
            self.assertIsNone(book.testzip())
            parts = {name: book.read(name).decode() for name in book.namelist()}
            self.assertEqual({info.date_time for info in book.infolist()}, {(1980, 1, 1, 0, 0, 0)})
        self.assertIn("<Application>luxdossier</Application>", parts["docProps/app.xml"])
        faces = set(re.findall(r'<name val="([^"]*)"', parts["xl/styles.xml"]))
        faces |= set(re.findall(r'<a:latin typeface="([^"]+)"', "".join(parts.values())))
        self.assertEqual(faces, {"Lato"})
        self.assertEqual(set(re.findall(r'appName="([^"]*)"', parts["xl/workbook.xml"])), {"luxdossier"})
        self.assertNotIn("Theme\"", parts["xl/theme/theme1.xml"])


class Check(Scratch):
    def test_prints_remarks_and_ends_with_1_where_one_blocks(self):
        ran = run("check", TINY)
        remarks = json.loads(run("check", TINY, "--json").stdout)["remarks"]
        blocking = [remark for remark in remarks if remark["severity"] == "blocks" and remark["accepted"] is None]
        self.assertEqual(ran.returncode, 1 if blocking else 0)
        self.assertEqual(ran.stderr, "")
        for remark in remarks:
            self.assertIn(remark["remark"], ran.stdout)
        self.assertRegex(ran.stdout.splitlines()[-1], r"^checked: no faults, \d+ remarks?, \d+ of them blocks?$")

    def test_logs_of_two_loggers_are_joined_by_time_and_it_says_how(self):
        """The meter read at every second moment only: joined row by row, levels would meet other levels."""
        folder = self.bench()
        lines = (folder / "bare.csv").read_text().split()
        columns = lines[0].split(",")
        rows = [dict(zip(columns, line.split(","))) for line in lines[1:]]
        product = ["t_s,nominal_lx,sensor_lx"] + [f"{r['t_s']},{r['nominal_lx']},{r['sensor_lx']}" for r in rows]
        meter = ["t_s,meter_lx"] + [f"{r['t_s']},{r['meter_lx']}" for r in rows[::2]]
        (folder / "product.csv").write_text("\n".join(product) + "\n")
        (folder / "meter.csv").write_text("\n".join(meter) + "\n")
        header = json.loads((folder / "qualification.json").read_text())
        bare = next(one for one in header["runs"] if one["id"] == "bare")
        stated = bare.pop("columns")
        del bare["file"]
        bare["parts"] = [{"file": "product.csv", "columns": {k: stated[k] for k in ("time", "level", "sensor")}},
                         {"file": "meter.csv", "columns": {k: stated[k] for k in ("time", "meter")}}]
        whole = self.errors(self.bench("whole"))
        (folder / "qualification.json").write_text(json.dumps(header))
        for key, error in self.errors(folder).items():
            self.assertLess(abs(error - whole[key]), 0.5, key)
        words = (f"joined by time within 10 s (half the longer interval): {len(meter) - 1} of {len(rows)} rows of "
                 f"product.csv, {len(meter) - 1} of {len(meter) - 1} rows of meter.csv belong together, at most 0 s apart")
        text = run("check", folder).stdout
        self.assertIn(re.sub(r"within \d+ s", "", words), re.sub(r"within \d+ s", "", text))
        told = json.loads(run("check", folder, "--json").stdout)
        self.assertEqual(told["run_files"][0]["files"][0]["unmatched_rows"], len(rows) - len(meter) + 1)
        doubtful = [r for r in told["remarks"] if r["remark"] == "join-doubtful"]
        self.assertEqual([r["severity"] for r in doubtful], ["concern"])

    def errors(self, folder):
        verdicts = json.loads(run("verdicts", folder, "--json", "--no-trials").stdout)["verdicts"]
        return {v["result"]: v["value"] for v in verdicts if (v["result"] or "").startswith("reading_error")
                and "configuration=bare" in v["result"]}

    def test_a_reading_behind_a_number_sign_is_told_with_file_and_line(self):
        folder = self.bench()
        lines = (folder / "bare.csv").read_text().split("\n")
        lines[7] = "#" + lines[7]
        (folder / "bare.csv").write_text("\n".join(lines))
        self.assertIn("concern: comment-row (run bare): bare.csv:8: ", run("check", folder).stdout)

    def test_a_dark_run_of_another_meter_is_told(self):
        folder = self.bench()
        header = json.loads((folder / "qualification.json").read_text())
        header["meters"].append({**header["meters"][0], "id": "other"})
        next(one for one in header["runs"] if one["id"] == "dark")["meter"] = "other"
        (folder / "qualification.json").write_text(json.dumps(header))
        remarks = json.loads(run("check", folder, "--json").stdout)["remarks"]
        told = [r for r in remarks if r["remark"] == "dark-of-another"]
        self.assertTrue(told)
        self.assertIn("meter other", told[0]["seen"])

    def test_writes_nothing(self):
        folder = self.bench()
        before = tree(folder)
        run("check", folder)
        run("verdicts", folder)
        self.assertEqual(tree(folder), before)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
