"""A square-wave scan of one reversible couple by SciPy's method of lines, against the twin at equal error.

    peers/.venv/bin/python peers/bench_twin.py            # 600 steps, some minutes
    peers/.venv/bin/python peers/bench_twin.py --quick    # 60 steps

The scan is that of the header of `bench_twin`; both errors are against its exact solution. The rival is written as one would
who knows the library: the twin's own expanding grid, concentrations node by node so that the Jacobian is banded, the exact
Jacobian given, the rate as one matrix product (faster than slices at this size), one call for each half cycle since the
potential jumps between them. `odeint` is the same LSODA as in `solve_ivp` without Python between its steps. Solving for one
species only (both diffuse alike) was tried and was no faster at equal error. Both sides may choose among some divisions of
space and time; the twin is timed at the fastest that is at least as exact as the rival's run. The rival's runs are long
enough to be interrupted by other work, so its processor time counts; the twin's is the best by the clock.
"""

import sys

import numpy as np
from scipy.integrate import odeint, solve_ivp
from scipy.sparse import csc_matrix

from timing import processor_ns

PER_VOLT = 96485.33212331001 / (8.31446261815324 * 298.15)
D, HALF_S, K0, AMPLITUDE_V = 1e-9, 0.02, 1.0, 0.025

# Method, relative tolerance, nodes per layer, growth of the grid: the best of some tried for each method.
RIVALS = [
    ("odeint", 1e-3, 16, 1.25),
    ("odeint", 5e-4, 12, 1.35),
    ("odeint", 3e-4, 16, 1.25),
    ("odeint", 1e-4, 12, 1.35),
    ("LSODA", 1e-3, 16, 1.25),
    ("LSODA", 3e-4, 16, 1.25),
    ("Radau", 1e-2, 16, 1.25),
    ("BDF", 3e-4, 16, 1.25),
]
# Nodes per layer, growth, time steps per pulse of the twin; the default is 16, 1.25, 8.
DIVISIONS = [(24, 1.35, 6), (24, 1.35, 7), (16, 1.25, 8), (24, 1.35, 8), (24, 1.35, 10), (24, 1.25, 12), (32, 1.25, 16)]


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


def diffusion(volume, conductance):
    """The derivative of each concentration by each, both species interleaved."""
    n = len(volume)
    matrix = np.zeros((2 * n, 2 * n))
    for species in (0, 1):
        for inner in range(n - 1):
            i, j = 2 * inner + species, 2 * inner + 2 + species
            flow = conductance[inner]
            matrix[i, i] -= flow / volume[inner]
            matrix[i, j] += flow / volume[inner]
            matrix[j, j] -= flow / volume[inner + 1]
            matrix[j, i] += flow / volume[inner + 1]
    return matrix


def banded(matrix):
    """Entry (2 + i - j, j) is entry (i, j)."""
    n = len(matrix)
    bands = np.zeros((5, n))
    for offset in range(-2, 3):
        j = np.arange(max(0, -offset), min(n, n - offset))
        bands[2 + offset, j] = matrix[j + offset, j]
    return bands


def half_cycle(method, tolerance, matrix, y):
    def rate(t, y):
        return matrix.dot(y)

    tolerances = dict(rtol=tolerance, atol=0.01 * tolerance)
    if method in ("odeint", "LSODA"):
        bands = banded(matrix)
    if method == "odeint":
        jacobian = dict(Dfun=lambda t, y: bands, ml=2, mu=2)
        return odeint(rate, y, (0, HALF_S), tfirst=True, **jacobian, **tolerances)[-1]
    jacobian = dict(lband=2, uband=2, jac=lambda t, y: bands) if method == "LSODA" else dict(jac=csc_matrix(matrix))
    return solve_ivp(rate, (0, HALF_S), y, method=method, t_eval=[HALF_S], **jacobian, **tolerances).y[:, -1]


