"""Answers test cases with general-purpose libraries: a list of cases as JSON on stdin, a list of answers on stdout.

Each case is {"kind": NAME, ...}; NAME is a function below or in quality_oracle.py, its other keys are that function's
arguments. What is asked is written from the definition or handed to a library, never translated from the Rust code.
Potentials are in V, currents in A, levels in the unit of the case.
"""

import json
import sys

import numpy as np

from quality_oracle import (  # noqa: F401 - kinds of cases
    censored_likelihood,
    components,
    deming,
    dixon,
    equivalence,
    equivalence_power,
    kaplan_meier,
    limits,
    order_regression,
    signed_rank,
    trend,
)


# Distributions ------------------------------------------------------------------------------------------------------


def student_t(t, p, df):
    from scipy import stats

    return {"cdf": stats.t.cdf(t, df), "sf": stats.t.sf(t, df), "quantile": stats.t.ppf(p, df)}


def fisher_f(f, p, d1, d2):
    from scipy import stats

    return {"cdf": stats.f.cdf(f, d1, d2), "sf": stats.f.sf(f, d1, d2), "quantile": stats.f.ppf(p, d1, d2)}


def chi_squared(x, p, df):
    from scipy import stats

    return {"cdf": stats.chi2.cdf(x, df), "sf": stats.chi2.sf(x, df), "quantile": stats.chi2.ppf(p, df)}


def normal(z, p):
    from scipy import stats

    return {"cdf": stats.norm.cdf(z), "density": stats.norm.pdf(z), "quantile": stats.norm.ppf(p)}


def noncentral_t(t, df, delta):
    from scipy import stats

    return {"cdf": stats.nct.cdf(t, df, delta)}


def noncentrality(df, alpha, beta):
    """The shift at which a t test of size alpha misses with probability beta."""
    from scipy import optimize, stats

    t = stats.t.ppf(1 - alpha, df)

    def excess(delta):
        return stats.nct.cdf(t, df, delta) - beta

    above = 1.0
    while excess(above) > 0:
        above *= 1.5
    return {"delta": optimize.brentq(excess, 0.0, above, xtol=1e-13, rtol=1e-15)}


def incomplete(a, b, x, g):
    from scipy import special

    return {
        "beta": special.betainc(a, b, x),
        "gamma": special.gammainc(a, g),
        "ln_gamma": special.gammaln(a),
    }


# Spread -------------------------------------------------------------------------------------------------------------


def nested_anova(classes):
    """classes[level][electrode] = scans; sums of squares straight from their definition, in extended precision."""
    from scipy import stats

    groups = [[np.array(g, dtype=np.longdouble) for g in c] for c in classes]
    ss_between = ss_within = not_shared = np.longdouble(0)
    df_between = df_within = 0
    for c in groups:
        n = sum(len(g) for g in c)
        class_mean = np.concatenate(c).sum() / n
        for g in c:
            ss_between += len(g) * (g.mean() - class_mean) ** 2
            ss_within += ((g - g.mean()) ** 2).sum()
        df_between += len(c) - 1
        df_within += n - len(c)
        not_shared += n - sum(len(g) ** 2 for g in c) / np.longdouble(n)
    ms_between, ms_within = ss_between / df_between, ss_within / df_within
    n0 = not_shared / df_between
    f = float(ms_between / ms_within)
    return {
        "ss_between": float(ss_between),
        "ss_within": float(ss_within),
        "n0": float(n0),
        "within": float(ms_within),
        "between": float((ms_between - ms_within) / n0),
        "f": f,
        "p": stats.f.sf(f, df_between, df_within),
    }


def one_way_anova(groups):
    from scipy import stats

    f, p = stats.f_oneway(*groups)
    return {"f": f, "p": p}


def levene(groups):
    from scipy import stats

    f, p = stats.levene(*groups, center="median")
    return {"f": f, "p": p}


# Fits ---------------------------------------------------------------------------------------------------------------


