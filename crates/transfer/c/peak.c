/* peak.c - baseline and peak of a scan that was freed of its blank. Smoothed and corrected currents are computed where they
 * are looked at, so that one buffer of the scan's length is enough. */
#include "parts.h"

static const stw_method_constants *constants_of(const stw_scan *scan) {
    return scan->method->constants;
}

static double sign_of(const stw_scan *scan) {
    return ((constants_of(scan)->switches & STW_IS_OXIDATION) != 0u) ? 1.0 : -1.0;
}

static double larger(double a, double b) {
    return (a > b) ? a : b;
}

/* ---- curves ---- */

double stw_potential_v(const stw_method *method, uint32_t index) {
    const stw_method_constants *m = method->constants;
    double potential_v;
    if (method->potential_v != NULL) {
        potential_v = method->potential_v[index];
    } else {
        const int32_t units = m->start_units + ((int32_t)index * m->step_units);
        potential_v = (double)units / m->units_per_volt;
    }
    return potential_v;
}

static double potential_of(const stw_scan *scan, uint32_t index) {
    return stw_potential_v(scan->method, index);
}

double stw_subtracted_a(const stw_scan *scan, uint32_t index) {
    return scan->current_a[index];
}

/* Inside, points equally far from the centre are added first, the outermost pair first, the centre last; at the ends the
 * terms are added from the scan's end inwards. */
double stw_smoothed_a(const stw_scan *scan, uint32_t index) {
    const uint32_t window = constants_of(scan)->smoothing_window;
    const uint32_t half = window / 2u;
    const uint32_t from_end = (scan->n_points - 1u) - index;
    const double *weight = scan->method->weights;
    double sum = 0.0;
    uint32_t k;
    if (window == 0u) {
        return scan->current_a[index];
    }
    if (index < half) {
        const double *value = scan->current_a;
        weight = &weight[index * window];
        for (k = window; k != 0u; k--) {
            sum += *weight * *value;
            weight++;
            value++;
        }
    } else if (from_end < half) {
        const double *value = &scan->current_a[scan->n_points - 1u];
        weight = &weight[from_end * window];
        for (k = window; k != 0u; k--) {
            sum += *weight * *value;
            weight++;
            value--;
        }
    } else {
        const double *before = &scan->current_a[index - half];
        const double *after = &scan->current_a[index + half];
        weight = &weight[half * window];
        for (k = half; k != 0u; k--) {
            sum += *weight * (*before + *after);
            weight++;
            before++;
            after--;
        }
        sum += *weight * *before;
    }
    return sum;
}

#ifndef STW_WITHOUT_POLYNOMIAL
/* p0(t) ... pk(t) of the recurrence p0 = 1, p(k+1) = (t - a_k) p_k - b_k p(k-1); zero beyond. */
static void polynomials_at(const stw_scan *scan, double t, uint32_t degree, double p[5]) {
    double before = 0.0;
    uint32_t j;
    p[0] = 1.0;
    for (j = 1u; j < 5u; j++) {
        p[j] = 0.0;
    }
    for (j = 0u; (j < degree) && (j < 4u); j++) {
        p[j + 1u] = ((t - scan->poly_a[j]) * p[j]) - (scan->poly_b[j] * before);
        before = p[j];
    }
}

static double polynomial_value(const stw_scan *scan, const double p[5]) {
    double sum = 0.0;
    uint32_t j;
    for (j = 0u; j < 5u; j++) {
        sum += p[j] * scan->poly_c[j];
    }
    return sum;
}

/* Potentials scaled to -1 ... 1 over the scan. */
static double scaled_of(const stw_scan *scan, uint32_t index) {
    const double start_v = potential_of(scan, 0u);
    const double end_v = potential_of(scan, scan->n_points - 1u);
    const double middle_v = (0.5 * start_v) + (0.5 * end_v);
    const double half_v = (0.5 * end_v) - (0.5 * start_v);
    return (potential_of(scan, index) - middle_v) / half_v;
}
#endif

