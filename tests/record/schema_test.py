"""The record of real folders is valid under docs/schema/record-1.schema.json, and what it says holds together.

Usage: schema_test.py LUXDOSSIER
"""

import copy
import json
import math
import shutil
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

import jsonschema

PROGRAM = sys.argv[1]
SOURCE = Path(__file__).resolve().parents[2]
SCHEMA = json.loads((SOURCE / "docs/schema/record-1.schema.json").read_text(encoding="utf-8"))
FOLDERS = {"small bench": SOURCE / "tests/metrics/small-bench", "tiny folder": SOURCE / "fixtures/tiny"}


def record_of(folder):
    with tempfile.TemporaryDirectory() as scratch:
        ran = subprocess.run([PROGRAM, "report", folder, "--out", f"{scratch}/dossier"], capture_output=True, text=True)
        if ran.returncode not in (0, 1):
            raise AssertionError(ran.stderr)
        return json.loads(Path(scratch, "dossier/record.json").read_text(encoding="utf-8"))


def uncertainties(record):
    """Standard uncertainty of every input quantity."""
    return {quantity["input"]: quantity["standard_uncertainty"] for quantity in record["input_quantities"]}


def refuse(constant):
    raise ValueError(f"{constant} is no JSON")


class Record(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        jsonschema.Draft202012Validator.check_schema(SCHEMA)
        cls.validator = jsonschema.Draft202012Validator(SCHEMA)
        cls.records = {name: record_of(folder) for name, folder in FOLDERS.items()}

    def test_records_of_real_folders_are_valid(self):
        for name, record in self.records.items():
            with self.subTest(name):
                self.assertEqual([f"{e.json_path}: {e.message}" for e in self.validator.iter_errors(record)], [])

    def test_a_spoilt_record_is_refused(self):
        def without_reason(record):
            verdict = next(v for v in record["verdicts"] if v["outcome"] == "not_decided")
            verdict["reason"] = None

        spoilers = {
            "unknown outcome": lambda r: r["verdicts"][0].update(outcome="passed"),
            "negative u": lambda r: r["results"][0].update(standard_uncertainty=-1),
            "text for a number": lambda r: r["results"][0].update(value="1.0"),
            "no value and no reason": lambda r: r["results"][0].update(value=None, reason=None),
            "not decided without a reason": without_reason,
            "missing budget": lambda r: r["results"][0].pop("budget"),
            "digest cut short": lambda r: r["inputs"][0].update(sha256="abc"),
            "another format": lambda r: r.update(format="luxdossier/record/2"),
        }
        for name, spoil in spoilers.items():
            with self.subTest(name):
                record = copy.deepcopy(self.records["small bench"])
                spoil(record)
                self.assertFalse(self.validator.is_valid(record))

    def test_budgets_with_their_covariances_give_the_combined_uncertainty(self):
        # JCGM 100:2008, 5.2.2, equation (13), recomputed from what the record says alone.
        record = self.records["small bench"]
        covariances = {}
        for group in record["groups"]:
            for i, first in enumerate(group["members"]):
                for j, second in enumerate(group["members"]):
                    if i != j:
                        covariances[first, second] = group["covariance"][i][j]
        u = uncertainties(record)
        compared = 0
        for result in record["results"]:
            if not result["budget"]:
                continue
            lines = {line["input"]: line for line in result["budget"]}
            variance = sum((line["sensitivity"] * u[name]) ** 2 for name, line in lines.items())
            variance += sum(lines[a]["sensitivity"] * lines[b]["sensitivity"] * value
                            for (a, b), value in covariances.items() if a in lines and b in lines)
            self.assertTrue(math.isclose(math.sqrt(max(0, variance)), result["standard_uncertainty"], rel_tol=1e-7,
                                         abs_tol=1e-12), result["id"])
            compared += 1
        self.assertGreater(compared, 50)

    def test_every_input_of_a_budget_or_group_is_stated_once(self):
        record = self.records["small bench"]
        stated = [quantity["input"] for quantity in record["input_quantities"]]
        self.assertEqual(len(stated), len(set(stated)))
        named = {line["input"] for result in record["results"] for line in result["budget"]}
        named |= {member for group in record["groups"] for member in group["members"]}
        self.assertEqual(named - set(stated), set())

    def test_a_contribution_is_sensitivity_times_uncertainty(self):
        record = self.records["small bench"]
        u = uncertainties(record)
        for result in record["results"]:
            for line in result["budget"]:
                self.assertTrue(math.isclose(line["contribution"], abs(line["sensitivity"]) * u[line["input"]],
                                             rel_tol=1e-12), (result["id"], line["input"]))

    def test_shares_add_up_to_one_and_lines_come_largest_first(self):
        for result in self.records["small bench"]["results"]:
            if result["budget"] and result["standard_uncertainty"] > 0:
                self.assertAlmostEqual(sum(line["share"] for line in result["budget"]), 1, places=9, msg=result["id"])
            contributions = [line["contribution"] for line in result["budget"]]
            self.assertEqual(contributions, sorted(contributions, reverse=True), result["id"])

    def test_ids_are_unique_and_verdicts_name_them(self):
        record = self.records["small bench"]
        ids = [result["id"] for result in record["results"]]
        self.assertEqual(len(ids), len(set(ids)))
        limits = {limit["id"] for limit in record["specification"]["limits"]}
        for verdict in record["verdicts"]:
            self.assertIn(verdict["limit"], limits)
            if verdict["result"] is not None:
                self.assertIn(verdict["result"], ids)
            else:
                self.assertTrue(verdict["expected"] is None or "sample" in verdict["expected"])


class Corrections(unittest.TestCase):
    """correction.json of the small bench, for a gain and offset of every unit and a gain of the fleet."""

    @classmethod
    def setUpClass(cls):
        cls.schema = json.loads((SOURCE / "docs/schema/correction-1.schema.json").read_text(encoding="utf-8"))
        jsonschema.Draft202012Validator.check_schema(cls.schema)
        with tempfile.TemporaryDirectory() as scratch:
            folder = Path(scratch, "bench")
            shutil.copytree(FOLDERS["small bench"], folder)
            header = json.loads((folder / "qualification.json").read_text(encoding="utf-8"))
            header["corrections"] = [{"id": "unit", "configuration": "panel", "form": "gain-and-offset", "scope": "sample"},
                                     {"id": "fleet", "configuration": "panel", "form": "gain"},
                                     {"id": "nowhere", "configuration": "panel", "form": "gain",
                                      "lowest_level": {"value": 900, "unit": "klx"}}]
            (folder / "qualification.json").write_text(json.dumps(header), encoding="utf-8")
            ran = subprocess.run([PROGRAM, "report", folder, "--out", f"{scratch}/dossier"], capture_output=True, text=True)
            if ran.returncode not in (0, 1):
                raise AssertionError(ran.stderr)
            cls.text = Path(scratch, "dossier/correction.json").read_text(encoding="utf-8")
            cls.record = json.loads(Path(scratch, "dossier/record.json").read_text(encoding="utf-8"))
            cls.manifest = Path(scratch, "dossier/manifest-sha256.txt").read_text(encoding="utf-8")
        cls.corrections = {entry["id"]: entry for entry in json.loads(cls.text)["corrections"]}

    def result(self, metric, correction):
        return [r for r in self.record["results"]
                if r["metric"] == metric and r["conditions"].get("correction") == correction]

    def test_the_file_is_valid_and_sealed(self):
        errors = jsonschema.Draft202012Validator(self.schema).iter_errors(json.loads(self.text, parse_constant=refuse))
        self.assertEqual([f"{e.json_path}: {e.message}" for e in errors], [])
        self.assertIn("  correction.json\n", self.manifest)

    def test_it_says_what_the_record_says(self):
        for name, with_offset in (("unit", True), ("fleet", False)):
            entry, = self.corrections[name]["entries"]
            gain, = self.result("correction_gain", name)
            self.assertEqual(entry["gain"]["value"], gain["value"])
            self.assertEqual(entry["gain"]["standard_uncertainty"], gain["standard_uncertainty"])
            self.assertEqual(entry["sample"], gain["sample"])
            self.assertEqual(entry["offset"] is not None, with_offset)
            left = [r for r in self.result("remaining_error", name) if r["reason"] is None]
            self.assertEqual(entry["remaining_error"]["decided"], len(left))
            self.assertEqual([e["value"] for e in entry["remaining_error"]["errors"]], [r["value"] for r in left])
            worst = max(left, key=lambda r: abs(r["value"]))
            self.assertEqual(entry["remaining_error"]["result"], worst["id"])

    def test_the_covariance_is_that_of_the_budgets(self):
        # JCGM 100:2008, F.1.2.3, equation (F.2), from the record's budgets and groups.
        gain, = self.result("correction_gain", "unit")
        offset, = self.result("correction_offset", "unit")
        terms = {}
        for group in self.record["groups"]:
            for i, first in enumerate(group["members"]):
                for j, second in enumerate(group["members"]):
                    terms[first, second] = group["covariance"][i][j]
        lines = [{line["input"]: line for line in result["budget"]} for result in (gain, offset)]
        u = uncertainties(self.record)
        covariance = sum(a["sensitivity"] * b["sensitivity"]
                         * terms.get((x, y), u[x] ** 2 if x == y else 0)
                         for x, a in lines[0].items() for y, b in lines[1].items())
        entry, = self.corrections["unit"]["entries"]
        self.assertNotEqual(covariance, 0)
        self.assertTrue(math.isclose(entry["covariance_lx"], covariance, rel_tol=1e-9))

    def test_a_correction_without_a_level_has_its_reason(self):
        entry, = self.corrections["nowhere"]["entries"]
        self.assertIsNone(entry["gain"])
        self.assertIn("no decided level", entry["reason"])
        self.assertEqual(entry["remaining_error"]["decided"], 0)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
