"""Results of every metric family that docs/metrics defines, from one chain."""
import itertools
import json
import math
import pathlib

import numpy as np
from scipy import stats
from scipy.interpolate import CubicHermiteSpline
from scipy.optimize import brentq, linprog

from folder import Quantity, value
from illuminance import Bench
from repeated import Undecided, deviation, total

DEGREE = math.pi / 180
# Metrics over several levels or runs do not carry what may differ between them.
OF_ONE_READING = ("level", "distance", "meter_temperature")


def canonical_unit(unit):
    return {"degree": "degree", "rad": "degree", "mm": "m", "cm": "m", "klx": "lx", "degC": "K", "min": "s", "h": "s",
            "ms": "s", "nm": "m", "%": "1"}.get(unit, unit)


class Results:
    def __init__(self, chain):
        self.chain = chain
        self.items = {}
        self.owners = {}

    def key(self, metric, sample, conditions):
        return json.dumps([metric, sample or "", sorted((k, v) for k, v in conditions.items())])

    def put(self, metric, sample, conditions, got, c=None, reason=None, run=None):
        key = self.key(metric, sample, conditions)
        if run is not None:
            # Two runs that would give the same key also carry the run.
            owner = self.owners.setdefault(key, run)
            if owner != run:
                if key in self.items:
                    self.items[self.key(metric, sample, {**conditions, "run": owner})] = self.items.pop(key)
                key = self.key(metric, sample, {**conditions, "run": run})
        item = {"metric": metric, "value": got, "reason": reason}
        if c is not None and reason is None:
            u, nu, k, parts = self.chain.propagate(c)
            item.update(u=u, nu=nu, k=k, parts=parts, c=c)
        if key in self.items:
            raise ValueError(f"two results with the key {key}")
        self.items[key] = item


def extras(run, leave_out=()):
    """Further conditions of a run, as records write them."""
    out = {}
    for name, got in run.conditions.items():
        if name in leave_out:
            continue
        if isinstance(got, dict):
            q = Quantity(got)
            unit = canonical_unit(got["unit"])
            out[name] = [q.value / DEGREE if unit == "degree" else q.value, unit]
        else:
            out[name] = got
    return out


def lx(level):
    return [level, "lx"]


def degree(angle):
    return [angle, "degree"]


# ---- comparison runs -----------------------------------------------------------------------------------------------
def level_sets(run):
    """Rows of each nominal level, in the order of the levels."""
    sets = {}
    stated = run.quantity("level")
    for i in run.rows:
        level = run.columns["level"][i] if run.has("level") else stated
        sets.setdefault(level, []).append(i)
    return dict(sorted(sets.items()))


def pool_of(bench, run, sets):
    if run.stated.get("method", "side-by-side") != "side-by-side":
        return {}
    meter = bench.meters[run.meter]
    ranges = sorted(value(r["up_to"]) for r in meter.get("ranges", []))
    pools = {}
    for level, rows in sets.items():
        both = [(run.columns["sensor"][i], run.columns["meter"][i]) for i in rows]
        both = [p for p in both if None not in p]
        if not both:
            continue
        mean = math.fsum(b for _, b in both) / len(both)
        chosen = next((r for r in ranges if mean <= r), ranges[-1] if ranges else 0)
        pool = pools.setdefault(chosen, {"sensor": [], "meter": [], "name": f"pool:{run.id}/{chosen:g}", "levels": []})
        pool["sensor"].append([a for a, _ in both])
        pool["meter"].append([b for _, b in both])
        pool["levels"].append(level)
    return {level: pool for pool in pools.values() for level in pool["levels"]}


def comparison(bench, results):
    points = {}
    for run in (r for r in bench.runs if r.kind == "comparison"):
        sets = level_sets(run)
        pools = pool_of(bench, run, sets)
        kept = []
        for level, rows in sets.items():
            base = {"configuration": run.configuration, "source": run.source, **extras(run, ("level",)), "level": lx(level)}
            try:
                d, e = bench.level(run, level, rows, pools.get(level))
            except Undecided as reason:
                for metric in ("illuminance", "reading_error", "reading_difference"):
                    results.put(metric, run.sample, base, None, reason=str(reason), run=run.id)
                kept.append((level, None, None))
                continue

            def one(get, d=d, e=e):
                dv, ev = d(get), e(get)
                return {"illuminance": ev, "reading_error": (dv / ev - 1) * 100, "reading_difference": dv - ev}

            values, c = bench.chain.differentiate(one)
            u = bench.chain.propagate(c["illuminance"])[0]
            for metric in values:
                reason = "u(E)/E above 0.25" if metric == "reading_error" and u > 0.25 * values["illuminance"] else None
                results.put(metric, run.sample, base, values[metric], c[metric], reason, run=run.id)
            kept.append((level, d, e))
        points[id(run)] = (run, kept)
        linearity(bench, results, run, kept)
    return points


