/* kernel.h - the frozen evaluation of one method, for a device.
 *
 * A scan goes in point by point as the converter delivers it; out come the trust checks, the signal, the concentration with its
 * interval and a verdict code. Every double has the same 64 bits as on the desktop.
 *
 *   stw_scan_begin      once a scan; verifies the checksums of the constants
 *   stw_scan_push       once a point
 *   stw_scan_finish     trust checks, then the signal
 *   stw_sample_begin    once a sample
 *   stw_sample_add      one finished scan of one electrode
 *   stw_sample_finish   concentration, interval, verdicts
 *
 * C99, freestanding: no heap, no recursion, no library, no global state. All memory belongs to the caller. The arithmetic is
 * + - * / and an own correctly rounded square root, each rounded once, sums in a stated order. Compile with
 *   -std=c99 -ffreestanding -ffp-contract=off
 * and never with -ffast-math or its parts. Numbers are little-endian IEEE 754 binary64.
 */
#ifndef STW_KERNEL_H
#define STW_KERNEL_H

#include <stdint.h>

#include "lot.h"

/* The layout of stw_method and stw_lot: raised whenever a field changes its meaning or place. */
#define STW_LAYOUT 1u

/* A build may leave out what its method does not use; constants that need it are then refused by stw_scan_begin:
 *   STW_WITHOUT_MINIMA, STW_WITHOUT_TANGENT, STW_WITHOUT_POLYNOMIAL (baselines), STW_WITHOUT_AREA (measure),
 *   STW_WITHOUT_SECOND_ORDER (calibration curve). */

#define STW_TRUST_CHECKS 17u
#define STW_MOST_SMOOTHING 101u   /* longest smoothing window, points */
#define STW_MOST_SCANS 4u         /* scans of one electrode */
#define STW_MOST_LIMITS 4u        /* named limits of one method */

/* ---- What a call returns -------------------------------------------------------------------------------------------- */

#define STW_OK 0u
/* Refusals of the evaluation: the numbers are those of the desktop kernel. */
#define STW_TOO_FEW_POINTS 1u
#define STW_LENGTHS_DIFFER 2u      /* too many points pushed, or finished too early: found, expected */
#define STW_WORKSPACE_TOO_SMALL 3u /* storage shorter than stw_storage_needed: found, needed */
#define STW_NOT_FINITE 4u          /* index */
#define STW_POTENTIAL_NOT_MONOTONIC 5u
#define STW_RANGE_NOT_USABLE 6u
#define STW_SETTING_NOT_USABLE 7u
#define STW_BASELINE_NOT_SETTLED 8u
#define STW_MAXIMUM_ON_WINDOW_EDGE 9u /* index, height_a */
#define STW_NO_PEAK 10u               /* index, height_a, noise_a */
#define STW_OUT_OF_NUMBER_RANGE 11u
/* Only on a device. */
#define STW_METHOD_CHANGED 32u    /* the checksum of the method's constants is wrong */
#define STW_LOT_CHANGED 33u       /* the checksum of the lot record or its blank is wrong */
#define STW_LOT_OF_ANOTHER_METHOD 34u
#define STW_LAYOUT_UNKNOWN 35u
#define STW_BLANK_MISSING 36u     /* the method subtracts a blank and none was given */
#define STW_NOT_BEGUN 37u         /* push or finish without begin, or a second finish */
#define STW_ARGUMENT_MISSING 38u  /* a null pointer */
#define STW_TOO_MANY 39u          /* more electrodes or scans than there are places for */

/* ---- Constants of one method revision (method.c; generated, never edited) ------------------------------------------- */

typedef struct {
    uint32_t first;
    uint32_t last; /* itself included; first > last: no range */
} stw_range;

#define STW_BASELINE_NONE 0u
#define STW_BASELINE_LINE 1u       /* through the means of range[0] and range[1] */
#define STW_BASELINE_MINIMA 2u     /* through the lowest point of each */
#define STW_BASELINE_TANGENT 3u    /* common tangent within range[0] */
#define STW_BASELINE_POLYNOMIAL 4u /* least squares over both */

#define STW_MEASURE_HEIGHT 0u
#define STW_MEASURE_AREA 1u      /* over the window */
#define STW_MEASURE_HEIGHT_AT 2u /* at a fixed potential */

