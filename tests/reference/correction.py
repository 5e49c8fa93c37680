"""Corrections that the header asks for: fitted to the earlier half of each level's readings, judged on the later half."""
import numpy as np

from families import extras, level_sets, lx, pool_of
from folder import value
from repeated import Undecided

HALVES = (" earlier half", " later half")


def halves(bench, run):
    """[(level, (D, E) of the earlier half, (D, E) of the later half)], None where a half is not decided."""
    parts = ({}, {})
    for level, rows in level_sets(run).items():
        both = [i for i in rows if run.columns["sensor"][i] is not None and run.columns["meter"][i] is not None]
        middle = (len(both) + 1) // 2
        parts[0][level], parts[1][level] = both[:middle], both[middle:]
    pools = [pool_of(bench, run, part) for part in parts]
    for pool, half in zip(pools, HALVES):
        for one in {id(p): p for p in pool.values()}.values():
            one["name"] += half

    def read(which, level):
        try:
            return bench.level(run, level, parts[which][level], pools[which].get(level), HALVES[which])
        except Undecided:
            return None

    if run.stated.get("method", "side-by-side") != "side-by-side":
        return [(level, None, None) for level in parts[0]]
    return [(level, read(0, level), read(1, level)) for level in parts[0]]


def correction(bench, results):
    product = bench.header.get("product", {})
    least = 20 * value(product["resolution"]) if "resolution" in product else 0.0
    reference = bench.header.get("reference_temperature")
    cache = {}
    for request in bench.header.get("corrections", []):
        groups = {}
        for run in (r for r in bench.runs if r.kind == "comparison"):
            at = run.quantity("temperature")
            if run.configuration != request.get("configuration", "") or (
                    at is not None and reference is not None and abs(at - value(reference)) > 5):
                continue
            if id(run) not in cache:
                cache[id(run)] = halves(bench, run)
            key = (run.sample if request.get("scope") == "sample" else "", run.source if request.get("per_source") else "")
            groups.setdefault(key, []).extend((run, *found) for found in cache[id(run)])
        if not groups:
            base = {"correction": request["id"], **({"configuration": request["configuration"]} if "configuration" in request else {})}
            for metric in ("correction_gain", "correction_offset")[:1 + (request["form"] == "gain-and-offset")]:
                results.put(metric, "", base, None, reason="no run")
        for (sample, source), readings in groups.items():
            one_group(bench, results, request, sample, source, readings, least)


def one_group(bench, results, request, sample, source, readings, least):
    with_offset = request["form"] == "gain-and-offset"
    lowest, highest = (value(request[k]) if k in request else None for k in ("lowest_level", "highest_level"))
    estimates = lambda name: bench.chain.inputs[name].estimate
    fitted = [first for _, level, first, _ in readings
              if first is not None and first[0](estimates) >= least and first[0](estimates) > 0
              and (lowest is None or level >= lowest) and (highest is None or level <= highest)]
    base = {"correction": request["id"], "source": source}
    if request.get("configuration"):
        base["configuration"] = request["configuration"]
    base = {k: v for k, v in base.items() if v}
    several = len({level for _, level, first, _ in readings if first in fitted}) > 1
    known = fitted and (several or not with_offset)

    def fit(get):
        columns = [[np.atleast_1d(one[i](get)) for one in fitted] for i in (0, 1)]
        width = max(len(x) for of_device in columns for x in of_device)
        d, e = (np.array([np.broadcast_to(x, (width,)) for x in of_device]) for of_device in columns)
        a, b = np.zeros(width), np.zeros(width)
        for column in range(width):
            design = (d / e)[:, column][:, None]
            if with_offset:
                design = np.column_stack([1 / e[:, column], design])
            solved = np.linalg.lstsq(design, np.ones(len(fitted)), rcond=None)[0]
            a[column], b[column] = (solved[0], solved[1]) if with_offset else (0.0, solved[0])
        return a, b

    def everything(get):
        a, b = fit(get)
        out = {"gain": b, "offset": a}
        for i, (run, level, _, second) in enumerate(readings):
            if second is not None:
                d, e = second[0](get), second[1](get)
                out[i] = ((a + b * d) / e - 1) * 100
        return out

    values, c = bench.chain.differentiate(everything) if known else ({}, {})
    for metric, name in (("correction_gain", "gain"), ("correction_offset", "offset")):
        if name == "gain" or with_offset:
            results.put(metric, sample, base, values.get(name), c.get(name), None if known else "no line")
    for i, (run, level, _, second) in enumerate(readings):
        here = {"configuration": run.configuration, "source": run.source, **extras(run, ("level",)), "level": lx(level),
                "correction": request["id"]}
        reason = None if known and second is not None else "not decided"
        if reason is None:
            illuminance, sensitivity = bench.chain.differentiate(lambda get, second=second: {"e": second[1](get)})
            if bench.chain.propagate(sensitivity["e"])[0] > 0.25 * illuminance["e"]:
                reason = "u(E)/E above 0.25"
        results.put("remaining_error", run.sample, here, values.get(i), c.get(i), reason, run=run.id)
