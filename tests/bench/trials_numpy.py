"""The model of reading-error.json by vectorised NumPy: trials a second, one thread.

Usage: trials_numpy.py
"""

import time

import numpy

TRIALS = 1_000_000


def run(random):
    def t(mean, u):
        return mean + u * random.standard_t(19, TRIALS)

    def normal(mean, u):
        return random.normal(mean, u, TRIALS)

    def rectangular(mean, half):
        return random.uniform(mean - half, mean + half, TRIALS)

    d, r, r0 = t(102, 0.2), t(100, 0.2), t(0.1, 0.02)
    c, f, k = normal(1.01, 0.005), normal(1, 0.003), normal(0.98, 0.004)
    a, alpha, l = rectangular(0, 0.005), rectangular(0, 0.001), rectangular(1, 0.003)
    g, dz, s = rectangular(1, 0.001), rectangular(0, 0.001), rectangular(1, 0.002)
    e = (d / ((r - r0) * c * (1 + 0.5 * a) * (1 - 3 * alpha) * l * g * f * k * (1 - dz) * s) - 1) * 100
    return e.mean(), e.std(ddof=1), numpy.partition(e, [22750, 977249])[[22750, 977249]]


best = 1e9
for repeat in range(5):
    start = time.perf_counter()
    found = run(numpy.random.default_rng(repeat))
    best = min(best, time.perf_counter() - start)
print(f"NumPy: {TRIALS} trials in {best:.4f} s, {TRIALS / best / 1e6:.1f} million/s (u = {found[1]:.4f})")
