/* trust.c - whether one raw scan may be trusted at all. The checks that look at the grid alone were made by the desktop:
 * the device sets its potentials itself, so what they find is a constant. */
#include "parts.h"

#define SD_PER_MEDIAN_DEVIATION 1.482602218505602
#define THIRD_DIFFERENCE_GAIN 4.472135954999579
#define SAME 1e-9          /* changes below this part of the largest current count as none */
#define EDGE_POINTS 3u     /* points over which a plateau's edge is judged */
#define ABRUPT_STEPS 10.0
#define CUT_STEPS 8.0
#define FIRST_STEPS 3.0
#define ALIKE_ELSEWHERE 3u

/* ---- from a number and a limit to a finding ---- */

static void not_testable(stw_finding *finding, uint32_t why) {
    finding->state = STW_NOT_TESTABLE + why;
    finding->at_index = 0u;
    finding->found = 0.0;
    finding->limit = 0.0;
}

static void decide(stw_finding *finding, uint32_t passed, double found, double limit, uint32_t at_index) {
    if ((stw_is_finite(limit) == 0u) || (limit < 0.0)) {
        not_testable(finding, STW_WHY_LIMIT_NOT_USABLE); /* not stated */
    } else if (stw_is_finite(found) == 0u) {
        not_testable(finding, STW_WHY_NOT_FINITE);
    } else {
        finding->state = (passed != 0u) ? STW_PASSED : STW_FAILED;
        finding->at_index = at_index;
        finding->found = found;
        finding->limit = limit;
    }
}

static void at_most(stw_finding *finding, double found, double limit, uint32_t at_index) {
    decide(finding, (found <= limit) ? 1u : 0u, found, limit, at_index);
}

/* ---- quantities of several checks ---- */

static double largest_size(const double *current_a, uint32_t n) {
    double largest = 0.0;
    uint32_t i;
    for (i = 0u; i < n; i++) {
        const double size = stw_abs(current_a[i]);
        if (size > largest) {
            largest = size;
        }
    }
    return largest;
}

static double smallest_change_a(const double *current_a, uint32_t n) {
    const double least = SAME * largest_size(current_a, n);
    double smallest = 0.0;
    uint32_t found = 0u;
    uint32_t i;
    for (i = 1u; i < n; i++) {
        const double change = stw_abs(current_a[i] - current_a[i - 1u]);
        if ((change > least) && (stw_is_finite(change) != 0u) && ((found == 0u) || (change < smallest))) {
            smallest = change;
            found = 1u;
        }
    }
    return smallest;
}

/* The step in which currents near a level seem to be recorded: the smallest first or second difference that is not zero. */
static double apparent_resolution_a(const double *current_a, uint32_t n, double level_a) {
    const double least = SAME * largest_size(current_a, n);
    const double counted_from = 0.5 * stw_abs(level_a);
    double resolution = 0.0;
    uint32_t found = 0u;
    uint32_t i;
    for (i = 2u; i < n; i++) {
        const double a = current_a[i - 2u];
        const double b = current_a[i - 1u];
        const double c = current_a[i];
        if (!((stw_abs(a) < counted_from) || (stw_abs(b) < counted_from) || (stw_abs(c) < counted_from))) {
            const double first = stw_abs(b - a);
            const double second = stw_abs((c - b) - (b - a));
            if ((first > least) && (stw_is_finite(first) != 0u) && ((found == 0u) || (first < resolution))) {
                resolution = first;
                found = 1u;
            }
            if ((second > least) && (stw_is_finite(second) != 0u) && ((found == 0u) || (second < resolution))) {
                resolution = second;
                found = 1u;
            }
        }
    }
    return resolution;
}

static double median_of_three(double a, double b, double c) {
    const double low = (a < b) ? a : b;
    const double high = (a < b) ? b : a;
    const double above = (c < low) ? low : c;
    return (c > high) ? high : above;
}

/* Largest less smallest current after a running median of three; n is at least 3. */
static double robust_range_a(const double *current_a, uint32_t n) {
    double low = stw_double_of(UINT64_C(0x7FF0000000000000));
    double high = -low;
    uint32_t i;
    for (i = 2u; i < n; i++) {
        const double middle = median_of_three(current_a[i - 2u], current_a[i - 1u], current_a[i]);
        if (middle < low) {
            low = middle;
        }
        if (middle > high) {
            high = middle;
        }
    }
    return (high - low) + 0.0;
}

