/* inverse.c - from a signal back to a level, with the interval that the calibration allows: Fieller's in closed form for
 * lines, by bisection on the significant branch for second-order curves. */
#include "parts.h"

#define HALVINGS 200u

static double not_negative(double x) {
    return (x < 0.0) ? 0.0 : x;
}

static double positive_infinity(void) {
    return stw_double_of(UINT64_C(0x7FF0000000000000));
}

/* ---- the curve ---- */

static uint32_t all_finite(const double *values, uint32_t n) {
    uint32_t finite = 1u;
    uint32_t i;
    for (i = 0u; i < n; i++) {
        finite &= stw_is_finite(values[i]);
    }
    return finite;
}

/* Absent coefficients are zero, with their rows and columns. */
static uint32_t absent_are_zero(const stw_lot *lot) {
    uint32_t zero = 1u;
    uint32_t i;
    uint32_t j;
    for (i = 0u; i < 3u; i++) {
        const uint32_t present = (lot->n_coefficients == 1u) ? ((i == 1u) ? 1u : 0u) : ((i < lot->n_coefficients) ? 1u : 0u);
        if (present == 0u) {
            if (!(lot->coefficients[i] == 0.0)) {
                zero = 0u;
            }
            for (j = 0u; j < 3u; j++) {
                if (!((lot->unscaled_covariance[i][j] == 0.0) && (lot->unscaled_covariance[j][i] == 0.0))) {
                    zero = 0u;
                }
            }
        }
    }
    return zero;
}

static uint32_t is_usable(const stw_lot *lot) {
    const uint32_t finite = all_finite(lot->coefficients, 3u) & all_finite(lot->unscaled_covariance[0], 3u) &
                            all_finite(lot->unscaled_covariance[1], 3u) & all_finite(lot->unscaled_covariance[2], 3u) &
                            all_finite(lot->relative_variance, 3u) & stw_is_finite(lot->residual_sd) &
                            stw_is_finite(lot->t_quantile) & stw_is_finite(lot->level_min) & stw_is_finite(lot->level_max);
    uint32_t usable = finite;
    uint32_t i;
    if (!((lot->residual_sd >= 0.0) && (lot->t_quantile > 0.0) && (lot->degrees_of_freedom > 0u) &&
          (lot->level_min < lot->level_max) && (lot->n_coefficients >= 1u) && (lot->n_coefficients <= 3u))) {
        usable = 0u;
    }
    for (i = 0u; i < 3u; i++) {
        if (!(lot->unscaled_covariance[i][i] >= 0.0)) {
            usable = 0u;
        }
    }
    return (usable != 0u) ? absent_are_zero(lot) : 0u;
}

double stw_relative_variance_at(const stw_lot *lot, double x) {
    double level = x;
    if (x < lot->level_min) {
        level = lot->level_min;
    } else if (x > lot->level_max) {
        level = lot->level_max;
    } else {
        level = x;
    }
    return lot->relative_variance[0] + (level * (lot->relative_variance[1] + (level * lot->relative_variance[2])));
}

/* x squared, and below the lowest standard its tangent; a line has no use for it. */
static double square_or_tangent(const stw_lot *lot, double x) {
    return (x < lot->level_min) ? (lot->level_min * ((2.0 * x) - lot->level_min)) : (x * x);
}

static double unscaled_variance_at(const stw_lot *lot, double x) {
    const double(*c)[3] = lot->unscaled_covariance;
    const double q = square_or_tangent(lot, x);
    const double first = c[0][0] + (x * ((2.0 * c[0][1]) + (x * c[1][1])));
    const double variance = first + (q * ((2.0 * (c[0][2] + (x * c[1][2]))) + (q * c[2][2])));
    return not_negative(variance);
}

double stw_signal_at(const stw_lot *lot, double x) {
    const double *c = lot->coefficients;
    double signal_a = c[0] + (c[1] * x);
    if (lot->n_coefficients == 3u) {
        signal_a += c[2] * square_or_tangent(lot, x);
    }
    return signal_a;
}

