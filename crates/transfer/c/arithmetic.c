/* arithmetic.c - bits, square root, sums in a stated order, checksums. */
#include "parts.h"

#define SIGN_BIT UINT64_C(0x8000000000000000)
#define EXPONENT_BITS UINT64_C(0x7FF0000000000000)
#define FRACTION_BITS UINT64_C(0x000FFFFFFFFFFFFF)
#define HIDDEN_BIT UINT64_C(0x0010000000000000)

typedef union {
    double number;
    uint64_t bits;
} same_bytes;

uint64_t stw_bits_of(double x) {
    same_bytes both;
    both.number = x;
    return both.bits;
}

double stw_double_of(uint64_t bits) {
    same_bytes both;
    both.bits = bits;
    return both.number;
}

double stw_abs(double x) {
    return stw_double_of(stw_bits_of(x) & ~SIGN_BIT);
}

uint32_t stw_is_finite(double x) {
    return ((stw_bits_of(x) & EXPONENT_BITS) != EXPONENT_BITS) ? 1u : 0u;
}

uint64_t stw_order_of(double x) {
    const uint64_t bits = stw_bits_of(x);
    return ((bits & SIGN_BIT) != 0u) ? ~bits : (bits | SIGN_BIT);
}

double stw_from_order(uint64_t order) {
    return stw_double_of(((order & SIGN_BIT) != 0u) ? (order & ~SIGN_BIT) : ~order);
}

/* Bit by bit: with x = m 4^e, m between 2^52 and 2^54, the whole root of m 4^27 has 54 bits: 53 and one for rounding. A
 * square root never lies half way between two doubles, so that one bit decides. */
double stw_sqrt(double x) {
    const uint64_t bits = stw_bits_of(x);
    uint64_t mantissa = bits & FRACTION_BITS;
    int32_t exponent = (int32_t)((bits & EXPONENT_BITS) >> 52);
    uint64_t rest = 0u;
    uint64_t root = 0u;
    uint32_t step;
    if ((bits & ~SIGN_BIT) == 0u) {
        return x; /* +0 and -0 */
    }
    if (exponent == 0x7FF) {
        /* NaN stays NaN, +inf stays; -inf has no root. */
        return ((mantissa == 0u) && ((bits & SIGN_BIT) != 0u)) ? stw_double_of(EXPONENT_BITS | (HIDDEN_BIT >> 1)) : x;
    }
    if ((bits & SIGN_BIT) != 0u) {
        return stw_double_of(EXPONENT_BITS | (HIDDEN_BIT >> 1));
    }
    if (exponent == 0) {
        exponent = 1;
        while ((mantissa & HIDDEN_BIT) == 0u) {
            mantissa <<= 1;
            exponent -= 1;
        }
    } else {
        mantissa |= HIDDEN_BIT;
    }
    /* x = mantissa 2^(exponent - 1075); an even power is needed. */
    exponent -= 1075;
    if ((exponent % 2) != 0) {
        mantissa <<= 1;
        exponent -= 1;
    }
    /* Two bits of the radicand a step: 27 steps for the mantissa's 54 bits, 27 for the zeros behind. */
    for (step = 0u; step < 54u; step++) {
        uint64_t trial;
        rest <<= 2;
        if (step < 27u) {
            rest |= (mantissa >> (52u - (2u * step))) & 3u;
        }
        trial = (root << 2) | 1u;
        root <<= 1;
        if (rest >= trial) {
            rest -= trial;
            root |= 1u;
        }
    }
    /* root holds 54 bits of sqrt(mantissa) 2^27; round to 53. */
    root = (root >> 1) + (root & 1u);
    /* sqrt(x) = root 2^(exponent / 2 - 26), root between 2^52 and 2^53. */
    exponent = (exponent / 2) - 26 + 1075;
    return stw_double_of(((uint64_t)(uint32_t)(exponent - 1) << 52) + root);
}

void stw_sum_begin(stw_sum *sum) {
    uint32_t i;
    for (i = 0u; i < 8u; i++) {
        sum->part[i] = 0.0;
    }
    sum->n = 0u;
}

void stw_sum_add(stw_sum *sum, double term) {
    sum->part[sum->n & 7u] += term;
    sum->n += 1u;
}

double stw_sum_total(const stw_sum *sum) {
    const double *p = sum->part;
    return ((p[0] + p[1]) + (p[2] + p[3])) + ((p[4] + p[5]) + (p[6] + p[7]));
}

/* ---- numbers of about 32 digits: Dekker 1971, Numer. Math. 18, 224; Knuth, vol. 2, 4.2.2 ---- */

typedef struct {
    double high;
    double low;
} pair;