/* Bits of stw_method.switches */
#define STW_HAS_BLANK 0x01u           /* a blank is subtracted */
#define STW_HAS_DESPIKE 0x02u
#define STW_HAS_REVERSE 0x04u         /* each point comes with forward and reverse current */
#define STW_HAS_RANGE_END 0x08u       /* the converter's ends are known */
#define STW_HAS_TEMPERATURE 0x10u     /* the method asks for the temperature */
#define STW_HAS_COEFFICIENT 0x20u     /* and corrects with a coefficient */
#define STW_IS_OXIDATION 0x40u        /* the peak points towards positive currents */

/* A step of a unit conversion. */
#define STW_LEAVE 0u
#define STW_MULTIPLY 1u
#define STW_DIVIDE 2u

/* Bits of stw_limit.allowed: what the measured substance can show about this limit. */
#define STW_MAY_BE_BELOW 1u
#define STW_MAY_BE_ABOVE 2u
#define STW_MAY_BE_TOO_CLOSE 4u

typedef struct {
    double limit;       /* in the limit's own unit */
    double factor[3];   /* from the method's unit to the limit's, in this order */
    uint32_t step[3];   /* STW_LEAVE, STW_MULTIPLY or STW_DIVIDE */
    uint32_t allowed;   /* STW_MAY_BE_... */
} stw_limit;

typedef struct {
    uint32_t state;    /* STW_PASSED, STW_FAILED, or 16 + why it could not be tested */
    uint32_t at_index;
    double found;
    double limit;
} stw_finding;

/* Every constant of one method revision but the long tables. No padding: 8-byte numbers first. */
typedef struct {
    /* grid: potential of point i = (start + i * step) / units_per_volt, or the table where units_per_volt is 0 */
    double units_per_volt;
    /* despike */
    double despike_limit;
    double despike_min_ratio;
    double despike_floor_a;
    /* peak */
    double at_fraction;          /* STW_MEASURE_HEIGHT_AT: this part of the way from at_index to the next point */
    double middle_fraction;      /* the same for the middle of the window, where the noise beside an edge maximum is judged */
    double min_signal_to_noise;
    double max_background_ratio;
    double second_peak_fraction;
    double shift_limit_v;
    double width_tolerance;
    /* trust */
    double range_low_a;
    double range_high_a;
    double spike_units;
    double spike_ratio;
    double least_range_a;
    double start_up_units;
    double start_up_fraction;
    double largest_offset_a;     /* this and the next three: below 0 where the method states none */
    double largest_noise_a;
    double largest_drift_a;
    double largest_mains_a;
    double mains_cos;            /* turn of the folded mains from one point to the next */
    double mains_sin;
    /* sample */
    double level_relative_u;
    double temperature_low_c;
    double temperature_high_c;
    double temperature_tolerance_k;
    double temperature_per_k;
    double temperature_u_per_k;
    stw_limit limits[STW_MOST_LIMITS];
    /* The checks that only look at the grid, which the device itself sets: found once and for all. Those that look at the
     * currents hold 0 here and are made on the device. */
    stw_finding grid_findings[STW_TRUST_CHECKS];
    /* 4-byte numbers: an even count */
    uint32_t layout;             /* STW_LAYOUT */
    uint32_t switches;
    uint32_t n_points;
    int32_t start_units;
    int32_t step_units;
    uint32_t smoothing_window;   /* 0: none */
    uint32_t baseline;
    uint32_t baseline_degree;
    stw_range baseline_range[2];
    stw_range noise_range[2];
    stw_range window;
    stw_range outside[2];        /* where a larger peak beside the window is looked for */
    uint32_t measure;
    uint32_t at_index;
    uint32_t middle_index;
    uint32_t clipping_run;
    uint32_t start_up_points;
    uint32_t start_up_trend_points;
    uint32_t distrusted_points;
    uint32_t end_points;
    uint32_t start_up_why;       /* 0: testable; else why not, known from the grid and the limits alone */
    uint32_t mains_why;
    uint32_t electrodes;         /* of one sample, as the method foresees */
    uint32_t n_limits;
    uint8_t hash[32];            /* of the method revision's canonical form */
} stw_method_constants;

typedef struct {
    const stw_method_constants *constants;
    const double *potential_v;   /* n_points, or null where the grid is even */
    const double *weights;       /* (window / 2 + 1) rows of window, or null */
    uint32_t n_potentials;
    uint32_t n_weights;
    uint32_t checksum;           /* CRC-32 over the constants, the potentials and the weights, as bytes in memory */
} stw_method;

/* ---- One scan -------------------------------------------------------------------------------------------------------- */

typedef struct {
    double current_a;
    double forward_a;   /* read only with STW_HAS_REVERSE */
    double reverse_a;
    uint32_t overload;  /* not 0: the converter marked this point */
} stw_point;

