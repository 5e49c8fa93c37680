"""Low light and light ripple."""
import math

import numpy as np
from scipy import stats
from scipy.optimize import brentq, least_squares, minimize_scalar

from families import extras, level_sets, lx
from folder import value
from repeated import deviation


def dark_noise(bench, dark):
    """s of one dark reading, the readings that tell it, and how many the dark mean has."""
    readings = [v for v in dark.column("sensor") if v is not None]
    q = bench.means.resolution("sensor", None, 0.0, readings)
    s, n = deviation(readings), len(readings)
    if sum(v == 0 for v in readings) >= 2 and min(readings) >= 0:
        found = []
        for run in bench.runs:
            if run.kind == "comparison" and (run.sample, run.configuration) == (dark.sample, dark.configuration):
                for rows in level_sets(run).values():
                    v = [run.columns["sensor"][i] for i in rows if run.columns["sensor"][i] is not None]
                    if len(v) > 1 and math.fsum(v) / len(v) >= 5 * q:
                        found.append((math.fsum(v) / len(v), deviation(v), len(v)))
        _, s, n = min(found)
    return max(s, q / math.sqrt(12)), n, len(readings)


def low_light(bench, results, points):
    told = set()
    for run, kept in points.values():
        for level, rows in level_sets(run).items():
            side = run.stated.get("method", "side-by-side") == "side-by-side"
            v = [run.columns["sensor"][i] for i in rows if run.columns["sensor"][i] is not None
                 and (not side or run.columns["meter"][i] is not None)]
            q = bench.means.resolution("sensor", None, 0.0, v)
            base = {"configuration": run.configuration, "source": run.source, **extras(run, ("level",)), "level": lx(level)}
            results.put("signal_to_noise", run.sample, base, math.fsum(v) / len(v) / max(deviation(v), q / math.sqrt(12)),
                        run=run.id)
        here = (run.sample, run.configuration, run.source)
        if here in told:
            continue
        told.add(here)
        dark = next(r for r in bench.runs if r.kind == "dark" and (r.sample, r.configuration) == here[:2] and
                    r.conditions.get("light") == "capped" and r.has("sensor"))
        s0, n_noise, n = dark_noise(bench, dark)
        levels = []
        for other, others in points.values():
            if (other.sample, other.configuration, other.source) == here:
                for _, d, e in others:
                    if d is not None:
                        got = bench.chain.differentiate(lambda get, d=d, e=e: {"d": d(get), "e": e(get)})[0]
                        if got["d"] >= 10 * s0:
                            levels.append((got["e"], got["d"]))
        base = {"configuration": run.configuration, "source": run.source}
        if not levels:
            for metric in ("noise_equivalent_illuminance", "critical_value", "detection_limit"):
                results.put(metric, run.sample, base, None, reason="no level")
            continue
        e, d = min(levels)
        b = d / e
        nu = n_noise - 1
        t = stats.t.ppf(0.95, nu)
        delta = brentq(lambda x: stats.nct.cdf(t, nu, x) - 0.05, 1e-3, 4 * t, xtol=1e-13)
        spread = s0 * math.sqrt(1 + 1 / n) / b
        results.put("noise_equivalent_illuminance", run.sample, base, s0 / b)
        results.put("critical_value", run.sample, base, t * spread)
        results.put("detection_limit", run.sample, base, delta * spread)


