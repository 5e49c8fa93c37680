"""What is left when a call of the program fails, and what is sealed when a file changes while it is read.

Usage: faults_test.py LUXDOSSIER FAULTS      FAULTS: the library that lets a call fail
"""

import hashlib
import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import unittest
import zipfile
from pathlib import Path

PROGRAM, FAULTS = (str(Path(name).resolve()) for name in sys.argv[1:3])
SOURCE = Path(__file__).resolve().parents[2]
TINY = SOURCE / "fixtures/tiny"
DATE = {"SOURCE_DATE_EPOCH": "1741000000"}


def run(*arguments, fault=None, **environment):
    shim = {"LD_PRELOAD": FAULTS, "LUXDOSSIER_FAULT": fault} if fault else {}
    return subprocess.run([PROGRAM, *map(str, arguments)], capture_output=True, text=True, timeout=300,
                          env={**os.environ, **DATE, **shim, **environment})


def tree(folder):
    return {str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
            for path in sorted(Path(folder).rglob("*"))}


def contents(dossier):
    """What a dossier holds: the workbook as its members, because the archive also notes a guess whether a member is text.
    The manifest has to hold, and is left out."""
    found = tree(dossier)
    manifest = found.pop("manifest-sha256.txt").decode()
    for line in manifest.splitlines():
        digest, name = line.split("  ", 1)
        if hashlib.sha256(found[name]).hexdigest() != digest:
            raise AssertionError(f"{name} is not what the manifest seals")
    with zipfile.ZipFile(dossier / "workbook.xlsx") as book:
        found["workbook.xlsx"] = {name: book.read(name) for name in book.namelist()}
    return found


def last_line(text):
    """Ours; libraries may have complained before."""
    return text.splitlines()[-1] if text else ""


def spread(count, samples):
    """Numbers from 1 to count, close together at both ends, where files begin and end."""
    if count <= samples:
        return list(range(1, count + 1))
    inner = samples - 8
    between = {5 + round(i * (count - 10) / (inner - 1)) for i in range(inner)}
    return sorted({1, 2, 3, 4, count - 3, count - 2, count - 1, count} | between)


class Scratch(unittest.TestCase):
    def setUp(self):
        scratch = tempfile.TemporaryDirectory(prefix="luxdossier-faults-")
        self.addCleanup(scratch.cleanup)
        self.scratch = Path(scratch.name)


class OneCallFails(Scratch):
    """A dossier is sealed only where it is what it would have been without the fault."""

    def setUp(self):
        super().setUp()
        counts = self.scratch / "counts"
        self.assertEqual(run("report", TINY, "--out", self.scratch / "whole", fault=f"count:{counts}").returncode, 0)
        self.counts = json.loads(counts.read_text())
        self.whole = contents(self.scratch / "whole")
        shutil.copytree(self.scratch / "whole", self.scratch / "older")

    def try_all(self, kind, word, samples):
        place = self.scratch / "place"
        for number in spread(self.counts[kind], samples):
            place.mkdir()
            older = number % 2 == 0  # every other time a dossier stands there already
            if older:
                shutil.copytree(self.scratch / "older", place / "dossier")
            ran = run("report", TINY, "--out", place / "dossier", "--replace", fault=f"{kind}:{number}:{word}")
            with self.subTest(kind=kind, number=number, of=self.counts[kind], word=word):
                self.assertIn(ran.returncode, (0, 3), ran.stderr)
                self.assertEqual([path.name for path in place.iterdir()],
                                 ["dossier"] if ran.returncode == 0 or older else [])
                if ran.returncode == 0 or older:
                    self.assertEqual(contents(place / "dossier"), self.whole)
                if ran.returncode == 3:
                    self.assertRegex(last_line(ran.stderr), r"^luxdossier: .")
            shutil.rmtree(place)

    def test_no_space_on_a_write(self):
        self.try_all("write", "ENOSPC", 30)

    def test_an_input_output_error_on_a_read(self):
        self.try_all("read", "EIO", 16)

    def test_an_input_output_error_on_a_seek(self):
        self.try_all("seek", "EIO", 14)

    def test_no_file_may_grow_beyond_a_limit(self):
        largest = (self.scratch / "whole/workbook.xlsx").stat().st_size
        for limit in (4096, 12288, 20000, largest // 2, largest - 1):
            with self.subTest(limit):
                ran = subprocess.run([PROGRAM, "report", TINY, "--out", self.scratch / "limited"], capture_output=True,
                                     text=True, env={**os.environ, **DATE}, restore_signals=False,
                                     preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit)))
                self.assertEqual((ran.returncode, ran.stdout), (3, ""), ran.stderr)
                self.assertFalse((self.scratch / "limited").exists())

    def test_a_small_file_system_is_full(self):
        script = ('mount -t tmpfs -o size=$1 none "$2" && for size in 1; do "$3" report "$4" --out "$2/dossier"; '
                  'code=$?; ls -A "$2" >&2; exit $code; done')
        place = self.scratch / "small"
        place.mkdir()
        for size in ("64k", "256k"):
            ran = subprocess.run(["unshare", "--user", "--map-root-user", "--mount", "sh", "-c", script, "sh", size, place,
                                  PROGRAM, TINY], capture_output=True, text=True, env={**os.environ, **DATE})
            if "mount" in ran.stderr or "unshare" in ran.stderr:
                self.skipTest("no file system may be mounted here")
            with self.subTest(size):
                self.assertEqual((ran.returncode, ran.stdout), (3, ""), ran.stderr)
                self.assertRegex(last_line(ran.stderr), r"^luxdossier: ")  # and no name of a file that is left

    def test_every_file_is_written_beside_the_dossier(self):
        log = self.scratch / "opened"
        other = self.scratch / "other"
        other.mkdir()
        ran = run("report", TINY, "--out", self.scratch / "out/../dossier", fault=f"opened:{log}", TMPDIR=str(other))
        self.assertEqual(ran.returncode, 0, ran.stderr)
        staging = str(self.scratch / ".dossier.unfinished-")
        opened = [path for path in log.read_text().splitlines() if not path.startswith(("/dev/", "/proc/"))]
        self.assertGreater(len(opened), 30)
        self.assertEqual([path for path in opened if not path.startswith(staging)], [])