def minimax_active(x, y, through_first):
    """Points that hold the line: SciPy's linear programme, polished by the exact solution on its active set."""
    n = len(x)
    sx, sy = max(abs(x)), max(abs(y))
    a, b = x / sx, y / sy
    # variables offset, gain, h
    rows, right = [], []
    for i in range(n):
        rows += [[1, a[i], -1], [-1, -a[i], -1]]
        right += [b[i], -b[i]]
    equal = dict(A_eq=[[1, a[0], 0]], b_eq=[b[0]]) if through_first else {}
    solved = linprog([0, 0, 1], A_ub=rows, b_ub=right, bounds=[(None, None), (None, None), (0, None)], method="highs", **equal)
    assert solved.status == 0
    need = 2 if through_first else 3
    best = None
    for active in itertools.combinations(range(1 if through_first else 0, n), need):
        for signs in itertools.product((1, -1), repeat=need):
            if signs[0] != 1:
                continue
            line = minimax_line(x, y, active, signs, through_first)
            h = abs(line[2])
            if not np.isfinite(h):
                continue
            worst = np.max(np.abs(y - line[0] - line[1] * x))
            if worst <= h * (1 + 1e-9) and (best is None or h < best[0]):
                best = (h, active, signs)
    assert best is not None and abs(best[0] / sy - solved.fun) < 1e-6 * max(solved.fun, 1e-6), (best, solved.fun)
    return best[1], best[2]


def minimax_line(x, y, active, signs, through_first):
    """offset, gain, h with y_i - offset - gain x_i = sign_i h on the active points; columns are trials."""
    if through_first:
        (i, j), (s, t) = active, signs
        # (y_i - y0) - g (x_i - x0) = s h ; same for j
        xi, yi, xj, yj = x[i] - x[0], y[i] - y[0], x[j] - x[0], y[j] - y[0]
        with np.errstate(all="ignore"):
            gain = (yi / s - yj / t) / (xi / s - xj / t)
            h = (yi - gain * xi) / s
        return y[0] - gain * x[0], gain, h
    (i, j, k), (r, s, t) = active, signs
    with np.errstate(all="ignore"):
        # eliminate offset against point i, then h
        a1, b1, c1 = x[j] - x[i], s - r, y[j] - y[i]
        a2, b2, c2 = x[k] - x[i], t - r, y[k] - y[i]
        determinant = a1 * b2 - a2 * b1
        gain = (c1 * b2 - c2 * b1) / determinant
        h = (a1 * c2 - a2 * c1) / determinant
    return y[i] - gain * x[i] - r * h, gain, h


