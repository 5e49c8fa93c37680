"""`luxdossier budget` against the worked examples of the guides and against exact intervals of linear models.

The exact intervals come by another route: the distribution function of a sum of independent inputs from its
characteristic function (Gil-Pelaez 1951), integrated numerically with NumPy; no trials are drawn.

Usage: budget_test.py LUXDOSSIER
"""

import json
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

import numpy
from scipy import optimize, special

PROGRAM = sys.argv[1]
SOURCE = Path(__file__).resolve().parents[2]
GUIDES = SOURCE / "tests/cli/models/guides.json"


def budget(file):
    ran = subprocess.run([PROGRAM, "budget", file, "--json"], capture_output=True, text=True, timeout=300)
    if ran.returncode not in (0, 1):
        raise AssertionError(ran.stderr)
    return {result["id"]: result for result in json.loads(ran.stdout)["results"]}


def budget_of(models, probability):
    with tempfile.TemporaryDirectory() as scratch:
        file = Path(scratch, "models.json")
        file.write_text(json.dumps({"format": "luxdossier/models/1", "models": models, "evaluation": {
            "coverage_probability": probability, "monte_carlo": {"significant_digits": 3}}}))
        return budget(file)


# Characteristic functions of the deviation from the estimate, for u = 1.
def rectangular(t):
    return numpy.sinc(numpy.sqrt(3) * t / numpy.pi)


def triangular(t):
    return numpy.sinc(numpy.sqrt(6) * t / (2 * numpy.pi)) ** 2


def trapezoidal(shape):
    half = numpy.sqrt(6 / (1 + shape**2))
    return lambda t: numpy.sinc(half * (1 + shape) * t / (2 * numpy.pi)) * numpy.sinc(half * (1 - shape) * t / (2 * numpy.pi))


def arcsine(t):
    return special.j0(numpy.sqrt(2) * t)


def normal(t):
    return numpy.exp(-t**2 / 2)


def student(nu):
    def function(t):
        x = numpy.maximum(numpy.sqrt(nu) * numpy.abs(t), 1e-12)
        return special.kv(nu / 2, x) * x ** (nu / 2) / (special.gamma(nu / 2) * 2 ** (nu / 2 - 1))
    return function


def half_width(parts, probability):
    """Half the length of the interval of a sum of (u, characteristic function), symmetric about its estimate."""
    scale = numpy.sqrt(sum(u**2 for u, _ in parts))
    step = 1e-3 / scale
    t = (numpy.arange(200_000) + 0.5) * step
    product = numpy.prod([function(u * t) for u, function in parts], axis=0)

    def inside(w):  # P(|Y - y| <= w)
        return 2 / numpy.pi * numpy.sum(product * numpy.sin(t * w) / t) * step

    return optimize.brentq(lambda w: inside(w) - probability, 0.01 * scale, 40 * scale, xtol=1e-10 * scale)


class Exact(unittest.TestCase):
    KINDS = {
        "rectangular": ({"distribution": "rectangular"}, rectangular),
        "triangular": ({"distribution": "triangular"}, triangular),
        "trapezoidal": ({"distribution": "trapezoidal", "shape": 0.5}, trapezoidal(0.5)),
        "arcsine": ({"distribution": "arcsine"}, arcsine),
        "normal": ({"distribution": "normal"}, normal),
        "t4": ({"distribution": "t", "degrees_of_freedom": 4}, student(4)),
        "t19": ({"distribution": "t", "degrees_of_freedom": 19}, student(19)),
    }
    SUMS = {
        "four-rectangles": [("rectangular", 1, 1)] * 4,
        "t-and-rectangle": [("t4", 1, 2), ("rectangular", 1, 3)],
        "every-kind": [("rectangular", 2, 1), ("triangular", -1, 1), ("trapezoidal", 1, 2), ("arcsine", 1, 1.5),
                       ("normal", 0.5, 1), ("t4", 1, 1), ("t19", -1, 1)],
        "reading": [("t19", 1, 2), ("t19", 1, 1), ("normal", 1, 2.5), ("rectangular", 1, 1.7), ("rectangular", 1, 0.6)],
    }

    def test_intervals_of_linear_models(self):
        for probability in (0.9, 0.9545, 0.99):
            models = []
            for name, terms in self.SUMS.items():
                inputs = [{"symbol": f"x{i}", "quantity": "term", "unit": "1", "estimate": 10 * i, "standard_uncertainty": u,
                           **self.KINDS[kind][0], "note": f"{name}"} for i, (kind, _, u) in enumerate(terms)]
                equation = " + ".join(f"{c}*x{i}" for i, (_, c, _) in enumerate(terms))
                models.append({"id": name, "unit": "1", "equation": equation, "inputs": inputs})
            found = budget_of(models, probability)
            for name, terms in self.SUMS.items():
                with self.subTest(name=name, probability=probability):
                    exact = half_width([(abs(c) * u, self.KINDS[kind][1]) for kind, c, u in terms], probability)
                    trials, value = found[name]["monte_carlo"], found[name]["value"]
                    # Each end within three standard deviations: one and a half times the tolerance reached.
                    allowed = 1.5 * trials["numerical_tolerance"]
                    self.assertLess(allowed, 0.02 * exact)
                    self.assertAlmostEqual(trials["interval"][0], value - exact, delta=allowed)
                    self.assertAlmostEqual(trials["interval"][1], value + exact, delta=allowed)

    def test_the_route_itself_meets_a_closed_form(self):
        # JCGM 101:2008, annex E.2: +-2 sqrt(3) (2 - (3/5)^(1/4)).
        self.assertAlmostEqual(half_width([(1, rectangular)] * 4, 0.95), 3.879406741347821, places=6)


