"""Monte Carlo of a whole calibration in vectorised NumPy. The model stands in the example's header."""

import numpy as np

from timing import best_ns, require_agreement

LEVELS = np.array([0.0, 10.0, 25.0, 50.0, 75.0, 100.0])


def triangular(random, middle, half, n):
    """As the sum of two rectangular values: twice as fast as the library's own triangular draws."""
    return (middle - half) + half * (random.random(n) + random.random(n))


def draws(random, n):
    """Concentrations of n trials. The signals of a level are summed as they come: no array larger than n by 3."""
    shared = triangular(random, 1.0, 0.005, n)
    sx = sy = sxx = sxy = 0.0
    centre = LEVELS.mean()
    for level in LEVELS:
        signals = random.standard_normal((3, n)).sum(axis=0) * 1.2 + 3.0 * (3.0 + 2.0 * level)
        x = level * shared * random.uniform(0.996, 1.004, n) - centre
        sx = sx + x
        sy = sy + signals
        sxx = sxx + x * x
        sxy = sxy + x * signals
    sx, sxx = 3.0 * sx, 3.0 * sxx
    mean_x, mean_y = sx / 18.0, sy / 18.0
    slope = (sxy - mean_x * sy) / (sxx - mean_x * sx)
    sample = 93.0 + 0.7 * random.standard_normal(n) - 0.3 * random.standard_normal(n)
    sample *= random.uniform(0.99, 1.01, n)
    return (centre + mean_x + (sample - mean_y) / slope) * triangular(random, 2.0, 0.01, n)


def summary(values):
    n = len(values)
    ends = [int(0.025 * n) - 1, int(0.975 * n) - 1]
    ordered = np.partition(values, ends)
    return values.mean(), values.std(ddof=1), ordered[ends[0]], ordered[ends[1]]


def whole(n, generator):
    return summary(draws(np.random.Generator(generator(1)), n))


def in_blocks(n, generator, size):
    random = np.random.Generator(generator(1))
    values = np.empty(n)
    for start in range(0, n, size):
        stop = min(start + size, n)
        values[start:stop] = draws(random, stop - start)
    return summary(values)


def run(run_example, quick):
    n, repeat = (100_000, 2) if quick else (1_000_000, 5)
    ours = run_example("assure", "bench_monte_carlo", ["--trials", n, "--repeat", repeat + 2, "--threads", 2])
    ways = {
        "whole columns, PCG64": lambda: whole(n, np.random.PCG64),
        "whole columns, SFC64": lambda: whole(n, np.random.SFC64),
        "blocks of 2,000, SFC64": lambda: in_blocks(n, np.random.SFC64, 2_000),
        "blocks of 10,000, SFC64": lambda: in_blocks(n, np.random.SFC64, 10_000),
        "blocks of 50,000, SFC64": lambda: in_blocks(n, np.random.SFC64, 50_000),
    }
    timed = {}
    for name, way in ways.items():
        ns, found = best_ns(repeat, way)
        timed[name] = ns / n
        # Other random numbers: mean, standard deviation and ends agree as far as so many trials settle them.
        for key, value in zip(["mean", "u", "low", "high"], found):
            require_agreement(f"Monte Carlo, {key}", ours[key], float(value), 0.02 if key == "u" else 0.002)
    fastest = min(timed, key=timed.get)
    rows = [
        dict(
            job="Monte Carlo through a whole calibration (29 quantities, line, interval); per trial",
            batch=f"{n} trials",
            ours=ours["ns_per_trial"],
            rival=f"NumPy, {fastest}",
            theirs=timed[fastest],
            wanted=3,
        ),
        dict(
            job="the same on two threads, the same bits; per trial",
            batch=f"{n} trials",
            ours=ours["ns_per_trial_threads"],
            rival="Stillwell on one thread",
            theirs=ours["ns_per_trial"],
        ),
    ]
    all_ways = ", ".join(f"{name} {ns:.0f} ns" for name, ns in timed.items())
    return rows, [f"Monte Carlo in NumPy: {all_ways} a trial."]
