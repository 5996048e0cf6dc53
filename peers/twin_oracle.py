"""Integrates one couple's diffusion to a plane by SciPy's method of lines, tightly: cases as JSON on stdin, currents on stdout.

Written from Fick's second law and Butler-Volmer's equation, with another division of space than the twin's (Chebyshev
collocation, surface concentrations eliminated from the two flux conditions) and another way through time (Radau IIA with
relative tolerance 1e-8). SI units; reduction currents are negative. A case is
{"k0", "alpha", "d_oxidised", "d_reduced", "bulk", "area", "stretches": [[duration_s, from_v, to_v, [moments, the last at its end]], ...]}
with the formal potential at 0 V and 25 degC; the answer lists the current at all moments of all stretches in order.
"""

import json
import sys

import numpy as np
from scipy.integrate import solve_ivp

FARADAY = 96485.33212331001
PER_VOLT = FARADAY / (8.31446261815324 * 298.15)
NODES = 72
LAYERS = 7.0


def chebyshev(n, length):
    """Nodes from 0 to length and the matrix of the first derivative."""
    k = np.arange(n + 1)
    z = np.cos(np.pi * k / n)
    c = np.where((k == 0) | (k == n), 2.0, 1.0) * (-1.0) ** k
    difference = z[:, None] - z[None, :] + np.eye(n + 1)
    d = np.outer(c, 1 / c) / difference
    d -= np.diag(d.sum(axis=1))
    return (1 - z) * length / 2, -2 / length * d


class Couple:
    def __init__(self, case):
        self.k0, self.alpha = case["k0"], case["alpha"]
        self.d = np.array([case["d_oxidised"], case["d_reduced"]])
        self.bulk = np.array([case["bulk"], 0.0])
        self.scale = FARADAY * case["area"]
        total_s = sum(stretch[0] for stretch in case["stretches"])
        length = LAYERS * np.sqrt(self.d.max() * total_s)
        x, self.slope = chebyshev(NODES, length)
        self.curvature = self.slope @ self.slope
        self.inner = len(x) - 2
        self.y = np.repeat(self.bulk[:, None], self.inner, axis=1)

    def surface(self, y, potential_v):
        """Surface concentrations that satisfy both flux conditions, and the flux of reduction."""
        k_red = self.k0 * np.exp(-self.alpha * PER_VOLT * potential_v)
        k_ox = self.k0 * np.exp((1 - self.alpha) * PER_VOLT * potential_v)
        first = self.slope[0]
        known = self.d * (y @ first[1:-1] + self.bulk * first[-1])
        own = self.d * first[0]
        # D_ox c_ox' = k_red c_ox - k_ox c_red = -D_red c_red', both divided by the rate constants' sum.
        size = k_red + k_ox
        a = np.array([[own[0] - k_red, k_ox], [k_red, own[1] - k_ox]]) / size
        c = np.linalg.solve(a, -known / size)
        return c, known[0] + own[0] * c[0]

    def rate(self, y, potential_v):
        c, _ = self.surface(y, potential_v)
        second = self.curvature[1:-1]
        return self.d[:, None] * (
            y @ second[:, 1:-1].T + np.outer(c, second[:, 0]) + np.outer(self.bulk, second[:, -1])
        )

    def jacobian(self, potential_v):
        zero = self.rate(np.zeros((2, self.inner)), potential_v).ravel()
        columns = np.empty((2 * self.inner, 2 * self.inner))
        for j in range(2 * self.inner):
            unit = np.zeros(2 * self.inner)
            unit[j] = 1.0
            columns[:, j] = self.rate(unit.reshape(2, -1), potential_v).ravel() - zero
        return columns

    def pass_through(self, duration_s, from_v, to_v, moments):
        def potential(t):
            return from_v + (to_v - from_v) * t / duration_s

        def rate(t, y):
            return self.rate(y.reshape(2, -1), potential(t)).ravel()

        jacobian = self.jacobian(from_v) if from_v == to_v else lambda t, _: self.jacobian(potential(t))
        found = solve_ivp(
            rate,
            (0.0, duration_s),
            self.y.ravel(),
            method="Radau",
            jac=jacobian,
            rtol=1e-8,
            atol=1e-10 * self.bulk[0],
            t_eval=np.minimum(moments, duration_s),
        )
        assert found.success, found.message
        self.y = found.y[:, -1].reshape(2, -1)
        surface = (self.surface(y.reshape(2, -1), potential(t)) for t, y in zip(found.t, found.y.T))
        return [-self.scale * flux for _, flux in surface]


def currents(case):
    couple = Couple(case)
    return [current for stretch in case["stretches"] for current in couple.pass_through(*stretch)]


if __name__ == "__main__":
    json.dump([currents(case) for case in json.load(sys.stdin)], sys.stdout)