def fit(x, y, exponents, weights):
    import statsmodels.api as sm

    x, y = np.array(x), np.array(y)
    design = np.column_stack([x**e for e in exponents])
    model = sm.WLS(y, design, weights=1.0 if weights is None else np.array(weights))
    found = model.fit(method="qr")
    w = np.ones_like(x) if weights is None else np.array(weights)
    q, _ = np.linalg.qr(design * np.sqrt(w)[:, None])
    return {
        "coefficients": found.params.tolist(),
        "standard_errors": found.bse.tolist(),
        "unscaled_covariance": found.normalized_cov_params.ravel().tolist(),
        "residuals": found.resid.tolist(),
        "residual_sd": float(np.sqrt(found.scale)),
        "r_squared": found.rsquared,
        "leverage": (q**2).sum(axis=1).tolist(),
    }


def _shape(model, x):
    """Value and gradient of one of the models that the tests search."""
    one = np.ones_like(x)
    if model == "decay":
        return (
            lambda p: p[0] * np.exp(-p[1] * x) + p[2],
            lambda p: np.column_stack([np.exp(-p[1] * x), -p[0] * x * np.exp(-p[1] * x), one]),
        )
    if model == "peak":
        def bell(p):
            return np.exp(-(((x - p[1]) / p[2]) ** 2))

        def far(p):
            return (x - p[1]) / p[2]

        return (
            lambda p: p[0] * bell(p) + p[3] + p[4] * x,
            lambda p: np.column_stack(
                [bell(p), 2 * p[0] * bell(p) * far(p) / p[2], 2 * p[0] * bell(p) * far(p) ** 2 / p[2], one, x]
            ),
        )
    if model == "saturation":
        return (
            lambda p: p[0] * x / (p[1] + x),
            lambda p: np.column_stack([x / (p[1] + x), -p[0] * x / (p[1] + x) ** 2]),
        )
    if model == "bent logarithm":
        return (
            lambda p: p[0] + p[1] * np.log10(x + p[2]),
            lambda p: np.column_stack([one, np.log10(x + p[2]), p[1] / np.log(10) / (x + p[2])]),
        )
    raise ValueError(model)


def nonlinear(model, x, y, weights, start):
    root = np.ones(len(y)) if weights is None else np.sqrt(np.array(weights))
    return _searched(*_shape(model, np.array(x)), np.array(y), root, start)


def electrode(activities, terms, potentials, t, start):
    """E = E0 + S log10(a + sum 10^k_j t_j), terms[row][j] = t_j."""
    a, terms = np.array(activities), np.array(terms)

    def total(p):
        return a + terms @ 10 ** p[2:]

    def gradient(p):
        shares = p[1] * terms * 10 ** p[2:] / total(p)[:, None]
        return np.column_stack([np.ones_like(a), np.log10(total(p)), shares])

    found = _searched(
        lambda p: p[0] + p[1] * np.log10(total(p)), gradient, np.array(potentials), np.ones_like(a), start
    )
    ends = t * np.array(found["standard_errors"])
    found["low"] = (np.array(found["parameters"]) - ends).tolist()
    found["high"] = (np.array(found["parameters"]) + ends).tolist()
    return found


def _searched(value, gradient, y, root, start):
    """SciPy's search stops where the squares show nothing any more, some 1e-7 standard errors away; undamped
    Gauss-Newton steps go on from there."""
    from scipy.optimize import least_squares

    found = least_squares(
        lambda p: root * (value(p) - y),
        start,
        jac=lambda p: root[:, None] * gradient(p),
        method="trf",
        x_scale="jac",
        ftol=None,
        gtol=None,
        xtol=1e-15,
        max_nfev=1000,
    )
    at = found.x
    for _ in range(20):
        jacobian = root[:, None] * gradient(at)
        norms = np.sqrt((jacobian**2).sum(axis=0))
        at = at + np.linalg.lstsq(jacobian / norms, root * (y - value(at)), rcond=None)[0] / norms
    triangle = np.linalg.qr(root[:, None] * gradient(at), mode="r")
    inverse = np.linalg.inv(triangle)
    covariance = inverse @ inverse.T
    sd = np.sqrt(((root * (y - value(at))) ** 2).sum() / (len(y) - len(start)))
    return {
        "parameters": at.tolist(),
        "standard_errors": (sd * np.sqrt(np.diag(covariance))).tolist(),
        "unscaled_covariance": covariance.ravel().tolist(),
        "residual_sd": float(sd),
    }


