"""The kernel's work in SciPy scan by scan, in NumPy on many scans at once, and in pybaselines. Data: see the example's header."""

import numpy as np
from pybaselines import Baseline
from scipy.signal import savgol_coeffs, savgol_filter

from timing import best_ns, require_agreement

WINDOW, DEGREE = 11, 2
STIFFNESS, ASYMMETRY, MAX_SOLUTIONS = 1e5, 0.01, 50
# Scans worked on together so that they stay in the processor's cache.
BLOCK = 32


def uniform(n):
    """The hash of the example's header for an array of whole numbers."""
    mask = np.uint64(0xFFFFFFFF)
    h = (n.astype(np.uint64) * np.uint64(2654435761)) & mask
    h ^= h >> np.uint64(15)
    h = (h * np.uint64(2246822519)) & mask
    h ^= h >> np.uint64(13)
    return h.astype(np.float64) / 4294967296.0 - 0.5


def data(n_scans, n_points):
    x = np.arange(n_points) / (n_points - 1)
    potential_v = -0.2 - 1.0 * x
    blank_a = -1e-6 * (1.0 + 2.0 * x + x * x)
    height = 1e-6 * (1.0 + (np.arange(n_scans) % 97) / 97.0)
    t = (x - 0.5) / 0.08
    noise = uniform(np.arange(n_scans * n_points).reshape(n_scans, n_points))
    current_a = blank_a - 2e-7 * (1.0 + x) - height[:, None] * (1.0 / (1.0 + t * t)) + 2e-8 * noise
    return potential_v, blank_a, current_a


def vertex_height(y):
    """Height of the parabola through three neighbouring values (arrays allowed): y[0], y[1], y[2]."""
    slope, curvature = 0.5 * (y[2] - y[0]), y[2] - 2.0 * y[1] + y[0]
    return y[1] - 0.5 * slope * slope / curvature


def scan_by_scan(potential_v, blank_a, current_a, baseline):
    """One scan after the other through SciPy's smoothing; returns the sum of the heights."""
    n = len(potential_v)
    first, last = n // 4, 3 * n // 4
    total = 0.0
    for scan in current_a:
        smoothed = savgol_filter(scan - blank_a, WINDOW, DEGREE, mode="interp")
        corrected = baseline(smoothed) - smoothed
        at = first + int(np.argmax(corrected[first:last]))
        total += vertex_height(corrected[at - 1 : at + 2])
    return total


def line_through_tenths(potential_v):
    tenth = len(potential_v) // 10
    v0, v1 = potential_v[:tenth].mean(), potential_v[-tenth:].mean()
    share = (potential_v - v0) / (v1 - v0)

    def line(smoothed):
        i0, i1 = smoothed[..., :tenth].mean(axis=-1), smoothed[..., -tenth:].mean(axis=-1)
        return i0[..., None] + (i1 - i0)[..., None] * share

    return line


def edge_weights(half):
    """Rows that give the first window's polynomial at its first `half` points."""
    t = np.arange(-half, half + 1)
    powers = t[:, None] ** np.arange(DEGREE + 1)
    return (powers @ np.linalg.pinv(powers))[:half]


def smoothed_by_scipy(block):
    return savgol_filter(block, WINDOW, DEGREE, axis=1, mode="interp")


class SmoothedBySlices:
    """Shifted copies of all scans added up: whole-array arithmetic into buffers that are used again."""

    def __init__(self, n_points):
        self.half = WINDOW // 2
        self.weights = savgol_coeffs(WINDOW, DEGREE)[: self.half + 1]
        self.edge = edge_weights(self.half)
        self.out = np.empty((BLOCK, n_points))
        self.pair = np.empty((BLOCK, n_points - 2 * self.half))

    def __call__(self, block):
        half, rows, n = self.half, *block.shape
        out, pair = self.out[:rows], self.pair[:rows]
        inside = out[:, half : n - half]
        np.multiply(block[:, half : n - half], self.weights[half], out=inside)
        for k in range(half):
            np.add(block[:, k : n - 2 * half + k], block[:, 2 * half - k : n - k], out=pair)
            pair *= self.weights[k]
            inside += pair
        out[:, :half] = block[:, :WINDOW] @ self.edge.T
        out[:, n - half :] = block[:, -WINDOW:] @ self.edge[::-1, ::-1].T
        return out


class SmoothedByMatrix:
    """One product with the banded matrix of all smoothing weights."""

    def __init__(self, n_points):
        self.operator = savgol_filter(np.eye(n_points), WINDOW, DEGREE, axis=0, mode="interp").T.copy()

    def __call__(self, block):
        return block @ self.operator


