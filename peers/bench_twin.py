"""A square-wave scan of one reversible couple by SciPy's method of lines, against the twin at equal error.

    peers/.venv/bin/python peers/bench_twin.py            # 600 steps, about a minute
    peers/.venv/bin/python peers/bench_twin.py --quick    # 60 steps

The scan is that of the header of `bench_twin`; both errors are against its exact solution. The rival is written as one would
who knows the library: the twin's own expanding grid, concentrations node by node so that the Jacobian is banded, the exact
Jacobian given, one call for each half cycle since the potential jumps between them. The twin is timed at the coarsest
whole refinement that is at least as exact as the rival's run.
"""

import sys
import time

import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import dia_matrix

PER_VOLT = 96485.33212331001 / (8.31446261815324 * 298.15)
D, HALF_S, K0, AMPLITUDE_V = 1e-9, 0.02, 1.0, 0.025

# Method, relative tolerance, nodes per layer, growth of the grid: the best of some tried for each method.
RIVALS = [
    ("LSODA", 1e-3, 16, 1.25),
    ("LSODA", 3e-4, 16, 1.25),
    ("LSODA", 1e-3, 12, 1.12),
    ("Radau", 1e-2, 16, 1.25),
    ("BDF", 3e-4, 16, 1.25),
]


def grid(first, growth, length):
    n = int(np.ceil(np.log(1 + length / first * (growth - 1)) / np.log(growth)))
    scale = length / (growth**n - 1)

    def at(y):
        return scale * (growth**y - 1)

    y = np.arange(n + 1)
    faces = np.concatenate([[0.0], at(y[1:] - 0.5), [length]])
    return at(y), np.diff(faces)


def potentials(n_steps):
    stair = 0.0005 * n_steps - 0.001 * np.arange(n_steps)
    both = np.empty(2 * n_steps)
    both[0::2], both[1::2] = stair - AMPLITUDE_V, stair + AMPLITUDE_V
    return both


def exact(potential_v):
    share = 1 / (1 + np.exp(-PER_VOLT * potential_v))
    drops = -np.diff(np.concatenate([[1.0], share]))
    n = len(potential_v)
    return np.convolve(drops, 1 / np.sqrt(np.arange(1, n + 1)))[:n]


def bands(volume, conductance):
    """Diffusion of both species, interleaved, as five bands: entry (2 + i - j, j) is the derivative of i by j."""
    n = len(volume)
    down, up = np.concatenate([[0.0], conductance]), np.concatenate([conductance, [0.0]])
    matrix = np.zeros((5, 2 * n))
    for species in (0, 1):
        matrix[2, species::2] = -(down + up) / volume
        matrix[0, 2 + species :: 2] = (up / volume)[:-1]
        matrix[4, species : 2 * n - 2 : 2] = (down / volume)[1:]
    return matrix


def simulate(n_steps, method, tolerance, nodes_per_layer, growth):
    """Dimensionless flux at the end of each half cycle."""
    first, length = np.sqrt(D * HALF_S) / nodes_per_layer, 6 * np.sqrt(D * 2 * n_steps * HALF_S)
    x, volume = grid(first, growth, length)
    n, conductance = len(x), D / np.diff(x)
    diffusion = bands(volume, conductance)
    y = np.zeros(2 * n)
    y[0::2] = 1.0
    fluxes = []
    for potential_v in potentials(n_steps):
        red, ox = K0 * np.exp(-0.5 * PER_VOLT * potential_v), K0 * np.exp(0.5 * PER_VOLT * potential_v)

        def rate(t, y):
            c = y.reshape(n, 2)
            flow = conductance[:, None] * (c[1:] - c[:-1])
            change = np.zeros_like(c)
            change[:-1] = flow
            change[1:] -= flow
            taken = red * c[0, 0] - ox * c[0, 1]
            change[0, 0] -= taken
            change[0, 1] += taken
            return (change / volume[:, None]).ravel()

        jacobian = diffusion.copy()
        jacobian[2, 0] -= red / volume[0]
        jacobian[2, 1] -= ox / volume[0]
        jacobian[1, 1] += ox / volume[0]
        jacobian[3, 0] += red / volume[0]
        if method == "LSODA":
            settings = dict(lband=2, uband=2, jac=lambda t, y: jacobian)
        else:
            settings = dict(jac=dia_matrix((jacobian, [2, 1, 0, -1, -2]), shape=(2 * n, 2 * n)).tocsc())
        found = solve_ivp(
            rate, (0, HALF_S), y, method=method, rtol=tolerance, atol=0.01 * tolerance, t_eval=[HALF_S], **settings
        )
        y = found.y[:, -1]
        # What enters the surface node by diffusion less what it keeps: the flux, without cancellation of large numbers.
        fluxes.append(conductance[0] * (y[2] - y[0]) - volume[0] * rate(0, y)[0])
    return np.array(fluxes) / np.sqrt(D / (np.pi * HALF_S))


def error(fluxes, n_steps):
    true = exact(potentials(n_steps))
    found, wanted = fluxes[0::2] - fluxes[1::2], true[0::2] - true[1::2]
    return np.abs(found - wanted).max() / wanted.max()


def run(run_example, quick):
    n_steps, repeat = (60, 5) if quick else (600, 20)
    ours = [run_example("twin", "bench_twin", ["--steps", n_steps, "--finer", finer, "--repeat", repeat]) for finer in range(1, 6)]
    rows, notes = [], []
    for method, tolerance, nodes_per_layer, growth in RIVALS:
        start = time.perf_counter()
        fluxes = simulate(n_steps, method, tolerance, nodes_per_layer, growth)
        seconds = time.perf_counter() - start
        theirs = error(fluxes, n_steps)
        equal = next((one for one in ours if one["error"] <= theirs), None)
        if equal is None:
            raise SystemExit(f"{method} at {tolerance}: error {theirs:.1e}, finer than any of ours")
        rival = f"SciPy {method}, rtol {tolerance:g}"
        rows.append(
            dict(job=f"simulating a square wave to {theirs:.1e} of its peak", batch=f"{n_steps} steps", ours=equal["seconds_per_scan"] * 1e9, rival=rival, theirs=seconds * 1e9, wanted=500)
        )
    many = run_example("twin", "bench_twin", ["--steps", n_steps, "--scans", 40 if quick else 1000, "--repeat", 1])
    if not many["same_bytes"]:
        raise SystemExit("scans over all cores have other bytes than one after the other")
    notes.append(
        f"Simulating: {many['scans']} scans take {many['alone_s']:.2f} s on one thread, {many['together_s']:.2f} s on {many['threads']}, same bytes."
    )
    return rows, notes


if __name__ == "__main__":
    from bench import run_example

    rows, notes = run(run_example, "--quick" in sys.argv[1:])
    for row in rows:
        print(f"{row['job']}, {row['batch']}: {row['rival']} {row['theirs'] / 1e9:.3f} s, Stillwell {row['ours'] / 1e6:.3f} ms, ratio {row['theirs'] / row['ours']:.0f}")
    print(*notes, sep="\n")