double stw_baseline_a(const stw_scan *scan, uint32_t index) {
    const stw_method_constants *m = constants_of(scan);
    double baseline_a;
    switch (m->baseline) {
    case STW_BASELINE_LINE:
    case STW_BASELINE_MINIMA:
    case STW_BASELINE_TANGENT:
        baseline_a = scan->line_at_a + (scan->line_slope * (potential_of(scan, index) - scan->line_at_v));
        break;
#ifndef STW_WITHOUT_POLYNOMIAL
    case STW_BASELINE_POLYNOMIAL: {
        double p[5];
        polynomials_at(scan, scaled_of(scan, index), m->baseline_degree, p);
        baseline_a = polynomial_value(scan, p);
        break;
    }
#endif
    default:
        baseline_a = 0.0;
        break;
    }
    return baseline_a;
}

double stw_corrected_a(const stw_scan *scan, uint32_t index) {
    return sign_of(scan) * (stw_smoothed_a(scan, index) - stw_baseline_a(scan, index));
}

/* ---- drawing the baseline ---- */

static void line_through(stw_scan *scan, double from_v, double from_a, double to_v, double to_a) {
    scan->line_at_v = from_v;
    scan->line_at_a = from_a;
    scan->line_slope = (to_a - from_a) / (to_v - from_v);
}

#if !defined(STW_WITHOUT_MINIMA) || !defined(STW_WITHOUT_TANGENT)
static void line_through_points(stw_scan *scan, uint32_t from, uint32_t to) {
    scan->has_points = 1u;
    scan->point[0] = from;
    scan->point[1] = to;
    line_through(scan, potential_of(scan, from), stw_smoothed_a(scan, from), potential_of(scan, to),
                 stw_smoothed_a(scan, to));
}
#endif

static void line_through_means(stw_scan *scan, const stw_range ranges[2]) {
    double mean_v[2];
    double mean_a[2];
    uint32_t side;
    for (side = 0u; side < 2u; side++) {
        const double n = (double)((ranges[side].last + 1u) - ranges[side].first);
        stw_sum volts;
        stw_sum amperes;
        uint32_t i;
        stw_sum_begin(&volts);
        stw_sum_begin(&amperes);
        for (i = ranges[side].first; i <= ranges[side].last; i++) {
            stw_sum_add(&volts, potential_of(scan, i));
            stw_sum_add(&amperes, stw_smoothed_a(scan, i));
        }
        mean_v[side] = stw_sum_total(&volts) / n;
        mean_a[side] = stw_sum_total(&amperes) / n;
    }
    line_through(scan, mean_v[0], mean_a[0], mean_v[1], mean_a[1]);
}

#ifndef STW_WITHOUT_MINIMA
/* The first lowest point along the direction. */
static uint32_t lowest_of(const stw_scan *scan, stw_range range) {
    uint32_t at = range.first;
    double lowest = sign_of(scan) * stw_smoothed_a(scan, at);
    uint32_t i;
    for (i = range.first + 1u; i <= range.last; i++) {
        const double here = sign_of(scan) * stw_smoothed_a(scan, i);
        if (here < lowest) {
            lowest = here;
            at = i;
        }
    }
    return at;
}

#endif

#ifndef STW_WITHOUT_TANGENT
/* The last point among those that the least slope from `left` leads to. */
static uint32_t next_on_hull(const stw_scan *scan, uint32_t left, uint32_t last) {
    const double left_v = potential_of(scan, left);
    const double left_a = stw_smoothed_a(scan, left);
    uint32_t right = left + 1u;
    double least = 0.0;
    uint32_t r;
    for (r = left + 1u; r <= last; r++) {
        const double progress = potential_of(scan, r) - left_v;
        const double along = (progress < 0.0) ? -progress : progress;
        const double slope = (sign_of(scan) * (stw_smoothed_a(scan, r) - left_a)) / along;
        if ((r == (left + 1u)) || (slope <= least)) {
            right = r;
            least = slope;
        }
    }
    return right;
}

