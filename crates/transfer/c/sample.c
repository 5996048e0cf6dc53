/* sample.c - from the signals of a sample's electrodes to its concentration, interval and verdicts. */
#include "parts.h"

#define PHASE_OPEN 0x53414D50u
#define PHASE_DONE 0x444F4E45u

static double positive_infinity(void) {
    return stw_double_of(UINT64_C(0x7FF0000000000000));
}

static double zero_or_more(double x) {
    return (x > 0.0) ? x : 0.0;
}

static double larger(double a, double b) {
    return (a > b) ? a : b;
}

uint32_t stw_sample_begin(stw_sample *sample, const stw_method *method, const stw_lot *lot, const stw_conditions *conditions) {
    uint32_t i;
    uint32_t j;
    if ((sample == NULL) || (method == NULL) || (lot == NULL) || (conditions == NULL) || (method->constants == NULL)) {
        return STW_ARGUMENT_MISSING;
    }
    sample->phase = 0u;
    if ((method->constants->layout != STW_LAYOUT) || (lot->layout != STW_LAYOUT)) {
        return STW_LAYOUT_UNKNOWN;
    }
    if ((method->constants->n_limits > STW_MOST_LIMITS) || (lot->n_claims > STW_MOST_ELECTRODES)) {
        return STW_SETTING_NOT_USABLE;
    }
    if ((stw_is_finite(conditions->dilution_factor) == 0u) || (stw_is_finite(conditions->dilution_u) == 0u) ||
        (conditions->dilution_factor < 1.0) || (conditions->dilution_u < 0.0)) {
        return STW_SETTING_NOT_USABLE;
    }
    sample->method = method;
    sample->lot = lot;
    sample->conditions = *conditions;
    for (i = 0u; i < STW_MOST_ELECTRODES; i++) {
        sample->n_scans[i] = 0u;
        for (j = 0u; j < STW_MOST_SCANS; j++) {
            sample->signal_a[i][j] = 0.0;
        }
    }
    sample->n_without_peak = 0u;
    sample->n_refused = 0u;
    sample->condemned = 0u;
    sample->phase = PHASE_OPEN;
    return STW_OK;
}

uint32_t stw_sample_add(stw_sample *sample, uint32_t electrode, const stw_scan_result *result) {
    if ((sample == NULL) || (result == NULL)) {
        return STW_ARGUMENT_MISSING;
    }
    if (sample->phase != PHASE_OPEN) {
        return STW_NOT_BEGUN;
    }
    if ((electrode >= STW_MOST_ELECTRODES) || (sample->n_scans[electrode] >= STW_MOST_SCANS)) {
        return STW_TOO_MANY;
    }
    if ((result->outcome == STW_SIGNAL_BY_PEAK) || (result->outcome == STW_SIGNAL_AT_PLACE)) {
        sample->signal_a[electrode][sample->n_scans[electrode]] = result->signal.signal_a;
        sample->n_scans[electrode] += 1u;
        if (result->outcome == STW_SIGNAL_AT_PLACE) {
            sample->n_without_peak += 1u;
        }
    } else {
        sample->n_refused += 1u;
        if ((result->reasons & STW_CONDEMNS_SAMPLE) != 0u) {
            sample->condemned = 1u;
        }
    }
    return STW_OK;
}

/* ---- the signals of the electrodes at the calibration's temperature ---- */

/* signal(T) = signal(T0) (1 + a (T - T0)); 0 where the temperature refuses the sample. */
static uint32_t temperature_factor(const stw_sample *sample, double *factor, double *relative_u) {
    const stw_method_constants *m = sample->method->constants;
    const double sample_c = sample->conditions.temperature_c;
    double difference_k;
    double relative;
    *factor = 1.0;
    *relative_u = 0.0;
    if ((m->switches & STW_HAS_TEMPERATURE) == 0u) {
        return 1u;
    }
    if (((sample->conditions.stated & STW_TEMPERATURE_STATED) == 0u) || (stw_is_finite(sample_c) == 0u) ||
        (sample_c < m->temperature_low_c) || (sample_c > m->temperature_high_c) ||
        ((sample->lot->has & STW_LOT_HAS_TEMPERATURE) == 0u)) {
        return 0u;
    }
    difference_k = sample_c - sample->lot->temperature_c;
    if ((m->switches & STW_HAS_COEFFICIENT) == 0u) {
        return (stw_abs(difference_k) <= m->temperature_tolerance_k) ? 1u : 0u;
    }
    if (stw_abs(difference_k) <= m->temperature_tolerance_k) {
        *relative_u = stw_abs(m->temperature_per_k * difference_k) / stw_sqrt(3.0);
        return 1u;
    }
    relative = 1.0 + (m->temperature_per_k * difference_k);
    if (!(relative > 0.0)) {
        return 0u;
    }
    *factor = 1.0 / relative;
    *relative_u = stw_abs((m->temperature_u_per_k * difference_k) / relative);
    return 1u;
}

