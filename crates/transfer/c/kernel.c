/* kernel.c - one scan from its first point to its signal: begin, push, finish. */
#include "parts.h"

#define PHASE_OPEN 0x4F50454Eu
#define PHASE_DONE 0x444F4E45u

uint32_t stw_storage_needed(const stw_method *method) {
    const stw_method_constants *m = method->constants;
    return m->n_points + (((m->switches & STW_HAS_REVERSE) != 0u) ? (2u * m->end_points) : 0u);
}

/* ---- begin ---- */

static uint32_t range_fits(stw_range range, uint32_t n) {
    return ((range.first <= range.last) && (range.last < n)) ? 1u : 0u;
}

static uint32_t range_fits_or_none(stw_range range, uint32_t n) {
    return ((range.first > range.last) || (range.last < n)) ? 1u : 0u;
}

static uint32_t baseline_fits(const stw_method_constants *m) {
    uint32_t fits;
    switch (m->baseline) {
    case STW_BASELINE_NONE:
        fits = 1u;
        break;
    case STW_BASELINE_LINE:
#ifndef STW_WITHOUT_MINIMA
    case STW_BASELINE_MINIMA:
#endif
#ifndef STW_WITHOUT_POLYNOMIAL
    case STW_BASELINE_POLYNOMIAL:
#endif
        fits = ((range_fits(m->baseline_range[0], m->n_points) != 0u) &&
                (range_fits(m->baseline_range[1], m->n_points) != 0u) && (m->baseline_degree <= 4u))
                   ? 1u
                   : 0u;
        break;
#ifndef STW_WITHOUT_TANGENT
    case STW_BASELINE_TANGENT:
        fits = ((range_fits(m->baseline_range[0], m->n_points) != 0u) && (m->baseline_range[0].first < m->window.first) &&
                (m->window.last < m->baseline_range[0].last))
                   ? 1u
                   : 0u;
        break;
#endif
    default:
        fits = 0u; /* unknown, or left out of this build */
        break;
    }
    return fits;
}

/* Whether every index that the constants name lies inside the scan: no constants, however wrong, lead out of a buffer. */
static uint32_t constants_fit(const stw_method *method) {
    const stw_method_constants *m = method->constants;
    const uint32_t n = m->n_points;
    const uint32_t window = m->smoothing_window;
    uint32_t fits = 1u;
    uint32_t side;
    if ((n < 3u) || (n > 65535u) || ((method->potential_v != NULL) && (method->n_potentials != n))) {
        return 0u;
    }
    if (((window != 0u) && ((method->weights == NULL) || ((window % 2u) == 0u) || (window > STW_MOST_SMOOTHING) ||
                            (window > n) || (method->n_weights != (((window / 2u) + 1u) * window))))) {
        fits = 0u;
    }
    if ((range_fits(m->window, n) == 0u) || (baseline_fits(m) == 0u)) {
        fits = 0u;
    }
    for (side = 0u; side < 2u; side++) {
        if ((range_fits_or_none(m->noise_range[side], n) == 0u) || (range_fits_or_none(m->outside[side], n) == 0u)) {
            fits = 0u;
        }
    }
    if ((m->measure > STW_MEASURE_HEIGHT_AT) || (m->at_index >= (n - 1u)) || (m->n_limits > STW_MOST_LIMITS)) {
        fits = 0u;
    }
#ifdef STW_WITHOUT_AREA
    if (m->measure == STW_MEASURE_AREA) {
        fits = 0u;
    }
#endif
    if ((m->middle_index >= (n - 1u)) && (m->middle_index != UINT32_MAX)) {
        fits = 0u;
    }
    if ((m->start_up_why == 0u) && ((m->start_up_points == 0u) || (m->start_up_points > n) ||
                                    (m->start_up_trend_points < 6u) ||
                                    (m->start_up_trend_points > (n - m->start_up_points)))) {
        fits = 0u;
    }
    /* Potentials are whole units: no sum of them may leave 32 bits. */
    if ((method->potential_v == NULL) &&
        ((m->step_units > 32767) || (m->step_units < -32768) || (m->start_units > 1000000000) ||
         (m->start_units < -1000000000) || (m->step_units == 0))) {
        fits = 0u;
    }
    return (m->end_points <= 65535u) ? fits : 0u;
}

static uint32_t check_method(const stw_method *method) {
    uint32_t code = STW_OK;
    if (method->constants == NULL) {
        return STW_ARGUMENT_MISSING;
    }
    if (method->constants->layout != STW_LAYOUT) {
        return STW_LAYOUT_UNKNOWN;
    }
    if (constants_fit(method) == 0u) {
        code = STW_SETTING_NOT_USABLE;
    } else if (stw_method_checksum(method) != method->checksum) {
        code = STW_METHOD_CHANGED;
    } else {
        code = STW_OK;
    }
    return code;
}

