/* order.c - medians without a second buffer, and points against their neighbours. */
#include "parts.h"

stw_beside stw_stands_out(const double *points, uint32_t width) {
    /* two before, the inner ones, two after */
    const double beside[4] = {points[0], points[1], points[width + 2u], points[width + 3u]};
    double lowest = beside[0];
    double highest = beside[0];
    double sum = 0.0;
    double one;
    double other;
    stw_beside found;
    uint32_t i;
    for (i = 0u; i < 4u; i++) {
        if (beside[i] < lowest) {
            lowest = beside[i];
        }
        if (beside[i] > highest) {
            highest = beside[i];
        }
        sum += beside[i];
    }
    found.middle = 0.5 * ((sum - lowest) - highest);
    found.range = highest - lowest;
    one = points[2] - found.middle;
    other = points[width + 1u] - found.middle;
    if ((one > 0.0) == (other > 0.0)) {
        const double a = stw_abs(one);
        const double b = stw_abs(other);
        found.deviation = (a < b) ? a : b;
    } else {
        found.deviation = 0.0;
    }
    return found;
}

stw_beside stw_beside_neighbours(const double *points) {
    const uint32_t first_in_order = (points[0] <= points[1]) ? 1u : 0u;
    const uint32_t last_in_order = (points[3] <= points[4]) ? 1u : 0u;
    const double low1 = (first_in_order != 0u) ? points[0] : points[1];
    const double high1 = (first_in_order != 0u) ? points[1] : points[0];
    const double low2 = (last_in_order != 0u) ? points[3] : points[4];
    const double high2 = (last_in_order != 0u) ? points[4] : points[3];
    const double lowest = (low1 <= low2) ? low1 : low2;
    const double inner1 = (low1 <= low2) ? low2 : low1;
    const double inner2 = (high1 <= high2) ? high1 : high2;
    const double highest = (high1 <= high2) ? high2 : high1;
    stw_beside found;
    double deviation;
    found.middle = (0.5 * inner1) + (0.5 * inner2);
    found.range = highest - lowest;
    deviation = points[2] - found.middle;
    found.deviation = (deviation < 0.0) ? -deviation : deviation;
    return found;
}

static double term_at(const stw_terms *terms, uint32_t i) {
    const double *p = &terms->values[i];
    double term;
    switch (terms->kind) {
    case STW_TERM_THIRD_DIFFERENCE:
        term = stw_abs((p[3] - p[0]) - (3.0 * (p[2] - p[1])));
        break;
    case STW_TERM_STANDS_OUT:
        term = stw_stands_out(p, 1u).deviation;
        break;
    case STW_TERM_BESIDE_NEIGHBOURS:
        term = stw_beside_neighbours(p).deviation;
        break;
    default:
        term = p[0];
        break;
    }
    return term;
}

/* The term of a rank (0 is the lowest), byte by byte from the top: terms are counted by their next byte among those whose
 * bytes so far are the wanted ones. At most eight walks, mostly three and one to fetch a term that is alone. */
static uint64_t order_of_rank(const stw_terms *terms, uint32_t rank) {
    uint16_t counts[256];
    uint64_t wanted = 0u;
    uint64_t known = 0u;
    uint32_t left = rank;
    uint32_t shift = 64u;
    while (shift != 0u) {
        uint32_t i;
        uint32_t byte = 0u;
        shift -= 8u;
        for (i = 0u; i < 256u; i++) {
            counts[i] = 0u;
        }
        for (i = 0u; i < terms->n; i++) {
            const uint64_t order = stw_order_of(term_at(terms, i));
            if ((order & known) == wanted) {
                const uint32_t next = (uint32_t)(order >> shift) & 255u;
                counts[next] = (uint16_t)(counts[next] + 1u);
            }
        }
        while ((byte < 255u) && (left >= counts[byte])) {
            left -= counts[byte];
            byte += 1u;
        }
        wanted |= (uint64_t)byte << shift;
        known |= UINT64_C(255) << shift;
        if (counts[byte] == 1u) {
            for (i = 0u; i < terms->n; i++) {
                const uint64_t order = stw_order_of(term_at(terms, i));
                if ((order & known) == wanted) {
                    return order;
                }
            }
        }
    }
    return wanted;
}

double stw_median(const stw_terms *terms) {
    const uint32_t half = terms->n / 2u;
    const uint64_t upper = order_of_rank(terms, half);
    uint64_t lower = 0u;
    uint32_t n_below = 0u;
    uint32_t i;
    if ((terms->n % 2u) == 1u) {
        return stw_from_order(upper);
    }
    for (i = 0u; i < terms->n; i++) {
        const uint64_t order = stw_order_of(term_at(terms, i));
        if (order < upper) {
            n_below += 1u;
            if (order > lower) {
                lower = order;
            }
        }
    }
    if (n_below < half) {
        lower = upper; /* several terms are alike there */
    }
    return (0.5 * stw_from_order(lower)) + (0.5 * stw_from_order(upper));
}