def linearity(bench, results, run, kept):
    if len(kept) < 3:
        return
    base = {"configuration": run.configuration, "source": run.source, **extras(run, ("level",))}
    if any(d is None for _, d, _ in kept) or "linearity" not in bench.meters[run.meter]:
        reason = "a level is not decided" if any(d is None for _, d, _ in kept) else "no f3"
        for metric in ("gain", "offset", "log_log_slope"):
            results.put(metric, run.sample, base, None, reason=reason, run=run.id)
        results.put("linearity_deviation", run.sample, {**base, "any": "any"}, None, reason=reason)
        return
    chain = bench.chain
    n = len(kept)

    def both(get):
        out = {}
        for i, (_, d, e) in enumerate(kept):
            out["D", i], out["E", i] = d(get), e(get)
        return out

    values, c = chain.differentiate(both)
    x0 = np.array([values["E", i] for i in range(n)])
    y0 = np.array([values["D", i] for i in range(n)])
    order = np.argsort(x0)
    u = {key: chain.propagate(c[key])[0] for key in c}
    acts = {}
    for i in range(n):
        for device in "DE":
            for name, coefficient in c[device, i].items():
                if abs(coefficient) * chain.inputs[name].u > 1e-9 * u[device, i]:
                    acts.setdefault(name, set()).add(i)
    own = {}
    for i in range(n):
        for device in "DE":
            own[device, i] = math.fsum((coefficient * chain.inputs[name].u) ** 2 for name, coefficient in c[device, i].items()
                                       if acts.get(name) == {i})
    gain = np.polyfit(x0, y0, 1)[0]
    for _ in range(200):
        weights = np.array([1 / (own["D", i] + gain ** 2 * own["E", i]) for i in range(n)])
        new = weighted(x0[:, None], y0[:, None], weights)[1][0]
        done = abs(new - gain) <= 1e-15 * abs(new)
        gain = new
        if done:
            break
    sets = {"independent": minimax_active(x0[order], y0[order], False),
            "zero-based": minimax_active(x0[order], y0[order], True)}

    def everything(get):
        x = np.array([np.broadcast_to(kept[i][2](get), get.shape) for i in order])
        y = np.array([np.broadcast_to(kept[i][1](get), get.shape) for i in order])
        lines = {}
        for name, (active, signs) in sets.items():
            lines[name] = minimax_line(x, y, active, signs, name == "zero-based")[:2]
        slope = (y[-1] - y[0]) / (x[-1] - x[0])
        lines["terminal-based"] = (y[0] - slope * x[0], slope)
        lines["least-squares"] = weighted(x, y, weights[order])
        out = {"gain": lines["least-squares"][1], "offset": lines["least-squares"][0]}
        lnx, lny = np.log(x), np.log(y)
        dx = lnx - lnx.mean(axis=0)
        out["log_log_slope"] = (dx * (lny - lny.mean(axis=0))).sum(axis=0) / (dx * dx).sum(axis=0)
        for name, (a, b) in lines.items():
            for i in range(n):
                zero = (name == "terminal-based" and i in (0, n - 1)) or (name == "zero-based" and i == 0)
                if zero:
                    continue
                deviation_lx = y[i] - a - b * x[i]
                out[name, "reading", i] = 100 * deviation_lx / y[i]
                out[name, "span", i] = 100 * deviation_lx / (y[-1] - y[0])
        return out

    class Getter:
        def __init__(self, get):
            self.get = get
            self.shape = None

        def __call__(self, name):
            array = self.get(name)
            self.shape = array.shape
            return array

    def wrapped(get):
        g = Getter(get)
        g(next(iter(chain.inputs)))
        return everything(g)

    values, c = chain.differentiate(wrapped)
    for metric in ("gain", "offset", "log_log_slope"):
        if metric == "log_log_slope" and np.any(y0 <= 0):
            results.put(metric, run.sample, base, None, reason="a reading is not positive", run=run.id)
            continue
        results.put(metric, run.sample, base, values[metric], c[metric], run=run.id)
    for key in values:
        if isinstance(key, tuple):
            name, relative, i = key
            level = kept[order[i]][0]
            results.put("linearity_deviation", run.sample,
                        {**base, "level": lx(level), "line": name, "relative_to": relative}, values[key], c[key], run=run.id)


def weighted(x, y, weights):
    w = (weights / weights.sum())[:, None]
    mx, my = (w * x).sum(axis=0), (w * y).sum(axis=0)
    gain = (w * (x - mx) * (y - my)).sum(axis=0) / (w * (x - mx) ** 2).sum(axis=0)
    return my - gain * mx, gain


def window(bench, results, points):
    header = bench.header
    reference = header.get("reference_configuration")
    factors = {c["id"]: c.get("applied_factor") for c in header.get("configurations", [])}
    for run, kept in points.values():
        if run.configuration == reference or not reference:
            continue
        for other, other_kept in points.values():
            if (other.configuration, other.sample, other.source) != (reference, run.sample, run.source) or extras(
                    other, OF_ONE_READING) != extras(run, OF_ONE_READING):
                continue
            levels = dict((level, (d, e)) for level, d, e in other_kept)
            for level, d, e in kept:
                here = {"configuration": run.configuration, "source": run.source, **extras(run), "level": lx(level)}
                if level not in levels:
                    continue
                if d is None or levels[level][0] is None:
                    results.put("window_response_ratio", run.sample, here, None, reason="a level is not decided",
                                run=run.id)
                    continue
                d0, e0 = levels[level]
                k, k0 = factors[run.configuration], factors[reference]
                if k is None or k0 is None:
                    continue
                values, c = bench.chain.differentiate(
                    lambda get: {"r": (d(get) / k / e(get)) / (d0(get) / k0 / e0(get))})
                results.put("window_response_ratio", run.sample,
                            here, values["r"], c["r"], run=run.id)