/* How high the highest point of the window stands above an edge of the hull, among the points between its ends. */
static double highest_above(const stw_scan *scan, uint32_t left, uint32_t right, stw_range window) {
    const double left_v = potential_of(scan, left);
    const double left_a = stw_smoothed_a(scan, left);
    const double slope = (stw_smoothed_a(scan, right) - left_a) / (potential_of(scan, right) - left_v);
    const uint32_t first = (window.first > left) ? window.first : left;
    const uint32_t last = (window.last < right) ? window.last : right;
    double high = -stw_double_of(UINT64_C(0x7FF0000000000000));
    uint32_t i;
    for (i = first; i <= last; i++) {
        const double line = slope * (potential_of(scan, i) - left_v);
        const double height = sign_of(scan) * ((stw_smoothed_a(scan, i) - left_a) - line);
        if (height > high) {
            high = height;
        }
    }
    return high;
}

/* The edge of the lower hull above which a point of the window stands highest; without a search the edge under the window's
 * middle. */
static void tangent(stw_scan *scan, stw_range search, stw_range window, uint32_t searched) {
    const uint32_t middle = window.first + ((window.last - window.first) / 2u);
    double high = -stw_double_of(UINT64_C(0x7FF0000000000000));
    uint32_t best_left = search.first;
    uint32_t best_right = search.last;
    uint32_t left = search.first;
    while (left < search.last) {
        const uint32_t right = next_on_hull(scan, left, search.last);
        if (searched != 0u) {
            const double here = highest_above(scan, left, right, window);
            if (here > high) {
                high = here;
                best_left = left;
                best_right = right;
            }
        } else if ((left <= middle) && (middle <= right)) {
            best_left = left;
            best_right = right;
            break;
        } else {
            /* not under the middle */
        }
        left = right;
    }
    line_through_points(scan, best_left, best_right);
}

#endif

#ifndef STW_WITHOUT_POLYNOMIAL
#define OF_NORM 0u
#define OF_PRODUCT 1u
#define OF_MOMENT 2u

static double over_range(const stw_scan *scan, stw_range range, uint32_t k, uint32_t what) {
    stw_sum sum;
    uint32_t i;
    stw_sum_begin(&sum);
    for (i = range.first; i <= range.last; i++) {
        const double t = scaled_of(scan, i);
        double p[5];
        double term;
        polynomials_at(scan, t, k, p);
        switch (what) {
        case OF_NORM:
            term = p[k] * p[k];
            break;
        case OF_PRODUCT:
            term = (stw_smoothed_a(scan, i) - polynomial_value(scan, p)) * p[k];
            break;
        default:
            term = (t * p[k]) * p[k];
            break;
        }
        stw_sum_add(&sum, term);
    }
    return stw_sum_total(&sum);
}

static double over_both(const stw_scan *scan, const stw_range ranges[2], uint32_t k, uint32_t what) {
    const double first = over_range(scan, ranges[0], k, what);
    return first + over_range(scan, ranges[1], k, what);
}

static void polynomial(stw_scan *scan, const stw_range ranges[2], uint32_t degree) {
    double norm_before = 1.0;
    uint32_t k;
    for (k = 0u; k < 5u; k++) {
        scan->poly_a[k] = 0.0;
        scan->poly_b[k] = 0.0;
        scan->poly_c[k] = 0.0;
    }
    for (k = 0u; k <= degree; k++) {
        const double norm = over_both(scan, ranges, k, OF_NORM);
        const double product = over_both(scan, ranges, k, OF_PRODUCT);
        const double moment = over_both(scan, ranges, k, OF_MOMENT);
        scan->poly_c[k] = product / norm;
        scan->poly_a[k] = moment / norm;
        scan->poly_b[k] = (k == 0u) ? 0.0 : (norm / norm_before);
        norm_before = norm;
    }
}

#endif