# From a signal back to a level --------------------------------------------------------------------------------------


def _prediction_variance(x, covariance, residual_sd, relative_variance, electrodes, extra):
    c = np.array(covariance, dtype=np.longdouble)
    row = np.array([1, x, x * x], dtype=np.longdouble)
    return residual_sd**2 * relative_variance / electrodes + extra + residual_sd**2 * (row @ c @ row)


def fieller(coefficients, covariance, residual_sd, t, relative_variance, electrodes, extra, signal):
    """Both roots of (y - a - b x)^2 = t^2 var(y - a - b x), the polynomial in x multiplied out, in extended precision."""
    a, b = (np.longdouble(v) for v in coefficients[:2])
    c = np.array(covariance, dtype=np.longdouble)
    t, s, y = np.longdouble(t), np.longdouble(residual_sd), np.longdouble(signal)
    t2s2 = t * t * s * s
    fixed = t * t * (s * s * relative_variance / electrodes + np.longdouble(extra))
    q2 = b * b - t2s2 * c[1][1]
    q1 = -2 * (b * (y - a) + t2s2 * c[0][1])
    q0 = (y - a) ** 2 - fixed - t2s2 * c[0][0]
    root = np.sqrt(q1 * q1 - 4 * q2 * q0)
    ends = sorted(float((-q1 + sign * root) / (2 * q2)) for sign in (-1, 1))
    return {"value": float((y - a) / b), "low": ends[0], "high": ends[1]}


def band_of_quadratic(coefficients, covariance, residual_sd, t, relative_variance, electrodes, extra, signal, between):
    """Where the signal meets the curve and the two edges of its prediction band, by bracketing, on a rising branch."""
    from scipy import optimize

    def curve(x):
        return coefficients[0] + coefficients[1] * x + coefficients[2] * x * x

    def half_width(x):
        v = _prediction_variance(x, covariance, residual_sd, relative_variance, electrodes, extra)
        return t * float(np.sqrt(v))

    def root(f):
        return optimize.brentq(f, between[0], between[1], xtol=1e-14, rtol=1e-15)

    return {
        "value": root(lambda x: curve(x) - signal),
        "low": root(lambda x: curve(x) + half_width(x) - signal),
        "high": root(lambda x: curve(x) - half_width(x) - signal),
    }


# Calibration --------------------------------------------------------------------------------------------------------