def window_changes(bench, results):
    """Source variation and field of view behind the window less those without it, as differences of what the chain gave."""
    reference = bench.header.get("reference_configuration")
    found = {}
    for key, item in results.items.items():
        metric, sample, conditions = json.loads(key)
        conditions = dict(conditions)
        if metric in ("source_variation", "field_of_view"):
            place = sorted((k, v) for k, v in conditions.items() if k not in ("configuration", "distance", "meter_temperature", "run"))
            found.setdefault(json.dumps([metric, sample, place]), []).append((conditions, item))
    for key, items in found.items():
        metric, sample, _ = json.loads(key)
        bare = [item for conditions, item in items if conditions.get("configuration") == reference]
        for conditions, item in items:
            if conditions.get("configuration") == reference or len(bare) != 1:
                continue
            reason = item["reason"] or bare[0]["reason"]
            if reason:
                results.put(f"{metric}_change", sample, conditions, None, reason=reason)
                continue
            c = {name: item["c"].get(name, 0.0) - bare[0]["c"].get(name, 0.0) for name in {**item["c"], **bare[0]["c"]}}
            results.put(f"{metric}_change", sample, conditions, item["value"] - bare[0]["value"], c)


# ---- position, field map, dark -------------------------------------------------------------------------------------
def positions(bench, results):
    for run in (r for r in bench.runs if r.kind == "position"):
        k = bench.position(run)
        values, c = bench.chain.differentiate(lambda get: {"k": k(get)})
        results.put("position_factor", run.sample, {"configuration": run.configuration, "source": run.source, **extras(run)},
                    values["k"], c["k"], run=run.id)


def darks(bench, results):
    for run in (r for r in bench.runs if r.kind == "dark" and r.has("sensor")):
        light, pairs, readings = bench.dark(run)
        base = {"configuration": run.configuration, **extras(run)}
        if not run.configuration:
            del base["configuration"]
        values, c = bench.chain.differentiate(lambda get: {"d": total(get, pairs["sensor"])})
        results.put("dark_reading", run.sample, base, values["d"], c["d"], run=run.id)
        q = bench.means.resolution("sensor", None, 0.0, readings["sensor"])
        s0 = deviation(readings["sensor"])
        if sum(v == 0 for v in readings["sensor"]) >= 2 and min(readings["sensor"]) >= 0:
            s0 = noise_above_clipping(bench, run, q, s0)
        results.put("dark_noise", run.sample, base, max(s0, q / math.sqrt(12)), run=run.id)


def noise_above_clipping(bench, dark, q, s0):
    """Clipped at zero: s of the lowest level whose mean is at least 5 q, of the same sample and configuration."""
    found = []
    for run in bench.runs:
        if run.kind == "comparison" and (run.sample, run.configuration) == (dark.sample, dark.configuration):
            for rows in level_sets(run).values():
                v = [run.columns["sensor"][i] for i in rows if run.columns["sensor"][i] is not None]
                if len(v) > 1 and math.fsum(v) / len(v) >= 5 * q:
                    found.append((math.fsum(v) / len(v), deviation(v)))
    return min(found)[1] if found else s0


def field_maps(bench, results):
    for run in (r for r in bench.runs if r.kind == "field_map"):
        radius = value(bench.geometry["sensor_diameter"]) / 2
        meter = bench.meters[run.meter]
        places = {}
        for x, y, m in zip(run.column("x"), run.column("y"), run.column("meter")):
            if m is not None and x * x + y * y <= radius * radius * (1 + 1e-9):
                places.setdefault((x, y), []).append(m)
        pools = {}
        ranges = sorted(value(r["up_to"]) for r in meter.get("ranges", []))

        def chosen(v):
            mean = math.fsum(v) / len(v)
            return next((r for r in ranges if mean <= r), ranges[-1] if ranges else 0)

        for v in places.values():
            pool = pools.setdefault(chosen(v), {"meter": [], "name": f"pool:{run.id}/{chosen(v):g}"})
            pool["meter"].append(v)
        functions = []
        series = {"meter": [v for v in run.column("meter") if v is not None]}
        base = {"configuration": run.configuration, "source": run.source, **extras(run)}
        try:
            for (x, y), v in places.items():
                pair = bench.means.add(f"field:{run.id}/{x:g}/{y:g}", {"meter": v}, run.time_ordered, meter,
                                       pools[chosen(v)], series, neighbours=bench.neighbours(run))["meter"]
                mean = bench.chain.inputs[pair[0]].estimate
                functions.append(bench.reading(run, pair, f"run {run.id}", bench.net(run, mean), mean))
        except Undecided as reason:
            for metric in ("field_uniformity", "field_range"):
                results.put(metric, run.sample, base, None, reason=str(reason), run=run.id)
            continue
        estimates = [float(f(lambda n: np.array([bench.chain.inputs[n].estimate]))[0]) for f in functions]
        low, high = int(np.argmin(estimates)), int(np.argmax(estimates))

        def both(get):
            e = [f(get) for f in functions]
            mean = sum(e) / len(e)
            return {"field_uniformity": e[low] / mean, "field_range": 100 * (e[high] - e[low]) / mean}

        values, c = bench.chain.differentiate(both)
        for metric in values:
            results.put(metric, run.sample, base, values[metric], c[metric], run=run.id)


