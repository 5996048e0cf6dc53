"""What quality over time rests on, answered from definitions and with general-purpose libraries; part of oracle.py.

A trend is counted over pairs, a censored share is passed on from one observation to those below it, a component of variance
comes from the expected values of quadratic forms: other ways than the Rust code takes.
"""

import itertools

import numpy as np


# Trends -------------------------------------------------------------------------------------------------------------


def _tie_sizes(values):
    return np.array([n for n in np.unique(values, return_counts=True)[1] if n > 1], dtype=float)


def _variance_of_score(t, y):
    """Kendall 1976, 4.9."""
    n = len(y)
    tt, ty = _tie_sizes(t), _tie_sizes(y)
    first = (n * (n - 1) * (2 * n + 5) - (tt * (tt - 1) * (2 * tt + 5)).sum() - (ty * (ty - 1) * (2 * ty + 5)).sum()) / 18
    second = (tt * (tt - 1) * (tt - 2)).sum() * (ty * (ty - 1) * (ty - 2)).sum() / (9 * n * (n - 1) * (n - 2))
    third = (tt * (tt - 1)).sum() * (ty * (ty - 1)).sum() / (2 * n * (n - 1))
    return first + second + third


def trend(t, y, coverage):
    from scipy import stats

    t, y = np.array(t), np.array(y)
    pairs = list(itertools.combinations(range(len(t)), 2))
    score = sum(np.sign(t[j] - t[i]) * np.sign(y[j] - y[i]) for i, j in pairs)
    variance = _variance_of_score(t, y)
    z = (score - np.sign(score)) / np.sqrt(variance)
    slopes = np.sort([(y[j] - y[i]) / (t[j] - t[i]) for i, j in pairs if t[i] != t[j]])
    half = stats.norm.ppf(0.5 + coverage / 2) * np.sqrt(variance)
    ranks = np.arange(1, len(slopes) + 1)
    free = len(set(t)) == len(t) and len(set(y)) == len(y)
    return {
        "score": score,
        "variance": variance,
        "p": 2 * stats.norm.sf(abs(z)),
        "exact": stats.kendalltau(t, y, method="exact").pvalue if free else -1.0,
        "slope": stats.theilslopes(y, t)[0],
        "low": np.interp((len(slopes) - half) / 2, ranks, slopes),
        "high": np.interp((len(slopes) + half) / 2 + 1, ranks, slopes),
    }


# Below limits -------------------------------------------------------------------------------------------------------


def kaplan_meier(values, below):
    """Shares by statsmodels on the flipped scale; the mean by passing each hidden share on to what lies below it."""
    from statsmodels.duration.survfunc import SurvfuncRight

    values, below = np.array(values), np.array(below, dtype=bool)
    flip = values.max() + 1.0
    curve = SurvfuncRight(flip - values, ~below)
    found = np.unique(values[~below])
    under = np.array([curve.surv_prob[np.searchsorted(curve.surv_times, flip - v)] for v in found])
    share = np.append(under[1:], 1.0)
    error = np.append(curve.surv_prob_se[::-1][1:], 0.0)
    # At a tie "< x" lies below a found x; the highest gives first.
    order = sorted(range(len(values)), key=lambda i: (values[i], not below[i]))
    mass = {i: 1.0 / len(values) for i in order}
    for place in range(len(order) - 1, -1, -1):
        i = order[place]
        if below[i] and any(not below[j] for j in order[:place]):
            for j in order[:place]:
                mass[j] += mass[i] / place
            mass[i] = 0.0
    return {
        "share": share.tolist(),
        "error": error.tolist(),
        "at_most": sum(mass[i] * values[i] for i in order),
        "at_least": sum(mass[i] * values[i] for i in order if not below[i]),
    }


def order_regression(values, below, constant):
    """Hirsch and Stedinger's plotting positions, one observation after the other."""
    from scipy import stats

    values, below = np.array(values), np.array(below, dtype=bool)
    limits = np.unique(values[below])
    found = np.sort(values[~below])
    above = {np.inf: 0.0}
    for place in range(len(limits) - 1, -1, -1):
        here, upper = limits[place], limits[place + 1] if place + 1 < len(limits) else np.inf
        between = ((found >= here) & (found < upper)).sum()
        lower = (found < here).sum() + (values[below] <= here).sum()
        above[here] = above[upper] + between / (between + lower) * (1 - above[upper])
    above[-np.inf] = 1.0
    edges = [-np.inf, *limits, np.inf]
    position = np.empty(len(found))
    for low, high in zip(edges, edges[1:]):
        inside = np.nonzero((found >= low) & (found < high))[0]
        for rank, i in enumerate(inside, 1):
            position[i] = 1 - above[low] + (above[low] - above[high]) * (rank - constant) / (len(inside) + 1 - 2 * constant)
    hidden = []
    for limit in limits:
        n = (values[below] == limit).sum()
        hidden += [(1 - above[limit]) * (rank - constant) / (n + 1 - 2 * constant) for rank in range(1, n + 1)]
    line = stats.linregress(stats.norm.ppf(position), found)
    filled = line.intercept + line.slope * stats.norm.ppf(hidden)
    everything = np.append(found, filled)
    return {
        "line_mean": line.intercept,
        "line_sd": line.slope,
        "mean": everything.mean(),
        "sd": everything.std(ddof=1),
    }