/* Ascending; a few numbers. */
static void sort(double *values, uint32_t n) {
    uint32_t i;
    for (i = 1u; i < n; i++) {
        const double moved = values[i];
        uint32_t j = i;
        while ((j > 0u) && (stw_order_of(values[j - 1u]) > stw_order_of(moved))) {
            values[j] = values[j - 1u];
            j -= 1u;
        }
        values[j] = moved;
    }
}

typedef struct {
    double mean_a[STW_MOST_ELECTRODES];
    uint32_t n_scans[STW_MOST_ELECTRODES];
    double all_a;
    uint32_t n;
} electrodes;

static void means_of(const stw_sample *sample, double factor, electrodes *found) {
    uint32_t i;
    uint32_t j;
    found->n = 0u;
    for (i = 0u; i < STW_MOST_ELECTRODES; i++) {
        const uint32_t n = sample->n_scans[i];
        double signals_a[STW_MOST_SCANS];
        if (n > 0u) {
            for (j = 0u; j < n; j++) {
                signals_a[j] = sample->signal_a[i][j] * factor;
            }
            sort(signals_a, n);
            found->mean_a[found->n] = stw_exact_mean(signals_a, n);
            found->n_scans[found->n] = n;
            found->n += 1u;
        }
    }
    found->all_a = (found->n > 0u) ? stw_exact_mean(found->mean_a, found->n) : 0.0;
}

/* ---- what the sample's electrodes add to the interval ---- */

/* The level of a signal on the curve; the end of the range where there is none. */
static double level_of(const stw_lot *lot, double signal_a) {
    const double c1 = lot->coefficients[1];
    const double c2 = lot->coefficients[2];
    double level;
    if (c2 == 0.0) {
        level = (signal_a - lot->coefficients[0]) / c1;
    } else {
        const double above_lowest = signal_a - stw_signal_at(lot, lot->level_min);
        const double slope = c1 + ((2.0 * c2) * lot->level_min);
        const double root = stw_sqrt((slope * slope) + ((4.0 * c2) * above_lowest));
        level = lot->level_min + ((2.0 * above_lowest) / (slope + ((slope < 0.0) ? -root : root)));
    }
    return (stw_is_finite(level) != 0u) ? level : lot->level_max;
}

/* Extra variance of the mean signal: for fewer scans than the standards had, and where the electrodes disagree. */
static double extra_variance_a2(const stw_sample *sample, const electrodes *e, stw_sample_result *result) {
    const stw_lot *lot = sample->lot;
    const double m = (double)e->n;
    const double level = level_of(lot, e->all_a);
    const double relative = stw_relative_variance_at(lot, level);
    const double of_electrodes = ((lot->residual_sd * lot->residual_sd) * relative) / m;
    double missing = 0.0;
    double of_fewer_scans;
    double of_disagreement = 0.0;
    uint32_t i;
    for (i = 0u; i < e->n; i++) {
        missing += zero_or_more((1.0 / (double)e->n_scans[i]) - (1.0 / lot->scans_per_electrode));
    }
    of_fewer_scans = ((lot->scan_variance_a2 * relative) * missing) / (m * m);
    if (e->n > 1u) {
        const double *v = lot->relative_variance;
        const double expected = (level > lot->level_max) ? (v[0] + (level * (v[1] + (level * v[2])))) : relative;
        const double limit = lot->claims[e->n - 1u].disagreement_limit;
        double squares = 0.0;
        double found;
        double ratio;
        for (i = 0u; i < e->n; i++) {
            squares += (e->mean_a[i] - e->all_a) * (e->mean_a[i] - e->all_a);
        }
        found = squares / (m - 1.0);
        ratio = found / ((lot->electrode_variance_a2 * expected) + (of_fewer_scans * m));
        result->disagreement = ratio;
        result->disagreement_limit = limit;
        if (ratio > limit) {
            of_disagreement = zero_or_more(((found / m) - of_electrodes) - of_fewer_scans);
            result->withheld |= STW_WITHHELD_DISAGREEMENT;
        }
    }
    return of_fewer_scans + of_disagreement;
}