double stw_prediction_half_width_a(const stw_lot *lot, double x, double electrodes, double extra_variance_a2) {
    const double s2 = lot->residual_sd * lot->residual_sd;
    const double of_unknown = ((s2 * stw_relative_variance_at(lot, x)) / electrodes) + extra_variance_a2;
    return lot->t_quantile * stw_sqrt(of_unknown + (s2 * unscaled_variance_at(lot, x)));
}

/* ---- a straight line with what is known about its two coefficients ---- */

typedef struct {
    double intercept_a;
    double slope;
    double c00;
    double c01;
    double c11;
} line;

typedef struct {
    double signal_a;
    double electrodes;
    double extra_variance_a2;
} unknown;

static line line_of(const stw_lot *lot) {
    line found;
    found.intercept_a = lot->coefficients[0];
    found.slope = lot->coefficients[1];
    found.c00 = lot->unscaled_covariance[0][0];
    found.c01 = lot->unscaled_covariance[0][1];
    found.c11 = lot->unscaled_covariance[1][1];
    return found;
}

#ifndef STW_WITHOUT_SECOND_ORDER
/* The tangent of a second-order curve at its lowest standard. */
static line tangent_at_lowest(const stw_lot *lot) {
    const double(*c)[3] = lot->unscaled_covariance;
    const double x = lot->level_min;
    const double square = x * x;
    line found;
    found.intercept_a = lot->coefficients[0] - (lot->coefficients[2] * square);
    found.slope = lot->coefficients[1] + ((2.0 * lot->coefficients[2]) * x);
    found.c00 = not_negative((c[0][0] - ((2.0 * square) * c[0][2])) + ((square * square) * c[2][2]));
    found.c01 = (c[0][1] + ((2.0 * x) * c[0][2])) - (square * (c[1][2] + ((2.0 * x) * c[2][2])));
    found.c11 = not_negative(c[1][1] + ((4.0 * x) * (c[1][2] + (x * c[2][2]))));
    return found;
}

#endif

/* g = t^2 s^2 var(slope) / slope^2; a fault unless it is below 1. */
static uint32_t significance(const line *straight, const stw_lot *lot, double *g) {
    uint32_t fault = STW_FAULT_NONE;
    if (straight->slope == 0.0) {
        *g = positive_infinity();
        fault = STW_FAULT_SLOPE_NOT_SIGNIFICANT;
    } else {
        const double ts = lot->t_quantile * (lot->residual_sd / straight->slope);
        *g = (ts * ts) * straight->c11;
        if (*g < 1.0) {
            fault = STW_FAULT_NONE;
        } else if (*g >= 1.0) {
            fault = STW_FAULT_SLOPE_NOT_SIGNIFICANT;
        } else {
            fault = STW_FAULT_NUMBER_OVERFLOW; /* NaN */
        }
    }
    return fault;
}

static double level_on(const line *straight, double signal_a) {
    return (signal_a - straight->intercept_a) / straight->slope;
}

/* Variance of the unknown's mean signal relative to the slope: a variance of levels. */
static uint32_t variance_in_levels(const stw_lot *lot, const unknown *x, double estimate, double slope, double *variance) {
    const double relative_variance = stw_relative_variance_at(lot, estimate);
    uint32_t fault = STW_FAULT_NONE;
    if (stw_is_finite(relative_variance) == 0u) {
        fault = STW_FAULT_NUMBER_OVERFLOW;
    } else if (relative_variance <= 0.0) {
        fault = STW_FAULT_VARIANCE_NOT_POSITIVE;
    } else {
        const double sd = lot->residual_sd / slope;
        *variance = (((sd * sd) * relative_variance) / x->electrodes) + ((x->extra_variance_a2 / slope) / slope);
    }
    return fault;
}

typedef struct {
    double low;
    double high;
} ends;