# ---- angular -------------------------------------------------------------------------------------------------------
def slopes(x, y):
    """Fritsch-Butland inner slopes, secants at the ends; columns are trials."""
    h = np.diff(x, axis=0)
    s = np.diff(y, axis=0) / h
    out = np.empty_like(y)
    out[0], out[-1] = s[0], s[-1]
    w1, w2 = 2 * h[1:] + h[:-1], h[1:] + 2 * h[:-1]
    same = s[:-1] * s[1:] > 0
    with np.errstate(all="ignore"):
        harmonic = (w1 + w2) / (w1 / s[:-1] + w2 / s[1:])
    out[1:-1] = np.where(same, harmonic, 0.0)
    return out


def splines(x, y):
    d = slopes(x, y)
    return [CubicHermiteSpline(x[:, j], y[:, j], d[:, j]) for j in range(x.shape[1])]


def crossings(x, y, level):
    """[(segment, angle)] of one curve (plain arrays)."""
    spline = splines(x[:, None], y[:, None])[0]
    found = []
    for i in range(len(x) - 1):
        a, b = y[i] - level, y[i + 1] - level
        if a == 0 and (not found or found[-1][1] != x[i]):
            found.append((i, x[i]))
        elif a * b < 0:
            found.append((i, brentq(lambda t: spline(t) - level, x[i], x[i + 1], xtol=1e-15, rtol=8.9e-16)))
    return found


def angular(bench, results):
    planes = {}
    for run in (r for r in bench.runs if r.kind == "angular"):
        by_plane = {}
        for i in run.rows:
            if run.has("screened") and run.columns["screened"][i]:
                continue
            if run.columns["sensor"][i] is None:
                continue
            plane = run.columns["plane"][i] if run.has("plane") else (run.quantity("plane") or 0.0)
            by_plane.setdefault(plane, []).append(i)
        for plane, rows in by_plane.items():
            one_plane(bench, results, run, plane, rows, planes)
    for (sample, base), functions in planes.items():
        if len(functions) < 2:
            continue
        values, c = bench.chain.differentiate(lambda get: {"m": sum(f(get) for f in functions) / len(functions)})
        results.put("directional_index", sample, {**json.loads(base), "plane": "mean"}, values["m"], c["m"])


