"""E = (R - R0) C A T L G F K P S and the position factor."""
import math
import pathlib

import numpy as np
from scipy import stats
from scipy.optimize import brentq

from folder import Quantity, YEAR, date, value
from repeated import Means, Neighbours, Undecided, total


def certificate_dof(k, p):
    if p is None:
        return math.inf
    if k <= stats.norm.ppf((1 + p) / 2) + 0.005 or (abs(k - 2) <= 0.005 and 0.95 <= p <= 0.9545):
        return math.inf
    return brentq(lambda nu: stats.t.ppf((1 + p) / 2, nu) - k, 0.5, 1e7, xtol=1e-13, rtol=8.9e-16)


def curve(path):
    """Wavelength in nm and value of a spectrum file."""
    lines = [line for line in pathlib.Path(path).read_text().splitlines() if line.strip() and not line.startswith("#")]
    numbers = np.array([[float(cell) for cell in line.split(",")[:2]] for line in lines[1:]])
    return numbers[:, 0], numbers[:, 1]


def sets_of(run):
    """Rows of each mean of a comparison run: [(device, rows)]."""
    level = run.columns.get("level")
    levels = {}
    for i in run.rows:
        levels.setdefault(level[i] if level else None, []).append(i)
    sets = []
    for rows in levels.values():
        held = [(i, run.columns["sensor"][i] is not None, run.columns["meter"][i] is not None) for i in rows]
        if run.stated.get("method", "side-by-side") == "side-by-side":
            both = [i for i, s, m in held if s and m]
            sets += [("sensor", both), ("meter", both)]
            continue
        for i, s, m in held:
            device = "sensor" if s else "meter"
            if i == rows[0] or sets[-1][0] != device:
                sets.append((device, []))
            sets[-1][1].append(i)
    return sets