def censored_likelihood(values, kinds):
    """kinds: -1 below, 0 found, 1 above. The score's root and the observed information, in mean and standard deviation."""
    from scipy import optimize, special, stats

    values, kinds = np.array(values), np.array(kinds)
    found = values[kinds == 0]

    def hazard(z):
        return np.exp(stats.norm.logpdf(z) - special.log_ndtr(z))

    def parts(p):
        mu, sigma = p
        z = (found - mu) / sigma
        first = np.array([z.sum(), (z * z - 1).sum()]) / sigma
        second = -np.array([[len(z), 2 * z.sum()], [2 * z.sum(), (3 * z * z - 1).sum()]]) / sigma**2
        # A value above a limit is one below it on the other side.
        for kind in (-1, 1):
            z = -kind * (values[kinds == kind] - mu) / sigma
            rate = hazard(z)
            turn = -rate * (rate + z)
            first += np.array([kind * rate.sum(), -(rate * z).sum()]) / sigma
            cross = -kind * (rate + z * turn).sum()
            second += np.array([[turn.sum(), cross], [cross, (2 * rate * z + turn * z * z).sum()]]) / sigma**2
        return first, second

    def loss(p):
        mu, sigma = p[0], np.exp(p[1])
        low, high = values[kinds == -1], values[kinds == 1]
        total = stats.norm.logpdf(found, mu, sigma).sum()
        return -(total + stats.norm.logcdf(low, mu, sigma).sum() + stats.norm.logsf(high, mu, sigma).sum())

    near = optimize.minimize(loss, [found.mean(), np.log(found.std())], method="Nelder-Mead", options={"xatol": 1e-6, "fatol": 1e-9, "maxiter": 4000})
    at = np.array([near.x[0], np.exp(near.x[1])])
    for _ in range(20):
        first, second = parts(at)
        at = at - np.linalg.solve(second, first)
    covariance = np.linalg.inv(-parts(at)[1])
    return {
        "mean": at[0],
        "sd": at[1],
        "mean_error": np.sqrt(covariance[0, 0]),
        "sd_error": np.sqrt(covariance[1, 1]),
        "covariance": covariance[0, 1],
    }


# Limits -------------------------------------------------------------------------------------------------------------


def limits(values, share, confidence, n_next, n_mean):
    from scipy import stats

    v = np.array(values)
    n, centre, sd = len(v), v.mean(), v.std(ddof=1)
    shift = stats.norm.ppf(share) * np.sqrt(n)
    half = stats.t.ppf(1 - (1 - confidence) / n_next, n - 1) * sd * np.sqrt(1 / n_mean + 1 / n)
    return {
        "lower": centre + sd * stats.nct.ppf(1 - confidence, n - 1, shift) / np.sqrt(n),
        "upper": centre + sd * stats.nct.ppf(confidence, n - 1, shift) / np.sqrt(n),
        "prediction": centre + half,
    }


# Outliers -----------------------------------------------------------------------------------------------------------


def dixon(n, above, below, critical):
    """How often (x(above+1) - x(1)) / (x(n-below) - x(1)) of normal values exceeds the critical value, by quadrature."""
    from scipy import special, stats

    g, w = np.polynomial.legendre.leggauss(80)
    u, wu = 9.0 * g, 9.0 * w  # the lowest value
    r, wr = 7.0 * (g + 1), 7.0 * w  # the range up to the upper reference
    low, span = u[:, None], r[None, :]
    cdf, pdf = stats.norm.cdf, stats.norm.pdf
    # Between the lowest and the gap lie above-1 values, between the gap and the reference the rest, beyond it `below`.
    inner = n - 1 - above - below
    count = special.gammaln(n + 1) - special.gammaln(above) - special.gammaln(inner) - special.gammaln(below + 1)

    def density(q):
        at, top = low + q * span, low + span
        f = pdf(low) * pdf(at) * pdf(top) * span
        f = f * (cdf(at) - cdf(low)) ** (above - 1) * (cdf(top) - cdf(at)) ** (inner - 1) * (1 - cdf(top)) ** below
        return np.exp(count) * (wu[:, None] * wr[None, :] * f).sum()

    q, wq = np.polynomial.legendre.leggauss(24)
    ratios, weights = critical + (1 - critical) * (q + 1) / 2, (1 - critical) * wq / 2
    return {"alpha": sum(weight * density(ratio) for ratio, weight in zip(ratios, weights))}


