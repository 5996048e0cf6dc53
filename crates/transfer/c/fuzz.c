/* fuzz.c - a stranger's bytes as constants, lot record and scan: nothing may crash. For a compiler with -fsanitize=fuzzer.
 * The bytes choose the shape; what they do not reach, numbers and tables among it, follows from them by a random stream. */
#include <stddef.h>
#include <stdint.h>

#include "kernel.h"

#define MOST_POINTS 128u

static uint64_t constants_memory[sizeof(stw_method_constants) / 8u];
static uint64_t lot_memory[sizeof(stw_lot) / 8u];
static double potentials[MOST_POINTS];
static double weights[(STW_MOST_SMOOTHING + 1u) * STW_MOST_SMOOTHING];
static double blank_a[MOST_POINTS];

static const uint8_t *bytes;
static size_t left;

static uint64_t stream;

static uint8_t stream_byte(void) {
    stream ^= stream << 13;
    stream ^= stream >> 7;
    stream ^= stream << 17;
    return (uint8_t)(stream >> 32);
}

static uint8_t next_byte(void) {
    uint8_t byte;
    if (left != 0u) {
        byte = *bytes;
        bytes++;
        left -= 1u;
    } else {
        byte = stream_byte();
    }
    return byte;
}

static void seed(const uint8_t *data, size_t size) {
    size_t i;
    stream = UINT64_C(0x9E3779B97F4A7C15);
    for (i = 0u; i < size; i++) {
        stream = (stream ^ data[i]) * UINT64_C(0x100000001B3);
    }
    stream |= 1u;
    bytes = data;
    left = size;
}

static void fill(void *to, size_t n) {
    uint8_t *place = to;
    size_t i;
    for (i = 0u; i < n; i++) {
        place[i] = stream_byte();
    }
}

static uint32_t odd_numbers = 224u;

/* Numbers as a converter gives them, now and then any bits at all. */
static double next_number(void) {
    const uint8_t kind = stream_byte();
    union {
        double number;
        uint64_t bits;
    } any;
    if (kind < odd_numbers) {
        return 1e-9 * (double)(((int32_t)kind * 256) + (int32_t)stream_byte() - 20000);
    }
    fill(&any.bits, sizeof(any.bits));
    return any.number;
}

static uint32_t bounded(uint32_t n) {
    return (uint32_t)next_byte() % n;
}

/* Constants that have a chance of being taken, with a few fields of any bytes. */
static void shape(stw_method *method, stw_method_constants *m, stw_lot *lot) {
    const uint32_t n = 20u + bounded(MOST_POINTS - 20u);
    uint32_t i;
    m->layout = STW_LAYOUT;
    lot->layout = STW_LAYOUT;
    m->n_points = n;
    m->smoothing_window = (bounded(4u) == 0u) ? 0u : (3u + (2u * bounded(8u)));
    m->baseline = bounded(5u);
    m->baseline_degree = bounded(5u);
    m->baseline_range[0].first = bounded(n / 4u);
    m->baseline_range[0].last = m->baseline_range[0].first + bounded(n / 4u);
    m->baseline_range[1].first = (n / 2u) + bounded(n / 4u);
    m->baseline_range[1].last = m->baseline_range[1].first + bounded(n / 4u);
    m->window.first = bounded(n);
    m->window.last = bounded(n);
    if (m->baseline == STW_BASELINE_TANGENT) {
        m->baseline_range[0].first = 0u;
        m->baseline_range[0].last = n - 1u;
    }
    for (i = 0u; i < 2u; i++) {
        m->noise_range[i] = m->baseline_range[i];
        m->outside[i].first = bounded(n);
        m->outside[i].last = bounded(n);
    }
    m->measure = bounded(3u);
    m->at_index = bounded(n);
    m->middle_index = bounded(n);
    m->start_up_points = bounded(8u);
    m->start_up_trend_points = 6u + bounded(12u);
    m->start_up_why = bounded(2u);
    m->mains_why = bounded(2u);
    m->clipping_run = bounded(6u);
    m->end_points = bounded(16u);
    m->n_limits = bounded(STW_MOST_LIMITS + 1u);
    m->units_per_volt = 1000.0;
    m->start_units = -300;
    m->step_units = (int32_t)bounded(9u) - 4;
    lot->n_claims = bounded(STW_MOST_ELECTRODES + 2u);
    lot->n_coefficients = bounded(5u);
    lot->place_index = bounded(n);
    lot->n_blank = ((m->switches & STW_HAS_BLANK) != 0u) ? n : 0u;
    for (i = 0u; i < 32u; i++) {
        lot->method_hash[i] = m->hash[i];
    }
    method->constants = m;
    method->potential_v = (bounded(2u) == 0u) ? NULL : potentials;
    method->weights = weights;
    method->n_potentials = (method->potential_v != NULL) ? n : 0u;
    method->n_weights = ((m->smoothing_window / 2u) + 1u) * m->smoothing_window;
}

