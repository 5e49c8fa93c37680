"""The committed demonstration is what its generator makes from its seed.

Usage: generator.py FIXTURE_FOLDER
"""

import pathlib
import subprocess
import sys
import tempfile


def main(fixture):
    fixture = pathlib.Path(fixture)
    with tempfile.TemporaryDirectory(prefix="generator-") as scratch:
        out = pathlib.Path(scratch)
        subprocess.run([sys.executable, "-B", fixture / "generate.py", "--out", out], check=True)
        made = {str(p.relative_to(out)): p.read_bytes() for p in out.rglob("*") if p.is_file()}
        committed = {str(p.relative_to(fixture)): p.read_bytes() for p in fixture.rglob("*")
                     if p.is_file() and p.suffix in (".csv", ".json") and "dossier" not in p.relative_to(fixture).parts}
        differing = sorted(name for name in made.keys() | committed.keys() if made.get(name) != committed.get(name))
        for name in differing[:20]:
            print("differs, or stands on one side only:", name)
        other = pathlib.Path(scratch) / "other-seed"
        subprocess.run([sys.executable, "-B", fixture / "generate.py", "--seed", "15", "--out", other], check=True)
        same = (other / "led/bare-S1.csv").read_bytes() == made["led/bare-S1.csv"]
        if same:
            print("another seed gives the same readings")
        print(f"{len(made)} files made and compared")
        return 1 if differing or same or not made else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