static uint32_t check_lot(const stw_method *method, const stw_lot *lot) {
    uint32_t i;
    if (lot->layout != STW_LAYOUT) {
        return STW_LAYOUT_UNKNOWN;
    }
    for (i = 0u; i < 32u; i++) {
        if (lot->method_hash[i] != method->constants->hash[i]) {
            return STW_LOT_OF_ANOTHER_METHOD;
        }
    }
    if ((lot->n_claims > STW_MOST_ELECTRODES) ||
        (((lot->has & STW_LOT_HAS_PLACE) != 0u) && (lot->place_index >= (method->constants->n_points - 1u)))) {
        return STW_SETTING_NOT_USABLE;
    }
    return STW_OK;
}

/* The blank has the scan's length where the method subtracts one; that of the lot record belongs to its checksum. */
static uint32_t check_blank(const stw_method *method, const stw_lot *lot, const double *blank_a, uint32_t n_blank) {
    const stw_method_constants *m = method->constants;
    uint32_t code = STW_OK;
    if ((m->switches & STW_HAS_BLANK) != 0u) {
        if ((blank_a == NULL) || (n_blank == 0u)) {
            code = STW_BLANK_MISSING;
        } else if ((n_blank != m->n_points) || ((lot->n_blank != 0u) && (lot->n_blank != n_blank))) {
            code = STW_LENGTHS_DIFFER;
        } else {
            code = STW_OK;
        }
    } else if (lot->n_blank != 0u) {
        code = STW_LENGTHS_DIFFER;
    } else {
        code = STW_OK;
    }
    return code;
}

static void start(stw_scan *scan, const stw_method *method, const stw_lot *lot, const double *blank_a, double *storage) {
    const stw_method_constants *m = method->constants;
    uint32_t i;
    scan->method = method;
    scan->lot = lot;
    scan->blank_a = ((m->switches & STW_HAS_BLANK) != 0u) ? blank_a : NULL;
    scan->current_a = storage;
    scan->gap_a = ((m->switches & STW_HAS_REVERSE) != 0u) ? &storage[m->n_points] : NULL;
    scan->line_at_v = 0.0;
    scan->line_at_a = 0.0;
    scan->line_slope = 0.0;
    for (i = 0u; i < 5u; i++) {
        scan->poly_a[i] = 0.0;
        scan->poly_b[i] = 0.0;
        scan->poly_c[i] = 0.0;
    }
    scan->n_points = m->n_points;
    scan->n_pushed = 0u;
    scan->overload_count = 0u;
    scan->overload_first = 0u;
    scan->finite_current = 1u;
    scan->finite_pair = 1u;
    scan->despiked = 0u;
    scan->has_points = 0u;
    scan->point[0] = 0u;
    scan->point[1] = 0u;
    scan->phase = PHASE_OPEN;
}

uint32_t stw_scan_begin(stw_scan *scan, const stw_method *method, const stw_lot *lot, const double *blank_a, uint32_t n_blank,
                        double *storage, uint32_t n_storage) {
    uint32_t code;
    if ((scan == NULL) || (method == NULL) || (lot == NULL) || (storage == NULL)) {
        return STW_ARGUMENT_MISSING;
    }
    scan->phase = 0u;
    code = check_method(method);
    if (code == STW_OK) {
        code = check_lot(method, lot);
    }
    if (code == STW_OK) {
        code = check_blank(method, lot, blank_a, n_blank);
    }
    if ((code == STW_OK) && (stw_lot_checksum(lot, blank_a, n_blank) != lot->checksum)) {
        code = STW_LOT_CHANGED;
    }
    if ((code == STW_OK) && (n_storage < stw_storage_needed(method))) {
        code = STW_WORKSPACE_TOO_SMALL;
    }
    if (code == STW_OK) {
        start(scan, method, lot, blank_a, storage);
    }
    return code;
}

/* ---- push ---- */

/* The gap between forward and reverse current, kept at both ends of the scan only. */
static void keep_gap(stw_scan *scan, uint32_t index, double gap_a) {
    const uint32_t count = scan->method->constants->end_points;
    if (index < count) {
        scan->gap_a[index] = gap_a;
    }
    if ((count <= scan->n_points) && (index >= (scan->n_points - count))) {
        scan->gap_a[count + (index - (scan->n_points - count))] = gap_a;
    }
}

