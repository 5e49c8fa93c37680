"""The coverage study of docs/validation.md: how often true values lie inside the stated intervals, on many kinds of bench.

For every kind (fixtures/bridge-dimmer/generator/small.py, KINDS) and seed a small bench is made, evaluated, and counted,
as in coverage.py. Runs that a kind repeats from the bench as stated, reading for reading, are evaluated once, and only the
judged results have trials, which change no other result. The folders stand in memory where the machine has a file system
there. It takes minutes, so it is no test of the suite; the suite's small form is coverage.py.

Usage: coverage_study.py LUXDOSSIER GENERATOR_FOLDER [write]      benches of a kind: LUXDOSSIER_COVERAGE_SEEDS (2000)
"""

import multiprocessing
import os
import pathlib
import sys
import tempfile
import time

from scipy.stats import binom

from coverage import BOUNDS, COVERAGE_PROBABILITY, count, inside

PAGE = pathlib.Path(__file__).resolve().parents[2] / "docs/validation.md"
MEMORY = pathlib.Path("/dev/shm")
BEGIN, END = "<!-- made by tests/whole/coverage_study.py: do not edit -->\n", "<!-- end of the coverage study -->\n"


def one_bench(task):
    program, generator, seed, kind = task
    sys.dont_write_bytecode = True
    sys.path.insert(0, generator)
    from generator.small import make_small
    with tempfile.TemporaryDirectory(prefix="coverage-", dir=MEMORY if MEMORY.is_dir() else None) as scratch:
        folder = pathlib.Path(scratch)
        make_small(seed, folder, kind, lean=True)
        return inside(program, folder)


def study(program, generator, seeds):
    """{kind: (hits, numbers)} by limit id."""
    sys.path.insert(0, generator)
    from generator.small import KINDS
    found = {}
    with multiprocessing.Pool(2) as pool:
        for kind in KINDS:
            begin = time.monotonic()
            # Seeds beyond those of the suite: the study does not repeat its benches.
            tasks = [(program, generator, 100_000 + seed, kind) for seed in range(seeds)]
            found[kind] = count(pool.map(one_bench, tasks, chunksize=10))
            print(f"{kind}: {seeds} benches in {time.monotonic() - begin:.0f} s", file=sys.stderr)
    return found


def shown(hits, number):
    """Percentage of intervals that hold the truth; marked where the count is outside the binomial bounds."""
    if number == 0:
        return "-"
    low, high = (binom.ppf((1 + sign * BOUNDS) / 2, number, COVERAGE_PROBABILITY) for sign in (-1, 1))
    mark = " **low**" if hits < low else " high" if hits > high else ""
    few = f" ({number})" if number < 0.95 * shown.seeds else ""
    return f"{100 * hits / number:.1f}{mark}{few}"


def table(found, seeds):
    shown.seeds = seeds
    kinds = list(found)
    names = {name: None for hits, _ in found.values() for name in hits}
    rows = ["| result | " + " | ".join(kinds) + " |", "|---" * (len(kinds) + 1) + "|"]
    for name in names:
        cells = [shown(found[kind][0][name], found[kind][1][name]) if name in found[kind][1] else "=" for kind in kinds]
        rows.append(f"| {name.rsplit('-', 1)[0]} | " + " | ".join(cells) + " |")
    low, high = (binom.ppf((1 + sign * BOUNDS) / 2, seeds, COVERAGE_PROBABILITY) / seeds for sign in (-1, 1))
    head = (f"{seeds} benches of each kind; percentage of the stated {100 * COVERAGE_PROBABILITY:.2f} % intervals that hold the "
            f"true value. 99.9 % of all counts lie between {100 * low:.1f} % and {100 * high:.1f} % where the intervals are "
            "right; others are marked. A number in brackets: benches that gave an interval, where some gave none; \"=\": the "
            f"readings behind this result are those of the kind *{kinds[0]}*.")
    return f"\n{head}\n\n" + "\n".join(rows) + "\n\n"


def main(program, generator, mode="print"):
    seeds = int(os.environ.get("LUXDOSSIER_COVERAGE_SEEDS", "2000"))
    made = table(study(program, generator, seeds), seeds)
    print(made)
    if mode == "write":
        before, rest = PAGE.read_text(encoding="utf-8").split(BEGIN)
        PAGE.write_text(before + BEGIN + made + END + rest.split(END)[1], encoding="utf-8")


if __name__ == "__main__":
    main(*sys.argv[1:])