def one_plane(bench, results, run, plane, rows, planes):
    chain = bench.chain
    base = {"configuration": run.configuration, "source": run.source, **extras(run, ("plane",))}
    plane_degree = round(plane / DEGREE, 9)
    here = {**base, "plane": degree(plane_degree)}
    configuration = next((c for c in bench.header.get("configurations", []) if c["id"] == run.configuration), {})
    prefix = f"run:{run.id}/{run.sample}/{run.configuration}/{plane_degree:g}"
    readings = {}
    for i in rows:
        readings.setdefault(run.columns["angle"][i], []).append(i)
    monitor = run.has("monitor")
    dark = run.stated.get("dark_run")
    zero = None
    if dark:
        light, pairs, _ = bench.dark(bench.dark_of(dark, run))
        if light == "capped" or run.stated.get("ambient") == "subtracted":
            zero = pairs.get("sensor")
    at_zero = [run.columns["sensor"][i] for i in readings.get(0.0, [])]
    if not at_zero:
        raise Undecided("no zero angle")
    relative = deviation(at_zero) / (math.fsum(at_zero) / len(at_zero)) if len(at_zero) > 1 else math.nan
    pairs = {}
    for angle, indices in readings.items():
        values = {"sensor": [run.columns["sensor"][i] for i in indices]}
        if monitor:
            values["monitor"] = [run.columns["monitor"][i] for i in indices]
        name = f"{prefix}/{angle / DEGREE:.6g}"
        if len(indices) == 1:
            mean = values["sensor"][0]
            s = relative * abs(mean)
            q = bench.means.resolution("sensor", None, mean, at_zero)
            member = chain.input(f"{name}/sensor", mean, s, len(at_zero) - 1)
            pairs[angle] = {"sensor": (member, chain.input(f"{name}/sensor/resolution", 0.0, q / math.sqrt(12))
                                       if s < q / 2 else None)}
            bench.means._join_pool(f"{prefix}/relative", [member], np.array([[s * s]]), len(at_zero) - 1)
        else:
            pairs[angle] = bench.means.add(name, values, run.time_ordered, None, None,
                                           {"sensor": [run.columns["sensor"][i] for i in rows],
                                            "monitor": values.get("monitor", [])})
    angles = sorted(readings)
    nominal = np.array(angles)

    def net(get, angle):
        level = total(get, pairs[angle]["sensor"])
        if zero:
            level = level - total(get, zero)
        if monitor:
            level = level / total(get, pairs[angle]["monitor"])
        return level

    reference = 0.0
    if configuration.get("angular_reference") == "peak":
        reference = max(angles, key=lambda a: chain.inputs[pairs[a]["sensor"][0]].estimate)
    zero_blocks = []
    for i in rows:
        if run.columns["angle"][i] == 0.0:
            if zero_blocks and zero_blocks[-1][0] == previous:
                zero_blocks[-1][1].append(run.columns["sensor"][i])
            else:
                zero_blocks.append([0.0, [run.columns["sensor"][i]]])
        previous = run.columns["angle"][i]
    drift = None
    base_level = {n: np.array([chain.inputs[n].estimate]) for n in chain.inputs}
    if len(zero_blocks) > 1:
        first, last = (math.fsum(b[1]) / len(b[1]) for b in (zero_blocks[0], zero_blocks[-1]))
        mean_net = float(net(lambda n: base_level[n], reference)[0]) if not monitor else None
        if mean_net is not None:
            drift = chain.input(f"{prefix}/drift", 0.0, abs(last - first) / (2 * mean_net) / math.sqrt(3))
    geometry = bench.geometry
    d = run.quantity("distance")
    d = value(geometry["distance"]) if d is None and "distance" in geometry else d

    def geometric(key, name):
        if key not in geometry:
            return None
        stated = Quantity(geometry[key])
        return chain.input(name, stated.value, stated.u or 0.0, stated.nu)

    eccentricity = geometric("eccentricity", f"{prefix}/eccentricity") if d else None
    stage_zero = geometric("stage_zero", f"{prefix}/stage zero")
    stage_scale = geometric("stage_scale", "stage scale")

    def rho(get, angle):
        if angle == reference:
            return net(get, angle) / net(get, angle)
        r = net(get, angle) / net(get, reference)
        if eccentricity:
            r = r * (1 + 2 * get(eccentricity) * math.sin(angle) / d)
        if drift:
            r = r * (1 + get(drift))
        return r

    def theta(get, angle):
        t = angle
        if stage_scale:
            t = t * (1 + get(stage_scale))
        if stage_zero:
            t = t + get(stage_zero)
        return t

    def curve(get):
        x, y = [theta(get, a) for a in angles], [rho(get, a) for a in angles]
        width = max(np.size(v) for v in y)
        return (np.array([np.broadcast_to(v, width) for v in x], float), np.array([np.broadcast_to(v, width) for v in y], float))

    for angle in angles:
        if angle == reference or angle == 0.0:
            continue
        condition = {**here, "angle": degree(round(angle / DEGREE, 9))}
        values, c = chain.differentiate(lambda get: {"r": rho(get, angle) * np.ones(np.size(get(next(iter(chain.inputs)))))})
        results.put("angular_response", run.sample, condition, values["r"], c["r"], run=run.id)
        target = configuration.get("angular_target")
        if target == "cosine":
            values, c = chain.differentiate(lambda get: {"r": 100 * (rho(get, angle) - np.cos(theta(get, angle)))})
            results.put("angular_deviation", run.sample, condition, values["r"], c["r"], run=run.id)
        elif target:
            measured = target_curve(bench.header["folder"], target)
            low, high = measured.x[0], measured.x[-1]
            if low <= angle <= high:
                values, c = chain.differentiate(
                    lambda get: {"r": 100 * (rho(get, angle) - measured(np.asarray(theta(get, angle))))})
                results.put("angular_deviation", run.sample, condition, values["r"], c["r"], run=run.id)
        if angle > 0 and -angle in readings:
            values, c = chain.differentiate(lambda get: {"r": 100 * (rho(get, angle) / rho(get, -angle) - 1)})
            results.put("angular_asymmetry", run.sample, condition, values["r"], c["r"], run=run.id)
    halves(bench, results, run, here, prefix, nominal, curve)
    if configuration.get("angular_target") == "cosine":
        if nominal[0] > -80 * DEGREE * (1 - 1e-9) or nominal[-1] < 80 * DEGREE * (1 - 1e-9):
            return
        f2 = lambda get: 100 * index_f2(*curve(get))
        values, c = chain.differentiate(lambda get: {"f": f2(get)})
        results.put("directional_index", run.sample, here, values["f"], c["f"], run=run.id)
        planes.setdefault((run.sample, json.dumps(base, sort_keys=True)), []).append(f2)