def calibration(levels, electrodes, signals, degree, inverse_level, coverage, sample, limits):
    """Everything from scans of standards to a sample's interval and the limits, on electrode means, with statsmodels."""
    import pandas
    import statsmodels.api as sm
    from scipy import optimize, stats

    scans = pandas.DataFrame({"level": levels, "electrode": electrodes, "signal": signals})
    means = scans.groupby(["level", "electrode"], sort=True)["signal"].mean().reset_index()
    x, y = means["level"].to_numpy(), means["signal"].to_numpy()
    w = 1 / x if inverse_level else np.ones_like(x)

    def fitted(degree):
        return sm.WLS(y, np.vander(x, degree + 1, increasing=True), weights=w).fit(method="qr")

    fit = fitted(degree)
    n, s = len(x), float(np.sqrt(fit.scale))
    pure = sum((group["w"] * (group["y"] - group["y"].mean()) ** 2).sum() for _, group in pandas.DataFrame({"x": x, "y": y, "w": w}).groupby("x"))
    n_levels = len(set(x))
    lack_f = (fit.ssr - pure) / (n_levels - degree - 1) / (pure / (n - n_levels))
    answer = {
        "coefficients": fit.params.tolist(),
        "standard_errors": fit.bse.tolist(),
        "r_squared": fit.rsquared,
        "lack_of_fit_f": lack_f,
        "lack_of_fit_p": stats.f.sf(lack_f, n_levels - degree - 1, n - n_levels),
    }
    if degree == 1:
        quadratic = fitted(2)
        mandel = (fit.ssr - quadratic.ssr) / quadratic.scale
        answer |= {"mandel_f": mandel, "mandel_p": stats.f.sf(mandel, 1, n - 3)}

    t = stats.t.ppf(0.5 + coverage / 2, fit.df_resid)
    c = np.zeros((3, 3))
    c[: degree + 1, : degree + 1] = fit.normalized_cov_params
    estimate = (sample["mean"] - fit.params[0]) / fit.params[1]
    if degree == 2:
        estimate = min(r.real for r in np.roots([fit.params[2], fit.params[1], fit.params[0] - sample["mean"]]) if r.real > 0)
    unknown = (fit.params.tolist(), c, s, t, estimate if inverse_level else 1.0, sample["electrodes"], 0.0, sample["mean"])
    answer |= fieller(*unknown) if degree == 1 else band_of_quadratic(*unknown, between=[x.min(), 1.3 * x.max()])

    if degree == 1 and not inverse_level:
        # Standard deviation of a level read from the line, as the standards write it with x-bar and Q.
        q = ((x - x.mean()) ** 2).sum()

        def sd(level):
            return s / abs(fit.params[1]) * np.sqrt(1 / limits["electrodes"] + 1 / n + (level - x.mean()) ** 2 / q)

        df, factor = fit.df_resid, limits["factor"]
        two_sided = stats.t.ppf(1 - limits["alpha"] / 2, df)
        answer["decision"] = stats.t.ppf(1 - limits["alpha"], df) * sd(0.0)
        answer["detection"] = noncentrality(df, limits["alpha"], limits["beta"])["delta"] * sd(0.0)
        answer["quantification"] = optimize.brentq(lambda v: v - factor * two_sided * sd(v), 0, x.max(), xtol=1e-14, rtol=1e-15)
    return answer


# Standard addition --------------------------------------------------------------------------------------------------


def _crossings(a, k, variance, t):
    """Both concentrations at which |a - C k| equals t times the standard error of a - C k, by bracketing outwards."""
    from scipy import optimize

    def excess(c):
        return (a - c * k) ** 2 - t * t * variance(c)

    estimate = a / k
    ends = []
    for direction in (-1.0, 1.0):
        step = 1e-3 * (abs(estimate) + 1.0)
        while excess(estimate + direction * step) < 0:
            step *= 1.5
        low, high = sorted((estimate, estimate + direction * step))
        ends.append(optimize.brentq(excess, low, high, xtol=1e-14, rtol=1e-15))
    return ends


def standard_addition(added, fraction, electrode, signal, stated_sd, followed, coverage):
    """signal = k (C fraction + added) on electrode means; followed electrodes give one line each."""
    import pandas
    import statsmodels.api as sm
    from scipy import stats

    scans = pandas.DataFrame({"added": added, "fraction": fraction, "electrode": electrode, "signal": signal})
    means = scans.groupby(["electrode", "added", "fraction"], sort=True)["signal"].mean().reset_index()
    sd = None if stated_sd is None else dict(stated_sd)
    means["w"] = 1.0 if sd is None else [1 / sd[x] ** 2 for x in means["added"]]

    def line(part):
        return sm.WLS(part["signal"].to_numpy(), part[["fraction", "added"]].to_numpy(), weights=part["w"].to_numpy()).fit(method="qr")

    if followed:
        pairs = np.array([line(part).params for _, part in means.groupby("electrode", sort=True)])
        (a, k), df = pairs.mean(axis=0), len(pairs) - 1
        c = np.cov(pairs.T) / len(pairs)
    else:
        fit = line(means)
        (a, k), df, c = fit.params, int(fit.df_resid), fit.cov_params()
    low, high = _crossings(a, k, lambda x: c[0][0] - 2 * x * c[0][1] + x * x * c[1][1], stats.t.ppf(0.5 + coverage / 2, df))
    return {"value": a / k, "low": low, "high": high, "slope": k, "slope_error": float(np.sqrt(c[1][1])), "df": df}