/* Half of the constants and of the lot: plausible numbers instead of any bytes. */
static void soften(double *numbers, size_t n) {
    size_t i;
    for (i = 0u; i < n; i++) {
        numbers[i] = next_number();
    }
}

static void one_sample(const stw_method *method, const stw_lot *lot, const stw_scan_result *result) {
    stw_conditions conditions;
    stw_sample sample;
    stw_sample_result found;
    uint32_t i;
    conditions.temperature_c = next_number();
    conditions.dilution_factor = 1.0 + (double)bounded(4u);
    conditions.dilution_u = next_number();
    conditions.today = bounded(3u);
    conditions.stated = bounded(4u);
    if (stw_sample_begin(&sample, method, lot, &conditions) == STW_OK) {
        const uint32_t n = bounded(8u);
        for (i = 0u; i < n; i++) {
            stw_scan_result turned = *result;
            if (bounded(2u) == 0u) {
                turned.outcome = 1u + bounded(3u);
                turned.signal.signal_a = next_number();
            }
            (void)stw_sample_add(&sample, bounded(8u), &turned);
        }
        (void)stw_sample_finish(&sample, &found);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    stw_method_constants *m = (stw_method_constants *)(void *)constants_memory;
    stw_lot *lot = (stw_lot *)(void *)lot_memory;
    stw_method method;
    stw_scan scan;
    stw_scan_result result = {0};
    double storage[MOST_POINTS + 32u];
    uint32_t corrupted;
    uint32_t code;
    uint32_t n_pushed;
    uint32_t i;
    seed(data, size);
    odd_numbers = (bounded(2u) == 0u) ? 256u : (200u + bounded(56u));
    fill(constants_memory, sizeof(constants_memory));
    fill(lot_memory, sizeof(lot_memory));
    if (bounded(8u) != 0u) {
        soften((double *)(void *)constants_memory, offsetof(stw_method_constants, grid_findings) / 8u);
        soften((double *)(void *)lot_memory, offsetof(stw_lot, layout) / 8u);
    }
    corrupted = bounded(8u);
    if (corrupted != 0u) {
        shape(&method, m, lot);
    } else {
        method.constants = m;
        method.potential_v = potentials;
        method.weights = weights;
        method.n_potentials = MOST_POINTS;
        method.n_weights = bounded(255u);
        m->n_points = MOST_POINTS;
    }
    for (i = 0u; i < MOST_POINTS; i++) {
        potentials[i] = (bounded(16u) == 0u) ? next_number() : (-0.3 - (0.004 * (double)i));
        blank_a[i] = next_number();
    }
    for (i = 0u; i < (16u * 9u); i++) {
        weights[i] = next_number() * 1e4;
    }
    if (method.n_weights > ((STW_MOST_SMOOTHING + 1u) * STW_MOST_SMOOTHING)) {
        method.n_weights = 0u;
    }
    method.checksum = stw_method_checksum(&method);
    lot->checksum = stw_lot_checksum(lot, blank_a, m->n_points);
    code = stw_scan_begin(&scan, &method, lot, blank_a, m->n_points, storage, MOST_POINTS + 32u);
    if (code != STW_OK) {
        one_sample(&method, lot, &result);
        return 0;
    }
    n_pushed = m->n_points + ((bounded(16u) == 0u) ? bounded(5u) : 0u);
    for (i = 0u; i < n_pushed; i++) {
        stw_point point;
        point.current_a = next_number();
        point.forward_a = next_number();
        point.reverse_a = next_number();
        point.overload = (bounded(64u) == 0u) ? 1u : 0u;
        (void)stw_scan_push(&scan, &point);
    }
    if (stw_scan_finish(&scan, &result) == STW_OK) {
        one_sample(&method, lot, &result);
    }
    return 0;
}