static double noise_sd_a(const double *current_a, uint32_t n) {
    stw_terms terms;
    terms.values = current_a;
    terms.n = n - 3u;
    terms.kind = STW_TERM_THIRD_DIFFERENCE;
    return (SD_PER_MEDIAN_DEVIATION * stw_median(&terms)) / THIRD_DIFFERENCE_GAIN;
}

static double median_of(const double *values, uint32_t n) {
    stw_terms terms;
    terms.values = values;
    terms.n = n;
    terms.kind = STW_TERM_VALUE;
    return stw_median(&terms);
}

/* ---- the checks ---- */

static void check_overload(const stw_scan *scan, stw_finding *finding) {
    at_most(finding, (double)scan->overload_count, 0.0, (scan->overload_count > 0u) ? scan->overload_first : 0u);
}

typedef struct {
    uint32_t length;
    uint32_t start;
} run;

/* The longest row of points that equal `level`, or, with ends, that lie at or beyond them. */
static run longest_run(const double *current_a, uint32_t n, double low, double high, uint32_t beyond) {
    run longest = {0u, 0u};
    uint32_t length = 0u;
    uint32_t i;
    for (i = 0u; i < n; i++) {
        const double x = current_a[i];
        const uint32_t belongs = (beyond != 0u) ? (((x <= low) || (x >= high)) ? 1u : 0u) : ((x == low) ? 1u : 0u);
        length = (belongs != 0u) ? (length + 1u) : 0u;
        if (length > longest.length) {
            longest.length = length;
            longest.start = (i + 1u) - length;
        }
    }
    return longest;
}

typedef struct {
    const double *current_a;
    double plateau;
    double step;
    double first_step;
    double cut_share;
} plateau_edge;

/* `near` is the first point off the plateau, `far` the third. */
static uint32_t leaves(const plateau_edge *edge, uint32_t near, uint32_t far) {
    const double fall = stw_abs(edge->current_a[far] - edge->plateau);
    const double jump = stw_abs(edge->current_a[near] - edge->plateau);
    return ((jump > (FIRST_STEPS * edge->first_step)) && (fall > (ABRUPT_STEPS * edge->step)) &&
            ((fall * edge->cut_share) > (CUT_STEPS * edge->step)))
               ? 1u
               : 0u;
}

/* Whether a plateau is left abruptly on both sides, or on its one side at an end of the scan. */
static uint32_t is_abrupt(const double *current_a, uint32_t n, run found) {
    const uint32_t end = found.start + found.length;
    const uint32_t before = (found.start >= EDGE_POINTS) ? 1u : 0u;
    const uint32_t after = ((end + EDGE_POINTS) <= n) ? 1u : 0u;
    const double half_run = 0.5 * (double)found.length;
    const double reach = (0.5 * (double)found.length) + 3.0;
    uint32_t n_alike = 1u;
    uint32_t i;
    uint32_t abrupt = ((before != 0u) || (after != 0u)) ? 1u : 0u;
    plateau_edge edge;
    double change;
    edge.current_a = current_a;
    edge.plateau = current_a[found.start];
    edge.step = apparent_resolution_a(current_a, n, edge.plateau);
    edge.cut_share = (half_run * half_run) / ((reach * reach) - (half_run * half_run));
    for (i = 1u; i < n; i++) {
        if (current_a[i - 1u] == current_a[i]) {
            n_alike += 1u;
        }
    }
    n_alike -= found.length;
    change = (n_alike >= ALIKE_ELSEWHERE) ? smallest_change_a(current_a, n) : edge.step;
    edge.first_step = (change > edge.step) ? change : edge.step;
    if ((before != 0u) && (leaves(&edge, found.start - 1u, found.start - EDGE_POINTS) == 0u)) {
        abrupt = 0u;
    }
    if ((after != 0u) && (leaves(&edge, end, (end + EDGE_POINTS) - 1u) == 0u)) {
        abrupt = 0u;
    }
    return abrupt;
}