/* The trust checks, in their order; found and limit are in the unit that the check looks at. */
#define STW_CHECK_OVERLOAD 0u
#define STW_CHECK_TOO_FEW_POINTS 1u
#define STW_CHECK_TOO_FEW_POINTS_IN_PEAK 2u
#define STW_CHECK_WRONG_DIRECTION 3u
#define STW_CHECK_WRONG_WINDOW 4u
#define STW_CHECK_WRONG_STEP 5u
#define STW_CHECK_MISSING_POINTS 6u
#define STW_CHECK_REPEATED_POINTS 7u
#define STW_CHECK_NON_UNIFORM_STEPS 8u
#define STW_CHECK_CLIPPING 9u
#define STW_CHECK_FLAT_LINE 10u
#define STW_CHECK_OFFSET 11u
#define STW_CHECK_SPIKES 12u
#define STW_CHECK_NOISE 13u
#define STW_CHECK_START_UP 14u
#define STW_CHECK_REVERSE_DRIFT 15u
#define STW_CHECK_MAINS_PICKUP 16u

/* stw_finding.state */
#define STW_PASSED 0u
#define STW_FAILED 1u
#define STW_NOT_TESTABLE 16u /* + one of: */
#define STW_WHY_NOT_STATED 1u
#define STW_WHY_NOT_FINITE 2u
#define STW_WHY_LENGTHS_DIFFER 3u
#define STW_WHY_TOO_SHORT 4u
#define STW_WHY_NO_USUAL_STEP 5u
#define STW_WHY_WORKSPACE 6u
#define STW_WHY_LIMIT_NOT_USABLE 7u
#define STW_WHY_PEAK_TOO_NEAR_START 8u
#define STW_WHY_MAINS_TOO_SLOW 9u

/* Bits of stw_signal.flags */
#define STW_FLAG_DESPIKED 0x01u
#define STW_FLAG_BACKGROUND_SWALLOWS_PEAK 0x02u
#define STW_FLAG_TWO_PEAKS 0x04u
#define STW_FLAG_POTENTIAL_SHIFTED 0x08u
#define STW_FLAG_HALF_WIDTH_OPEN 0x10u
#define STW_FLAG_FOOT_OPEN 0x20u

/* Bits of stw_signal.has: which of the numbers below were found */
#define STW_HAS_PEAK_POTENTIAL 0x01u
#define STW_HAS_HALF_WIDTH 0x02u
#define STW_HAS_BASELINE_POINTS 0x04u
#define STW_HAS_NOISE 0x08u
#define STW_HAS_SIGNAL_TO_NOISE 0x10u
#define STW_HAS_BACKGROUND_RATIO 0x20u

/* A number that was not found is 0. */
typedef struct {
    double signal_a;            /* A along the direction, or A V for an area; never -0 */
    double height_a;
    double peak_potential_v;
    double half_width_v;
    double foot_potential_v[2];
    double baseline_at_peak_a;
    double noise_a;
    double signal_to_noise;
    double background_ratio;
    uint32_t peak_index;
    uint32_t baseline_points[2];
    uint32_t despiked;
    uint32_t flags;
    uint32_t has;
} stw_signal;

/* stw_scan_result.outcome */
#define STW_SIGNAL_BY_PEAK 1u   /* a peak was found */
#define STW_SIGNAL_AT_PLACE 2u  /* no peak: measured where the standards have theirs */
#define STW_SCAN_REFUSED 3u

/* Bits of stw_scan_result.reasons; more than one may be set. */
#define STW_BECAUSE_TRUST 0x01u       /* a trust check failed: see trust */
#define STW_BECAUSE_EVALUATION 0x02u  /* see refusal and its numbers */
#define STW_BECAUSE_PEAK_OUTSIDE 0x04u
#define STW_BECAUSE_PEAK_WIDTH 0x08u
#define STW_BECAUSE_BACKGROUND 0x10u
#define STW_BECAUSE_TWO_PEAKS 0x20u
#define STW_BECAUSE_PEAK_SHIFT 0x40u
#define STW_CONDEMNS_SAMPLE 0x100u    /* leaving this scan out would make the rest read too low */

typedef struct {
    stw_finding trust[STW_TRUST_CHECKS];
    stw_signal signal;          /* all 0 unless a signal was found */
    double refusal_height_a;
    double refusal_noise_a;
    double outside_height_a;    /* the largest maximum beside the window, 0 unless it was looked for */
    uint32_t outside_index;
    uint32_t refusal;           /* STW_OK, or why the evaluation stopped (kept, too, when a signal was found at the place) */
    uint32_t refusal_index;
    uint32_t outcome;
    uint32_t reasons;
    uint32_t spikes_only_warned; /* 1: the spike check failed, and the method repairs spikes */
} stw_scan_result;

