"""Readings under one source against those under another."""
import math

import numpy as np

from families import OF_ONE_READING, extras, lx
from folder import value


class Level:
    def __init__(self, bench, run, level, d, e):
        self.run, self.level, self.d, self.e = run, level, d, e
        self.group = (run.sample, run.configuration, str(sorted(extras(run, OF_ONE_READING).items(), key=str)))
        geometry = bench.header.get("geometry", {}).get("distance")
        self.distance = run.quantity("distance") or (value(geometry) if geometry else None)
        self.q, self.lux, self.reason = None, 0.0, "a level is not decided"
        if d is None:
            return
        values, c = bench.chain.differentiate(lambda get: {"q": d(get) / e(get), "e": e(get)})
        self.q, self.lux = values["q"], values["e"]
        self.reason = "u(E)/E above 0.25" if bench.chain.propagate(c["e"])[0] > 0.25 * self.lux else None

    def response(self, get):
        return self.d(get) / self.e(get)


def counterpart(bench, here, others):
    """(response, reason) of the other source at this illuminance; None where it has nothing to say."""
    if here.lux <= 0:
        return None
    near = [o for o in others if o.lux > 0 and max(here.lux / o.lux, o.lux / here.lux) - 1 <= 0.05]
    if near:
        def same_distance(o):
            a, b = o.distance, here.distance
            return a is None or b is None or abs(a - b) <= 0.01 * max(a, b)

        best = min(near, key=lambda o: (o.level != here.level, not same_distance(o), abs(math.log(here.lux / o.lux))))
        return best.response, best.reason
    for run in dict.fromkeys(o.run.id for o in others):
        mine = [o for o in others if o.run.id == run and o.lux > 0]
        below = max((o for o in mine if o.lux < here.lux), key=lambda o: o.lux, default=None)
        above = min((o for o in mine if o.lux > here.lux), key=lambda o: o.lux, default=None)
        if below is None or above is None:
            continue
        course = bench.chain.input(f"between:{run}/{here.group}/{below.level}..{above.level}", 0.0,
                                   abs(above.q - below.q) / 2 / math.sqrt(3))

        def between(get):
            w = np.log(here.e(get) / below.e(get)) / np.log(above.e(get) / below.e(get))
            q, r = below.response(get), above.response(get)
            return q + (r - q) * w + get(course)

        return between, below.reason or above.reason
    return None


def source_variation(bench, results, points):
    order = [s["id"] for s in bench.header.get("sources", [])]
    levels = {}
    for run, kept in points.values():
        for level, d, e in kept:
            levels.setdefault(run.source, []).append(Level(bench, run, level, d, e))
    present = [s for s in order if s in levels]
    if len(present) < 2:
        return
    reference = bench.header.get("reference_source")

    def others(here, source):
        return [o for o in levels[source] if o.group == here.group]

    def put(metric, here, conditions, function, reason):
        base = {"configuration": here.run.configuration, **extras(here.run, ("level",)), "level": lx(here.level), **conditions}
        if reason and function is None:
            results.put(metric, here.run.sample, base, None, reason=reason, run=here.run.id)
            return
        values, c = bench.chain.differentiate(lambda get: {"v": function(get)})
        results.put(metric, here.run.sample, base, values["v"], c["v"], reason, run=here.run.id)

    for source in present:
        for here in levels[source]:
            if source == reference or reference not in present:
                continue
            found = counterpart(bench, here, others(here, reference))
            own = {"source": source}
            if found is None or here.d is None:
                put("source_variation", here, own, None, here.reason or "no match")
                continue
            put("source_variation", here, own, lambda get, f=found[0], h=here: (h.response(get) / f(get) - 1) * 100,
                here.reason or found[1])

    for i, first in enumerate(present):
        for second in present[i + 1:]:
            seen = {(h.group, h.level) for h in levels[first]}
            for here in levels[first] + [h for h in levels[second] if (h.group, h.level) not in seen]:
                opposite, sign = (second, 1) if here.run.source == first else (first, -1)
                found = counterpart(bench, here, others(here, opposite))
                if found is None:
                    continue
                put("source_difference", here, {"source": first, "other_source": second},
                    lambda get, f=found[0], h=here, s=sign: 100 * s * (h.response(get) - f(get)), here.reason or found[1])

    if len(present) > 2:
        for here in levels[present[0]]:
            found = [counterpart(bench, here, others(here, s)) for s in present[1:]]
            if here.d is None or all(f is None for f in found):
                continue
            if any(f is None for f in found):
                put("source_spread", here, {}, None, "no match")
                continue

            def spread(get, h=here, fs=[f[0] for f in found]):
                q = np.array([np.broadcast_to(f(get), h.response(get).shape) for f in [h.response, *fs]])
                return 100 * (q.max(axis=0) - q.min(axis=0))

            put("source_spread", here, {}, spread, here.reason or next((f[1] for f in found if f[1]), None))