def target_curve(folder, name):
    lines = [line.split(",") for line in (pathlib.Path(folder) / name).read_text().splitlines()
             if line.strip() and not line.startswith("#")]
    at = [heading.strip() for heading in lines[0]].index
    x = np.array([float(row[at("angle")]) for row in lines[1:]]) * DEGREE
    y = np.array([float(row[at("response")]) for row in lines[1:]])
    return splines(x[:, None], y[:, None])[0]


def halves(bench, results, run, here, prefix, nominal, curve):
    chain = bench.chain
    estimate = lambda n: np.array([chain.inputs[n].estimate])
    x, y = (a[:, 0] for a in curve(estimate))
    found = crossings(x, y, 0.5)
    sides = {"negative": [f for f in found if f[1] < 0], "positive": [f for f in found if f[1] > 0]}
    both = {}
    for side, list_ in sides.items():
        if not list_:
            results.put("half_response_angle", run.sample, {**here, "side": side}, None, reason="not reached", run=run.id)
            continue
        ordered = sorted(list_, key=lambda f: abs(f[1]))
        chosen = {None: ordered[0]} if len(ordered) == 1 else {"innermost": ordered[0], "outermost": ordered[-1]}
        for crossing, (segment, angle) in chosen.items():
            xa, xb, ya, yb = x[segment], x[segment + 1], y[segment], y[segment + 1]
            linear = xa + (0.5 - ya) / (yb - ya) * (xb - xa)
            bend = chain.input(f"{prefix}/crossing {side} {crossing}", 0.0, abs(linear - angle) / math.sqrt(3))

            def at(get, segment=segment, bend=bend):
                xs, ys = curve(get)
                out = np.empty(xs.shape[1])
                for j, spline in enumerate(splines(xs, ys)):
                    out[j] = brentq(lambda t: spline(t) - 0.5, xs[segment, j], xs[segment + 1, j], xtol=1e-15, rtol=8.9e-16)
                return (out + get(bend)) / DEGREE

            sign = -1 if side == "negative" else 1
            values, c = chain.differentiate(lambda get: {"h": sign * at(get)})
            condition = {**here, "side": side, **({"crossing": crossing} if crossing else {})}
            results.put("half_response_angle", run.sample, condition, values["h"], c["h"], run=run.id)
            both.setdefault(side, {})[crossing] = at
    if len(both) < 2:
        for metric in ("field_of_view", "boresight_offset"):
            results.put(metric, run.sample, here, None, reason="not reached", run=run.id)
        return
    kinds = [None] if all(set(b) == {None} for b in both.values()) else ["innermost", "outermost"]
    for kind in kinds:
        low = both["negative"].get(kind) or both["negative"].get(None)
        high = both["positive"].get(kind) or both["positive"].get(None)
        values, c = chain.differentiate(lambda get: {"field_of_view": high(get) - low(get),
                                                     "boresight_offset": (high(get) + low(get)) / 2})
        for metric in values:
            results.put(metric, run.sample, {**here, **({"crossing": kind} if kind else {})}, values[metric], c[metric], run=run.id)


GAUSS_X, GAUSS_W = np.polynomial.legendre.leggauss(24)