static void check_clipping(const stw_scan *scan, const stw_method_constants *m, stw_finding *finding) {
    const double *current_a = scan->current_a;
    const uint32_t n = scan->n_points;
    double extreme[2];
    uint32_t longest_pass;
    uint32_t side;
    uint32_t i;
    run worst = {0u, 0u};
    if (n < (2u * EDGE_POINTS)) {
        not_testable(finding, STW_WHY_TOO_SHORT);
        return;
    }
    if (m->clipping_run < 2u) {
        not_testable(finding, STW_WHY_LIMIT_NOT_USABLE);
        return;
    }
    longest_pass = m->clipping_run - 1u;
    if ((m->switches & STW_HAS_RANGE_END) != 0u) {
        run at_end;
        if (!(m->range_low_a < m->range_high_a)) {
            not_testable(finding, STW_WHY_LIMIT_NOT_USABLE);
            return;
        }
        at_end = longest_run(current_a, n, m->range_low_a, m->range_high_a, 1u);
        if (at_end.length > 0u) {
            at_most(finding, (double)at_end.length, 0.0, at_end.start);
            return;
        }
    }
    extreme[0] = current_a[0];
    extreme[1] = current_a[0];
    for (i = 1u; i < n; i++) {
        if (current_a[i] < extreme[0]) {
            extreme[0] = current_a[i];
        }
        if (current_a[i] > extreme[1]) {
            extreme[1] = current_a[i];
        }
    }
    for (side = 0u; side < 2u; side++) {
        const run found = longest_run(current_a, n, extreme[side], 0.0, 0u);
        if ((found.length > worst.length) && (found.length > longest_pass) && (is_abrupt(current_a, n, found) != 0u)) {
            worst = found;
        }
    }
    at_most(finding, (double)worst.length, (double)longest_pass, worst.start);
}

static void check_flat_line(const stw_scan *scan, const stw_method_constants *m, stw_finding *finding) {
    const double limit = (0.0 > m->least_range_a) ? 0.0 : m->least_range_a;
    double found;
    if (scan->n_points < 3u) {
        not_testable(finding, STW_WHY_TOO_SHORT);
        return;
    }
    found = robust_range_a(scan->current_a, scan->n_points);
    decide(finding, ((found >= limit) && (found > 0.0)) ? 1u : 0u, found, limit, 0u);
}

static void check_offset(const stw_scan *scan, const stw_method_constants *m, stw_finding *finding) {
    const uint32_t n = scan->n_points;
    double first;
    double last;
    if (m->end_points == 0u) {
        not_testable(finding, STW_WHY_LIMIT_NOT_USABLE);
        return;
    }
    if ((n / 2u) < m->end_points) {
        not_testable(finding, STW_WHY_TOO_SHORT);
        return;
    }
    first = stw_abs(median_of(scan->current_a, m->end_points));
    last = stw_abs(median_of(&scan->current_a[n - m->end_points], m->end_points));
    if (first >= last) {
        at_most(finding, first, m->largest_offset_a, 0u);
    } else {
        at_most(finding, last, m->largest_offset_a, n - 1u);
    }
}

typedef struct {
    double ratio;
    double unit;
    double worst;
    uint32_t at;
    uint32_t finite;
} spike_search;

/* The highest point (or pair) that stands out by more than the ratio times the range of its neighbours. */
static void look_for_spikes(spike_search *search, const double *current_a, uint32_t n, uint32_t width) {
    uint32_t start;
    for (start = 0u; ((start + 4u) + width) <= n; start++) {
        const stw_beside found = stw_stands_out(&current_a[start], width);
        if ((stw_is_finite(found.deviation) == 0u) || (stw_is_finite(found.range) == 0u)) {
            search->finite = 0u;
        } else if (found.deviation > (search->ratio * found.range)) {
            const double units = found.deviation / search->unit;
            if (units > search->worst) {
                search->worst = units;
                search->at = start + 2u;
            }
        } else {
            /* does not stand out */
        }
    }
}

static void check_spikes(const stw_scan *scan, const stw_method_constants *m, stw_finding *finding) {
    const double *current_a = scan->current_a;
    const uint32_t n = scan->n_points;
    stw_terms terms;
    spike_search search;
    double robust;
    double step;
    if (!(m->spike_ratio > 0.0)) {
        not_testable(finding, STW_WHY_LIMIT_NOT_USABLE);
        return;
    }
    if (n < 5u) {
        not_testable(finding, STW_WHY_TOO_SHORT);
        return;
    }
    terms.values = current_a;
    terms.n = n - 4u;
    terms.kind = STW_TERM_STANDS_OUT;
    robust = SD_PER_MEDIAN_DEVIATION * stw_median(&terms);
    step = apparent_resolution_a(current_a, n, 0.0);
    search.ratio = m->spike_ratio;
    search.unit = (robust > step) ? robust : step;
    search.worst = 0.0;
    search.at = 0u;
    search.finite = 1u;
    if (search.unit > 0.0) {
        look_for_spikes(&search, current_a, n, 1u);
        look_for_spikes(&search, current_a, n, 2u);
    }
    if (search.finite == 0u) {
        not_testable(finding, STW_WHY_NOT_FINITE);
    } else {
        at_most(finding, search.worst, m->spike_units, search.at);
    }
}