# Components of variance ---------------------------------------------------------------------------------------------


def _large_sample(terms, coverage):
    """Ting et al. 1990 for one difference, Graybill and Wang 1980 for sums; terms as (factor, mean square, df)."""
    from scipy import stats

    a = (1 - coverage) / 2
    up = [t for t in terms if t[0] > 0]
    down = [(-c, s, d) for c, s, d in terms if c < 0]

    def g(d):
        return 1 - d / stats.chi2.isf(a, d)

    def h(d):
        return d / stats.chi2.ppf(a, d) - 1

    def star(parts):
        total = 0.0
        for (c, s, d), (e, t, f) in itertools.combinations(parts, 2):
            both = (1 - (d + f) / stats.chi2.isf(a, d + f)) ** 2 * (d + f) ** 2 / (d * f)
            total += (both - g(d) ** 2 * d / f - g(f) ** 2 * f / d) / (len(parts) - 1) * c * s * e * t
        return total

    low = sum((g(d) * c * s) ** 2 for c, s, d in up) + sum((h(d) * c * s) ** 2 for c, s, d in down)
    high = sum((h(d) * c * s) ** 2 for c, s, d in up) + sum((g(d) * c * s) ** 2 for c, s, d in down)
    for c, s, d in up:
        for e, t, f in down:
            fu, fl = stats.f.isf(a, d, f), stats.f.ppf(a, d, f)
            low += ((fu - 1) ** 2 - (g(d) * fu) ** 2 - h(f) ** 2) / fu * c * s * e * t
            high += ((1 - fl) ** 2 - (h(d) * fl) ** 2 - g(f) ** 2) / fl * c * s * e * t
    if down:
        low += star(up)
    high += star(down)
    centre = sum(c * s for c, s, _ in terms)
    return max(0.0, centre - np.sqrt(max(0.0, low))), max(0.0, centre + np.sqrt(max(0.0, high)))


def components(classes, coverage):
    """Unweighted mean squares as quadratic forms; their expected values give the system that the components solve."""
    groups = [(i, np.arange(len(g))) for i, c in enumerate(classes) for g in c]
    y = np.concatenate([g for c in classes for g in c])
    sizes = [len(g) for c in classes for g in c]
    of_group = np.repeat(np.arange(len(sizes)), sizes)
    of_class = np.array([groups[k][0] for k in of_group])
    n, a, b = len(y), len(classes), len(sizes)
    means = np.array([(of_group == k) / sizes[k] for k in range(b)])
    classes_of_groups = np.array([groups[k][0] for k in range(b)])
    class_means = np.array([means[classes_of_groups == i].mean(axis=0) for i in range(a)])

    def form(rows):
        return rows.T @ rows

    forms = [
        form(class_means - class_means.mean(axis=0)) / (a - 1),
        form(means - class_means[classes_of_groups]) / (b - a),
        form(np.eye(n) - means[of_group]) / (n - b),
    ]
    same_class = (of_class[:, None] == of_class[None, :]).astype(float)
    same_group = (of_group[:, None] == of_group[None, :]).astype(float)
    expected = np.array([[np.trace(f @ v) for v in (same_class, same_group, np.eye(n))] for f in forms])
    squares = np.array([y @ f @ y for f in forms])
    inverse = np.linalg.inv(expected)
    df = [a - 1, b - a, n - b]
    answer = {}
    for name, sum_of in (("class", [1, 0, 0]), ("group", [0, 1, 0]), ("within", [0, 0, 1]), ("in_class", [0, 1, 1]), ("total", [1, 1, 1])):
        factors = np.array(sum_of) @ inverse
        terms = [(c, s, d) for c, s, d in zip(factors, squares, df) if abs(c) > 1e-13]
        answer[name] = sum(c * s for c, s, _ in terms)
        answer[name + "_low"], answer[name + "_high"] = _large_sample(terms, coverage)
    return answer


# Two ways of measuring ----------------------------------------------------------------------------------------------