/* One scan in the making; its fields are the kernel's. */
typedef struct {
    const stw_method *method;
    const stw_lot *lot;
    const double *blank_a;
    double *current_a;          /* n_points: raw, then despiked and freed of the blank */
    double *gap_a;              /* 2 * end_points: forward less reverse at both ends */
    double line_at_v;           /* the baseline once drawn */
    double line_at_a;
    double line_slope;
    double poly_a[5];
    double poly_b[5];
    double poly_c[5];
    uint32_t phase;
    uint32_t n_points;
    uint32_t n_pushed;
    uint32_t overload_count;
    uint32_t overload_first;
    uint32_t finite_current;
    uint32_t finite_pair;
    uint32_t despiked;
    uint32_t has_points;
    uint32_t point[2];
} stw_scan;

/* Doubles of storage that one scan needs: n_points, and with STW_HAS_REVERSE the two ends. */
uint32_t stw_storage_needed(const stw_method *method);

/* blank_a: the lot record's blank or one recorded on the device; null where the method uses none. */
uint32_t stw_scan_begin(stw_scan *scan, const stw_method *method, const stw_lot *lot, const double *blank_a, uint32_t n_blank,
                        double *storage, uint32_t n_storage);
/* Takes the next point, whatever it holds: what is no number is counted and refused by the trust checks. */
uint32_t stw_scan_push(stw_scan *scan, const stw_point *point);
/* STW_OK also when the scan is refused: see result->outcome. Anything else: there is no result. */
uint32_t stw_scan_finish(stw_scan *scan, stw_scan_result *result);

/* ---- A blank recorded on the device ---------------------------------------------------------------------------------- */

/* The scan of a blank is pushed like any other and finished here: its trust checks are made, and where they pass its points are
 * added to sum_a (n_points; set to 0 by the caller before the first). *n_blanks counts. */
uint32_t stw_blank_finish(stw_scan *scan, stw_scan_result *result, double *sum_a, uint32_t *n_blanks);
/* Turns the sum into the mean. */
uint32_t stw_blank_mean(double *sum_a, uint32_t n_points, uint32_t n_blanks);

/* ---- The curves between a finished scan and its signal, for figures and proofs ---------------------------------------- */

double stw_potential_v(const stw_method *method, uint32_t index);
double stw_subtracted_a(const stw_scan *scan, uint32_t index);
double stw_smoothed_a(const stw_scan *scan, uint32_t index);
double stw_baseline_a(const stw_scan *scan, uint32_t index);
double stw_corrected_a(const stw_scan *scan, uint32_t index);

/* ---- One sample ------------------------------------------------------------------------------------------------------ */

#define STW_TEMPERATURE_STATED 1u
#define STW_CONTROL_ALIVE 2u   /* an electrode control of this lot and day showed a living electrode */

typedef struct {
    double temperature_c;      /* with STW_TEMPERATURE_STATED */
    double dilution_factor;    /* 1 for an undiluted sample */
    double dilution_u;         /* its standard uncertainty */
    uint32_t today;            /* days since 1970-01-01; 0: the clock is not set */
    uint32_t stated;           /* STW_TEMPERATURE_STATED | STW_CONTROL_ALIVE */
} stw_conditions;

typedef struct {
    const stw_method *method;
    const stw_lot *lot;
    stw_conditions conditions;
    double signal_a[STW_MOST_ELECTRODES][STW_MOST_SCANS];
    uint32_t n_scans[STW_MOST_ELECTRODES];
    uint32_t n_without_peak;
    uint32_t n_refused;
    uint32_t condemned;
    uint32_t phase;
} stw_sample;

/* stw_sample_result.outcome */
#define STW_QUANTIFIED 1u
#define STW_BELOW_QUANTIFICATION 2u /* less than bound */
#define STW_NOT_DETECTED 3u         /* less than bound */
#define STW_ABOVE_RANGE 4u          /* at least bound */
#define STW_REFUSED 5u

