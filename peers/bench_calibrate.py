"""A linear calibration with the Fieller interval of one unknown in statsmodels. Data: see the example's header."""

import numpy as np
import statsmodels.api as sm
from scipy import stats

from bench_kernel import uniform
from timing import best_ns, require_agreement

LEVELS = np.repeat([0.0, 10.0, 25.0, 50.0, 75.0, 100.0], 3)


def data(n_studies):
    k = np.arange(n_studies)
    noise = 4.0 * uniform(19 * k[:, None] + np.arange(19))
    signals = (3.0 + 2.0 * LEVELS) + noise[:, :18]
    unknowns = 3.0 + 2.0 * (20.0 + 60.0 * ((k % 97) / 97.0)) + noise[:, 18]
    return signals, unknowns


def interval(fit, unknown):
    """Fieller's interval of one reading from a fitted line with intercept: the roots of a quadratic in the level."""
    a, b = fit.params
    c = fit.normalized_cov_params
    t2s2 = stats.t.ppf(0.975, fit.df_resid) ** 2 * fit.scale
    q2 = b * b - t2s2 * c[1, 1]
    q1 = -2.0 * (b * (unknown - a) + t2s2 * c[0, 1])
    q0 = (unknown - a) ** 2 - t2s2 * (1.0 + c[0, 0])
    root = np.sqrt(q1 * q1 - 4.0 * q2 * q0)
    return (-q1 - root) / (2.0 * q2) + (unknown - a) / b + (-q1 + root) / (2.0 * q2)


def line(design, y):
    """The fit with what Stillwell's holds as well: statsmodels computes these only when they are asked for."""
    fit = sm.OLS(y, design).fit()
    fit.bse, fit.rsquared, fit.ssr, fit.centered_tss, fit.fittedvalues, fit.resid
    fit.get_influence().hat_matrix_diag
    return fit


def bare(design, y, unknown):
    return interval(line(design, y), unknown)


def judged(design, bent_design, y, unknown):
    """The line with the tests that a calibration is accepted by: lack of fit, Mandel, equal spread, levels read back."""
    fit = line(design, y)
    bent = sm.OLS(y, bent_design).fit()
    by_level = y.reshape(6, 3)
    means, variances = by_level.mean(axis=1), by_level.var(axis=1, ddof=1)
    pure = 2.0 * variances.sum()
    stats.f.sf((fit.ssr - pure) / 4 / (pure / 12), 4, 12)
    stats.f.sf((fit.ssr - bent.ssr) / bent.scale, 1, 15)
    stats.f.sf(max(variances[0], variances[-1]) / min(variances[0], variances[-1]), 2, 2)
    share = variances.max() / variances.sum()
    6.0 * stats.f.sf(5.0 * share / (1.0 - share), 2, 10)
    (means - fit.params[0]) / fit.params[1]
    return interval(fit, unknown)


def run(run_example, quick):
    n_studies, n_few, repeat = (500, 50, 3) if quick else (5_000, 500, 7)
    signals, unknowns = data(n_few)
    design = np.column_stack([np.ones(18), LEVELS])
    bent_design = np.column_stack([design, LEVELS**2])
    ours = run_example("calibrate", "bench_calibrate", ["--studies", n_studies, "--repeat", repeat])
    few = run_example("calibrate", "bench_calibrate", ["--studies", n_few, "--repeat", 1])
    jobs = [
        ("line, covariance, residuals, leverage, t quantile, Fieller interval", "fit_and_inverse_ns", lambda y, u: bare(design, y, u), 100),
        ("the same with lack of fit, Mandel, equal spread, levels read back", "ns_per_study", lambda y, u: judged(design, bent_design, y, u), None),
    ]
    rows, apart = [], []
    for name, key, work, wanted in jobs:
        ns, checksum = best_ns(repeat, lambda: sum(work(y, u) for y, u in zip(signals, unknowns)))
        apart.append(require_agreement(name, few["checksum"], checksum, 1e-9))
        batch = f"{n_studies} studies × 18 electrode means"
        rival = f"statsmodels OLS ({n_few} studies)"
        rows.append(dict(job=f"calibration: {name}; per study", batch=batch, ours=ours[key], rival=rival, theirs=ns / n_few, wanted=wanted))
    return rows, [f"Calibration: checksums agree to {max(apart):.0e}."]