def _total_least_squares(x, y, w, ratio):
    """The line through the weighted centre along the direction of largest scatter, x in units of its errors."""
    w = w / w.sum()
    mx, my = (w * x).sum(), (w * y).sum()
    k = np.sqrt(ratio)
    rows = np.sqrt(w)[:, None] * np.column_stack([k * (x - mx), y - my])
    direction = np.linalg.svd(rows, full_matrices=False)[2][0]
    slope = k * direction[1] / direction[0]
    return slope, my - slope * mx


def _deming_line(x, y, proportional, ratio):
    w = np.ones_like(x)
    slope, intercept = _total_least_squares(x, y, w, ratio)
    if not proportional:
        return slope, intercept
    level = (x + y) / 2
    for _ in range(500):
        slope, intercept = _total_least_squares(x, y, 1 / level**2, ratio)
        true_x = (ratio * x + slope * (y - intercept)) / (ratio + slope**2)
        level = (ratio * true_x + intercept + slope * true_x) / (1 + ratio)
    return slope, intercept


def deming(x, y, proportional, ratio):
    x, y = np.array(x), np.array(y)
    n = len(x)
    whole = np.array(_deming_line(x, y, proportional, ratio))
    without = np.array([_deming_line(np.delete(x, i), np.delete(y, i), proportional, ratio) for i in range(n)])
    covariance = np.cov((n * whole - (n - 1) * without).T) / n
    return {
        "slope": whole[0],
        "intercept": whole[1],
        "slope_error": np.sqrt(covariance[0, 0]),
        "intercept_error": np.sqrt(covariance[1, 1]),
        "covariance": covariance[0, 1],
    }


def signed_rank(differences):
    """Every sign of every rank."""
    from scipy import stats

    d = np.array([v for v in differences if v != 0])
    ranks = stats.rankdata(np.abs(d))
    above = ranks[d > 0].sum()
    middle = ranks.sum() / 2
    sums = np.array([np.dot(signs, ranks) for signs in itertools.product((0, 1), repeat=len(d))])
    return {"above": above, "p": (np.abs(sums - middle) >= abs(above - middle) - 1e-9).mean()}


# Equivalence --------------------------------------------------------------------------------------------------------


def equivalence(tested, reference, low, high, ratio_low, ratio_high, alpha):
    from scipy import optimize, stats
    from statsmodels.stats.weightstats import DescrStatsW, ttost_ind

    _, lower, upper = ttost_ind(tested, reference, low, high, usevar="unequal")
    _, one_lower, one_upper = DescrStatsW(tested).ttost_mean(low + 10, high + 10)
    x, y = np.array(tested), np.array(reference)
    vx, vy = x.var(ddof=1) / len(x), y.var(ddof=1) / len(y)

    def distance(r):
        df = (vx + r * r * vy) ** 2 / (vx**2 / (len(x) - 1) + r**4 * vy**2 / (len(y) - 1))
        return (x.mean() - r * y.mean()) / np.sqrt(vx + r * r * vy), df

    def end(sign):
        def excess(r):
            t, df = distance(r)
            return sign * t - stats.t.ppf(1 - alpha, df)

        return optimize.brentq(excess, *sorted((x.mean() / y.mean(), x.mean() / y.mean() - sign * 0.6)), xtol=1e-15, rtol=1e-14)

    (t_low, df_low), (t_high, df_high) = distance(ratio_low), distance(ratio_high)
    return {
        "p_lower": lower[1],
        "p_upper": upper[1],
        "one_p_lower": one_lower[1],
        "one_p_upper": one_upper[1],
        "ratio_p_lower": stats.t.sf(t_low, df_low),
        "ratio_p_upper": stats.t.cdf(t_high, df_high),
        "ratio_low": end(1),
        "ratio_high": end(-1),
    }


def equivalence_power(two_groups, lower, upper, difference, sd, alpha, n):
    """Conditional on the chi-squared of the pooled variance, by adaptive quadrature."""
    from scipy import integrate, stats

    df, share = (2 * n - 2, 2 / n) if two_groups else (n - 1, 1 / n)
    error = sd * np.sqrt(share)
    t = stats.t.ppf(1 - alpha, df)

    def given(u):
        half = t * np.sqrt(u / df)
        inside = stats.norm.cdf((upper - difference) / error - half) - stats.norm.cdf((lower - difference) / error + half)
        return max(0.0, inside) * stats.chi2.pdf(u, df)

    largest = df * ((upper - lower) / error / (2 * t)) ** 2
    last = min(largest, stats.chi2.isf(1e-16, df))
    cuts = [c for c in stats.chi2.ppf([1e-6, 0.01, 0.5, 0.99], df) if c < last]
    edges = [0.0, *cuts, last]
    return {"power": sum(integrate.quad(given, p, q, epsabs=1e-13, epsrel=1e-12, limit=200)[0] for p, q in zip(edges, edges[1:]))}
