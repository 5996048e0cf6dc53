/* decimal.c - a double as 17 significant digits, exactly and correctly rounded, without a library.
 *
 * The bits left of the point are divided by 10^9, those right of it multiplied, nine digits a step, in whole numbers of up to
 * 1100 bits: nothing is rounded before the last digit.
 */
#include "wire.h"

#define LIMBS 36u          /* 32 bits each: 1074 bits right of the point, and room for a shift */
#define BILLION 1000000000u
#define SIGNIFICANT 17u
#define CHUNKS_KEPT 4u     /* of 9 digits, the first not 0: at least 28 digits */

typedef union {
    double number;
    uint64_t bits;
} same_bytes;

/* The digits as they come, from the first that is not 0. */
typedef struct {
    uint8_t digit[9u * CHUNKS_KEPT];
    uint32_t n;
    uint32_t more;         /* 1: some digit behind those kept is not 0 */
    int32_t exponent;      /* of the first digit */
} digits;

/* Nine digits; `place` is the power of ten of the last of them. */
static void take(digits *found, uint32_t chunk, int32_t place) {
    uint32_t divisor = BILLION / 10u;
    int32_t power = place + 8;
    while (divisor != 0u) {
        const uint32_t digit = (chunk / divisor) % 10u;
        if ((found->n == 0u) && (digit != 0u)) {
            found->exponent = power;
        }
        if ((found->n != 0u) || (digit != 0u)) {
            if (found->n < (9u * CHUNKS_KEPT)) {
                found->digit[found->n] = (uint8_t)digit;
                found->n += 1u;
            } else if (digit != 0u) {
                found->more = 1u;
            } else {
                /* a zero far behind says nothing */
            }
        }
        divisor /= 10u;
        power -= 1;
    }
}

/* Divides by 10^9 in place; the remainder is the last nine digits. */
static uint32_t divide(uint32_t *limb, uint32_t n) {
    uint64_t rest = 0u;
    uint32_t i = n;
    while (i > 0u) {
        i -= 1u;
        rest = (rest << 32) | limb[i];
        limb[i] = (uint32_t)(rest / BILLION);
        rest %= BILLION;
    }
    return (uint32_t)rest;
}

/* Multiplies a fraction by 10^9 in place; what comes out on the left is the next nine digits. */
static uint32_t multiply(uint32_t *limb, uint32_t n) {
    uint64_t carry = 0u;
    uint32_t i;
    for (i = 0u; i < n; i++) {
        carry += (uint64_t)limb[i] * BILLION;
        limb[i] = (uint32_t)carry;
        carry >>= 32;
    }
    return (uint32_t)carry;
}

static uint32_t is_zero(const uint32_t *limb, uint32_t n) {
    uint32_t i;
    for (i = 0u; i < n; i++) {
        if (limb[i] != 0u) {
            return 0u;
        }
    }
    return 1u;
}

static void clear(uint32_t *limb) {
    uint32_t i;
    for (i = 0u; i < LIMBS; i++) {
        limb[i] = 0u;
    }
}

/* Adds mantissa * 2^shift; shift is such that it fits. */
static void place_bits(uint32_t *limb, uint64_t mantissa, uint32_t shift) {
    const uint32_t at = shift / 32u;
    const uint32_t by = shift % 32u;
    const uint64_t low = (mantissa & UINT64_C(0xFFFFFFFF)) << by;
    const uint64_t high = (mantissa >> 32) << by;
    const uint64_t middle = (low >> 32) + (high & UINT64_C(0xFFFFFFFF));
    limb[at] = (uint32_t)low;
    limb[at + 1u] = (uint32_t)middle;
    limb[at + 2u] = (uint32_t)((high >> 32) + (middle >> 32));
}

/* A whole number: the last nine digits come first, so that they are kept until all are there. */
static void whole(digits *found, uint64_t mantissa, uint32_t shift) {
    uint32_t limb[LIMBS];
    uint32_t chunk[LIMBS];
    uint32_t n = 0u;
    clear(limb);
    place_bits(limb, mantissa, shift);
    while ((is_zero(limb, LIMBS) == 0u) && (n < LIMBS)) {
        chunk[n] = divide(limb, LIMBS);
        n += 1u;
    }
    while (n > 0u) {
        n -= 1u;
        take(found, chunk[n], 9 * (int32_t)n);
    }
}