void stw_draw_baseline(stw_scan *scan, uint32_t searched) {
    const stw_method_constants *m = constants_of(scan);
    scan->has_points = 0u;
    scan->point[0] = 0u;
    scan->point[1] = 0u;
    (void)searched; /* read by the tangent only */
    switch (m->baseline) {
    case STW_BASELINE_LINE:
        line_through_means(scan, m->baseline_range);
        break;
#ifndef STW_WITHOUT_MINIMA
    case STW_BASELINE_MINIMA: {
        const uint32_t from = lowest_of(scan, m->baseline_range[0]);
        line_through_points(scan, from, lowest_of(scan, m->baseline_range[1]));
        break;
    }
#endif
#ifndef STW_WITHOUT_TANGENT
    case STW_BASELINE_TANGENT:
        tangent(scan, m->baseline_range[0], m->window, searched);
        break;
#endif
#ifndef STW_WITHOUT_POLYNOMIAL
    case STW_BASELINE_POLYNOMIAL:
        polynomial(scan, m->baseline_range, m->baseline_degree);
        break;
#endif
    default:
        break; /* none: zero */
    }
}

/* ---- the peak ---- */

typedef struct {
    double potential_v;
    uint32_t index;
    uint32_t found;
} crossing;

static crossing crossing_at(const stw_scan *scan, uint32_t index, double level) {
    const double x0 = potential_of(scan, index);
    const double x1 = potential_of(scan, index + 1u);
    const double y0 = stw_corrected_a(scan, index);
    const double y1 = stw_corrected_a(scan, index + 1u);
    const double fraction = (y0 == y1) ? 0.5 : ((level - y0) / (y1 - y0));
    crossing found;
    found.potential_v = x0 + (fraction * (x1 - x0));
    found.index = index;
    found.found = 1u;
    return found;
}

static crossing not_crossed(const stw_scan *scan, uint32_t limit) {
    crossing found;
    found.potential_v = potential_of(scan, limit);
    found.index = limit;
    found.found = 0u;
    return found;
}

/* Going back from the peak: where the curve first falls to `level`, at most at point `limit`. */
static crossing fall_before(const stw_scan *scan, uint32_t peak, uint32_t limit, double level) {
    uint32_t i = peak;
    while (i > limit) {
        i -= 1u;
        if (stw_corrected_a(scan, i) <= level) {
            return crossing_at(scan, i, level);
        }
    }
    return not_crossed(scan, limit);
}

static crossing fall_after(const stw_scan *scan, uint32_t peak, uint32_t limit, double level) {
    uint32_t i;
    for (i = peak + 1u; i <= limit; i++) {
        if (stw_corrected_a(scan, i) <= level) {
            return crossing_at(scan, i - 1u, level);
        }
    }
    return not_crossed(scan, limit);
}

/* The highest rise out of a valley on the way from the peak to either end of the window. */
static double second_rise(const stw_scan *scan, uint32_t peak) {
    const stw_range window = constants_of(scan)->window;
    const double top = stw_corrected_a(scan, peak);
    double highest[2] = {0.0, 0.0};
    double lowest = top;
    uint32_t i = peak;
    while (i > window.first) {
        double here;
        i -= 1u;
        here = stw_corrected_a(scan, i);
        lowest = (here < lowest) ? here : lowest;
        highest[0] = larger(here - lowest, highest[0]);
    }
    lowest = top;
    for (i = peak + 1u; i <= window.last; i++) {
        const double here = stw_corrected_a(scan, i);
        lowest = (here < lowest) ? here : lowest;
        highest[1] = larger(here - lowest, highest[1]);
    }
    return (highest[0] > highest[1]) ? highest[0] : highest[1];
}

static double between_points(const stw_scan *scan, uint32_t index, double fraction) {
    const double here = stw_corrected_a(scan, index);
    return here + (fraction * (stw_corrected_a(scan, index + 1u) - here));
}

