"""Repeated readings: mean, Type A, resolution, autocorrelation, pairs, pooling."""
import math
from collections import Counter

import numpy as np
from scipy import stats


class Undecided(Exception):
    pass


class Neighbours:
    """Correlation of the neighbouring readings of one device: r (0 where not significant) and the weight of its estimate."""

    def __init__(self, sets):
        total, self.weight, self.sets = 0.0, 0.0, 0
        for x in sets:
            n = len(x)
            if n < 3 or len(set(x)) == 1:
                continue
            d = np.asarray(x) - math.fsum(x) / n
            r1 = math.fsum(d[:-1] * d[1:]) / math.fsum(d * d)
            total += (n - 1) * (r1 + 1 / n)
            self.weight += (n - 1) * (1 - 2 / n) ** 2
            self.sets += 1
        self.r = min(0.95, total / self.weight) if self.weight and total > 1.6449 * math.sqrt(self.weight) else 0.0

    def exceeded_by(self, x):
        """Whether one set correlates more than the device, at one-sided 1 % for the largest of its sets."""
        n = len(x)
        d = np.asarray(x) - math.fsum(x) / n
        estimate = (math.fsum(d[:-1] * d[1:]) / math.fsum(d * d) + 1 / n) / (1 - 2 / n) ** 2
        return estimate > self.r + stats.norm.ppf(1 - 0.01 / self.sets) * math.sqrt((1 - self.r ** 2) / (n - 1)) / (1 - 2 / n)

    def freedom(self, matrices):
        """Satterthwaite's degrees of freedom of sums of squares with these matrices, r itself being an estimate."""
        traces = math.fsum(np.trace(a) for a in matrices), math.fsum(np.trace(a @ a) for a in matrices)
        return max(1.0, 1 / (traces[1] / traces[0] ** 2 + 2 / (self.weight * (1 - self.r ** 2) ** 2)))


def correlated(n, r):
    """Variance of the mean of n readings of variance 1, and the matrix whose trace the sum of squares expects: by the
    matrix r^|i-j| itself."""
    v = r ** np.abs(np.subtract.outer(np.arange(n), np.arange(n)))
    centre = np.eye(n) - 1 / n
    return v.sum() / n ** 2, centre @ v @ centre


def autocorrelation(x, ordered, neighbours=None):
    """Factor on the variance of the mean and degrees of freedom."""
    n = len(x)
    own = own_autocorrelation(x, ordered)
    if own is not None and neighbours is not None and neighbours.r > 0 and not neighbours.exceeded_by(x):
        own = None
    if own is not None or neighbours is None or neighbours.r == 0 or n < 2:
        return own or (1.0, n - 1)
    of_mean, matrix = correlated(n, neighbours.r)
    return of_mean * n * (n - 1) / np.trace(matrix), neighbours.freedom([matrix])


def own_autocorrelation(x, ordered):
    """The same by the set's own r1; None where it is not significant."""
    n = len(x)
    if not ordered or n < 10:
        return None
    d = np.asarray(x) - math.fsum(x) / n
    total = math.fsum(d * d)
    if total == 0 or len(set(x)) == 1:
        return None
    r1 = math.fsum(d[:-1] * d[1:]) / total
    if r1 <= (-1 + 2.3263 * math.sqrt(n - 2)) / (n - 1):
        return None
    r = min(0.95, max(0.0, r1 + (1 + 4 * r1) / n))
    effective = max(2.0, n * (1 - r) / (1 + r))
    return (n - 1) / (effective - 1), max(1, math.floor(effective - 1))


def deviation(x):
    n = len(x)
    if n < 2:
        return math.nan
    if len(set(x)) == 1:
        return 0.0
    m = math.fsum(x) / n
    return math.sqrt(math.fsum((v - m) ** 2 for v in x) / (n - 1))