/* To first order, in level units. */
static double standard_u_of(const stw_lot *lot, double level, uint32_t n, double extra_a2) {
    const double at = larger(level, lot->level_min);
    const double slope = stw_abs(lot->coefficients[1] + ((2.0 * lot->coefficients[2]) * at));
    return (stw_prediction_half_width_a(lot, level, (double)n, extra_a2) / lot->t_quantile) / slope;
}

/* ---- what can be said ---- */

typedef struct {
    double levels;
    double temperature;
    double dilution;
} relative_parts;

static double in_quadrature(double first, const double parts[3]) {
    const double squares = (((first * first) + (parts[0] * parts[0])) + (parts[1] * parts[1])) + (parts[2] * parts[2]);
    return stw_sqrt(squares);
}

/* Widens the calibration's interval by the relative parts and scales it by the dilution. */
static void widen(const stw_sample *sample, const relative_parts *u, stw_sample_result *result) {
    const double t = sample->lot->t_quantile;
    const double size = stw_abs(result->level);
    const double dilution = sample->conditions.dilution_factor;
    const double parts[3] = {(t * u->levels) * size, (t * u->temperature) * size, (t * u->dilution) * size};
    const double below = in_quadrature(result->level - result->level_low, parts);
    const double above = in_quadrature(result->level_high - result->level, parts);
    result->value = result->level * dilution;
    result->low = (result->level - below) * dilution;
    result->high = (result->level + above) * dilution;
}

static void refuse(stw_sample_result *result, uint32_t because) {
    result->outcome = STW_REFUSED;
    result->refused_because = because;
}

static void refuse_unless_finite(stw_sample_result *result) {
    if (stw_is_finite(result->bound) == 0u) {
        result->bound = 0.0;
        refuse(result, STW_SAMPLE_NUMBER_RANGE);
    }
}

static void say_above_range(const stw_sample *sample, const relative_parts *u, stw_sample_result *result) {
    const double sum = ((u->levels * u->levels) + (u->temperature * u->temperature)) + (u->dilution * u->dilution);
    const double left = zero_or_more(1.0 - (sample->lot->t_quantile * stw_sqrt(sum)));
    if (sample->n_without_peak > 0u) {
        refuse(result, STW_SAMPLE_NO_PEAK_ABOVE);
        return;
    }
    result->bound = (result->level_low * left) * sample->conditions.dilution_factor;
    result->outcome = STW_ABOVE_RANGE;
    refuse_unless_finite(result);
}

static void say_less_than(const stw_sample *sample, double limit, uint32_t outcome, stw_sample_result *result) {
    result->bound = larger(limit * sample->conditions.dilution_factor, result->high);
    result->outcome = outcome;
    refuse_unless_finite(result);
}

static void say_within_or_below(const stw_sample *sample, const relative_parts *u, stw_sample_result *result) {
    const stw_lot *lot = sample->lot;
    const stw_claim *claim;
    double quantified_from;
    widen(sample, u, result);
    if (result->n_electrodes > lot->n_claims) {
        refuse(result, STW_SAMPLE_NO_CLAIM);
        return;
    }
    claim = &lot->claims[result->n_electrodes - 1u];
    quantified_from = larger(claim->quantification_limit, lot->level_min);
    if (result->level < -claim->detection_limit) {
        refuse(result, STW_SAMPLE_NEGATIVE);
    } else if (result->level < claim->decision_limit) {
        if ((sample->conditions.stated & STW_CONTROL_ALIVE) == 0u) {
            refuse(result, STW_SAMPLE_NO_CONTROL);
        } else {
            say_less_than(sample, claim->detection_limit, STW_NOT_DETECTED, result);
        }
    } else if (sample->n_without_peak > 0u) {
        refuse(result, STW_SAMPLE_NO_PEAK_DETECTED);
    } else if (result->level < quantified_from) {
        say_less_than(sample, quantified_from, STW_BELOW_QUANTIFICATION, result);
    } else if (stw_is_finite(result->value) == 0u) {
        refuse(result, STW_SAMPLE_NUMBER_RANGE);
    } else {
        result->outcome = STW_QUANTIFIED;
    }
}