class FilesThatChange(Scratch):
    """The sealed copy is what was evaluated, whatever happens to the file meanwhile."""

    def folder(self, header, files):
        folder = self.scratch / "bench"
        folder.mkdir()
        (folder / "qualification.json").write_text(json.dumps(header))
        for name, text in files.items():
            (folder / name).write_text(text)
        return folder

    def header(self, **changes):
        header = json.loads((TINY / "qualification.json").read_text())
        header.update(changes)
        return header

    def values(self, dossier):
        record = json.loads((dossier / "record.json").read_text())
        return {result["id"]: result["value"] for result in record["results"]}

    def test_a_file_that_two_runs_name_is_read_once(self):
        run_of = self.header()["runs"][0]
        runs = [{**run_of, "id": name, "sample": name} for name in ("S1", "S2")]
        text = (TINY / "levels.csv").read_text()
        head, *lines = text.splitlines()
        swapped = "\n".join([head, *(",".join([cells[0], str(1.2 * float(cells[1])), *cells[2:]])
                                     for cells in (line.split(",") for line in lines))]) + "\n"
        folder = self.folder(self.header(samples=[{"id": "S1"}, {"id": "S2"}], runs=runs),
                             {"levels.csv": text, "levels.csv.swap": swapped})
        ran = run("report", folder, fault="swap:bench/levels.csv:2")
        self.assertEqual(ran.returncode, 0, ran.stderr)
        sealed = folder / "dossier/inputs/levels.csv"
        self.assertEqual(sealed.read_text(), text)
        self.assertEqual(run("report", folder / "dossier/inputs", "--out", self.scratch / "again").returncode, 0)
        self.assertEqual(self.values(folder / "dossier"), self.values(self.scratch / "again"))

    def test_one_file_under_two_spellings_of_its_path_is_one_file(self):
        run_of = self.header()["runs"][0]
        runs = [{**run_of, "id": "S1"}, {**run_of, "id": "S2", "sample": "S2", "file": "./levels.csv"}]
        text = (TINY / "levels.csv").read_text()
        folder = self.folder(self.header(samples=[{"id": "S1"}, {"id": "S2"}], runs=runs),
                             {"levels.csv": text, "levels.csv.swap": text.replace("1", "2")})
        ran = run("report", folder, fault="swap:bench/levels.csv:2")
        self.assertEqual((ran.returncode, ran.stdout), (2, ""))
        self.assertIn("levels.csv changed while it was evaluated", ran.stderr)
        (folder / "levels.csv").write_text(text)
        self.assertEqual(run("report", folder).returncode, 0)

    def test_a_large_file_that_changes_is_refused(self):
        header = self.header()
        head, *lines = (TINY / "levels.csv").read_text().splitlines()
        filling = "." * (70_000_000 // 1100)  # more than 64 MiB in few rows
        rows = [f"{line},{filling}" for _ in range(1100 // len(lines) + 1) for line in lines]
        text = "\n".join([head + ",filling", *rows]) + "\n"
        folder = self.folder(header, {"levels.csv": text})
        self.assertGreater((folder / "levels.csv").stat().st_size, 64 << 20)
        ran = run("report", folder, "--out", self.scratch / "kept")
        self.assertEqual(ran.returncode, 0, ran.stderr)
        record = json.loads((self.scratch / "kept/record.json").read_text())
        stated = {file["path"]: file for file in record["inputs"]}["levels.csv"]
        self.assertEqual(stated["sha256"], hashlib.sha256(text.encode()).hexdigest())
        self.assertEqual(stated["size"], len(text))
        self.assertEqual((self.scratch / "kept/inputs/levels.csv").read_text(), text)
        (folder / "levels.csv.swap").write_text(text.replace(",.", ",:", 1))
        ran = run("report", folder, fault="swap:bench/levels.csv:2")
        self.assertEqual((ran.returncode, ran.stdout), (2, ""))
        self.assertEqual(ran.stderr, "levels.csv changed while it was evaluated\n  advice: run again\n")
        self.assertFalse((folder / "dossier").exists())


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