class Means:
    """Means of one set of rows for one or more devices read together.

    `sets`: all sets of the run that may be pooled, {device: [(readings, range)]}."""

    def __init__(self, chain, header):
        self.chain, self.header = chain, header

    def resolution(self, device, meter, mean, series, stated_range=None):
        if device == "meter" and meter is not None:
            for r in sorted(meter.get("ranges", []), key=lambda r: _lx(r["up_to"])):
                if stated_range is None and mean <= _lx(r["up_to"]) or stated_range == _lx(r["up_to"]):
                    return _lx(r["resolution"])
            if meter.get("ranges"):
                return _lx(meter["ranges"][-1]["resolution"])
            if "resolution" in meter:
                return _lx(meter["resolution"])
        if device == "sensor" and "resolution" in self.header.get("product", {}):
            return _lx(self.header["product"]["resolution"])
        steps = [b - a for a, b in zip(sorted(series), sorted(series)[1:]) if b > a]
        if not steps:
            raise Undecided("no step")
        return min(steps)

    def add(self, name, readings, ordered, meter, pool=None, series=None, stated_range=None, neighbours={}):
        """readings {device: list}; pool {device: list of like sets} or None; neighbours {device: Neighbours}. Returns {device: (mean name, resolution name)}."""
        chain = self.chain
        devices = list(readings)
        n = len(readings[devices[0]])
        if n == 0:
            raise Undecided("no readings")
        means = {d: math.fsum(readings[d]) / n for d in devices}
        s = {d: deviation(readings[d]) for d in devices}
        covariance = np.zeros((len(devices), len(devices)))
        pooled = None
        if n <= 4:
            pooled = self._pooled(devices, pool, means, n, neighbours)
        if pooled is not None:
            relative, correlation, nu, pool_name, factor = pooled
            for d in devices:
                s[d] = relative[d] * abs(means[d])
            for i, a in enumerate(devices):
                for j, b in enumerate(devices):
                    covariance[i, j] = correlation[a, b] * means[a] * means[b] / n * factor
        else:
            if n < 2:
                raise Undecided("one reading")
            factor, nu = 1.0, n - 1
            for d in devices:
                f, v = autocorrelation(readings[d], ordered, neighbours.get(d))
                factor, nu = max(factor, f), min(nu, v)
            for i, a in enumerate(devices):
                for j, b in enumerate(devices):
                    x, y = readings[a], readings[b]
                    covariance[i, j] = (0.0 if s[a] == 0 or s[b] == 0 else
                                        math.fsum((p - means[a]) * (q - means[b]) for p, q in zip(x, y))
                                        / (n - 1) / n * factor)
        result = {}
        members = []
        for i, d in enumerate(devices):
            member = chain.input(f"{name}/{d}", means[d], math.sqrt(covariance[i, i]), nu)
            members.append(member)
            q = self.resolution(d, meter, means[d], (series or readings)[d], stated_range if d == "meter" else None)
            extra = None
            if s[d] < q / 2:
                extra = chain.input(f"{name}/{d}/resolution", 0.0, q / math.sqrt(12))
            result[d] = (member, extra)
        if pooled is not None:
            self._join_pool(pool_name, members, covariance, nu)
        elif len(devices) > 1:
            chain.group(name, members, covariance, nu)
        return result

    def _pooled(self, devices, pool, means, n, neighbours):
        if not pool:
            return None
        relative, correlation, nu, least_nu, factor = {}, {}, None, math.inf, 1.0
        for d in devices:
            sets = [x for x in pool[d] if len(x) >= 2]
            if len(sets) < 2:
                return None
            m = [math.fsum(x) / len(x) for x in sets]
            v = [(deviation(x) / mean) ** 2 for x, mean in zip(sets, m)]
            common = Counter(len(x) for x in sets).most_common()
            size = max(k for k, c in common if c == common[0][1])
            p = len(sets)
            f = stats.f.ppf(1 - 0.01 / p, size - 1, (p - 1) * (size - 1))
            if sum(v) > 0 and max(v) / sum(v) > 1 / (1 + (p - 1) / f):
                return None
            nu = sum(len(x) - 1 for x in sets)
            relative[d] = math.sqrt(sum((len(x) - 1) * w for x, w in zip(sets, v)) / nu)
            least_nu = min(least_nu, nu)
            if d in neighbours and neighbours[d].r > 0:
                matrices = [correlated(len(x), neighbours[d].r)[1] for x in sets]
                expected = math.fsum(np.trace(a) for a in matrices)
                factor = max(factor, nu / expected * n * correlated(n, neighbours[d].r)[0])
                least_nu = min(least_nu, neighbours[d].freedom(matrices))
        for a in devices:
            for b in devices:
                total = 0.0
                for x, y in zip(pool[a], pool[b]):
                    if len(x) >= 2:
                        mx, my = math.fsum(x) / len(x), math.fsum(y) / len(y)
                        total += math.fsum((p - mx) * (q - my) for p, q in zip(x, y)) / (mx * my)
                correlation[a, b] = total / nu
        return relative, correlation, least_nu, pool["name"], factor

    def _join_pool(self, name, members, covariance, nu):
        chain = self.chain
        if name in chain.groups:
            old, matrix, _ = chain.groups[name]
            size = len(old)
            grown = np.zeros((size + len(members),) * 2)
            grown[:size, :size] = matrix
            grown[size:, size:] = covariance
            chain.groups[name] = (old + members, grown, nu)
        else:
            chain.groups[name] = (list(members), np.array(covariance), nu)
        for member in members:
            chain.inputs[member].group = name


def _lx(stated):
    from folder import value
    return value(stated)


def total(get, pair):
    """Mean with its resolution input, where there is one."""
    mean, extra = pair
    return get(mean) + (get(extra) if extra else 0.0)