/* Fieller's two ends, written about the weighted mean of the standards so that nothing cancels. */
static uint32_t ends_of(const line *straight, const stw_lot *lot, double estimate, double variance, ends *found) {
    double g = 0.0;
    double centre = 0.0;
    double at_centre = straight->c00;
    double sd;
    double distance;
    double keep;
    double spread;
    double half;
    const uint32_t fault = significance(straight, lot, &g);
    if (fault != STW_FAULT_NONE) {
        return fault;
    }
    sd = lot->residual_sd / straight->slope;
    if (straight->c11 > 0.0) {
        centre = -straight->c01 / straight->c11;
        at_centre = not_negative(straight->c00 + (straight->c01 * centre));
    }
    distance = estimate - centre;
    keep = 1.0 - g;
    spread = ((((sd * sd) * straight->c11) * distance) * distance) + (keep * (variance + ((sd * sd) * at_centre)));
    half = lot->t_quantile * stw_sqrt(spread);
    found->low = centre + ((distance - half) / keep);
    found->high = centre + ((distance + half) / keep);
    if ((stw_is_finite(found->low) == 0u) || (stw_is_finite(found->high) == 0u)) {
        return STW_FAULT_NUMBER_OVERFLOW;
    }
    /* The estimate belongs to its interval; rounding must not push it out. */
    if (found->low > estimate) {
        found->low = estimate;
    }
    if (found->high < estimate) {
        found->high = estimate;
    }
    return STW_FAULT_NONE;
}

static uint32_t on_line(const stw_lot *lot, const unknown *x, stw_level *level) {
    const line straight = line_of(lot);
    double g = 0.0;
    double variance = 0.0;
    ends found = {0.0, 0.0};
    uint32_t fault = significance(&straight, lot, &g);
    if (fault != STW_FAULT_NONE) {
        return fault;
    }
    level->value = level_on(&straight, x->signal_a);
    if (stw_is_finite(level->value) == 0u) {
        return STW_FAULT_NUMBER_OVERFLOW;
    }
    fault = variance_in_levels(lot, x, level->value, straight.slope, &variance);
    if (fault == STW_FAULT_NONE) {
        fault = ends_of(&straight, lot, level->value, variance, &found);
    }
    if (fault != STW_FAULT_NONE) {
        return fault;
    }
    level->low = found.low;
    level->high = found.high;
    if (level->value > lot->level_max) {
        level->kind = STW_LEVEL_ABOVE;
        if (level->low > lot->level_max) {
            level->low = lot->level_max;
        }
    } else if (level->value < lot->level_min) {
        level->kind = STW_LEVEL_BELOW;
    } else {
        level->kind = STW_LEVEL_WITHIN;
    }
    return STW_FAULT_NONE;
}

#ifndef STW_WITHOUT_SECOND_ORDER
/* ---- second order: the branch from the lowest standard to where the slope stops being significant ---- */

typedef struct {
    const stw_lot *lot;
    double slope;
    double signal_a;
    double end;
    double variance;
} branch;

#define OF_CURVE 0u
#define OF_UPPER_EDGE 1u
#define OF_LOWER_EDGE 2u

/* (f(x) - y) / slope: negative where the curve has not yet reached the signal. */
static double excess_at(const branch *b, double x) {
    return (stw_signal_at(b->lot, x) - b->signal_a) / b->slope;
}

/* Half width of the prediction band in levels along the tangent. */
static double half_width_at(const branch *b, double x) {
    const double sd = b->lot->residual_sd / b->slope;
    return b->lot->t_quantile * stw_sqrt(b->variance + ((sd * sd) * unscaled_variance_at(b->lot, x)));
}

static double edge_at(const branch *b, double x, uint32_t which) {
    double edge = excess_at(b, x);
    switch (which) {
    case OF_UPPER_EDGE:
        edge += half_width_at(b, x);
        break;
    case OF_LOWER_EDGE:
        edge -= half_width_at(b, x);
        break;
    default:
        break; /* the curve itself */
    }
    return edge;
}

/* Where a rising edge crosses zero; 0 when it is still negative at `to`. */
static uint32_t crossing(const branch *b, double from, double to, uint32_t which, double *at) {
    double low = from;
    double high = to;
    uint32_t halving;
    if (edge_at(b, to, which) < 0.0) {
        return 0u;
    }
    for (halving = 0u; halving < HALVINGS; halving++) {
        const double x = low + (0.5 * (high - low));
        if ((x <= low) || (x >= high)) {
            break;
        }
        if (edge_at(b, x, which) < 0.0) {
            low = x;
        } else {
            high = x;
        }
    }
    *at = high;
    return 1u;
}