/* stw_sample_result.refused_because */
#define STW_SAMPLE_NO_SCAN 1u          /* no scan gave a signal */
#define STW_SAMPLE_CONDEMNED 2u        /* a refused scan would bias the rest */
#define STW_SAMPLE_TEMPERATURE 3u      /* not stated, outside the method's span, or too far from the calibration's */
#define STW_SAMPLE_UNRESOLVED 4u       /* see fault */
#define STW_SAMPLE_NO_PEAK_ABOVE 5u    /* no peak in some scans, yet above the range */
#define STW_SAMPLE_NEGATIVE 6u         /* further below zero than chance allows */
#define STW_SAMPLE_NO_CONTROL 7u       /* nothing detected, and no living electrode control */
#define STW_SAMPLE_NO_PEAK_DETECTED 8u /* no peak, yet above the decision limit */
#define STW_SAMPLE_NO_CLAIM 9u         /* the lot record has no detection limit for so few electrodes */
#define STW_SAMPLE_NUMBER_RANGE 10u    /* numbers left the range of a double */

/* stw_sample_result.fault: why the calibration bounds no level */
#define STW_FAULT_NONE 0u
#define STW_FAULT_INPUT_NOT_FINITE 1u
#define STW_FAULT_EXTRA_VARIANCE_NEGATIVE 2u
#define STW_FAULT_NO_ELECTRODES 3u
#define STW_FAULT_CURVE_UNUSABLE 4u
#define STW_FAULT_VARIANCE_NOT_POSITIVE 5u
#define STW_FAULT_SLOPE_NOT_SIGNIFICANT 6u
#define STW_FAULT_NOT_MONOTONIC 7u
#define STW_FAULT_NUMBER_OVERFLOW 8u

/* Bits of stw_sample_result.withheld: the number stands, a verdict does not. */
#define STW_WITHHELD_ONE_ELECTRODE 0x01u
#define STW_WITHHELD_DISAGREEMENT 0x02u
#define STW_WITHHELD_LOT_EXPIRED 0x04u
#define STW_WITHHELD_NO_CLOCK 0x08u

/* Bits of stw_sample_result.warnings */
#define STW_WARNS_FEW_ELECTRODES 0x01u
#define STW_WARNS_SCANS_LEFT_OUT 0x02u
#define STW_WARNS_DILUTION_WITHOUT_U 0x04u
#define STW_WARNS_TEMPERATURE_CORRECTED 0x08u

/* Verdict on one limit. */
#define STW_BELOW 1u
#define STW_ABOVE 2u
#define STW_TOO_CLOSE_TO_CALL 3u
#define STW_NOT_DECIDABLE 4u
#define STW_WITHHELD 5u        /* decided, but must not be shown: see withheld */

typedef struct {
    double mean_signal_a;      /* of the electrodes, at the calibration's temperature */
    double factor;             /* that brought the signals to that temperature */
    double level;              /* in the measured solution, before dilution; 0 above the range */
    double level_low;
    double level_high;
    double standard_u;         /* of the level, to first order; 0 above the range */
    double value;              /* in the sample, in the method's reporting unit; 0 above the range */
    double low;
    double high;
    double bound;              /* of "less than" and "at least"; else 0 */
    double disagreement;       /* found variance ratio of the electrodes; 0 for one electrode */
    double disagreement_limit;
    uint32_t outcome;
    uint32_t refused_because;
    uint32_t fault;
    uint32_t n_electrodes;
    uint32_t n_scans;
    uint32_t withheld;
    uint32_t warnings;
    uint32_t n_limits;
    uint32_t decided[STW_MOST_LIMITS]; /* before anything is withheld */
    uint32_t verdict[STW_MOST_LIMITS]; /* what may be shown */
} stw_sample_result;

uint32_t stw_sample_begin(stw_sample *sample, const stw_method *method, const stw_lot *lot, const stw_conditions *conditions);
/* electrode: 0, 1, 2 ... in the order in which the desktop sorts their names. */
uint32_t stw_sample_add(stw_sample *sample, uint32_t electrode, const stw_scan_result *result);
uint32_t stw_sample_finish(stw_sample *sample, stw_sample_result *result);

/* ---- Parts that are of use alone --------------------------------------------------------------------------------------- */

/* The nearest double to the square root; NaN below zero. Integer arithmetic only. */
double stw_sqrt(double x);
/* CRC-32 (ISO-HDLC: reflected, 0xEDB88320, start and end 0xFFFFFFFF) of n bytes, continued from crc; begin with 0. */
uint32_t stw_crc32(uint32_t crc, const uint8_t *bytes, uint32_t n);
uint32_t stw_method_checksum(const stw_method *method);
/* Over the record up to its checksum field, then the blank's bytes. */
uint32_t stw_lot_checksum(const stw_lot *lot, const double *blank_a, uint32_t n_blank);

#endif