def slopes_compared(sample, external, further, alpha):
    """Each slope as [value, standard error, degrees of freedom]; further is a relative uncertainty of the first."""
    from scipy import stats

    (k, e, df), (k0, e0, df0) = sample, external
    own, other = e * e + (further * k) ** 2, e0 * e0
    welch = (own + other) ** 2 / (e**4 / df + e0**4 / df0)
    t = (k - k0) / np.sqrt(own + other)
    answer = {"t": t, "df": welch, "p": 2 * stats.t.sf(abs(t), welch)}
    for name, coverage in (("interval", 1 - alpha), ("equivalence", 1 - 2 * alpha)):
        answer[name] = _crossings(k, k0, lambda x: own + x * x * other, stats.t.ppf(0.5 + coverage / 2, welch))
    return answer


# Scan to signal -----------------------------------------------------------------------------------------------------


def savitzky_golay(values, window, degree):
    from scipy.signal import savgol_filter

    return {"smoothed": savgol_filter(values, window, degree, mode="interp").tolist()}


def asymmetric_least_squares(current_a, stiffness, asymmetry, sign):
    from pybaselines import Baseline

    y = sign * np.array(current_a)
    baseline, found = Baseline().asls(y, lam=stiffness, p=asymmetry, diff_order=2, max_iter=200, tol=1e-12)
    return {"baseline": (sign * baseline).tolist(), "settled": bool(found["tol_history"][-1] < 1e-12)}


def _line(potential_v, current_a, ranges):
    points = [(potential_v[a : b + 1].mean(), current_a[a : b + 1].mean()) for a, b in ranges]
    (v0, i0), (v1, i1) = points
    return i0 + (i1 - i0) / (v1 - v0) * (potential_v - v0)


def _minima(potential_v, current_a, ranges, sign):
    points = [a + int(np.argmin(sign * current_a[a : b + 1])) for a, b in ranges]
    (v0, v1), (i0, i1) = potential_v[points], current_a[points]
    return i0 + (i1 - i0) / (v1 - v0) * (potential_v - v0)


def _tangent(potential_v, current_a, window, sign):
    """The edge of the lower convex hull that spans the window's highest point above its own chord."""
    order = np.argsort(potential_v)
    x, y = potential_v[order], (sign * current_a)[order]
    hull = []
    for i in range(len(x)):
        while len(hull) >= 2:
            (p, q) = hull[-2:]
            if (x[q] - x[p]) * (y[i] - y[p]) <= (x[i] - x[p]) * (y[q] - y[p]):
                hull.pop()
            else:
                break
        hull.append(i)
    below = np.interp(x, x[hull], y[hull])
    inside = [int(np.nonzero(order == k)[0][0]) for k in range(window[0], window[1] + 1)]
    peak = max(inside, key=lambda k: y[k] - below[k])
    right = next(k for k in range(len(hull)) if hull[k] > peak)
    p, q = hull[right - 1], hull[right]
    return sign * (y[p] + (y[q] - y[p]) / (x[q] - x[p]) * (potential_v - x[p]))


def _polynomial(potential_v, current_a, ranges, degree):
    use = np.concatenate([np.arange(a, b + 1) for a, b in ranges])
    domain = sorted((potential_v[0], potential_v[-1]))
    fitted = np.polynomial.Polynomial.fit(potential_v[use], current_a[use], degree, domain=domain)
    return fitted(potential_v)