/* ---- verdicts ---- */

/* In the limit's own unit; 0 when the number leaves the range of a double. */
static uint32_t converted(const stw_limit *limit, double x, double *found) {
    uint32_t i;
    *found = x;
    for (i = 0u; i < 3u; i++) {
        switch (limit->step[i]) {
        case STW_MULTIPLY:
            *found *= limit->factor[i];
            break;
        case STW_DIVIDE:
            *found /= limit->factor[i];
            break;
        default:
            break; /* left as it is */
        }
    }
    return stw_is_finite(*found);
}

/* Guarded three-way decision: below, above, or too close to call. */
static uint32_t verdict_of(double low, double high, double limit) {
    uint32_t verdict;
    if ((!(low <= high)) || (stw_is_finite(limit) == 0u) || (low == positive_infinity()) || (high == -positive_infinity())) {
        verdict = STW_NOT_DECIDABLE;
    } else if (high <= limit) {
        verdict = STW_BELOW;
    } else if (low > limit) {
        verdict = STW_ABOVE;
    } else {
        verdict = STW_TOO_CLOSE_TO_CALL;
    }
    return verdict;
}

static uint32_t decide_interval(const stw_limit *limit, const stw_sample_result *result) {
    const uint32_t ordered = ((stw_is_finite(result->low) != 0u) && (stw_is_finite(result->high) != 0u) &&
                              (result->low <= result->value) && (result->value <= result->high))
                                 ? 1u
                                 : 0u;
    double low = 0.0;
    double value = 0.0;
    double high = 0.0;
    uint32_t verdict = STW_NOT_DECIDABLE;
    if ((ordered != 0u) && (converted(limit, result->low, &low) != 0u) && (converted(limit, result->value, &value) != 0u) &&
        (converted(limit, result->high, &high) != 0u)) {
        verdict = verdict_of(low, high, limit->limit);
    }
    return verdict;
}

static uint32_t decide_bound(const stw_limit *limit, const stw_sample_result *result) {
    uint32_t verdict = STW_NOT_DECIDABLE;
    double bound = 0.0;
    if (converted(limit, result->bound, &bound) != 0u) {
        if ((result->outcome == STW_ABOVE_RANGE) && (bound > limit->limit)) {
            verdict = STW_ABOVE;
        }
        if ((result->outcome != STW_ABOVE_RANGE) && (bound <= limit->limit)) {
            verdict = STW_BELOW;
        }
    }
    return verdict;
}

/* Takes back what the measured substance cannot show about this limit. */
static uint32_t narrowed(const stw_limit *limit, uint32_t verdict) {
    uint32_t needed;
    switch (verdict) {
    case STW_BELOW:
        needed = STW_MAY_BE_BELOW;
        break;
    case STW_ABOVE:
        needed = STW_MAY_BE_ABOVE;
        break;
    case STW_TOO_CLOSE_TO_CALL:
        needed = STW_MAY_BE_TOO_CLOSE;
        break;
    default:
        needed = 0u;
        break;
    }
    return ((needed != 0u) && ((limit->allowed & needed) == 0u)) ? STW_NOT_DECIDABLE : verdict;
}

static void decide(const stw_sample *sample, stw_sample_result *result) {
    const stw_method_constants *m = sample->method->constants;
    uint32_t i;
    result->n_limits = m->n_limits;
    for (i = 0u; i < m->n_limits; i++) {
        uint32_t verdict;
        switch (result->outcome) {
        case STW_QUANTIFIED:
            verdict = decide_interval(&m->limits[i], result);
            break;
        case STW_BELOW_QUANTIFICATION:
        case STW_NOT_DETECTED:
        case STW_ABOVE_RANGE:
            verdict = decide_bound(&m->limits[i], result);
            break;
        default:
            verdict = STW_NOT_DECIDABLE;
            break;
        }
        result->decided[i] = narrowed(&m->limits[i], verdict);
        result->verdict[i] = ((result->withheld != 0u) && (result->decided[i] != STW_NOT_DECIDABLE)) ? STW_WITHHELD
                                                                                                      : result->decided[i];
    }
}

/* ---- finish ---- */

