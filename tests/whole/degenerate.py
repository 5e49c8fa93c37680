"""Folders that can decide little or nothing: each result then has its reason, and no page, cell or record holds a NaN.

Usage: degenerate.py LUXDOSSIER GENERATOR_FOLDER
"""

import csv
import io
import json
import pathlib
import re
import subprocess
import sys
import tempfile
import unittest
import zipfile

PROGRAM, GENERATOR = sys.argv[1], sys.argv[2]
sys.dont_write_bytecode = True
sys.path.insert(0, GENERATOR)
from generator.small import CHAMBER_C, make_small  # noqa: E402

NOT_A_NUMBER = re.compile(r"(?<![A-Za-z])[-+\u2212]?(?:nan|inf)(?![A-Za-z])", re.IGNORECASE)


def table(path):
    rows = list(csv.reader(io.StringIO(path.read_text())))
    return rows[0], rows[1:]


def write(path, heading, rows):
    path.write_text("".join(",".join(row) + "\n" for row in [heading, *rows]))


def spectrum(folder, name, points):
    heading = "relative_power" if name == "source" else "relative_responsivity"
    write(folder / f"{name}.csv", ["wavelength_nm", heading], [[str(x), str(y)] for x, y in points])


def rich(folder):
    """The generator's small bench with spectra and what light ripple asks for."""
    make_small(5, folder)
    header = json.loads((folder / "qualification.json").read_text())
    header["product"]["integration_time"] = {"value": 0.105, "unit": "s"}
    header["evaluation"]["ripple_error"] = {"value": 1, "unit": "%"}
    for name, low in (("source", 450), ("meter", 400), ("sensor", 420)):
        spectrum(folder, name, [(low + 10 * i, 1 + i % 3) for i in range(20)])
    header["sources"][0]["spectrum"] = "source.csv"
    header["meters"][0]["relative_responsivity"] = "meter.csv"
    header["configurations"][0]["relative_responsivity"] = "sensor.csv"
    return header


def save(folder, header):
    (folder / "qualification.json").write_text(json.dumps(header))


def change(folder, name, edit):
    heading, rows = table(folder / name)
    heading, rows = edit(heading, rows)
    write(folder / name, heading, rows)


def of_columns(words, new):
    """Sets every reading of the columns whose heading holds one of the words."""
    def edit(heading, rows):
        chosen = [i for i, name in enumerate(heading) if any(word in name for word in words)]
        return heading, [[new(cell) if i in chosen else cell for i, cell in enumerate(row)] for row in rows]
    return edit


def one_row_a_level(heading, rows):
    seen, kept = set(), []
    for row in rows:
        if row[1] not in seen:
            seen.add(row[1])
            kept.append(row)
    return heading, kept


CHAMBER = tuple(f"chamber-{celsius}.csv" for celsius in CHAMBER_C)
READINGS = ("product", "meter", "detector")
FILES = ("bare.csv", "windowed.csv", "dark.csv", "zero.csv", "position.csv", "field.csv", "angular.csv", "warm-up.csv",
         "nir.csv", "fluorescent.csv", "position-fluorescent.csv", *CHAMBER)


def as_it_is(folder, header):
    pass


def missing_everywhere(folder, header):
    for name in FILES:
        change(folder, name, of_columns(READINGS, lambda _: ""))
    change(folder, "waveform.csv", of_columns(("photodiode",), lambda _: ""))


def equal_everywhere(folder, header):
    for name in FILES:
        change(folder, name, of_columns(READINGS, lambda _: "100"))
    del header["product"]["resolution"]
    for meter in header["meters"]:
        meter.pop("ranges", None)
        meter.pop("resolution", None)


def zero_everywhere(folder, header):
    for name in FILES:
        change(folder, name, of_columns(READINGS, lambda _: "0"))


def single_readings(folder, header):
    for name in ("bare.csv", *CHAMBER):
        change(folder, name, one_row_a_level)
    for name in ("dark.csv", "zero.csv", "nir.csv"):
        change(folder, name, lambda heading, rows: (heading, rows[:1]))
    change(folder, "angular.csv", lambda heading, rows: (heading, rows[:1]))
    change(folder, "warm-up.csv", lambda heading, rows: (heading, rows[:1]))
    change(folder, "waveform.csv", lambda heading, rows: (heading, rows[:1]))