#ifndef STW_WITHOUT_AREA
/* Trapezium rule over the window. */
static double area_of_window(const stw_scan *scan) {
    const stw_range window = constants_of(scan)->window;
    double here_v = potential_of(scan, window.first);
    double here_a = stw_corrected_a(scan, window.first);
    double area = 0.0;
    uint32_t i;
    for (i = window.first + 1u; i <= window.last; i++) {
        const double next_v = potential_of(scan, i);
        const double next_a = stw_corrected_a(scan, i);
        area += ((0.5 * here_a) + (0.5 * next_a)) * stw_abs(next_v - here_v);
        here_v = next_v;
        here_a = next_a;
    }
    return area;
}

static double mean_of_window(const stw_scan *scan) {
    const stw_range window = constants_of(scan)->window;
    stw_sum sum;
    uint32_t i;
    stw_sum_begin(&sum);
    for (i = window.first; i <= window.last; i++) {
        stw_sum_add(&sum, stw_corrected_a(scan, i));
    }
    return stw_sum_total(&sum) / (double)((window.last + 1u) - window.first);
}

#endif

/* Standard deviation of the unsmoothed baseline residuals about each noise range's own mean, pooled; 0 ranges: none. */
static void find_noise(const stw_scan *scan, stw_signal *signal) {
    const stw_method_constants *m = constants_of(scan);
    double squares = 0.0;
    uint32_t degrees_of_freedom = 0u;
    uint32_t side;
    for (side = 0u; side < 2u; side++) {
        const stw_range range = m->noise_range[side];
        if (range.first <= range.last) {
            const uint32_t n = (range.last + 1u) - range.first;
            stw_sum sum;
            double mean;
            uint32_t i;
            stw_sum_begin(&sum);
            for (i = range.first; i <= range.last; i++) {
                stw_sum_add(&sum, stw_subtracted_a(scan, i) - stw_baseline_a(scan, i));
            }
            mean = stw_sum_total(&sum) / (double)n;
            stw_sum_begin(&sum);
            for (i = range.first; i <= range.last; i++) {
                const double residual = (stw_subtracted_a(scan, i) - stw_baseline_a(scan, i)) - mean;
                stw_sum_add(&sum, residual * residual);
            }
            squares += stw_sum_total(&sum);
            degrees_of_freedom += n - 1u;
        }
    }
    if (degrees_of_freedom > 0u) {
        signal->noise_a = stw_sqrt(squares / (double)degrees_of_freedom);
        signal->has |= STW_HAS_NOISE;
    }
}

void stw_signal_clear(stw_signal *signal) {
    signal->signal_a = 0.0;
    signal->height_a = 0.0;
    signal->peak_potential_v = 0.0;
    signal->half_width_v = 0.0;
    signal->foot_potential_v[0] = 0.0;
    signal->foot_potential_v[1] = 0.0;
    signal->baseline_at_peak_a = 0.0;
    signal->noise_a = 0.0;
    signal->signal_to_noise = 0.0;
    signal->background_ratio = 0.0;
    signal->peak_index = 0u;
    signal->baseline_points[0] = 0u;
    signal->baseline_points[1] = 0u;
    signal->despiked = 0u;
    signal->flags = 0u;
    signal->has = 0u;
}

static void begin_signal(const stw_scan *scan, stw_signal *signal) {
    const stw_range window = constants_of(scan)->window;
    stw_signal_clear(signal);
    signal->peak_index = window.first + ((window.last - window.first) / 2u);
    signal->foot_potential_v[0] = potential_of(scan, window.first);
    signal->foot_potential_v[1] = potential_of(scan, window.last);
    signal->despiked = scan->despiked;
    if (scan->despiked > 0u) {
        signal->flags |= STW_FLAG_DESPIKED;
    }
    if (scan->has_points != 0u) {
        signal->baseline_points[0] = scan->point[0];
        signal->baseline_points[1] = scan->point[1];
        signal->has |= STW_HAS_BASELINE_POINTS;
    }
    find_noise(scan, signal);
}