def index_f2(xs, ys):
    out = np.empty(xs.shape[1])
    limit = 80 * DEGREE
    for j, spline in enumerate(splines(xs, ys)):
        x = xs[:, j]
        both = 0.0
        for sign in (-1, 1):
            ends = sorted([0.0, limit] + [sign * v for v in x if 0 < sign * v < limit])
            gap = lambda t: spline(sign * t) - math.cos(t)
            cuts = []
            for a, b in zip(ends, ends[1:]):
                grid = np.linspace(a, b, 9)
                g = spline(sign * grid) - np.cos(grid)
                cuts.append(a)
                for p, q, u, v in zip(grid, grid[1:], g, g[1:]):
                    if u * v < 0:
                        cuts.append(brentq(gap, p, q, xtol=1e-15))
            cuts.append(limit)
            for a, b in zip(cuts, cuts[1:]):
                t = (a + b) / 2 + (b - a) / 2 * GAUSS_X
                both += (b - a) / 2 * np.sum(GAUSS_W * np.abs(spline(sign * t) - np.cos(t)) * np.sin(t))
        out[j] = both  # twice the mean of two sides
    return out


# ---- warm-up -------------------------------------------------------------------------------------------------------
def allan(levels, m):
    mean = np.convolve(levels, np.ones(m) / m, "valid")
    return math.sqrt(0.5 * np.mean((mean[m:] - mean[:-m]) ** 2))


def warm_up(bench, results):
    window_s = value(bench.header.get("evaluation", {}).get("settling_window"))
    for run in (r for r in bench.runs if r.kind == "warm_up"):
        rows = [(t, m) for t, m in zip(run.column("time"), run.column("meter")) if t is not None and m is not None]
        t, level = (np.array(v) for v in zip(*rows))
        source = bench.sources[run.source]
        base = {"source": run.source, **extras(run)}
        h = float(np.median(np.diff(t)))
        m = math.floor(window_s / (20 * h))
        n = len(t)
        total_ = np.concatenate([[0.0], np.cumsum(level - level[0])])
        half = np.minimum(m, np.minimum(np.arange(n), np.arange(n)[::-1]))
        i = np.arange(n)
        filtered = level[0] + (total_[i + half + 1] - total_[i - half]) / (2 * half + 1)
        last = t > t[-1] - window_s
        final = math.fsum(level[last]) / last.sum()
        s = level[last].std(ddof=1)
        results.put("level_peak_to_peak", None, base, 100 * (level[last].max() - level[last].min()) / final, run=run.id)
        results.put("level_standard_deviation", None, base, 100 * s / final, run=run.id)
        fit = stats.linregress(t[last], level[last])
        chain = bench.chain
        slope = chain.input(f"warm-up:{run.id}/slope", fit.slope, fit.stderr, last.sum() - 2)
        values, c = chain.differentiate(lambda get: {"d": 100 * get(slope) * window_s / final})
        results.put("residual_drift", None, base, values["d"], c["d"], run=run.id)
        drift = abs(values["d"]) / 100
        p = value(source["settling_tolerance"])
        outside = np.nonzero(np.abs(filtered / final - 1) > p)[0]
        if len(outside) == 0 or outside[-1] == n - 1:
            results.put("warm_up_time", None, base, None, reason="never outside, or never inside", run=run.id)
            continue
        k = outside[-1]
        edge = final * (1 + p) if filtered[k] > final else final * (1 - p)
        crossing = t[k] + (edge - filtered[k]) / (filtered[k + 1] - filtered[k]) * (t[k + 1] - t[k]) - t[0]
        s_filtered = filtered[last].std(ddof=1) / final
        nu = math.floor(last.sum() / (2 * m + 1)) - 1
        span = slice(max(0, k - m), min(n, k + 2 + m))
        local = stats.linregress(t[span], filtered[span])
        reason = None
        if p < 4 * s_filtered or t[-1] - t[0] < 3 * crossing or drift >= p / 4:
            reason = "not settled"
        if local.pvalue > 0.01:
            results.put("warm_up_time", None, base, crossing, reason="flat crossing: bootstrap not recomputed", run=run.id)
            continue
        noise = chain.input(f"warm-up:{run.id}/noise", 0.0, s_filtered, nu)
        interval = chain.input(f"warm-up:{run.id}/interval", 0.0, h / math.sqrt(12))
        rate = abs(local.slope) / final
        values, c = chain.differentiate(lambda get: {"w": crossing + get(interval) + get(noise) / rate})
        results.put("warm_up_time", None, base, values["w"], c["w"], reason, run=run.id)
        settled = level[t >= t[0] + crossing] / final
        best = None
        step = 1
        while step * h <= len(settled) * h / 3 and len(settled) >= 2 * step + 1:
            a = allan(settled, step)
            if best is None or a < best[0]:
                best = (a, step * h)
            step *= 2
        if best:
            results.put("stability_minimum", None, base, 100 * best[0], run=run.id)
            results.put("stability_averaging_time", None, base, best[1], run=run.id)