/* (f' / slope)^2 - t^2 s^2 var(f') / slope^2: positive where the slope is significant. */
static double steepness_at(const branch *b, double x) {
    const double(*c)[3] = b->lot->unscaled_covariance;
    const double steepness = (b->lot->coefficients[1] + ((2.0 * b->lot->coefficients[2]) * x)) / b->slope;
    const double ts = b->lot->t_quantile * (b->lot->residual_sd / b->slope);
    return (steepness * steepness) - ((ts * ts) * (c[1][1] + ((4.0 * x) * (c[1][2] + (x * c[2][2])))));
}

static double last_significant(const branch *b, double furthest) {
    const double start = b->lot->level_min;
    const double half = 0.5 * (furthest - start);
    const double first = steepness_at(b, start);
    const double middle = steepness_at(b, start + half);
    const double last = steepness_at(b, furthest);
    const double bend = (first - (2.0 * middle)) + last;
    const double tilt = last - first;
    double end = furthest;
    double low = start;
    double high;
    uint32_t halving;
    if (bend > 0.0) {
        const double vertex = (start + half) - (half * ((0.5 * tilt) / bend));
        if ((vertex > start) && (vertex < furthest) && (steepness_at(b, vertex) <= 0.0)) {
            end = vertex;
        }
    }
    if (steepness_at(b, end) > 0.0) {
        return end;
    }
    high = end;
    for (halving = 0u; halving < HALVINGS; halving++) {
        const double x = low + (0.5 * (high - low));
        if ((x <= low) || (x >= high)) {
            break;
        }
        if (steepness_at(b, x) > 0.0) {
            low = x;
        } else {
            high = x;
        }
    }
    return low;
}

static uint32_t branch_of(branch *b, const stw_lot *lot, double slope, double signal_a) {
    const double c1 = lot->coefficients[1];
    const double c2 = lot->coefficients[2];
    const double at_top = c1 + ((2.0 * c2) * lot->level_max);
    double furthest;
    if ((stw_is_finite(at_top) == 0u) || (stw_is_finite(slope) == 0u)) {
        return STW_FAULT_NUMBER_OVERFLOW;
    }
    if ((at_top == 0.0) || ((at_top > 0.0) != (slope > 0.0))) {
        const double turning_level = (-0.5 * c1) / c2;
        return (stw_is_finite(turning_level) != 0u) ? STW_FAULT_NOT_MONOTONIC : STW_FAULT_NUMBER_OVERFLOW;
    }
    furthest = lot->level_max + (lot->level_max - lot->level_min);
    if (stw_is_finite(furthest) == 0u) {
        return STW_FAULT_NUMBER_OVERFLOW;
    }
    b->lot = lot;
    b->slope = slope;
    b->signal_a = signal_a;
    b->variance = 0.0;
    b->end = furthest;
    b->end = last_significant(b, furthest);
    return STW_FAULT_NONE;
}

static uint32_t is_finite_at(const branch *b, double x) {
    return stw_is_finite(excess_at(b, x)) & stw_is_finite(half_width_at(b, x));
}

/* Lower end: where the upper edge of the band reaches the signal; at most the end of the calibrated branch. */
static double low_end(const branch *b, double below_range_low) {
    const double start = b->lot->level_min;
    const double top = (b->end < b->lot->level_max) ? b->end : b->lot->level_max;
    double low = top;
    if (edge_at(b, start, OF_UPPER_EDGE) >= 0.0) {
        low = (below_range_low > start) ? start : below_range_low;
    } else if (crossing(b, start, top, OF_UPPER_EDGE, &low) == 0u) {
        low = top;
    } else {
        /* found */
    }
    return low;
}

/* Upper end: where the lower edge reaches the signal; 0 where the branch ends before. */
static uint32_t high_end(const branch *b, double below_range_high, double *high) {
    const double start = b->lot->level_min;
    uint32_t found = 1u;
    if (edge_at(b, start, OF_LOWER_EDGE) >= 0.0) {
        *high = (below_range_high > start) ? start : below_range_high;
    } else {
        found = crossing(b, start, b->end, OF_LOWER_EDGE, high);
    }
    return found;
}