/* Ratios and flags once the height is known; `searched`: with the limits of a peak. */
static uint32_t end_signal(const stw_scan *scan, uint32_t searched, stw_signal *signal) {
    const stw_method_constants *m = constants_of(scan);
    const uint32_t at = signal->peak_index;
    double background_a;
    signal->baseline_at_peak_a = stw_baseline_a(scan, at);
    background_a = ((scan->blank_a != NULL) ? scan->blank_a[at] : 0.0) + signal->baseline_at_peak_a;
    if (signal->height_a > 0.0) {
        signal->background_ratio = stw_abs(background_a) / signal->height_a;
        signal->has |= STW_HAS_BACKGROUND_RATIO;
    }
    if (((signal->has & STW_HAS_NOISE) != 0u) && (signal->noise_a > 0.0)) {
        signal->signal_to_noise = signal->height_a / signal->noise_a;
        signal->has |= STW_HAS_SIGNAL_TO_NOISE;
    }
    if (searched != 0u) {
        if (((signal->has & STW_HAS_BACKGROUND_RATIO) != 0u) && (signal->background_ratio > m->max_background_ratio)) {
            signal->flags |= STW_FLAG_BACKGROUND_SWALLOWS_PEAK;
        }
        if (((scan->lot->has & STW_LOT_HAS_PLACE) != 0u) &&
            (stw_abs(signal->peak_potential_v - scan->lot->peak_potential_v) > m->shift_limit_v)) {
            signal->flags |= STW_FLAG_POTENTIAL_SHIFTED;
        }
    }
    signal->signal_a += 0.0; /* -0 becomes +0 */
    return ((stw_is_finite(signal->signal_a) != 0u) && (stw_is_finite(signal->height_a) != 0u) &&
            (stw_is_finite(signal->baseline_at_peak_a) != 0u))
               ? STW_OK
               : STW_OUT_OF_NUMBER_RANGE;
}

/* Where the peak and its feet may lie: the window, cut at the points on which the baseline rests. */
static stw_range inside_of(const stw_scan *scan) {
    const stw_range window = constants_of(scan)->window;
    stw_range cut = window;
    if (scan->has_points != 0u) {
        cut.first = (window.first > scan->point[0]) ? window.first : scan->point[0];
        cut.last = (window.last < scan->point[1]) ? window.last : scan->point[1];
    }
    return (cut.first < cut.last) ? cut : window;
}

static uint32_t first_largest(const stw_scan *scan, stw_range range) {
    uint32_t at = range.first;
    double high = stw_corrected_a(scan, at);
    uint32_t i;
    for (i = range.first + 1u; i <= range.last; i++) {
        const double here = stw_corrected_a(scan, i);
        if (here > high) {
            high = here;
            at = i;
        }
    }
    return at;
}

/* Vertex of the parabola through a point and its neighbours. */
static void vertex(const stw_scan *scan, uint32_t index, double *peak_v, double *height_a) {
    const double x0 = potential_of(scan, index - 1u);
    const double x1 = potential_of(scan, index);
    const double x2 = potential_of(scan, index + 1u);
    const double y0 = stw_corrected_a(scan, index - 1u);
    const double y1 = stw_corrected_a(scan, index);
    const double y2 = stw_corrected_a(scan, index + 1u);
    const double step_before = x1 - x0;
    const double step_after = x2 - x1;
    const double slope_before = (y1 - y0) / step_before;
    const double slope_after = (y2 - y1) / step_after;
    const double span = step_before + step_after;
    const double curvature = (slope_after - slope_before) / span;
    const double slope = ((slope_before * step_after) + (slope_after * step_before)) / span;
    if (curvature == 0.0) {
        *peak_v = x1;
        *height_a = y1;
    } else {
        const double shift = -slope / (2.0 * curvature);
        *peak_v = x1 + shift;
        *height_a = y1 + ((0.5 * slope) * shift);
    }
}

