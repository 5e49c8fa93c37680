"""Recomputes a qualification folder from its files alone and compares a record with it.

Usage: compare.py FOLDER record.json [--mutate]   (exit 0: agree; 1: disagree)

Values agree to 1e-9 of max(|value|, U), standard uncertainties to 1e-6, degrees of freedom exactly (to 1e-5 above
10 000), contributions of the budget to 1e-6 of u. --mutate scales one input's u in a copy of the record by 1.001: the
comparison must then fail.
"""
import json
import math
import sys

from chain import Chain
from evaluation import evaluate
from folder import load


def record_key(result):
    conditions = {k: ([v["value"], v["unit"]] if isinstance(v, dict) else v) for k, v in result["conditions"].items()}
    return json.dumps([result["metric"], result["sample"] or "", sorted(conditions.items())])


def rounded(key):
    metric, sample, conditions = json.loads(key)
    return json.dumps([metric, sample, [[k, [round(float(v[0]), 6), v[1]] if isinstance(v, list) else v] for k, v in conditions]])


def compare(header, runs, record):
    chain = Chain(header.get("evaluation", {}).get("coverage_probability", 0.9545))
    mine = {rounded(k): v for k, v in evaluate(header, runs, chain).items.items()}
    families = {json.loads(k)[0] for k in mine}
    theirs = {rounded(record_key(r)): r for r in record["results"] if r["metric"] in families}
    faults, compared = [], {}
    for key in sorted(set(mine) - set(theirs)):
        if json.loads(key)[2] and ["any", "any"] in json.loads(key)[2]:
            continue
        faults.append(f"{key}: not in the record (here {mine[key]['value']}, {mine[key]['reason']})")
    undecided_linearity = {json.dumps(json.loads(k)[1:2] + [c for c in json.loads(k)[2] if c[0] != "any"])
                           for k in mine if ["any", "any"] in json.loads(k)[2]}
    for key in sorted(set(theirs) - set(mine)):
        metric, sample, conditions = json.loads(key)
        base = [c for c in conditions if c[0] not in ("level", "line", "relative_to")]
        if metric == "linearity_deviation" and json.dumps([sample] + base) in undecided_linearity:
            if theirs[key]["standard_uncertainty"] is not None:
                faults.append(f"{key}: decided in the record, not decided here")
            continue
        faults.append(f"{key}: in the record only")
    quantities = {q["input"]: q["standard_uncertainty"] for q in record["input_quantities"]}
    for key in sorted(set(mine) & set(theirs)):
        a, b = mine[key], theirs[key]
        compared[a["metric"]] = compared.get(a["metric"], 0) + 1
        if a["reason"]:
            if not b.get("reason"):
                faults.append(f"{key}: here {a['reason']}, in the record {b['value']} without a reason")
            continue
        if b["value"] is None:
            faults.append(f"{key}: {a['value']} here, none in the record ({b.get('reason')})")
            continue
        u = a.get("u")
        tolerance = 1e-9 * max(abs(a["value"]), (u or 0) * a.get("k", 0))
        if abs(a["value"] - b["value"]) > tolerance:
            faults.append(f"{key}: value {a['value']!r} here, {b['value']!r} in the record")
        if (u is None) != (b["standard_uncertainty"] is None):
            faults.append(f"{key}: u {u} here, {b['standard_uncertainty']} in the record ({b.get('reason')})")
            continue
        if u is None:
            continue
        if abs(u - b["standard_uncertainty"]) > 1e-6 * u:
            faults.append(f"{key}: u {u!r} here, {b['standard_uncertainty']!r} in the record")
        nu = math.inf if b["effective_degrees_of_freedom"] is None else b["effective_degrees_of_freedom"]
        if nu != a["nu"] and not (a["nu"] > 1e4 and abs(nu - a["nu"]) <= 1e-5 * a["nu"]):
            faults.append(f"{key}: nu {a['nu']} here, {nu} in the record")
        faults += budget_faults(key, a["parts"], budget_of(b, quantities), u)
    return faults, compared


def budget_of(result, quantities):
    """Sensitivity and standard uncertainty of every line of a result's budget."""
    return [(line["sensitivity"], quantities[line["input"]]) for line in result.get("budget", [])]


def budget_faults(key, parts, lines, u):
    """Contributions line by line, largest first; below 1e-6 u they need not be there."""
    here = sorted((p for p in parts.values() if p > 1e-6 * u), reverse=True)
    there = sorted((abs(sensitivity) * of_input for sensitivity, of_input in lines), reverse=True)
    there = [p for p in there if p > 1e-6 * u]
    for a, b in zip(here, there):
        if abs(a - b) > 1e-6 * a + 2e-9 * u:
            return [f"{key}: a contribution of {a!r} here, {b!r} in the record"]
    if abs(len(here) - len(there)) > 0 and min(here[len(there):] + there[len(here):], default=0) > 3e-6 * u:
        return [f"{key}: {len(here)} contributions here, {len(there)} in the record"]
    return []


def mutate(record):
    """The u of the input that counts most, times 1.001."""
    shares = {}
    for line in (line for r in record["results"] for line in r.get("budget", [])):
        shares[line["input"]] = shares.get(line["input"], 0) + abs(line["share"] or 0)
    top = max(shares, key=shares.get)
    next(q for q in record["input_quantities"] if q["input"] == top)["standard_uncertainty"] *= 1.001
    return top


def main(folder, path, *options):
    header, runs = load(folder)
    with open(path) as file:
        record = json.load(file)
    if "--mutate" in options:
        print("scaled by 1.001:", mutate(record))
    faults, compared = compare(header, runs, record)
    for fault in faults[:40]:
        print(fault)
    print(f"{sum(compared.values())} results compared: " + ", ".join(f"{k} {v}" for k, v in sorted(compared.items())))
    print(f"{len(faults)} disagreements")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