static void check_noise(const stw_scan *scan, const stw_method_constants *m, stw_finding *finding) {
    if (scan->n_points < 4u) {
        not_testable(finding, STW_WHY_TOO_SHORT);
    } else {
        at_most(finding, noise_sd_a(scan->current_a, scan->n_points), m->largest_noise_a, 0u);
    }
}

/* Least-squares parabola through points at x = 0, 1, 2 ..., in polynomials that are orthogonal on them. */
typedef struct {
    double centre;
    double square_mean;
    double coefficient[3];
    double norm[3];
    double residual_sd;
} parabola;

static void parabola_row(const parabola *fit, double x, double row[3]) {
    const double u = x - fit->centre;
    row[0] = 1.0;
    row[1] = u;
    row[2] = (u * u) - fit->square_mean;
}

static double parabola_at(const parabola *fit, double x) {
    double row[3];
    parabola_row(fit, x, row);
    return ((fit->coefficient[0] * row[0]) + (fit->coefficient[1] * row[1])) + (fit->coefficient[2] * row[2]);
}

/* Variance of the fitted value at x over that of one point. */
static double parabola_leverage(const parabola *fit, double x) {
    double row[3];
    parabola_row(fit, x, row);
    return (((row[0] * row[0]) / fit->norm[0]) + ((row[1] * row[1]) / fit->norm[1])) + ((row[2] * row[2]) / fit->norm[2]);
}

static void parabola_through(parabola *fit, const double *points, uint32_t n_points) {
    const double n = (double)n_points;
    double row[3];
    double squares = 0.0;
    uint32_t i;
    uint32_t j;
    fit->centre = 0.5 * (n - 1.0);
    fit->square_mean = ((n * n) - 1.0) / 12.0;
    for (j = 0u; j < 3u; j++) {
        fit->coefficient[j] = 0.0;
        fit->norm[j] = 0.0;
    }
    for (i = 0u; i < n_points; i++) {
        parabola_row(fit, (double)i, row);
        for (j = 0u; j < 3u; j++) {
            fit->coefficient[j] += row[j] * points[i];
            fit->norm[j] += row[j] * row[j];
        }
    }
    for (j = 0u; j < 3u; j++) {
        fit->coefficient[j] /= fit->norm[j];
    }
    for (i = 0u; i < n_points; i++) {
        const double residual = points[i] - parabola_at(fit, (double)i);
        squares += residual * residual;
    }
    fit->residual_sd = stw_sqrt(squares / (n - 3.0));
}

static void check_start_up(const stw_scan *scan, const stw_method_constants *m, stw_finding *finding) {
    const double *current_a = scan->current_a;
    const uint32_t judged = m->start_up_points;
    uint32_t distrusted = 0u;
    uint32_t i;
    parabola trend;
    double noise;
    double unit;
    double floor_a;
    if (m->start_up_why != 0u) {
        not_testable(finding, m->start_up_why);
        return;
    }
    parabola_through(&trend, &current_a[judged], m->start_up_trend_points);
    noise = noise_sd_a(current_a, scan->n_points);
    unit = (trend.residual_sd > noise) ? trend.residual_sd : noise;
    floor_a = m->start_up_fraction * robust_range_a(current_a, scan->n_points);
    if ((stw_is_finite(unit) == 0u) || (stw_is_finite(floor_a) == 0u)) {
        not_testable(finding, STW_WHY_NOT_FINITE);
        return;
    }
    for (i = 0u; i < judged; i++) {
        const double x = (double)i - (double)judged;
        const double deviation = stw_abs(current_a[i] - parabola_at(&trend, x));
        if (stw_is_finite(deviation) == 0u) {
            not_testable(finding, STW_WHY_NOT_FINITE);
            return;
        }
        if ((deviation > ((m->start_up_units * unit) * stw_sqrt(1.0 + parabola_leverage(&trend, x)))) &&
            (deviation > floor_a)) {
            distrusted = i + 1u;
        }
    }
    at_most(finding, (double)distrusted, (double)m->distrusted_points, (distrusted > 0u) ? (distrusted - 1u) : 0u);
}