def device_key(run, device):
    """A sample or meter with the interval of its readings (median, to the nearest power of two); None without order."""
    if run.kind not in ("comparison", "dark", "position", "field_map", "near_infrared") or not run.time_ordered:
        return None
    steps = []
    if run.has("time"):
        # The sets of other runs than comparisons are not parted here: the few steps between them change no median.
        for one, rows in sets_of(run) if run.kind == "comparison" else rows_of(run):
            times = [run.columns["time"][i] for i in rows]
            steps += [b - a for a, b in zip(times, times[1:]) if one == device and b > a]
    interval = round(math.log2(sorted(steps)[len(steps) // 2])) if steps else None
    return device, run.sample if device == "sensor" else run.meter, interval


def rows_of(run):
    """All readings of each device."""
    return [(d, [i for i in run.rows if run.columns[d][i] is not None]) for d in ("sensor", "meter") if run.has(d)]


def neighbours_of(runs):
    sets = {}
    for run in (r for r in runs if r.kind == "comparison"):
        for device in ("sensor", "meter"):
            key = device_key(run, device)
            if key is not None:
                sets.setdefault(key, []).extend([run.columns[device][i] for i in rows]
                                                for one, rows in sets_of(run) if one == device)
    return {key: Neighbours(of_device) for key, of_device in sets.items()}


class Bench:
    def __init__(self, chain, header, runs):
        self.chain, self.header, self.runs = chain, header, runs
        self.means = Means(chain, header)
        self.meters = {m["id"]: m for m in header.get("meters", [])}
        self.sources = {s["id"]: s for s in header.get("sources", [])}
        self.geometry = header.get("geometry", {})
        self._zeros, self._positions = {}, {}
        self._neighbours = neighbours_of(runs)

    def neighbours(self, run):
        """What is known of neighbouring readings of a run's devices."""
        return {d: self._neighbours[key] for d in ("sensor", "meter")
                if (key := device_key(run, d)) is not None and key in self._neighbours}

    # -- dark and ambient
    def dark_of(self, identity, run):
        """The dark run with that id; of those that a column split, the one of the same sample and configuration."""
        named = [r for r in self.runs if r.id == identity]
        return min(named, key=lambda r: (r.sample not in (run.sample, ""), r.configuration not in (run.configuration, "")))

    def dark(self, run):
        """Means of a dark run, sensor and meter of one row observed together."""
        identity = f"{run.id}/{run.sample}/{run.configuration}"
        if identity in self._zeros:
            return self._zeros[identity]
        devices = [d for d in ("sensor", "meter") if run.has(d)]
        rows = zip(*(run.column(d) for d in devices))
        rows = [row for row in rows if all(v is not None for v in row)]
        readings = {d: [row[i] for row in rows] for i, d in enumerate(devices)}
        pairs = self.means.add(f"run:{identity}", readings, run.time_ordered, self.meters.get(run.meter),
                               neighbours=self.neighbours(run))
        light = run.conditions.get("light", "capped")
        self._zeros[identity] = (light, pairs, readings)
        return self._zeros[identity]

    def zero(self, run):
        """(R0 pair or None, D zero pair or None)"""
        identity = run.stated.get("dark_run")
        if not identity:
            return None, None
        light, pairs, _ = self.dark(self.dark_of(identity, run))
        if light == "capped":
            return pairs.get("meter"), None
        ambient = run.stated.get("ambient")
        if ambient == "present":
            return None, None
        return pairs.get("meter"), pairs.get("sensor") if ambient == "subtracted" else None

    # -- factors
    def c_factor(self, meter, net):
        """Function of get and net reading giving C; `net` is the estimate of R - R0."""
        chain, identity = self.chain, meter["id"]
        certificate = meter.get("certificate")
        if certificate is None:
            raise Undecided("reference not traceable")
        k, p = certificate["coverage_factor"], certificate.get("coverage_probability")
        nu = certificate_dof(k, p)
        points = []
        for point in certificate["points"]:
            level = value(point["illuminance"])
            if "correction_factor" in point:
                c = point["correction_factor"]
            elif "indication" in point:
                c = level / value(point["indication"])
            else:
                c = level / (level + value(point["error"]))
            spread = point["expanded_uncertainty"]
            u = (spread["value"] / 100 if spread["unit"] == "%" else value(spread) / level) / k
            points.append((level, c, u))
        points.sort()
        common = certificate.get("common_expanded_uncertainty")
        if common is not None:
            u_common = common["value"] / 100 / k
            shared = chain.input(f"{identity}/common", 1.0, u_common, nu)
            names = [chain.input(f"{identity}/point {level:g}", 0.0, math.sqrt(max(0.0, u * u - u_common ** 2)), nu)
                     for level, c, u in points]

            def at(get, i):
                return points[i][1] * get(shared) * (1 + get(names[i]))
        else:
            z = chain.input(f"{identity}/certificate", 0.0, 1.0, nu)

            def at(get, i):
                return points[i][1] * (1 + points[i][2] * get(z))
        levels = [level for level, _, _ in points]
        if net < levels[0] or net > levels[-1]:
            end = 0 if net < levels[0] else len(points) - 1
            outside = meter.get("outside_span")
            if outside is None or "linearity" not in outside:
                raise Undecided("outside the calibrated range, traceability not established")
            x = chain.input(f"{identity}/outside {'below' if end == 0 else 'above'}", 0.0,
                            outside["linearity"]["value"] / 100 / math.sqrt(3))
            return lambda get, reading: at(get, end) * (1 + get(x))
        for i, level in enumerate(levels):
            if net == level:
                if len(levels) == 1:
                    return lambda get, reading, i=i: at(get, i)
        i = min(max(0, int(np.searchsorted(levels, net, side="right")) - 1), len(levels) - 2)
        width = math.log(levels[i + 1] / levels[i])
        bend = None
        if net not in levels:
            bend = chain.input(f"{identity}/interpolation {levels[i]:g}", 0.0,
                               abs(points[i + 1][1] - points[i][1]) / 2 / math.sqrt(3))

        def c(get, reading):
            w = np.log(reading / levels[i]) / width
            return at(get, i) * (1 - w) + at(get, i + 1) * w + (get(bend) if bend else 0.0)

        return c

    def f_factor(self, meter, source):
        if source is None:
            return None
        if "spectral_correction" in source:
            stated = Quantity(source["spectral_correction"])
            return self.chain.input(f"{meter['id']}/F {source['id']}", stated.value, stated.u or 0.0, stated.nu)
        if "spectrum" in source and "relative_responsivity" in meter:
            return self.spectral(meter, source)
        kind = source["kind"]
        if kind in ("near-infrared", "other"):
            raise Undecided("no spectral correction")
        index = meter.get("mismatch_index")
        if index is None:
            return None
        share = 1.0
        calibration = meter.get("certificate", {}).get("calibration_source", {})
        temperature = calibration.get("colour_temperature")
        if kind == "incandescent" and calibration.get("kind") == "incandescent" and (
                temperature is None or abs(value(temperature) - 2856) <= 100):
            share = 0.1
        return self.chain.input(f"{meter['id']}/F {source['id']}", 1.0, share * index["value"] / 100 / math.sqrt(3))

    def spectral(self, meter, source):
        """F* from the spectra; its half-width 0.2 |F* - 1| + 0.1 f1' (common practice, no source)."""
        folder = pathlib.Path(self.header["folder"])
        s = curve(folder / meter["relative_responsivity"])
        z = curve(folder / source["spectrum"])
        table = np.loadtxt(pathlib.Path(__file__).with_name("v_lambda.csv"), delimiter=",", skiprows=2)
        visible = np.arange(360.0, 831.0)
        own = np.arange(round(s[0][0]), round(s[0][-1]) + 1.0)
        v = np.interp(visible, table[:, 0], table[:, 1])
        calibration = meter.get("certificate", {}).get("calibration_source", {})
        temperature = calibration.get("colour_temperature")
        c2 = 1.435e7 / 2848 * 2856 / (2856 if temperature is None else value(temperature))
        lamp = lambda at: at ** -5.0 / np.expm1(c2 / at)
        read = lambda at, c: np.interp(at, c[0], c[1], left=0.0, right=0.0)
        f = (np.trapz(read(visible, z) * v, visible) * np.trapz(lamp(own) * read(own, s), own)
             / np.trapz(read(own, z) * read(own, s), own) / np.trapz(lamp(visible) * v, visible))
        if "mismatch_index" in meter:
            f1 = meter["mismatch_index"]["value"] / 100
        else:
            a = lambda at: at ** -5.0 / np.expm1(1.435e7 / 2848 / at)
            scale = np.trapz(a(visible) * v, visible) / np.trapz(a(own) * read(own, s), own)
            f1 = np.trapz(np.abs(scale * read(own, s) - np.interp(own, table[:, 0], table[:, 1], 0, 0)), own)
            for outside in (visible[visible <= own[0]], visible[visible >= own[-1]]):
                f1 += np.trapz(np.interp(outside, table[:, 0], table[:, 1]), outside)
            f1 /= np.trapz(v, visible)
        half_width = 0.2 * abs(f - 1) + 0.1 * f1
        return self.chain.input(f"{meter['id']}/F {source['id']}", f, half_width / math.sqrt(3))

    def reading(self, run, pair, level_name, net_estimate, mean, place=None, stated_range=None):
        """(R - R0) C A T L G F of one mean; returns function of get giving lx."""
        chain = self.chain
        meter = self.meters[run.meter]
        r0, _ = self.zero(run)
        c = self.c_factor(meter, net_estimate)
        factors = []
        certificate = meter["certificate"]
        if "annual_drift" in meter:
            days = (run.started_date() - date(certificate["issued"])).days
            a = chain.input(f"{meter['id']}/ageing", 0.0, value(meter["annual_drift"]) / math.sqrt(3))
            factors.append(lambda get: 1 + get(a) * days * 86400 / YEAR)
        at = run.quantity("meter_temperature")
        if at is not None and "temperature_coefficient" in meter and "temperature" in certificate:
            alpha = Quantity(meter["temperature_coefficient"])
            name = chain.input(f"{meter['id']}/alpha", alpha.value, alpha.u or 0.0, alpha.nu)
            factors.append(lambda get: 1 - get(name) * (at - value(certificate["temperature"])))
        if "linearity" in meter:
            f3 = chain.input(f"{meter['id']}/linearity {level_name}", 0.0, value(meter["linearity"]) / math.sqrt(3))
            factors.append(lambda get: 1 + get(f3))
        ranges = sorted(value(r["up_to"]) for r in meter.get("ranges", []))
        if ranges and "range_change" in meter:
            chosen = stated_range if stated_range is not None else next((r for r in ranges if mean <= r), ranges[-1])
            f11 = chain.input(f"{meter['id']}/range {chosen:g}", 0.0, value(meter["range_change"]) / math.sqrt(3))
            factors.append(lambda get: 1 + get(f11))
        f = self.f_factor(meter, self.sources.get(run.source))
        if f:
            factors.append(lambda get: get(f))

        def illuminance(get):
            net = total(get, pair) - (total(get, r0) if r0 else 0.0)
            result = net * c(get, net)
            for factor in factors:
                result = result * factor(get)
            return result

        return illuminance

    def net(self, run, mean):
        r0, _ = self.zero(run)
        return mean - (self.chain.inputs[r0[0]].estimate if r0 else 0.0)

    def p_factor(self, name, run, at_product=True):
        """Placement of the meter; only where the product stands does a stated offset correct, as no product plane
        lies behind a reference position."""
        offset = self.geometry.get("plane_offset")
        if offset is None:
            return lambda get: 1.0
        stated = Quantity(offset)
        estimate = stated.value if at_product else 0.0
        dz = self.chain.input(name, estimate, stated.u or 0.0, stated.nu)
        d = run.quantity("distance")
        d = value(self.geometry["distance"]) if d is None else d
        r = value(self.geometry["source_diameter"]) / 2 if "source_diameter" in self.geometry else 0.0
        if estimate == 0:
            return lambda get: 1 - 2 / (1 + (r / d) ** 2) * get(dz) / d
        return lambda get: (d * d + r * r) / ((d + get(dz)) ** 2 + r * r)

    # -- blocks
    def blocks(self, keys, values, times):
        """Uninterrupted series in file order: [(key, values, mean time)]."""
        series = []
        for key, v, t in zip(keys, values, times):
            if v is None:
                continue
            if not series or series[-1][0] != key:
                series.append((key, [], []))
            series[-1][1].append(v)
            series[-1][2].append(t)
        return [(k, v, None if t[0] is None else math.fsum(t) / len(t)) for k, v, t in series]

    def bracket(self, name, run, blocks, device, ordered, series, neighbours={}):
        """Mean of A1 and A2 at the time of B: function of get, and the input for the source in between."""
        chain = self.chain
        meter = self.meters.get(run.meter)
        (_, v1, t1), (_, _, tb), (_, v2, t2) = blocks
        one, two = (self.means.add(f"{name}/{place}", {device: v}, ordered, meter, series=series, neighbours=neighbours)[device]
                    for place, v in (("A1", v1), ("A2", v2)))
        w = 0.5 if t1 is None else (tb - t1) / (t2 - t1)
        variance = sum(chain.inputs[n].u ** 2 for pair in (one, two) for n in pair if n)
        difference = abs(chain.inputs[two[0]].estimate - chain.inputs[one[0]].estimate)
        between = chain.input(f"{name}/source", 0.0, max(difference, math.sqrt(variance)) / 2 / math.sqrt(3))

        def value_at(get):
            a, b = total(get, one), total(get, two)
            return a + (b - a) * w + get(between)

        estimate = chain.inputs[one[0]].estimate * (1 - w) + chain.inputs[two[0]].estimate * w
        return value_at, estimate

    def position(self, run):
        """K of a position run as a function of get."""
        if run.id in self._positions:
            return self._positions[run.id]
        times = run.column("time") if run.has("time") else [None] * len(run.rows)
        blocks = self.blocks(run.column("place"), run.column("meter"), times)
        order = [b[0] for b in blocks]
        name = f"position:{run.id}"
        series = {"meter": [v for v in run.column("meter") if v is not None]}
        assert len(blocks) == 3 and order[0] == order[2], f"{run.id}: {order}"
        meter = self.meters[run.meter]
        neighbours = self.neighbours(run)
        bracketed, a_estimate = self.bracket(name, run, blocks, "meter", run.time_ordered, series, neighbours)
        b = self.means.add(f"{name}/B", {"meter": blocks[1][1]}, run.time_ordered, meter, series=series,
                           neighbours=neighbours)["meter"]
        b_estimate = self.chain.inputs[b[0]].estimate
        direct = {}
        for place, pair, estimate in ((order[0], None, a_estimate), (order[1], b, b_estimate)):
            source = bracketed if pair is None else (lambda get: total(get, b))
            direct[place] = self._lit(run, source, estimate, f"run {run.id}")
            direct[place] = self._placed(direct[place], self.p_factor(f"{name}/placement {place}", run, place == "sensor"))

        def k(get):
            return direct["sensor"](get) / direct["reference"](get)

        self._positions[run.id] = k
        return k

    def _lit(self, run, reading, estimate, level_name, stated_range=None):
        """Illuminance from a reading that is a function of get."""
        holder = self.chain.input("constant zero", 0.0, 0.0)
        body = self.reading(run, (holder, None), level_name, self.net(run, estimate), estimate, stated_range=stated_range)
        # `reading` takes an input pair; give it the function's value instead
        return lambda get: body(lambda n: reading(get) if n == holder else get(n))

    @staticmethod
    def _placed(illuminance, p):
        return lambda get: illuminance(get) * p(get)

    def position_for(self, run):
        listed = run.stated.get("position_run")
        if not listed:
            return None
        listed = [listed] if isinstance(listed, str) else listed
        candidates = [r for r in self.runs if r.id in listed]
        d = run.quantity("distance")

        def badness(r):
            rd = r.quantity("distance")
            far = 0.0 if d is None or rd is None else abs(rd / d - 1)
            return (r.source != run.source, far > 0.01, r.configuration != run.configuration, far)

        return self.position(min(candidates, key=badness))

    # -- one level of a comparison run
    def level(self, run, level, rows, pool=None, half=""):
        """Functions D(get), E(get) at one nominal level; reasons raise Undecided (D is then still given)."""
        meter = self.meters[run.meter]
        sensor, light = ([run.columns[d][i] for i in rows] for d in ("sensor", "meter"))
        name = f"run:{run.id}/{run.configuration}/{run.sample}/{run.source}/{sorted(map(str, run.conditions.items()))}/{level:g}{half}"
        d_zero = self.zero(run)[1]
        stated_range = None
        if run.has("range"):
            stated_range = next((run.columns["range"][i] for i in rows if run.columns["range"][i] is not None), None)
        if run.stated.get("method", "side-by-side") == "side-by-side":
            both = [(a, b) for a, b in zip(sensor, light) if a is not None and b is not None]
            readings = {"sensor": [a for a, _ in both], "meter": [b for _, b in both]}
            pairs = self.means.add(name, readings, run.time_ordered, meter, pool, stated_range=stated_range,
                                   neighbours=self.neighbours(run))
            d_function = lambda get: total(get, pairs["sensor"])
            mean = self.chain.inputs[pairs["meter"][0]].estimate
            body = self.reading(run, pairs["meter"], f"{level:g}", self.net(run, mean), mean, stated_range=stated_range)
            k = self.position_for(run)
            e_function = (lambda get: body(get) * k(get)) if k else body
        else:
            e_function, d_function = self._substitution(run, level, rows, name, stated_range)
        if d_zero:
            return (lambda get: d_function(get) - total(get, d_zero)), e_function
        return d_function, e_function

    def _substitution(self, run, level, rows, name, stated_range):
        times = [run.columns["time"][i] for i in rows] if run.has("time") else [None] * len(rows)
        keys, values = [], []
        for i in rows:
            s, m = run.columns["sensor"][i], run.columns["meter"][i]
            keys.append("sensor" if s is not None else "meter")
            values.append(s if s is not None else m)
        blocks = self.blocks(keys, values, times)
        meter = self.meters[run.meter]
        order = [b[0] for b in blocks]
        assert len(blocks) == 3 and order[0] == order[2] != order[1], order
        series = {d: [v for k, v in zip(keys, values) if k == d] for d in ("sensor", "meter")}
        neighbours = self.neighbours(run)
        bracketed, estimate = self.bracket(name, run, blocks, order[0], run.time_ordered, series, neighbours)
        b = self.means.add(f"{name}/B", {order[1]: blocks[1][1]}, run.time_ordered, meter, series=series,
                           neighbours=neighbours)[order[1]]
        p = self.p_factor(f"run:{run.id}/placement", run)
        if order[0] == "meter":
            e = self._lit(run, bracketed, estimate, f"{level:g}", stated_range)
            return self._placed(e, p), (lambda get: total(get, b))
        mean = self.chain.inputs[b[0]].estimate
        e = self.reading(run, b, f"{level:g}", self.net(run, mean), mean, stated_range=stated_range)
        return self._placed(e, p), bracketed