def waveform_fit(t, x):
    """Frequency and harmonics by non-linear least squares from the strongest line of the spectrum."""
    n, dt = len(x), (t[-1] - t[0]) / (len(t) - 1)
    spectrum = np.abs(np.fft.rfft((x - x.mean()) * np.hanning(n), 16 * n))
    start = np.argmax(spectrum[3 * 16:]) + 3 * 16
    f = start / (16 * n * dt)
    orders = int(min(max(0.9 * 0.5 / dt / f, 1), 20, n // 4))
    middle = dt * (np.arange(n) - (n - 1) / 2)

    def columns(f):
        k = np.arange(1, orders + 1)
        phase = 2 * np.pi * f * np.outer(middle, k)
        return np.hstack([np.ones((n, 1)), np.cos(phase), np.sin(phase)])

    def residual(p):
        return x - columns(f + p[0]) @ np.linalg.lstsq(columns(f + p[0]), x, rcond=None)[0]

    best = least_squares(residual, [0.0], x_scale=1e-3, xtol=1e-15, ftol=1e-15, gtol=1e-15)
    # polish: Gauss-Newton on all parameters together
    f += best.x[0]
    for _ in range(8):
        a = columns(f)
        c = np.linalg.lstsq(a, x, rcond=None)[0]
        k = np.arange(1, orders + 1)
        phase = 2 * np.pi * f * np.outer(middle, k)
        slope = (2 * np.pi * np.outer(middle, k) * (c[1 + orders:] * np.cos(phase) - c[1:1 + orders] * np.sin(phase))).sum(axis=1)
        whole = np.hstack([a, slope[:, None]])
        solved, *_ = np.linalg.lstsq(whole, x, rcond=None)
        f += solved[-1]
    rest = x - whole @ solved
    s = math.sqrt(rest @ rest / (n - whole.shape[1]))
    u_f = s * math.sqrt(np.linalg.inv(whole.T @ whole)[-1, -1])
    a = columns(f)
    c = np.linalg.lstsq(a, x, rcond=None)[0]
    rest = x - a @ c
    s = math.sqrt(rest @ rest / (n - a.shape[1]))
    return f, u_f, n - whole.shape[1], c[0], c[1:1 + orders] / c[0], c[1 + orders:] / c[0], s * math.sqrt(2 / n) / c[0], dt


def ripple(bench, results):
    chain = bench.chain
    time_s = bench.header.get("product", {}).get("integration_time")
    for run in (r for r in bench.runs if r.kind == "waveform"):
        t, x = np.array(run.column("time")), np.array(run.column("signal"))
        base = {"source": run.source, **extras(run)}
        f, u_f, nu, mean, cosine, sine, u_amplitude, dt = waveform_fit(t, x)
        name = chain.input(f"ripple {run.id} f", f, u_f, nu)
        values, c = chain.differentiate(lambda get: {"f": get(name)})
        results.put("ripple_frequency", None, base, f, c["f"], run=run.id)
        # mean waveform
        bins = int(min(max(math.floor(1 / (f * dt) * (1 + 1e-9)), 8), 256))
        place = np.minimum(bins - 1, (np.mod(f * dt * np.arange(len(x)) + 1e-9, 1) * bins).astype(int))
        means = np.array([x[place == i].mean() for i in range(bins)])
        within = math.sqrt(((x - means[place]) ** 2).sum() / (len(x) - bins))
        u_bin = within / math.sqrt(len(x) / bins)
        top = chain.input(f"ripple {run.id} top", means.max(), u_bin, len(x) - bins)
        bottom = chain.input(f"ripple {run.id} bottom", means.min(), u_bin, len(x) - bins)
        values, c = chain.differentiate(lambda get: {"p": 100 * (get(top) - get(bottom)) / (get(top) + get(bottom))})
        results.put("percent_flicker", None, base, values["p"], c["p"], run=run.id)
        turn = np.mod(f * dt * np.arange(len(x)) + 1e-9, 1)
        phase = np.array([turn[place == i].mean() for i in range(bins)])
        gap = np.diff(np.append(phase, phase[0] + 1))
        width = (gap + np.roll(gap, 1)) / 2
        middle = width @ means
        off = means - middle
        following = np.roll(off, -1)
        steps = width @ np.maximum(off, 0) / middle
        lines = gap @ np.where(off * following < 0, np.maximum(off, following) ** 2 / (2 * np.abs(off - following))
                               + np.abs(off - following) / 12,
                               np.maximum(off + following, 0) / 2) / middle
        index = (steps + lines) / 2
        between = chain.input(f"ripple {run.id} between", 0.0, abs(steps - lines) / 2 / math.sqrt(3))
        share = (means > mean).mean()
        u_index = within / mean / math.sqrt(len(x)) * math.sqrt(share * (1 - share - index) ** 2 + (1 - share) * (share + index) ** 2)
        shown = chain.input(f"ripple {run.id} index", index, u_index, len(x) - bins)
        values, c = chain.differentiate(lambda get: {"i": get(shown) + get(between)})
        results.put("flicker_index", None, base, values["i"], c["i"], run=run.id)
        # worst case
        k = np.arange(1, len(cosine) + 1)
        kept = np.hypot(cosine, sine) > 3 * u_amplitude
        k, a, b = k[kept], cosine[kept], sine[kept]
        nominal = f * value(time_s)

        def error(cycles, phase):
            return np.sum(np.sinc(k * cycles) * (a * np.cos(k * phase) + b * np.sin(k * phase)))

        best = (0.0, nominal, 0.0)
        for cycles in np.linspace(0.99 * nominal, 1.01 * nominal, 201):
            grid = np.linspace(0, 2 * np.pi, 721)
            at = max(grid, key=lambda p: abs(error(cycles, p)))
            found = minimize_scalar(lambda p: -abs(error(cycles, p)), bounds=(at - 0.02, at + 0.02), method="bounded",
                                    options={"xatol": 1e-12})
            best = max(best, (-found.fun, cycles, found.x))
        _, cycles, phase = best
        names = [(chain.input(f"ripple {run.id} a{o}", p, u_amplitude, nu),
                  chain.input(f"ripple {run.id} b{o}", q, u_amplitude, nu)) for o, p, q in zip(k, a, b)]

        def worst(get):
            return {"e": 100 * abs(sum(np.sinc(o * cycles) * (get(p) * np.cos(o * phase) + get(q) * np.sin(o * phase))
                                       for o, (p, q) in zip(k, names)))}

        values, c = chain.differentiate(worst)
        results.put("ripple_error", None, base, values["e"], c["e"], run=run.id)