uint32_t stw_scan_push(stw_scan *scan, const stw_point *point) {
    uint32_t sound;
    uint32_t index;
    if ((scan == NULL) || (point == NULL)) {
        return STW_ARGUMENT_MISSING;
    }
    if (scan->phase != PHASE_OPEN) {
        return STW_NOT_BEGUN;
    }
    if (scan->n_pushed >= scan->n_points) {
        return STW_LENGTHS_DIFFER;
    }
    index = scan->n_pushed;
    sound = stw_is_finite(point->current_a);
    scan->finite_current &= sound;
    scan->current_a[index] = point->current_a;
    if (scan->gap_a != NULL) {
        const uint32_t both = stw_is_finite(point->forward_a) & stw_is_finite(point->reverse_a);
        scan->finite_pair &= both;
        sound &= both;
        keep_gap(scan, index, point->forward_a - point->reverse_a);
    }
    if ((sound == 0u) || (point->overload != 0u)) {
        if (scan->overload_count == 0u) {
            scan->overload_first = index;
        }
        scan->overload_count += 1u;
    }
    scan->n_pushed = index + 1u;
    return STW_OK;
}

/* ---- finish ---- */

static double blank_at(const stw_scan *scan, uint32_t index) {
    return scan->blank_a[index];
}

/* Scan less blank, in place if `keep`; n_points, or the index of the first difference that is no finite number. */
static uint32_t subtract(stw_scan *scan, uint32_t keep) {
    uint32_t bad = scan->n_points;
    uint32_t i;
    for (i = 0u; i < scan->n_points; i++) {
        const double difference =
            (scan->blank_a != NULL) ? (scan->current_a[i] - blank_at(scan, i)) : scan->current_a[i];
        if ((stw_is_finite(difference) == 0u) && (bad == scan->n_points)) {
            bad = i;
        }
        if (keep != 0u) {
            scan->current_a[i] = difference;
        }
    }
    return bad;
}

/* Replaces single outlying points by the median of their neighbours as recorded; two recorded points are carried along. */
static void despike(stw_scan *scan) {
    const stw_method_constants *m = scan->method->constants;
    const uint32_t n = scan->n_points;
    stw_terms terms;
    double limit_a;
    double five[5];
    uint32_t i;
    if (n < 5u) {
        return;
    }
    terms.values = scan->current_a;
    terms.n = n - 4u;
    terms.kind = STW_TERM_BESIDE_NEIGHBOURS;
    limit_a = (m->despike_limit * 1.4826) * stw_median(&terms);
    five[0] = scan->current_a[0];
    five[1] = scan->current_a[1];
    for (i = 2u; (i + 2u) < n; i++) {
        stw_beside found;
        five[2] = scan->current_a[i];
        five[3] = scan->current_a[i + 1u];
        five[4] = scan->current_a[i + 2u];
        found = stw_beside_neighbours(five);
        if ((found.deviation > limit_a) && (found.deviation > (m->despike_min_ratio * found.range)) &&
            (found.deviation > m->despike_floor_a)) {
            scan->current_a[i] = found.middle;
            scan->despiked += 1u;
        }
        five[0] = five[1];
        five[1] = five[2];
    }
}

/* Despiking and subtraction; 0 or why not. */
static stw_refusal prepare(stw_scan *scan) {
    const uint32_t has_despike = scan->method->constants->switches & STW_HAS_DESPIKE;
    stw_refusal refusal = {0.0, 0.0, STW_OK, 0u};
    uint32_t bad = subtract(scan, (has_despike != 0u) ? 0u : 1u);
    if ((bad == scan->n_points) && (has_despike != 0u)) {
        despike(scan);
        bad = subtract(scan, 1u);
    }
    if (bad != scan->n_points) {
        refusal.code = STW_NOT_FINITE;
        refusal.index = bad;
    }
    return refusal;
}

/* Place and height of the largest corrected current beside the window; 0 where nothing is looked at. */
static uint32_t look_outside(const stw_scan *scan, uint32_t *at, double *height_a) {
    const stw_method_constants *m = scan->method->constants;
    uint64_t high = 0u;
    uint32_t found = 0u;
    uint32_t side;
    uint32_t i;
    for (side = 0u; side < 2u; side++) {
        const stw_range range = m->outside[side];
        if (range.first <= range.last) {
            for (i = range.first; i <= range.last; i++) {
                const uint64_t here = stw_order_of(stw_corrected_a(scan, i));
                if ((found == 0u) || (here >= high)) {
                    high = here;
                    *at = i;
                    found = 1u;
                }
            }
        }
    }
    if (found != 0u) {
        *height_a = stw_from_order(high);
    }
    return found;
}

