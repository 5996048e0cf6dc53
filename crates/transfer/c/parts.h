/* parts.h - what the files of the kernel share. Firmware includes kernel.h only. */
#ifndef STW_PARTS_H
#define STW_PARTS_H

#include <float.h>
#include <stddef.h>
#include <stdint.h>

#include "kernel.h"

#if !defined(FLT_EVAL_METHOD) || (FLT_EVAL_METHOD != 0)
#error "doubles must be rounded to 64 bits after each operation: FLT_EVAL_METHOD has to be 0 (on x86: SSE2)"
#endif
#if (DBL_MANT_DIG != 53) || (DBL_MAX_EXP != 1024)
#error "double has to be IEEE 754 binary64 (some compilers need an option for it)"
#endif
#if defined(__FAST_MATH__)
#error "-ffast-math changes bits"
#endif
#if defined(__BYTE_ORDER__) && (__BYTE_ORDER__ != __ORDER_LITTLE_ENDIAN__)
#error "the records are little-endian"
#endif

/* ---- arithmetic.c ---- */

uint64_t stw_bits_of(double x);
double stw_double_of(uint64_t bits);
double stw_abs(double x);
uint32_t stw_is_finite(double x); /* 1 or 0 */
/* Order of all doubles as unsigned numbers: -NaN < -inf < ... < -0 < +0 < ... < +inf < NaN. */
uint64_t stw_order_of(double x);
double stw_from_order(uint64_t order);

/* Eight partial sums: term i goes to sum i mod 8; at the end ((0+1)+(2+3))+((4+5)+(6+7)). */
typedef struct {
    double part[8];
    uint32_t n;
} stw_sum;

void stw_sum_begin(stw_sum *sum);
void stw_sum_add(stw_sum *sum, double term);
double stw_sum_total(const stw_sum *sum);

/* The mean as the desktop forms it: in pairs of doubles, scaled by a power of two; a single value is its own mean. */
double stw_exact_mean(const double *values, uint32_t n);

/* ---- order.c: medians without a second buffer ---- */

/* What is ranked: term i of a kind, computed anew each time it is looked at. */
#define STW_TERM_THIRD_DIFFERENCE 0u
#define STW_TERM_STANDS_OUT 1u
#define STW_TERM_BESIDE_NEIGHBOURS 2u
#define STW_TERM_VALUE 3u

typedef struct {
    const double *values;
    uint32_t n;    /* terms */
    uint32_t kind;
} stw_terms;

/* Median (mean of the middle two for an even number) of at least one term. */
double stw_median(const stw_terms *terms);

typedef struct {
    double deviation;
    double middle;
    double range;
} stw_beside;

/* Trust checks: how far the inner `width` (1 or 2) points stand out from two neighbours on either side, from points[0] on. */
stw_beside stw_stands_out(const double *points, uint32_t width);
/* Despiking: |points[2] - median of its four neighbours|, that median, and their range. */
stw_beside stw_beside_neighbours(const double *points);

/* ---- trust.c ---- */

void stw_check_scan(const stw_scan *scan, stw_finding findings[STW_TRUST_CHECKS]);

/* ---- peak.c ---- */

/* Searches the peak or measures at a place; 0 or why not, with its numbers in refusal. */
typedef struct {
    double height_a;
    double noise_a;
    uint32_t code;
    uint32_t index;
} stw_refusal;

void stw_draw_baseline(stw_scan *scan, uint32_t searched);
stw_refusal stw_search_peak(const stw_scan *scan, stw_signal *signal);
stw_refusal stw_measure_at(const stw_scan *scan, uint32_t index, double fraction, stw_signal *signal);
void stw_signal_clear(stw_signal *signal);

/* ---- inverse.c ---- */

#define STW_LEVEL_WITHIN 0u
#define STW_LEVEL_BELOW 1u
#define STW_LEVEL_ABOVE 2u
#define STW_LEVEL_UNRESOLVED 3u

typedef struct {
    double value;
    double low;
    double high;
    uint32_t kind;
    uint32_t fault;
} stw_level;

double stw_signal_at(const stw_lot *lot, double x);
double stw_relative_variance_at(const stw_lot *lot, double x);
double stw_prediction_half_width_a(const stw_lot *lot, double x, double electrodes, double extra_variance_a2);
void stw_inverse(const stw_lot *lot, double mean_signal_a, uint32_t electrodes, double extra_variance_a2, stw_level *level);

#endif