/* mantissa / 2^right, with bits right of the point. */
static void broken(digits *found, uint64_t mantissa, uint32_t right) {
    uint32_t limb[LIMBS];
    const uint32_t n = (right + 31u) / 32u;
    int32_t place = -9;
    const uint64_t left = (right < 64u) ? (mantissa >> right) : 0u;
    whole(found, left, 0u);
    clear(limb);
    /* The point stands at the left end of limb n - 1. */
    place_bits(limb, (right < 64u) ? (mantissa - (left << right)) : mantissa, (32u * n) - right);
    while ((is_zero(limb, n) == 0u) && (found->n < (9u * CHUNKS_KEPT))) {
        take(found, multiply(limb, n), place);
        place -= 9;
    }
    if (is_zero(limb, n) == 0u) {
        found->more = 1u;
    }
}

/* To 17 digits, ties to even. */
static void round_off(digits *found) {
    uint32_t above = found->more;
    uint32_t up;
    uint32_t i;
    while (found->n < (9u * CHUNKS_KEPT)) {
        found->digit[found->n] = 0u;
        found->n += 1u;
    }
    for (i = SIGNIFICANT + 1u; i < (9u * CHUNKS_KEPT); i++) {
        above |= (found->digit[i] != 0u) ? 1u : 0u;
    }
    up = (found->digit[SIGNIFICANT] > 5u) ? 1u : 0u;
    if (found->digit[SIGNIFICANT] == 5u) {
        up = ((above != 0u) || ((found->digit[SIGNIFICANT - 1u] & 1u) != 0u)) ? 1u : 0u;
    }
    i = SIGNIFICANT;
    while ((up != 0u) && (i > 0u)) {
        i -= 1u;
        up = (found->digit[i] == 9u) ? 1u : 0u;
        found->digit[i] = (up != 0u) ? 0u : (uint8_t)(found->digit[i] + 1u);
    }
    if (up != 0u) {
        /* 99...9 became 100...0 */
        found->digit[0] = 1u;
        found->exponent += 1;
    }
}

static uint32_t put_exponent(char *text, int32_t exponent) {
    uint32_t size = (exponent < 0) ? (uint32_t)(-exponent) : (uint32_t)exponent;
    uint32_t n = 0u;
    uint32_t divisor = 100u;
    text[n] = 'e';
    n += 1u;
    if (exponent < 0) {
        text[n] = '-';
        n += 1u;
    }
    while (divisor > 0u) {
        if ((size >= divisor) || (divisor == 1u) || ((text[n - 1u] >= '0') && (text[n - 1u] <= '9'))) {
            text[n] = (char)('0' + (char)((size / divisor) % 10u));
            n += 1u;
        }
        divisor /= 10u;
    }
    return n;
}

uint32_t stw_wire_decimal(double x, char *text) {
    same_bytes both;
    digits found;
    uint64_t mantissa;
    int32_t exponent;
    uint32_t n = 0u;
    uint32_t i;
    both.number = x;
    mantissa = both.bits & UINT64_C(0x000FFFFFFFFFFFFF);
    exponent = (int32_t)((both.bits >> 52) & 0x7FFu);
    if (exponent == 0x7FF) {
        return 0u;
    }
    if (exponent == 0) {
        exponent = 1;
    } else {
        mantissa |= UINT64_C(0x0010000000000000);
    }
    exponent -= 1075;
    found.n = 0u;
    found.more = 0u;
    found.exponent = 0;
    if (exponent >= 0) {
        whole(&found, mantissa, (uint32_t)exponent);
    } else {
        broken(&found, mantissa, (uint32_t)(-exponent));
    }
    round_off(&found);
    if ((both.bits >> 63) != 0u) {
        text[n] = '-';
        n += 1u;
    }
    for (i = 0u; i < SIGNIFICANT; i++) {
        text[n] = (char)('0' + (char)found.digit[i]);
        n += 1u;
        if (i == 0u) {
            text[n] = '.';
            n += 1u;
        }
    }
    return n + put_exponent(&text[n], found.exponent);
}