/* Width, feet and a second peak. */
static void look_around(const stw_scan *scan, stw_range inside, double least_a, stw_signal *signal) {
    const uint32_t index = signal->peak_index;
    const double half_a = 0.5 * signal->height_a;
    const crossing half_before = fall_before(scan, index, 0u, half_a);
    const crossing half_after = fall_after(scan, index, scan->n_points - 1u, half_a);
    const crossing foot_before = fall_before(scan, index, inside.first, 0.0);
    const crossing foot_after = fall_after(scan, index, inside.last, 0.0);
    double rise_a;
    signal->foot_potential_v[0] = foot_before.potential_v;
    signal->foot_potential_v[1] = foot_after.potential_v;
    if ((half_before.found != 0u) && (half_after.found != 0u)) {
        signal->half_width_v = stw_abs(half_after.potential_v - half_before.potential_v);
        signal->has |= STW_HAS_HALF_WIDTH;
    } else {
        signal->flags |= STW_FLAG_HALF_WIDTH_OPEN;
    }
    rise_a = second_rise(scan, index);
    if ((rise_a > (constants_of(scan)->second_peak_fraction * signal->height_a)) && (rise_a > least_a)) {
        signal->flags |= STW_FLAG_TWO_PEAKS;
    }
}

static stw_refusal refusal_of(uint32_t code) {
    stw_refusal refusal;
    refusal.code = code;
    refusal.index = 0u;
    refusal.height_a = 0.0;
    refusal.noise_a = 0.0;
    return refusal;
}

stw_refusal stw_search_peak(const stw_scan *scan, stw_signal *signal) {
    const stw_method_constants *m = constants_of(scan);
    const stw_range inside = inside_of(scan);
    stw_refusal refusal = refusal_of(STW_OK);
    double peak_v;
    double height_a;
    double least_a;
    uint32_t index;
    begin_signal(scan, signal);
    index = first_largest(scan, inside);
    refusal.index = index;
    if ((index == inside.first) || (index == inside.last)) {
        refusal.code = STW_MAXIMUM_ON_WINDOW_EDGE;
        refusal.height_a = stw_corrected_a(scan, index);
        return refusal;
    }
    vertex(scan, index, &peak_v, &height_a);
    least_a = m->min_signal_to_noise * signal->noise_a;
    if ((stw_is_finite(height_a) == 0u) || (stw_is_finite(peak_v) == 0u) || (stw_is_finite(signal->noise_a) == 0u)) {
        return refusal_of(STW_OUT_OF_NUMBER_RANGE);
    }
    if ((height_a <= 0.0) || (height_a < least_a)) {
        refusal.code = STW_NO_PEAK;
        refusal.height_a = height_a;
        refusal.noise_a = signal->noise_a;
        return refusal;
    }
    signal->peak_index = index;
    signal->height_a = height_a;
    signal->peak_potential_v = peak_v;
    signal->has |= STW_HAS_PEAK_POTENTIAL;
    look_around(scan, inside, least_a, signal);
    switch (m->measure) {
#ifndef STW_WITHOUT_AREA
    case STW_MEASURE_AREA:
        signal->signal_a = area_of_window(scan);
        break;
#endif
    case STW_MEASURE_HEIGHT_AT:
        signal->signal_a = between_points(scan, m->at_index, m->at_fraction);
        break;
    default:
        signal->signal_a = height_a;
        break;
    }
    return refusal_of(end_signal(scan, 1u, signal));
}

stw_refusal stw_measure_at(const stw_scan *scan, uint32_t index, double fraction, stw_signal *signal) {
    const stw_method_constants *m = constants_of(scan);
    begin_signal(scan, signal);
    switch (m->measure) {
#ifndef STW_WITHOUT_AREA
    case STW_MEASURE_AREA:
        signal->signal_a = area_of_window(scan);
        signal->height_a = mean_of_window(scan);
        break;
#endif
    case STW_MEASURE_HEIGHT_AT:
        signal->signal_a = between_points(scan, m->at_index, m->at_fraction);
        signal->height_a = signal->signal_a;
        break;
    default:
        signal->signal_a = between_points(scan, index, fraction);
        signal->height_a = signal->signal_a;
        break;
    }
    return refusal_of(end_signal(scan, 0u, signal));
}