/* A larger peak beside the window makes the one inside another substance's, or none. */
static void judge_outside(const stw_scan *scan, const stw_refusal *refusal, const stw_signal *signal,
                          stw_scan_result *result) {
    const uint32_t looked =
        ((refusal->code == STW_OK) || (refusal->code == STW_NO_PEAK) || (refusal->code == STW_MAXIMUM_ON_WINDOW_EDGE))
            ? 1u
            : 0u;
    const double inside_a = (refusal->code == STW_OK) ? signal->height_a : 0.0;
    if ((looked != 0u) && (look_outside(scan, &result->outside_index, &result->outside_height_a) != 0u)) {
        if (((scan->lot->has & STW_LOT_HAS_PLACE) != 0u) && ((scan->lot->has & STW_LOT_HAS_LOWEST_SIGNAL) != 0u) &&
            (result->outside_height_a > inside_a) &&
            (result->outside_height_a > (0.5 * scan->lot->lowest_signal_a))) {
            result->reasons |= STW_BECAUSE_PEAK_OUTSIDE | STW_CONDEMNS_SAMPLE;
        }
    }
}

/* A maximum on the edge that does not stand out of the noise is no peak, wherever chance has put it. */
static void edge_or_noise(stw_scan *scan, stw_refusal *refusal) {
    const stw_method_constants *m = scan->method->constants;
    double noise_a = 0.0;
    if (m->middle_index != UINT32_MAX) {
        stw_signal beside;
        stw_draw_baseline(scan, 0u);
        if (stw_measure_at(scan, m->middle_index, m->middle_fraction, &beside).code == STW_OK) {
            noise_a = beside.noise_a;
        }
    }
    if (refusal->height_a < (m->min_signal_to_noise * noise_a)) {
        refusal->code = STW_NO_PEAK;
        refusal->noise_a = noise_a;
    }
}

static void judge_signal(const stw_scan *scan, const stw_signal *signal, stw_scan_result *result) {
    const uint32_t needed = STW_HAS_HALF_WIDTH | STW_HAS_SIGNAL_TO_NOISE;
    const uint32_t usual = STW_LOT_HAS_PLACE | STW_LOT_HAS_HALF_WIDTH;
    if (((signal->has & needed) == needed) && ((scan->lot->has & usual) == usual)) {
        const double limit = scan->method->constants->width_tolerance + (2.0 / signal->signal_to_noise);
        const double usual_v = scan->lot->half_width_v;
        if (stw_abs((signal->half_width_v - usual_v) / usual_v) > limit) {
            result->reasons |= STW_BECAUSE_PEAK_WIDTH | STW_CONDEMNS_SAMPLE;
        }
    }
    if ((signal->flags & STW_FLAG_BACKGROUND_SWALLOWS_PEAK) != 0u) {
        result->reasons |= STW_BECAUSE_BACKGROUND;
    }
    if ((signal->flags & STW_FLAG_TWO_PEAKS) != 0u) {
        result->reasons |= STW_BECAUSE_TWO_PEAKS | STW_CONDEMNS_SAMPLE;
    }
    if ((signal->flags & STW_FLAG_POTENTIAL_SHIFTED) != 0u) {
        result->reasons |= STW_BECAUSE_PEAK_SHIFT;
    }
}

static void refuse(stw_scan_result *result, const stw_refusal *refusal) {
    result->reasons |= STW_BECAUSE_EVALUATION;
    if (refusal->code == STW_MAXIMUM_ON_WINDOW_EDGE) {
        result->reasons |= STW_CONDEMNS_SAMPLE;
    }
}

static void note_refusal(stw_scan_result *result, const stw_refusal *refusal) {
    result->refusal = refusal->code;
    result->refusal_index = refusal->index;
    result->refusal_height_a = refusal->height_a;
    result->refusal_noise_a = refusal->noise_a;
}

/* No peak is no refusal yet: the scan is measured where the standards have theirs, and the sample decides. */
static void without_peak(stw_scan *scan, const stw_refusal *no_peak, stw_scan_result *result) {
    stw_refusal refusal = *no_peak;
    if (((scan->lot->has & STW_LOT_HAS_PLACE) != 0u) && (result->reasons == 0u)) {
        stw_draw_baseline(scan, 0u);
        refusal = stw_measure_at(scan, scan->lot->place_index, scan->lot->place_fraction, &result->signal);
        if (refusal.code == STW_OK) {
            result->outcome = STW_SIGNAL_AT_PLACE;
        } else {
            note_refusal(result, &refusal);
        }
    }
    if (refusal.code != STW_OK) {
        refuse(result, &refusal);
    }
}

