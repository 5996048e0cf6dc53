"""Timing shared by the benchmark's parts: the best of several runs, and the comparison of checksums."""

import statistics
import time


def best_ns(repeat, work):
    """Shortest time of `repeat` runs in nanoseconds, and the last result."""
    best, result = float("inf"), None
    for _ in range(repeat):
        start = time.perf_counter_ns()
        result = work()
        best = min(best, time.perf_counter_ns() - start)
    return best, result


def median_ns(repeat, work):
    """Median time of `repeat` runs in nanoseconds, and the last result."""
    times, result = [], None
    for _ in range(repeat):
        start = time.perf_counter_ns()
        result = work()
        times.append(time.perf_counter_ns() - start)
    return statistics.median(times), result


def processor_ns(repeat, work):
    """Shortest processor time of `repeat` runs in nanoseconds, and the last result: for runs that other work interrupts."""
    best, result = float("inf"), None
    for _ in range(repeat):
        start = time.process_time_ns()
        result = work()
        best = min(best, time.process_time_ns() - start)
    return best, result


def require_agreement(name, ours, theirs, limit):
    apart = abs(ours - theirs) / max(abs(theirs), 1e-300)
    if not apart <= limit:
        raise SystemExit(f"{name}: checksums differ: Stillwell {ours!r}, Python {theirs!r}, {apart:.1e} apart")
    return apart