def one_level(folder, header):
    for name in ("bare.csv", "windowed.csv"):
        change(folder, name, lambda heading, rows: (heading, [row for row in rows if row[1] == "100"]))
    limits = json.loads((folder / "limits.json").read_text())
    limits["limits"] = [limit for limit in limits["limits"] if limit.get("where", {}).get("level", 100) == 100]
    (folder / "limits.json").write_text(json.dumps(limits))


def one_temperature(folder, header):
    header["runs"] = [run for run in header["runs"] if run["id"] not in ("chamber-0", f"chamber-{CHAMBER_C[-1]}")]


def constant_waveform(folder, header):
    change(folder, "waveform.csv", of_columns(("photodiode",), lambda _: "1"))


def dark_waveform(folder, header):
    change(folder, "waveform.csv", of_columns(("photodiode",), lambda _: "0"))


def spectra_apart(folder, header):
    spectrum(folder, "source", [(900 + 10 * i, 1) for i in range(10)])


def without_meter(folder, header):
    del header["meters"][0]["certificate"]


FOLDERS = [missing_everywhere, equal_everywhere, zero_everywhere, single_readings, one_level, one_temperature,
           constant_waveform, dark_waveform, spectra_apart, without_meter]


def dossier(scratch, spoil):
    folder, out = pathlib.Path(scratch, spoil.__name__), pathlib.Path(scratch, spoil.__name__ + "-dossier")
    folder.mkdir()
    header = rich(folder)
    spoil(folder, header)
    save(folder, header)
    ran = subprocess.run([PROGRAM, "report", folder, "--out", out], capture_output=True, text=True, timeout=120)
    if ran.returncode not in (0, 1):
        raise AssertionError(f"{spoil.__name__}: {ran.stderr}")
    return out


class Degenerate(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.scratch = tempfile.TemporaryDirectory(prefix="degenerate-")
        cls.dossiers = {spoil: dossier(cls.scratch.name, spoil) for spoil in [as_it_is, *FOLDERS]}

    @classmethod
    def tearDownClass(cls):
        cls.scratch.cleanup()

    def test_nothing_is_not_a_number(self):
        def refuse(constant):
            raise AssertionError(f"{constant} in the record")

        for spoil, out in self.dossiers.items():
            with self.subTest(spoil.__name__):
                record = json.loads((out / "record.json").read_text(), parse_constant=refuse)
                self.assertGreater(len(record["results"]), 0)
                for result in record["results"]:
                    self.assertTrue(result["value"] is not None or result["reason"], result["id"])
                json.loads((out / "correction.json").read_text(), parse_constant=refuse)
                pages = subprocess.run(["pdftotext", out / "report.pdf", "-"], capture_output=True, text=True).stdout
                self.assertEqual(NOT_A_NUMBER.findall(pages), [])
                with zipfile.ZipFile(out / "workbook.xlsx") as book:
                    for name in book.namelist():
                        if name.startswith("xl/worksheets/"):
                            values = re.findall(r"<v>([^<]*)</v>", book.read(name).decode())
                            wrong = [v for v in values if NOT_A_NUMBER.search(v) or v.startswith("#")]
                            self.assertEqual(wrong, [], name)

    def test_the_whole_bench_decides_and_every_spoilt_one_less(self):
        """Else the folders above would prove nothing."""
        def decided(spoil):
            record = json.loads((self.dossiers[spoil] / "record.json").read_text())
            return {result["id"] for result in record["results"] if result["reason"] is None}
        whole = decided(as_it_is)
        self.assertGreater(len(whole), 100)
        for metric in ("temperature_coefficient", "near_infrared_response", "ripple_error", "mismatch_factor",
                       "remaining_error", "detection_limit", "warm_up_time", "half_response_angle"):
            self.assertTrue(any(name.startswith(metric + "/") for name in whole), metric)
        for spoil in FOLDERS:
            with self.subTest(spoil.__name__):
                self.assertTrue(whole - decided(spoil))


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