static void clear(stw_sample_result *result) {
    uint32_t i;
    result->mean_signal_a = 0.0;
    result->factor = 1.0;
    result->level = 0.0;
    result->level_low = 0.0;
    result->level_high = 0.0;
    result->standard_u = 0.0;
    result->value = 0.0;
    result->low = 0.0;
    result->high = 0.0;
    result->bound = 0.0;
    result->disagreement = 0.0;
    result->disagreement_limit = 0.0;
    result->outcome = STW_REFUSED;
    result->refused_because = 0u;
    result->fault = STW_FAULT_NONE;
    result->n_electrodes = 0u;
    result->n_scans = 0u;
    result->withheld = 0u;
    result->warnings = 0u;
    result->n_limits = 0u;
    for (i = 0u; i < STW_MOST_LIMITS; i++) {
        result->decided[i] = STW_NOT_DECIDABLE;
        result->verdict[i] = STW_NOT_DECIDABLE;
    }
}

static void remark(const stw_sample *sample, const electrodes *e, stw_sample_result *result) {
    const uint32_t planned = sample->method->constants->electrodes;
    const stw_conditions *c = &sample->conditions;
    result->n_electrodes = e->n;
    if (e->n < planned) {
        result->warnings |= STW_WARNS_FEW_ELECTRODES;
        if (e->n == 1u) {
            result->withheld |= STW_WITHHELD_ONE_ELECTRODE; /* nothing shows that it was half covered */
        }
    }
    if (sample->n_refused > 0u) {
        result->warnings |= STW_WARNS_SCANS_LEFT_OUT;
    }
    if ((c->dilution_factor > 1.0) && (c->dilution_u == 0.0)) {
        result->warnings |= STW_WARNS_DILUTION_WITHOUT_U;
    }
    if (stw_abs(result->factor - 1.0) > 0.0) {
        result->warnings |= STW_WARNS_TEMPERATURE_CORRECTED;
    }
    if (c->today == 0u) {
        result->withheld |= STW_WITHHELD_NO_CLOCK;
    } else if ((c->today > sample->lot->last_day) || (c->today < sample->lot->first_day)) {
        result->withheld |= STW_WITHHELD_LOT_EXPIRED;
    } else {
        /* in its time */
    }
}

static void read_off(const stw_sample *sample, const electrodes *e, relative_parts *u, stw_sample_result *result) {
    const double extra_a2 = extra_variance_a2(sample, e, result);
    stw_level level;
    if ((stw_is_finite(e->all_a) == 0u) || (stw_is_finite(extra_a2) == 0u)) {
        refuse(result, STW_SAMPLE_NUMBER_RANGE);
        return;
    }
    stw_inverse(sample->lot, e->all_a, e->n, extra_a2, &level);
    result->fault = level.fault;
    if (level.kind == STW_LEVEL_UNRESOLVED) {
        refuse(result, STW_SAMPLE_UNRESOLVED);
        return;
    }
    result->level = level.value;
    result->level_low = level.low;
    result->level_high = level.high;
    if (level.kind == STW_LEVEL_ABOVE) {
        say_above_range(sample, u, result);
    } else {
        result->standard_u = standard_u_of(sample->lot, level.value, e->n, extra_a2);
        say_within_or_below(sample, u, result);
    }
}

uint32_t stw_sample_finish(stw_sample *sample, stw_sample_result *result) {
    electrodes e;
    relative_parts u;
    uint32_t i;
    if ((sample == NULL) || (result == NULL)) {
        return STW_ARGUMENT_MISSING;
    }
    clear(result);
    if (sample->phase != PHASE_OPEN) {
        return STW_NOT_BEGUN;
    }
    sample->phase = PHASE_DONE;
    for (i = 0u; i < STW_MOST_ELECTRODES; i++) {
        result->n_scans += sample->n_scans[i];
    }
    if (sample->condemned != 0u) {
        refuse(result, STW_SAMPLE_CONDEMNED);
    } else if (result->n_scans == 0u) {
        refuse(result, STW_SAMPLE_NO_SCAN);
    } else if (temperature_factor(sample, &result->factor, &u.temperature) == 0u) {
        refuse(result, STW_SAMPLE_TEMPERATURE);
    } else {
        means_of(sample, result->factor, &e);
        result->mean_signal_a = e.all_a;
        u.levels = sample->method->constants->level_relative_u;
        u.dilution = sample->conditions.dilution_u / sample->conditions.dilution_factor;
        remark(sample, &e, result);
        read_off(sample, &e, &u, result);
    }
    decide(sample, result);
    return STW_OK;
}