def peak(potential_v, current_a, blank_a, smooth, baseline, ranges, degree, window, sign):
    """Blank, smoothing, baseline, and what a person reads off the peak on the corrected curve."""
    from scipy.signal import savgol_filter

    v = np.array(potential_v)
    subtracted = np.array(current_a) - (0.0 if blank_a is None else np.array(blank_a))
    smoothed = savgol_filter(subtracted, *smooth, mode="interp") if smooth else subtracted
    drawn = {
        "none": lambda: np.zeros_like(v),
        "line": lambda: _line(v, smoothed, ranges),
        "minima": lambda: _minima(v, smoothed, ranges, sign),
        "tangent": lambda: _tangent(v, smoothed, window, sign),
        "polynomial": lambda: _polynomial(v, smoothed, ranges, degree),
    }[baseline]()
    corrected = sign * (smoothed - drawn)
    first, last = window
    at = first + int(np.argmax(corrected[first : last + 1]))
    # Potentials counted from the highest point: fitting far from zero would cost digits.
    c2, c1, c0 = np.polyfit(v[at - 1 : at + 2] - v[at], corrected[at - 1 : at + 2], 2)
    height = c0 - c1 * c1 / (4 * c2)
    residuals = [(subtracted - drawn)[a : b + 1] for a, b in ranges]
    squares = sum(((r - r.mean()) ** 2).sum() for r in residuals)
    areas = 0.5 * (corrected[first:last] + corrected[first + 1 : last + 1]) * np.abs(np.diff(v[first : last + 1]))
    return {
        "smoothed": smoothed.tolist(),
        "baseline": drawn.tolist(),
        "index": at,
        "height": float(height),
        "peak_potential": float(v[at] - c1 / (2 * c2)),
        "half_width": _width(v, corrected, at, 0.5 * height),
        "area_over_window": float(areas.sum()),
        "mean_over_window": float(corrected[first : last + 1].mean()),
        "noise": float(np.sqrt(squares / sum(len(r) - 1 for r in residuals))),
    }


def _width(v, y, at, level):
    """Between the places nearest to the peak where the curve, drawn through its points, passes the level; -1 if open."""
    below = y <= level
    left = [i for i in range(at) if below[i]]
    right = [i for i in range(at + 1, len(y)) if below[i]]
    if not left or not right:
        return -1.0

    def between(i):
        return np.interp(level, *zip(*sorted([(y[i], v[i]), (y[i + 1], v[i + 1])])))

    return float(abs(between(right[0] - 1) - between(left[-1])))


# Uncertainty --------------------------------------------------------------------------------------------------------


def propagation(model, means, uncertainties, correlations):
    """First-order propagation by the package uncertainties, which differentiates the expression itself."""
    from uncertainties import correlated_values_norm, umath

    x = correlated_values_norm(list(zip(means, uncertainties)), np.array(correlations))
    value = {
        "read off": lambda: (x[0] - x[1]) / x[2] * x[3],
        "exponential": lambda: x[0] * umath.exp(-x[1] * x[2]) + x[3],
        "root": lambda: umath.sqrt(x[0] * x[1] + x[2] * x[2]) / x[3],
    }[model]()
    return {"value": value.nominal_value, "u": value.std_dev}


def global_risk(mean, sd, lognormal, u, limit, accept):
    """Both risks by adaptive quadrature over the prior of the water."""
    from scipy import integrate, stats

    prior = stats.lognorm(s=sd, scale=np.exp(mean)) if lognormal else stats.norm(mean, sd)
    quantity = lambda p: prior.ppf(p)
    at_limit = prior.cdf(limit)

    def over(ends, f):
        cuts = [prior.cdf(accept + k * u) for k in (-6, -3, -1, 0, 1, 3, 6)]
        inside = sorted({c for c in cuts if ends[0] < c < ends[1]})
        edges = [ends[0], *inside, ends[1]]
        return sum(integrate.quad(f, a, b, epsabs=1e-12, epsrel=1e-10, limit=200)[0] for a, b in zip(edges, edges[1:]))

    consumer = over((at_limit, 1.0), lambda p: stats.norm.cdf((accept - quantity(p)) / u))
    producer = over((0.0, at_limit), lambda p: stats.norm.sf((accept - quantity(p)) / u))
    return {"consumer": consumer, "producer": producer}


def main():
    cases = json.load(sys.stdin)
    answers = []
    for case in cases:
        kind = case.pop("kind")
        if kind.startswith("_") or kind == "main":
            raise ValueError(f"no kind of case: {kind}")
        answers.append(globals()[kind](**case))
    json.dump(answers, sys.stdout, default=float)


if __name__ == "__main__":
    main()