static uint32_t on_second_order(const stw_lot *lot, const unknown *x, stw_level *level) {
    const line straight = tangent_at_lowest(lot);
    branch b;
    ends below_range = {0.0, 0.0};
    double g = 0.0;
    double on_tangent;
    uint32_t has_estimate = 1u;
    uint32_t fault = significance(&straight, lot, &g);
    if (fault == STW_FAULT_NONE) {
        fault = branch_of(&b, lot, straight.slope, x->signal_a);
    }
    if (fault != STW_FAULT_NONE) {
        return fault;
    }
    on_tangent = level_on(&straight, x->signal_a);
    if (on_tangent < lot->level_min) {
        level->value = on_tangent;
    } else {
        has_estimate = crossing(&b, lot->level_min, lot->level_max, OF_CURVE, &level->value);
    }
    fault = variance_in_levels(lot, x, (has_estimate != 0u) ? level->value : lot->level_max, straight.slope, &b.variance);
    if (fault != STW_FAULT_NONE) {
        return fault;
    }
    if ((is_finite_at(&b, lot->level_min) & is_finite_at(&b, lot->level_max) & is_finite_at(&b, b.end)) == 0u) {
        return STW_FAULT_NUMBER_OVERFLOW;
    }
    fault = ends_of(&straight, lot, on_tangent, b.variance, &below_range);
    if (fault != STW_FAULT_NONE) {
        return fault;
    }
    level->low = low_end(&b, below_range.low);
    level->kind = STW_LEVEL_ABOVE;
    if (has_estimate != 0u) {
        if (level->low > level->value) {
            level->low = level->value;
        }
        if (high_end(&b, below_range.high, &level->high) != 0u) {
            if (level->high < level->value) {
                level->high = level->value;
            }
            level->kind = (level->value < lot->level_min) ? STW_LEVEL_BELOW : STW_LEVEL_WITHIN;
        }
    }
    return STW_FAULT_NONE;
}

#endif

void stw_inverse(const stw_lot *lot, double mean_signal_a, uint32_t electrodes, double extra_variance_a2, stw_level *level) {
    unknown x;
    uint32_t fault = STW_FAULT_NONE;
    level->value = 0.0;
    level->low = 0.0;
    level->high = 0.0;
    level->kind = STW_LEVEL_UNRESOLVED;
    x.signal_a = mean_signal_a;
    x.electrodes = (double)electrodes;
    x.extra_variance_a2 = extra_variance_a2;
    if ((stw_is_finite(mean_signal_a) == 0u) || (stw_is_finite(extra_variance_a2) == 0u)) {
        fault = STW_FAULT_INPUT_NOT_FINITE;
    } else if (extra_variance_a2 < 0.0) {
        fault = STW_FAULT_EXTRA_VARIANCE_NEGATIVE;
    } else if (electrodes == 0u) {
        fault = STW_FAULT_NO_ELECTRODES;
    } else if (is_usable(lot) == 0u) {
        fault = STW_FAULT_CURVE_UNUSABLE;
    } else if (lot->n_coefficients == 3u) {
#ifndef STW_WITHOUT_SECOND_ORDER
        fault = on_second_order(lot, &x, level);
#else
        fault = STW_FAULT_CURVE_UNUSABLE; /* left out of this build */
#endif
    } else {
        fault = on_line(lot, &x, level);
    }
    level->fault = fault;
    if (fault != STW_FAULT_NONE) {
        level->kind = STW_LEVEL_UNRESOLVED;
    }
    if (level->kind == STW_LEVEL_UNRESOLVED) {
        level->value = 0.0;
        level->low = 0.0;
    }
    if ((level->kind == STW_LEVEL_ABOVE) || (level->kind == STW_LEVEL_UNRESOLVED)) {
        level->high = 0.0;
    }
    if (level->kind == STW_LEVEL_ABOVE) {
        level->value = 0.0;
    }
}
