"""Samples against one another, and what the spectra say."""
import json
import math
import pathlib

import numpy as np
from scipy import integrate, optimize, stats

from families import OF_ONE_READING, extras, lx
from folder import value
from illuminance import curve

REPETITIONS = ("day", "operator", "remount", "run")


def tolerance_factor(n, content=0.95, confidence=0.95):
    """Exact two-sided factor by adaptive quadrature."""
    def half_width(z):
        return optimize.brentq(lambda r: stats.norm.cdf(z + r) - stats.norm.cdf(z - r) - content, 0, abs(z) + 10, xtol=1e-14)

    def reached(k):
        inner = lambda z: stats.norm.pdf(z) * stats.chi2.sf((n - 1) * half_width(z / math.sqrt(n)) ** 2 / k ** 2, n - 1)
        return 2 * integrate.quad(inner, 0, 9, epsabs=1e-13, epsrel=1e-13)[0]

    return optimize.brentq(lambda k: reached(k) - confidence, 1, 60, xtol=1e-12)


def samples(bench, results, points):
    chain = bench.chain
    groups = {}
    for run, kept in points.values():
        for level, d, e in kept:
            base = {"configuration": run.configuration, "source": run.source,
                    **extras(run, ("level", *OF_ONE_READING, *REPETITIONS)), "level": lx(level), "of": "reading_error"}
            groups.setdefault(json.dumps(base, sort_keys=True), (base, {}))[1].setdefault(run.sample, []).append((d, e))
    factors = {}
    for base, found in groups.values():
        if len(found) < 2:
            continue
        assert all(len(v) == 1 for v in found.values()), "repetitions are not recomputed"
        pairs = [found[s][0] for s in sorted(found)]
        names = ("unit_standard_deviation", "tolerance_interval_lower", "tolerance_interval_upper")
        if any(d is None for d, _ in pairs):
            for metric in names:
                results.put(metric, None, base, None, reason="a level is not decided")
            continue
        n = len(pairs)

        def errors(get):
            x = np.array([100 * (d(get) / e(get) - 1) for d, e in pairs])
            return {"s": x.std(axis=0, ddof=1), "mean": x.mean(axis=0), **{("x", i): x[i] for i in range(n)},
                    **{("E", i): pairs[i][1](get) for i in range(n)}}

        values, c = chain.differentiate(errors)
        if any(chain.propagate(c["E", i])[0] > 0.25 * values["E", i] for i in range(n)):
            for metric in names:
                results.put(metric, None, base, None, reason="u(E)/E above 0.25")
            continue
        results.put("unit_standard_deviation", None, base, values["s"], c["s"])
        acting = {}
        for i in range(n):
            for name, coefficient in c["x", i].items():
                if abs(coefficient) * chain.inputs[name].u > 1e-9:
                    acting.setdefault(name, []).append(coefficient)
        shared = math.sqrt(sum((sum(v) / n * chain.inputs[name].u) ** 2 for name, v in acting.items() if len(v) > 1))
        if n not in factors:
            factors[n] = tolerance_factor(n)
        half = factors[n] * values["s"] + stats.norm.ppf((1 + chain.p) / 2) * shared
        results.put("tolerance_interval_lower", None, base, values["mean"] - half)
        results.put("tolerance_interval_upper", None, base, values["mean"] + half)


def spectra(bench, results):
    header = bench.header
    folder = pathlib.Path(header["folder"])
    table = np.loadtxt(pathlib.Path(__file__).with_name("v_lambda.csv"), delimiter=",", skiprows=2)
    visible = np.arange(360.0, 831.0)
    v = np.interp(visible, table[:, 0], table[:, 1])
    read = lambda at, c: np.interp(at, c[0], c[1], left=0.0, right=0.0)
    devices = [("meter", m) for m in header.get("meters", []) if "relative_responsivity" in m]
    devices += [("configuration", c) for c in header.get("configurations", []) if "relative_responsivity" in c]
    for kind, device in devices:
        s = curve(folder / device["relative_responsivity"])
        own = np.arange(round(s[0][0]), round(s[0][-1]) + 1.0)
        temperature = device.get("certificate", {}).get("calibration_source", {}).get("colour_temperature")
        a = lambda at, k=2856.0: at ** -5.0 / np.expm1(1.435e7 / 2848 * 2856 / k / at)
        scale = np.trapz(a(visible) * v, visible) / np.trapz(a(own) * read(own, s), own)
        f1 = np.trapz(np.abs(scale * read(own, s) - np.interp(own, table[:, 0], table[:, 1], 0, 0)), own)
        for outside in (visible[visible <= own[0]], visible[visible >= own[-1]]):
            f1 += np.trapz(np.interp(outside, table[:, 0], table[:, 1]), outside)
        results.put("mismatch_index", None, {kind: device["id"]}, 100 * f1 / np.trapz(v, visible))
        for source in header.get("sources", []):
            if "spectrum" not in source or source["kind"] == "near-infrared":
                continue
            here = {kind: device["id"], "source": source["id"]}
            if kind == "meter" and "spectral_correction" not in source:
                name = bench.spectral(device, source)
                values, c = bench.chain.differentiate(lambda get: {"f": get(name)})
                results.put("mismatch_factor", None, here, values["f"], c["f"])
                continue
            z = curve(folder / source["spectrum"])
            k = 2856.0 if temperature is None else value(temperature)
            f = (np.trapz(read(visible, z) * v, visible) * np.trapz(a(own, k) * read(own, s), own)
                 / np.trapz(read(own, z) * read(own, s), own) / np.trapz(a(visible, k) * v, visible))
            results.put("mismatch_factor", None, here, f)