static void evaluate(stw_scan *scan, stw_scan_result *result) {
    stw_refusal refusal = prepare(scan);
    if (refusal.code == STW_OK) {
        stw_draw_baseline(scan, 1u);
        refusal = stw_search_peak(scan, &result->signal);
        judge_outside(scan, &refusal, &result->signal, result);
    }
    if (refusal.code == STW_MAXIMUM_ON_WINDOW_EDGE) {
        edge_or_noise(scan, &refusal);
    }
    if (refusal.code == STW_OK) {
        judge_signal(scan, &result->signal, result);
        if (result->reasons == 0u) {
            result->outcome = STW_SIGNAL_BY_PEAK;
        }
    } else {
        note_refusal(result, &refusal);
        if (refusal.code == STW_NO_PEAK) {
            without_peak(scan, &refusal, result);
        } else {
            refuse(result, &refusal);
        }
    }
    if (result->outcome == STW_SCAN_REFUSED) {
        stw_signal_clear(&result->signal);
    }
}

static void clear(stw_scan_result *result) {
    uint32_t i;
    for (i = 0u; i < STW_TRUST_CHECKS; i++) {
        result->trust[i].state = STW_NOT_TESTABLE + STW_WHY_NOT_STATED;
        result->trust[i].at_index = 0u;
        result->trust[i].found = 0.0;
        result->trust[i].limit = 0.0;
    }
    stw_signal_clear(&result->signal);
    result->refusal_height_a = 0.0;
    result->refusal_noise_a = 0.0;
    result->outside_height_a = 0.0;
    result->outside_index = 0u;
    result->refusal = STW_OK;
    result->refusal_index = 0u;
    result->outcome = STW_SCAN_REFUSED;
    result->reasons = 0u;
    result->spikes_only_warned = 0u;
}

/* Failed checks refuse the scan; spikes only warn where the method repairs them point by point. */
static void judge_trust(const stw_scan *scan, stw_scan_result *result) {
    const uint32_t has_despike = scan->method->constants->switches & STW_HAS_DESPIKE;
    uint32_t check;
    for (check = 0u; check < STW_TRUST_CHECKS; check++) {
        if (result->trust[check].state == STW_FAILED) {
            if ((check == STW_CHECK_SPIKES) && (has_despike != 0u)) {
                result->spikes_only_warned = 1u;
            } else {
                result->reasons |= STW_BECAUSE_TRUST;
                if ((check == STW_CHECK_CLIPPING) || (check == STW_CHECK_OVERLOAD)) {
                    result->reasons |= STW_CONDEMNS_SAMPLE;
                }
            }
        }
    }
}

/* Common to samples and blanks: closes the scan and makes the trust checks. */
static uint32_t close_scan(stw_scan *scan, stw_scan_result *result) {
    if ((scan == NULL) || (result == NULL)) {
        return STW_ARGUMENT_MISSING;
    }
    clear(result);
    if (scan->phase != PHASE_OPEN) {
        return STW_NOT_BEGUN;
    }
    scan->phase = PHASE_DONE;
    if (scan->n_pushed != scan->n_points) {
        return STW_LENGTHS_DIFFER;
    }
    stw_check_scan(scan, result->trust);
    judge_trust(scan, result);
    return STW_OK;
}

uint32_t stw_scan_finish(stw_scan *scan, stw_scan_result *result) {
    const uint32_t code = close_scan(scan, result);
    if ((code == STW_OK) && (result->reasons == 0u)) {
        evaluate(scan, result);
    }
    return code;
}

/* ---- a blank recorded on the device ---- */

uint32_t stw_blank_finish(stw_scan *scan, stw_scan_result *result, double *sum_a, uint32_t *n_blanks) {
    uint32_t code;
    uint32_t i;
    if ((sum_a == NULL) || (n_blanks == NULL)) {
        return STW_ARGUMENT_MISSING;
    }
    code = close_scan(scan, result);
    if ((code == STW_OK) && (result->reasons == 0u)) {
        for (i = 0u; i < scan->n_points; i++) {
            sum_a[i] += scan->current_a[i];
        }
        *n_blanks += 1u;
    }
    return code;
}

uint32_t stw_blank_mean(double *sum_a, uint32_t n_points, uint32_t n_blanks) {
    uint32_t i;
    if (sum_a == NULL) {
        return STW_ARGUMENT_MISSING;
    }
    if (n_blanks == 0u) {
        return STW_BLANK_MISSING;
    }
    for (i = 0u; i < n_points; i++) {
        sum_a[i] /= (double)n_blanks;
    }
    return STW_OK;
}