def simulate(n_steps, method, tolerance, nodes_per_layer, growth):
    """Dimensionless flux at the end of each half cycle."""
    first, length = np.sqrt(D * HALF_S) / nodes_per_layer, 6 * np.sqrt(D * 2 * n_steps * HALF_S)
    x, volume = grid(first, growth, length)
    conductance = D / np.diff(x)
    unforced = diffusion(volume, conductance)
    matrix = unforced.copy()
    y = np.zeros(2 * len(x))
    y[0::2] = 1.0
    fluxes = []
    for potential_v in potentials(n_steps):
        red, ox = K0 * np.exp(-0.5 * PER_VOLT * potential_v), K0 * np.exp(0.5 * PER_VOLT * potential_v)
        taken = np.array([red, -ox]) / volume[0]
        matrix[0, :2] = unforced[0, :2] - taken
        matrix[1, :2] = unforced[1, :2] + taken
        y = half_cycle(method, tolerance, matrix, y)
        # What enters the surface node by diffusion less what it keeps: the flux, without cancellation of large numbers.
        fluxes.append(conductance[0] * (y[2] - y[0]) - volume[0] * matrix[0].dot(y))
    return np.array(fluxes) / np.sqrt(D / (np.pi * HALF_S))


def error(fluxes, n_steps):
    true = exact(potentials(n_steps))
    found, wanted = fluxes[0::2] - fluxes[1::2], true[0::2] - true[1::2]
    return np.abs(found - wanted).max() / wanted.max()


def run(run_example, quick):
    n_steps, repeat = (60, 5) if quick else (600, 50)

    def twin(n_steps, nodes, growth, time_steps, repeat):
        words = ["--nodes", nodes, "--growth", growth, "--time-steps", time_steps]
        return run_example("twin", "bench_twin", ["--steps", n_steps, "--repeat", repeat, *words])

    ours = [(division, twin(n_steps, *division, repeat)) for division in DIVISIONS]
    rows, notes = [], []
    for method, tolerance, nodes, growth in RIVALS:
        again = 5 if method == "odeint" else 1
        nanoseconds, fluxes = processor_ns(again, lambda: simulate(n_steps, method, tolerance, nodes, growth))
        theirs = error(fluxes, n_steps)
        equal = [(one["seconds_per_scan"], division, one["error"]) for division, one in ours if one["error"] <= theirs]
        if not equal:
            raise SystemExit(f"{method} at {tolerance}: error {theirs:.1e}, finer than any of ours")
        seconds, division, reached = min(equal)
        rival = f"SciPy {'odeint' if method == 'odeint' else 'solve_ivp ' + method}, rtol {tolerance:g}, error {theirs:.1e}"
        job = f"simulating a square wave, error {reached:.1e} of its peak"
        batch = f"{n_steps} steps; {division[0]} nodes, {division[1]}, {division[2]} time steps"
        wanted = 500 if method == "odeint" else None
        rows.append(dict(job=job, batch=batch, ours=seconds * 1e9, rival=rival, theirs=nanoseconds, wanted=wanted))
    notes += cost(twin, quick)
    many = run_example("twin", "bench_twin", ["--steps", n_steps, "--scans", 40 if quick else 1000, "--repeat", 1])
    if not many["same_bytes"]:
        raise SystemExit("scans over all cores have other bytes than one after the other")
    notes.append(
        f"Simulating: {many['scans']} scans take {many['alone_s']:.2f} s on one thread, {many['together_s']:.2f} s on {many['threads']}, same bytes."
    )
    return rows, notes


def cost(twin, quick):
    """Nanoseconds per time step and node over a hundredfold of steps and eightfold of nodes."""
    notes = []
    for n_steps in [60, 600] if quick else [60, 600, 6000]:
        for growth in [1.25, 1.25**0.5, 1.25**0.25, 1.25**0.125]:
            one = twin(n_steps, 16, growth, 8, 40)
            nodes = len(grid(np.sqrt(D * HALF_S) / 16, growth, 6 * np.sqrt(D * 2 * n_steps * HALF_S))[0])
            per_step = one["seconds_per_scan"] / one["time_steps"] * 1e9
            notes.append(
                f"Simulating {n_steps} steps on {nodes} nodes: {one['seconds_per_scan'] * 1e3:.3g} ms, {per_step:.0f} ns a time step, "
                f"{per_step / nodes:.2f} ns a time step and node."
            )
    return notes


if __name__ == "__main__":
    from bench import run_example

    rows, notes = run(run_example, "--quick" in sys.argv[1:])
    for row in rows:
        print(f"{row['job']}, {row['batch']}: {row['rival']} {row['theirs'] / 1e9:.3f} s, Stillwell {row['ours'] / 1e6:.3f} ms, ratio {row['theirs'] / row['ours']:.0f}")
    print(*notes, sep="\n")