def batched(potential_v, blank_a, current_a, smooth):
    n = len(potential_v)
    first, last = n // 4, 3 * n // 4
    line = line_through_tenths(potential_v)
    heights = np.empty(len(current_a))
    rows = np.arange(BLOCK)
    for start in range(0, len(current_a), BLOCK):
        block = current_a[start : start + BLOCK]
        smoothed = smooth(block - blank_a)
        corrected = line(smoothed)
        corrected -= smoothed
        at = first + np.argmax(corrected[:, first:last], axis=1)
        r = rows[: len(block)]
        heights[start : start + len(block)] = vertex_height([corrected[r, at - 1], corrected[r, at], corrected[r, at + 1]])
    return heights.sum()


def asymmetric_baseline(n_points):
    fitter = Baseline(np.arange(n_points), check_finite=False, assume_sorted=True)

    def baseline(smoothed):
        found, _ = fitter.asls(-smoothed, lam=STIFFNESS, p=ASYMMETRY, max_iter=MAX_SOLUTIONS, tol=1e-12)
        return -found

    return baseline


def run(run_example, quick):
    n_scans, n_points, repeat = (970, 600, 2) if quick else (20_000, 600, 7)
    n_few, n_asls = (97, 20) if quick else (970, 194)
    arguments = ["--points", n_points, "--repeat", repeat]
    ours = run_example("evaluate", "bench_kernel", ["--scans", n_scans, *arguments])
    few = run_example("evaluate", "bench_kernel", ["--scans", n_few, "--points", n_points, "--repeat", 1])
    fewest = run_example("evaluate", "bench_kernel", ["--scans", n_asls, "--points", n_points, "--repeat", 1])
    potential_v, blank_a, current_a = data(n_scans, n_points)

    line = line_through_tenths(potential_v)
    scipy_ns, checksum = best_ns(repeat, lambda: scan_by_scan(potential_v, blank_a, current_a[:n_few], line))
    apart = [require_agreement("pipeline", few["pipeline"]["checksum"], checksum, 1e-9)]

    smoothers = {
        "savgol_filter along the axis": smoothed_by_scipy,
        "shifted slices": SmoothedBySlices(n_points),
        "banded matrix": SmoothedByMatrix(n_points),
    }
    batched_ns = {}
    for name, smooth in smoothers.items():
        batched_ns[name], checksum = best_ns(repeat, lambda: batched(potential_v, blank_a, current_a, smooth))
        apart.append(require_agreement(f"batched, {name}", ours["pipeline"]["checksum"], checksum, 1e-9))
    fastest = min(batched_ns, key=batched_ns.get)

    asls_ns, checksum = best_ns(
        max(1, repeat // 3), lambda: scan_by_scan(potential_v, blank_a, current_a[:n_asls], asymmetric_baseline(n_points))
    )
    if fewest["asls"]["refused"]:
        raise SystemExit(f"asls: {fewest['asls']['refused']} scans did not settle; the comparison would be uneven")
    apart.append(require_agreement("asls", fewest["asls"]["checksum"], checksum, 1e-7))

    pipeline, asls = ours["pipeline"], ours["asls"]
    batch = f"{n_scans} scans × {n_points} points"
    megabytes = n_scans * n_points * 8 / 1e6
    numpy_name = f"NumPy, all scans in blocks ({fastest})"
    scipy_name = f"SciPy scan by scan ({n_few} scans)"
    numpy_ns = batched_ns[fastest] / n_scans
    job = "blank, Savitzky–Golay (11, 2), line, peak height; per scan"
    rows = [
        dict(job=job + ", one by one", batch=batch, ours=pipeline["single_ns"], rival=scipy_name, theirs=scipy_ns / n_few),
        dict(job=job + ", AVX2 at run time", batch=batch, ours=pipeline["batch_ns"], rival=scipy_name, theirs=scipy_ns / n_few, wanted=200),
        dict(job=job + ", plain build", batch=batch, ours=pipeline["plain_ns"], rival=numpy_name, theirs=numpy_ns, wanted=4),
        dict(job=job + ", AVX2 at run time", batch=batch, ours=pipeline["batch_ns"], rival=numpy_name, theirs=numpy_ns, wanted=7),
        dict(job=job + ", AVX2", batch=f"{batch}, {megabytes:.0f} MB", ours=pipeline["batch_ns"], rival="copying the same bytes", theirs=ours["copy_ns"], wanted=3, at_most=True),
        dict(job=job + ", AVX2, 8 scans over and over", batch="8 scans", ours=pipeline["in_cache_ns"], rival="copying the same bytes from memory", theirs=ours["copy_ns"], at_most=True),
        dict(job="asymmetric least squares (λ 1e5, p 0.01) after smoothing; per scan", batch=f"{asls['scans']} scans × {n_points} points", ours=asls["batch_ns"], rival=f"pybaselines, asls ({n_asls} scans)", theirs=asls_ns / n_asls, wanted=20),
    ]
    others = ", ".join(f"{name} {ns / n_scans / 1000:.3g} µs" for name, ns in batched_ns.items())
    notes = [f"Kernel: checksums agree to {max(apart):.0e} relative. NumPy's ways, per scan: {others}."]
    return rows, notes