static void check_reverse_drift(const stw_scan *scan, const stw_method_constants *m, stw_finding *finding) {
    double first;
    double last;
    if (m->end_points == 0u) {
        not_testable(finding, STW_WHY_LIMIT_NOT_USABLE);
        return;
    }
    if ((scan->n_points / 2u) < m->end_points) {
        not_testable(finding, STW_WHY_TOO_SHORT);
        return;
    }
    first = median_of(scan->gap_a, m->end_points);
    last = median_of(&scan->gap_a[m->end_points], m->end_points);
    at_most(finding, stw_abs(last - first), m->largest_drift_a, 0u);
}

/* Amplitude at the frequency to which the mains folds, in second differences under a parabolic window. */
static double mains_amplitude_a(const double *current_a, uint32_t n, const stw_method_constants *m) {
    const double gain = 2.0 - (2.0 * m->mains_cos);
    const double centre = 0.5 * ((double)n - 3.0);
    const double share = (m->mains_cos < (-1.0 + 1e-12)) ? 1.0 : 2.0;
    double in_phase = 0.0;
    double across = 0.0;
    double weights = 0.0;
    double cosine = 1.0;
    double sine = 0.0;
    uint32_t i;
    for (i = 0u; (i + 2u) < n; i++) {
        const double *p = &current_a[i];
        const double from_centre = ((double)i - centre) / (centre + 1.0);
        const double weight = 1.0 - (from_centre * from_centre);
        const double bend = weight * ((p[2] - p[1]) - (p[1] - p[0]));
        const double turned = (cosine * m->mains_cos) - (sine * m->mains_sin);
        in_phase += bend * cosine;
        across += bend * sine;
        weights += weight;
        sine = (cosine * m->mains_sin) + (sine * m->mains_cos);
        cosine = turned;
    }
    return ((share * stw_sqrt((in_phase * in_phase) + (across * across))) / weights) / gain;
}

static void check_mains(const stw_scan *scan, const stw_method_constants *m, stw_finding *finding) {
    if (m->mains_why != 0u) {
        not_testable(finding, m->mains_why);
    } else {
        at_most(finding, mains_amplitude_a(scan->current_a, scan->n_points, m), m->largest_mains_a, 0u);
    }
}

static void check_one(const stw_scan *scan, uint32_t check, stw_finding *finding) {
    const stw_method_constants *m = scan->method->constants;
    switch (check) {
    case STW_CHECK_CLIPPING:
        check_clipping(scan, m, finding);
        break;
    case STW_CHECK_FLAT_LINE:
        check_flat_line(scan, m, finding);
        break;
    case STW_CHECK_OFFSET:
        check_offset(scan, m, finding);
        break;
    case STW_CHECK_SPIKES:
        check_spikes(scan, m, finding);
        break;
    case STW_CHECK_NOISE:
        check_noise(scan, m, finding);
        break;
    case STW_CHECK_START_UP:
        check_start_up(scan, m, finding);
        break;
    case STW_CHECK_MAINS_PICKUP:
        check_mains(scan, m, finding);
        break;
    case STW_CHECK_REVERSE_DRIFT:
        check_reverse_drift(scan, m, finding);
        break;
    default:
        *finding = m->grid_findings[check]; /* the grid's own */
        break;
    }
}

/* 0, or why the numbers with which a check would compute are not there. */
static uint32_t what_is_lacking(const stw_scan *scan, uint32_t check) {
    const uint32_t has_reverse = scan->method->constants->switches & STW_HAS_REVERSE;
    uint32_t why = 0u;
    if (check == STW_CHECK_REVERSE_DRIFT) {
        if (has_reverse == 0u) {
            why = STW_WHY_NOT_STATED;
        } else if (scan->finite_pair == 0u) {
            why = STW_WHY_NOT_FINITE;
        } else {
            why = 0u;
        }
    } else if ((check >= STW_CHECK_CLIPPING) && (scan->finite_current == 0u)) {
        why = STW_WHY_NOT_FINITE;
    } else {
        why = 0u;
    }
    return why;
}

void stw_check_scan(const stw_scan *scan, stw_finding findings[STW_TRUST_CHECKS]) {
    uint32_t check;
    check_overload(scan, &findings[STW_CHECK_OVERLOAD]);
    for (check = STW_CHECK_TOO_FEW_POINTS; check < STW_TRUST_CHECKS; check++) {
        const uint32_t why = what_is_lacking(scan, check);
        if (why != 0u) {
            not_testable(&findings[check], why);
        } else {
            check_one(scan, check, &findings[check]);
        }
    }
}
