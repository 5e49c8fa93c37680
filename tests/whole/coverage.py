"""How often do the true values lie inside the stated intervals? As often as they should.

Makes one small folder for each seed (fixtures/bridge-dimmer/generate.py, small form: certificate, geometry and noise are
redrawn), asks the program for value and U of one result per metric family, and counts. The count of each family must lie
inside the 99.9 % bounds of the binomial distribution for the coverage probability 0.9545. Then the dominant Type B
contributions (certificate, placement, stage zero) are halved in copies of the headers: the families that rest on them must
now fall out of the bounds, else this test could not fail. To end in half a minute it makes no trials: it judges the
intervals of the law of propagation; coverage_study.py judges those that are stated by default.

Usage: coverage.py LUXDOSSIER GENERATOR_FOLDER      seeds: LUXDOSSIER_COVERAGE_SEEDS (500)
"""

import json
import multiprocessing
import os
import pathlib
import subprocess
import sys
import tempfile

from scipy.stats import binom

COVERAGE_PROBABILITY = 0.9545
BOUNDS = 0.999
HALVED_EVERY = 2  # every second seed is evaluated with the halved header as well: that is enough to see it fail
FEW_SEEDS = 300   # below that, every seed is
# Known to be outside: the dark reading holds more than it says. A result that is named here needs its reason in
# docs/validation.md, Coverage; one that comes back inside is a failure too, so that list and page stay true.
KNOWN_OUTSIDE = {"dark_reading"}
RESTS_ON_HALVED = {"illuminance", "reading_error", "reading_difference", "gain", "position_factor", "boresight_offset"}


def halve(quantity):
    for key in ("expanded_uncertainty", "standard_uncertainty", "half_width"):
        if key in quantity:
            quantity[key] /= 2


def halve_dominant(header):
    for meter in header["meters"]:
        certificate = meter["certificate"]
        certificate["common_expanded_uncertainty"]["value"] /= 2
        for point in certificate["points"]:
            point["expanded_uncertainty"]["value"] /= 2
    halve(header["geometry"]["plane_offset"])
    halve(header["geometry"]["stage_zero"])


def inside(program, folder, *options):
    """Which true values lie inside the stated intervals, by limit id; None where the program gave no interval."""
    ran = subprocess.run([program, "verdicts", str(folder), "--limits", str(folder / "limits.json"), "--json", *options],
                         capture_output=True, text=True)
    if ran.returncode not in (0, 1):
        raise RuntimeError(f"exit code {ran.returncode} for {folder}: {ran.stderr}")
    truth = json.loads((folder / "truth.json").read_text())
    found = {name: None for name in truth}
    for verdict in json.loads(ran.stdout)["verdicts"]:
        # The guard band is as wide as the interval on either side of the value, U or what the trials found.
        value, reach = verdict.get("value"), verdict.get("guard_band")
        if value is not None and reach is not None:
            found[verdict["limit"]] = value - reach["lower"] <= truth[verdict["limit"]] <= value + reach["upper"]
    return found


def one_seed(task):
    program, generator, seed, every = task
    sys.dont_write_bytecode = True
    sys.path.insert(0, generator)
    from generator.small import make_small
    with tempfile.TemporaryDirectory(prefix="coverage-") as scratch:
        folder = pathlib.Path(scratch)
        make_small(seed, folder)
        as_stated = inside(program, folder, "--no-trials")
        halved = None
        if seed % every == 0:
            path = folder / "qualification.json"
            header = json.loads(path.read_text())
            halve_dominant(header)
            path.write_text(json.dumps(header))
            halved = inside(program, folder, "--no-trials")
    return as_stated, halved


def count(answers):
    """Hits and number of intervals, by family."""
    hits, numbers = {}, {}
    for answer in answers:
        for name, hit in answer.items():
            hits.setdefault(name, 0)
            numbers.setdefault(name, 0)
            if hit is not None:
                hits[name] += hit
                numbers[name] += 1
    return hits, numbers


def judge(hits, numbers, seeds):
    """Families whose count is out of the bounds, or which seldom have an interval at all."""
    out = []
    for name in hits:
        low = binom.ppf((1 - BOUNDS) / 2, numbers[name], COVERAGE_PROBABILITY)
        high = binom.ppf((1 + BOUNDS) / 2, numbers[name], COVERAGE_PROBABILITY)
        good = numbers[name] >= 0.95 * seeds and low <= hits[name] <= high
        print(f"  {name:28} {hits[name]:4} of {numbers[name]:4}   bounds {low:.0f} to {high:.0f}   {'' if good else 'OUT'}")
        if not good:
            out.append(name)
    return out


def main(program, generator):
    seeds = int(os.environ.get("LUXDOSSIER_COVERAGE_SEEDS", "500"))
    every = HALVED_EVERY if seeds >= FEW_SEEDS else 1
    with multiprocessing.Pool(2) as pool:
        answers = pool.map(one_seed, [(program, generator, seed, every) for seed in range(1, seeds + 1)], chunksize=10)
    print(f"{seeds} seeds, true values inside the stated intervals (p = {COVERAGE_PROBABILITY}):")
    out = judge(*count(a for a, _ in answers), seeds)
    missed = {name.rsplit("-", 1)[0] for name in out}
    out = [name for name in out if name.rsplit("-", 1)[0] not in KNOWN_OUTSIDE]
    mended = KNOWN_OUTSIDE - missed if seeds >= FEW_SEEDS else set()
    halved = [h for _, h in answers if h is not None]
    print(f"{len(halved)} seeds with the dominant Type B contributions halved:")
    fallen = {name.rsplit("-", 1)[0] for name in judge(*count(halved), len(halved))}
    blind = RESTS_ON_HALVED - fallen
    if out:
        print("out of the bounds:", ", ".join(out))
    if mended:
        print("known to be outside, but within the bounds:", ", ".join(sorted(mended)))
    if blind:
        print("halving went unnoticed in:", ", ".join(sorted(blind)))
    return 1 if out or blind or mended else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
