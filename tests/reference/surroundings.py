"""What the surroundings do to the reading: temperature, near-infrared light."""
import math

import numpy as np

from families import OF_ONE_READING, extras, lx
from folder import Quantity, value
from repeated import total

OF_ONE_TEMPERATURE = ("temperature", *OF_ONE_READING)


def equipment(bench, identity):
    return next((e for e in bench.header.get("equipment", []) if e["id"] == identity), None)


def line_slope(x, y):
    """Unweighted least squares over the first axis: offset and slope."""
    mx, my = x.mean(axis=0), y.mean(axis=0)
    slope = ((x - mx) * (y - my)).sum(axis=0) / ((x - mx) ** 2).sum(axis=0)
    return my - slope * mx, slope


def temperature(bench, results, points):
    series = {}
    for run, kept in points.values():
        stated = run.quantity("temperature")
        if stated is None:
            continue
        for level, d, e in kept:
            at = stated
            if run.has("temperature"):
                logged = [run.columns["temperature"][i] for i in run.rows
                          if run.columns["temperature"][i] is not None
                          and (not run.has("level") or run.columns["level"][i] == level)]
                at = math.fsum(logged) / len(logged) if logged else stated
            here = {"configuration": run.configuration, "source": run.source, **extras(run, OF_ONE_TEMPERATURE),
                    "level": lx(level)}
            series.setdefault(results.key("", run.sample, here), (run.sample, here, []))[2].append((at, run, d, e))
    reference = bench.header.get("reference_temperature")
    for sample, here, found in series.values():
        if len(found) < 2:
            continue
        found.sort(key=lambda p: p[0])
        undecided = any(d is None for _, _, d, _ in found) or len({p[0] for p in found}) < 3 or reference is None
        if undecided:
            results.put("temperature_coefficient", sample, here, None, reason="not decided")
            continue
        inputs = []
        for at, run, d, e in found:
            thermometer = equipment(bench, run.stated.get("thermometer"))
            error = None
            if thermometer and "temperature_correction" in thermometer:
                q = Quantity(thermometer["temperature_correction"])
                error = bench.chain.input(f"temperature:{run.id}/{run.sample}/{sorted(map(str, run.conditions.items()))}",
                                          q.value, q.u or 0.0, q.nu)
            inputs.append((at, error, d, e))

        def coefficient(get):
            y = np.array([d(get) / e(get) for _, _, d, e in inputs])
            x = np.array([np.broadcast_to(at - value(reference) + (get(error) if error else 0.0), y[0].shape)
                          for at, error, _, _ in inputs])
            offset, slope = line_slope(x, y)
            return {"t": 100 * slope / offset}

        values, c = bench.chain.differentiate(coefficient)
        results.put("temperature_coefficient", sample, here, values["t"], c["t"])


class IrradianceMeans:
    """Lets the means of the irradiance meter take its own resolution."""

    def __init__(self, means, step):
        self.means, self.step = means, step

    def resolution(self, device, meter, mean, series, stated_range=None):
        if device == "irradiance" and self.step is not None:
            return self.step
        return type(self.means).resolution(self.means, device, meter, mean, series, stated_range)


def irradiance_steps(run):
    rows = [i for i in run.rows if run.columns["irradiance"][i] is not None and run.columns["sensor"][i] is not None]
    greatest = max((abs(run.columns["irradiance"][i]) for i in rows), default=0)
    steps = []
    for i in rows:
        h = run.columns["irradiance"][i]
        if steps:
            mean = sum(run.columns["irradiance"][j] for j in steps[-1]) / len(steps[-1])
        if not steps or abs(h - mean) > 0.1 * abs(mean) + 0.02 * greatest:
            steps.append([])
        steps[-1].append(i)
    return sorted(steps, key=lambda s: sum(run.columns["irradiance"][i] for i in s) / len(s))


def near_infrared(bench, results):
    chain = bench.chain
    for run in (r for r in bench.runs if r.kind == "near_infrared"):
        here = {"configuration": run.configuration, "source": run.source, **extras(run)}
        steps = irradiance_steps(run)
        device = equipment(bench, run.stated.get("irradiance_meter"))
        traceable = device is not None and "correction_factor" in device
        name = f"nir:{run.id}/{run.sample}/{sorted(map(str, run.conditions.items()))}"
        means = bench.means
        own = IrradianceMeans(means, value(device["resolution"]) if device and "resolution" in device else None)
        means.resolution = own.resolution
        pairs = [means.add(f"{name}/{k}", {"sensor": [run.columns["sensor"][i] for i in rows],
                                           "irradiance": [run.columns["irradiance"][i] for i in rows]},
                           run.time_ordered, None, neighbours=bench.neighbours(run)) for k, rows in enumerate(steps)]
        del means.resolution
        factor = None
        if traceable:
            q = Quantity(device["correction_factor"])
            factor = chain.input(f"irradiance factor {device['id']}", q.value, q.u or 0.0, q.nu)

        def response(get):
            h = np.array([total(get, p["irradiance"]) for p in pairs]) * (get(factor) if factor else 1.0)
            return line_slope(h, np.array([total(get, p["sensor"]) for p in pairs]))[1]

        reason = None if traceable and "wavelength" in run.conditions else "not traceable"
        values, c = chain.differentiate(lambda get: {"r": response(get)})
        results.put("near_infrared_response", run.sample, here, values["r"], c["r"], reason, run=run.id)
        level = run.quantity("level")
        if level is None or not run.has("meter"):
            continue
        visible = run.stated.get("visible_source") or bench.header.get("reference_source")
        shown = [run.columns["meter"][i] for i in steps[0] if run.columns["meter"][i] is not None]
        pair = means.add(f"{name}/off", {"meter": shown}, run.time_ordered, bench.meters[run.meter],
                         neighbours=bench.neighbours(run))["meter"]
        mean = chain.inputs[pair[0]].estimate
        under, run.source = run.source, visible
        e = bench.reading(run, pair, f"{level:g}", bench.net(run, mean), mean)
        run.source = under
        k = bench.position_for(run)

        def error(get):
            h = total(get, pairs[-1]["irradiance"]) * (get(factor) if factor else 1.0)
            lit = e(get) * (k(get) if k else 1.0)
            return {"e": 100 * response(get) * h / lit}

        values, c = chain.differentiate(error)
        results.put("near_infrared_error", run.sample, here, values["e"], c["e"], reason, run=run.id)