class Guides(unittest.TestCase):
    """Figures are those that the documents print; recomputed ones with SciPy or python3-uncertainties."""

    @classmethod
    def setUpClass(cls):
        cls.found = budget(GUIDES)

    def test_first_order_vanishes(self):
        # JCGM 101:2008, 9.4, uncorrelated, at (0, 0): second order u = 50e-6; the distribution is exponential
        # with mean 50e-6.
        loss = self.found["loss"]
        self.assertAlmostEqual(loss["standard_uncertainty"], 50e-6, delta=1e-12)
        self.assertAlmostEqual(loss["monte_carlo"]["mean"], 50e-6, delta=0.2e-6)
        self.assertAlmostEqual(loss["monte_carlo"]["interval"][0], -50e-6 * numpy.log(0.975), delta=0.1e-6)
        self.assertAlmostEqual(loss["monte_carlo"]["interval"][1], -50e-6 * numpy.log(0.025), delta=1e-6)
        self.assertFalse(loss["monte_carlo"]["validated"])

    def test_comparison_of_masses(self):
        # JCGM 101:2008, 9.3: first order u = 0.0539 mg, Monte Carlo 0.0754 mg (exactly 0.07548), not validated.
        mass = self.found["mass"]
        self.assertAlmostEqual(mass["standard_uncertainty"], 0.05385164807134505, places=10)
        self.assertAlmostEqual(mass["monte_carlo"]["standard_uncertainty"], 0.07547973995541976, delta=2e-4)
        self.assertAlmostEqual(mass["monte_carlo"]["interval"][0], 1.0844332987820622, delta=1e-3)
        self.assertFalse(mass["monte_carlo"]["validated"])
        self.assertEqual(mass["monte_carlo"]["validation"]["delta"], 0.005)

    def test_resistance_and_reactance(self):
        # JCGM 100:2008, H.2: u(R) = 0.071 ohm; u(X) printed 0.295, exactly 0.29558.
        for name, value, u in (("resistance", 127.732, 0.07107140739699516), ("reactance", 219.847, 0.2955816773586383)):
            self.assertAlmostEqual(self.found[name]["value"], value, delta=5e-4)
            self.assertAlmostEqual(self.found[name]["standard_uncertainty"], u, delta=1e-8)
            self.assertEqual(self.found[name]["effective_degrees_of_freedom"], 4)
            self.assertTrue(self.found[name]["monte_carlo"]["validated"])

    def test_caliper(self):
        # EA-4/02, S10: exact convolution of all inputs 59.3214 um at 95 %, k = 1.83.
        trials = self.found["caliper"]["monte_carlo"]
        half = (trials["interval"][1] - trials["interval"][0]) / 2
        self.assertAlmostEqual(half, 59.32137867455604, delta=0.1)
        self.assertAlmostEqual(half / trials["standard_uncertainty"], 1.83, delta=0.005)

    def test_correlated_sum(self):
        self.assertAlmostEqual(self.found["correlated"]["standard_uncertainty"], numpy.sqrt(37), places=12)
        self.assertAlmostEqual(self.found["correlated"]["monte_carlo"]["standard_uncertainty"], numpy.sqrt(37), delta=0.02)

    def test_shared_readings_are_one_input(self):
        lines = [{line["input"] for line in self.found[name]["budget"]} for name in ("resistance", "reactance")]
        self.assertEqual(lines[0], lines[1])


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], verbosity=1)
