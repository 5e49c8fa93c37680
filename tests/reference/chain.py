"""A measurement chain whose sensitivities come from perturbing it as a whole.

Central differences at three steps h, 2h, 4h are extrapolated to h = 0, their errors of order h and h^2 taken off:
monotone cubics have kinks in their slope at every node, where a central difference is wrong by order h.
"""
import math

import numpy as np
from scipy import stats


class Input:
    __slots__ = ("estimate", "u", "nu", "group")

    def __init__(self, estimate, u, nu):
        self.estimate, self.u, self.nu, self.group = estimate, u, nu, None


class Chain:
    def __init__(self, probability):
        self.p = probability
        self.inputs = {}
        self.groups = {}  # name -> (members, covariance, nu)

    def input(self, name, estimate, u, nu=math.inf):
        known = self.inputs.get(name)
        if known is None:
            self.inputs[name] = Input(float(estimate), float(u), float(nu))
        else:
            assert (known.estimate, known.u) == (float(estimate), float(u)), name
        return name

    def group(self, name, members, covariance, nu):
        if name in self.groups:
            return
        self.groups[name] = (list(members), np.asarray(covariance, float), nu)
        for member in members:
            self.inputs[member].group = name

    def differentiate(self, function):
        """function(get) -> {key: array}; get(name) is the input's value, one column a trial.
        Returns values and sensitivities {key: {input: c}}."""
        names = {}

        def probe(name):
            names[name] = None
            return np.array([self.inputs[name].estimate])

        base = function(probe)
        active = [n for n in names if self.inputs[n].u > 0]
        at = {n: i for i, n in enumerate(active)}
        width = 6 * max(1, len(active))
        steps = {n: 0.002 * self.inputs[n].u for n in active}

        def get(name):
            column = np.full(width, self.inputs[name].estimate)
            if name in at:
                i = 6 * at[name]
                column[i:i + 6] += np.array([-4, -2, -1, 1, 2, 4]) * steps[name]
            return column

        moved = function(get)
        sensitivities = {}
        for key, array in moved.items():
            array = np.broadcast_to(np.asarray(array, float), (width,))
            c = {}
            for n, i in at.items():
                below4, below2, below1, above1, above2, above4 = array[6 * i:6 * i + 6]
                slopes = (above1 - below1) / 2, (above2 - below2) / 4, (above4 - below4) / 8
                c[n] = (8 * slopes[0] - 6 * slopes[1] + slopes[2]) / (3 * steps[n])
            sensitivities[key] = c
        return {k: float(np.asarray(v).reshape(-1)[0]) for k, v in base.items()}, sensitivities

    def propagate(self, c):
        """u, effective degrees of freedom (truncated), k, contributions by input."""
        terms = []
        seen = set()
        for name, coefficient in c.items():
            item = self.inputs[name]
            if item.group is None:
                terms.append(((coefficient * item.u) ** 2, item.nu))
            elif item.group not in seen:
                seen.add(item.group)
                members, covariance, nu = self.groups[item.group]
                vector = np.array([c.get(m, 0.0) for m in members])
                terms.append((float(vector @ covariance @ vector), nu))
        variance = math.fsum(t for t, _ in terms)
        denominator = math.fsum(t * t / nu for t, nu in terms if t > 0 and math.isfinite(nu))
        nu = math.inf if denominator == 0 else variance * variance / denominator
        nu = nu * (1 + 1e-9)
        nu = math.inf if nu > 1e9 else max(1.0, math.floor(nu))
        k = stats.norm.ppf((1 + self.p) / 2) if math.isinf(nu) else stats.t.ppf((1 + self.p) / 2, nu)
        return math.sqrt(max(0.0, variance)), nu, k, {n: abs(x) * self.inputs[n].u for n, x in c.items()}