static void sum_of_two(double a, double b, pair *found) {
    const double high = a + b;
    const double part = high - a;
    found->low = (a - (high - part)) + (b - part);
    found->high = high;
}

/* |a| >= |b| or a = 0 */
static void sum_of_ordered(double a, double b, pair *found) {
    const double high = a + b;
    found->low = b - (high - a);
    found->high = high;
}

static void halves(double a, pair *found) {
    const double scaled = 134217729.0 * a; /* 2^27 + 1 */
    found->high = scaled - (scaled - a);
    found->low = a - found->high;
}

static void product_of_two(double a, double b, pair *found) {
    pair x;
    pair y;
    halves(a, &x);
    halves(b, &y);
    found->high = a * b;
    found->low = ((((x.high * y.high) - found->high) + (x.high * y.low)) + (x.low * y.high)) + (x.low * y.low);
}

static void add_pair(pair *sum, const pair *term) {
    pair high;
    pair low;
    sum_of_two(sum->high, term->high, &high);
    sum_of_two(sum->low, term->low, &low);
    sum_of_ordered(high.high, high.low + low.high, &high);
    sum_of_ordered(high.high, high.low + low.low, sum);
}

/* The next digits of sum / n, which are taken off the sum. */
static double next_digits(pair *sum, double n) {
    const double digits = sum->high / n;
    pair product;
    product_of_two(n, -digits, &product);
    add_pair(sum, &product);
    return digits;
}

/* The nearest double to sum / n. */
static double divide_pair(pair *sum, double n) {
    const double first = next_digits(sum, n);
    const double second = next_digits(sum, n);
    pair quotient;
    pair last;
    sum_of_ordered(first, second, &quotient);
    last.high = sum->high / n;
    last.low = 0.0;
    add_pair(&quotient, &last);
    return quotient.high;
}

/* The power of two that brings a magnitude into [1, 2); 1 for zero. */
static double power_of_two_to_unit(double magnitude) {
    uint64_t bits = stw_bits_of(magnitude);
    int32_t exponent = (int32_t)(bits >> 52);
    if (bits == 0u) {
        return 1.0;
    }
    if (exponent == 0) {
        exponent = 1;
        while ((bits & HIDDEN_BIT) == 0u) {
            bits <<= 1;
            exponent -= 1;
        }
    }
    exponent = 1023 - exponent;
    if (exponent > 1022) {
        exponent = 1022;
    }
    if (exponent < -1022) {
        exponent = -1022;
    }
    return stw_double_of((uint64_t)(uint32_t)(exponent + 1023) << 52);
}

double stw_exact_mean(const double *values, uint32_t n) {
    double largest = 0.0;
    double scale;
    pair sum = {0.0, 0.0};
    pair term = {0.0, 0.0};
    uint32_t i;
    if (n == 1u) {
        return values[0];
    }
    for (i = 0u; i < n; i++) {
        const double size = stw_abs(values[i]);
        if (size > largest) {
            largest = size;
        }
    }
    scale = power_of_two_to_unit(largest);
    for (i = 0u; i < n; i++) {
        term.high = values[i] * scale;
        add_pair(&sum, &term);
    }
    return divide_pair(&sum, (double)n) / scale;
}

/* ---- checksums ---- */

uint32_t stw_crc32(uint32_t crc, const uint8_t *bytes, uint32_t n) {
    uint32_t left = ~crc;
    uint32_t i;
    uint32_t bit;
    for (i = 0u; i < n; i++) {
        left ^= (uint32_t)bytes[i];
        for (bit = 0u; bit < 8u; bit++) {
            left = ((left & 1u) != 0u) ? ((left >> 1) ^ UINT32_C(0xEDB88320)) : (left >> 1);
        }
    }
    return ~left;
}

uint32_t stw_method_checksum(const stw_method *method) {
    uint32_t crc = stw_crc32(0u, (const uint8_t *)method->constants, (uint32_t)sizeof(stw_method_constants));
    if (method->potential_v != NULL) {
        crc = stw_crc32(crc, (const uint8_t *)method->potential_v, method->n_potentials * (uint32_t)sizeof(double));
    }
    if (method->weights != NULL) {
        crc = stw_crc32(crc, (const uint8_t *)method->weights, method->n_weights * (uint32_t)sizeof(double));
    }
    return crc;
}

uint32_t stw_lot_checksum(const stw_lot *lot, const double *blank_a, uint32_t n_blank) {
    uint32_t crc = stw_crc32(0u, (const uint8_t *)lot, (uint32_t)offsetof(stw_lot, checksum));
    if ((blank_a != NULL) && (lot->n_blank != 0u)) {
        crc = stw_crc32(crc, (const uint8_t *)blank_a, n_blank * (uint32_t)sizeof(double));
    }
    return crc;
}
