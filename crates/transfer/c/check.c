/* check.c - walks a vector file and compares every word of every result with the expected one. */
#include <stddef.h>

#include "kernel.h"
#include "port.h"

#define MAGIC 0x56575453u
#define VERSION 1u

#define BLOCK_END 0u
#define BLOCK_METHOD 1u
#define BLOCK_LOT 2u
#define BLOCK_SCAN 3u
#define BLOCK_SAMPLE_BEGIN 4u
#define BLOCK_SAMPLE_END 5u
#define BLOCK_ROOTS 6u

#define MOST_POINTS 2048u
#define SCAN_WORDS 97u
#define SAMPLE_WORDS 28u
#define MOST_SHOWN 40u

/* Only the test holds these; the kernel has no state of its own. */
static stw_method method;
static uint64_t constants_memory[sizeof(stw_method_constants) / 8u];
static double tables[MOST_POINTS + 6000u];
static uint64_t lot_memory[sizeof(stw_lot) / 8u];
static double blank_a[MOST_POINTS];
static uint32_t n_blank;
static double currents[3u * MOST_POINTS];
static uint32_t marked[MOST_POINTS];
static double storage[MOST_POINTS + 256u];
static stw_scan scan;
static stw_scan_result scan_result;
static stw_sample sample;
static stw_sample_result sample_result;
static uint64_t expected[SCAN_WORDS];
static uint64_t found[SCAN_WORDS];

static uint32_t n_scans;
static uint32_t n_samples;
static uint32_t n_words;
static uint32_t n_roots;
static uint32_t n_different;
static uint32_t n_errors;
static uint32_t n_counted;
static uint32_t most_ticks;
static uint64_t sum_ticks;
static uint32_t most_stack;

typedef union {
    double number;
    uint64_t bits;
} same_bytes;

static uint64_t word_of(double x) {
    same_bytes both;
    both.number = x;
    return (x == x) ? both.bits : UINT64_C(0x7ff8000000000000);
}

/* ---- words out ---- */

static void write_hex(uint64_t value, uint32_t digits) {
    char text[17];
    uint32_t i;
    for (i = 0u; i < digits; i++) {
        text[i] = "0123456789abcdef"[(value >> (4u * ((digits - 1u) - i))) & 15u];
    }
    text[digits] = '\0';
    port_write(text);
}

static void write_count(const char *name, uint64_t value) {
    char text[21];
    uint32_t i = 20u;
    uint64_t left = value;
    text[20] = '\0';
    do {
        i -= 1u;
        text[i] = (char)('0' + (int)(left % 10u));
        left /= 10u;
    } while (left != 0u);
    port_write(name);
    port_write(&text[i]);
}

static void compare(const char *what, uint32_t which, uint32_t n) {
    uint32_t i;
    n_words += n;
    for (i = 0u; i < n; i++) {
        if (found[i] != expected[i]) {
            n_different += 1u;
            if (n_different <= MOST_SHOWN) {
                port_write("DIFFERENT ");
                write_count(what, which);
                write_count(" word ", i);
                port_write(": expected ");
                write_hex(expected[i], 16u);
                port_write(", found ");
                write_hex(found[i], 16u);
                port_write("\n");
            }
        }
    }
}

static void complain(const char *what, uint32_t code) {
    n_errors += 1u;
    if (n_errors <= MOST_SHOWN) {
        port_write("ERROR ");
        write_count(what, code);
        port_write("\n");
    }
}

/* ---- bytes in ---- */

static uint32_t block_left;

static uint32_t take(void *to, uint32_t n) {
    uint32_t came;
    if (n > block_left) {
        complain("block shorter than it says, bytes left ", block_left);
        return 0u;
    }
    came = port_read(to, n);
    block_left -= came;
    if (came != n) {
        complain("file ends early, bytes lacking ", n - came);
        return 0u;
    }
    return 1u;
}

static void skip_rest(void) {
    uint8_t byte;
    while ((block_left != 0u) && (take(&byte, 1u) != 0u)) {
    }
}

static void read_method(void) {
    uint32_t counts[4];
    if ((take(constants_memory, (uint32_t)sizeof(constants_memory)) == 0u) || (take(counts, 16u) == 0u)) {
        return;
    }
    if ((counts[0] + counts[1]) > (MOST_POINTS + 6000u)) {
        complain("tables too long: ", counts[0] + counts[1]);
        return;
    }
    (void)take(tables, 8u * (counts[0] + counts[1]));
    method.constants = (const stw_method_constants *)(const void *)constants_memory;
    method.potential_v = (counts[0] != 0u) ? tables : NULL;
    method.weights = (counts[1] != 0u) ? &tables[counts[0]] : NULL;
    method.n_potentials = counts[0];
    method.n_weights = counts[1];
    method.checksum = counts[2];
}

static void read_lot(void) {
    uint32_t counts[2];
    if ((take(lot_memory, (uint32_t)sizeof(lot_memory)) == 0u) || (take(counts, 8u) == 0u)) {
        return;
    }
    n_blank = counts[0];
    if (n_blank > MOST_POINTS) {
        complain("blank too long: ", n_blank);
        return;
    }
    (void)take(blank_a, 8u * n_blank);
}

/* ---- a scan ---- */

static uint64_t hash_of(double (*curve)(const stw_scan *, uint32_t)) {
    uint64_t hash = UINT64_C(0xcbf29ce484222325);
    uint32_t i;
    for (i = 0u; i < scan.n_points; i++) {
        hash = (hash ^ word_of(curve(&scan, i))) * UINT64_C(0x100000001b3);
    }
    return hash;
}

static void note_stack(void) {
    const uint32_t used = port_stack_used();
    most_stack = (used > most_stack) ? used : most_stack;
}

static void scan_words(void) {
    const stw_scan_result *r = &scan_result;
    const stw_signal *s = &r->signal;
    const uint32_t has_curves =
        (((r->reasons & STW_BECAUSE_TRUST) == 0u) && (r->refusal != STW_NOT_FINITE)) ? 1u : 0u;
    uint32_t at = 0u;
    uint32_t i;
    for (i = 0u; i < STW_TRUST_CHECKS; i++) {
        found[at++] = r->trust[i].state;
        found[at++] = r->trust[i].at_index;
        found[at++] = word_of(r->trust[i].found);
        found[at++] = word_of(r->trust[i].limit);
    }
    found[at++] = word_of(s->signal_a);
    found[at++] = word_of(s->height_a);
    found[at++] = word_of(s->peak_potential_v);
    found[at++] = word_of(s->half_width_v);
    found[at++] = word_of(s->foot_potential_v[0]);
    found[at++] = word_of(s->foot_potential_v[1]);
    found[at++] = word_of(s->baseline_at_peak_a);
    found[at++] = word_of(s->noise_a);
    found[at++] = word_of(s->signal_to_noise);
    found[at++] = word_of(s->background_ratio);
    found[at++] = s->peak_index;
    found[at++] = s->baseline_points[0];
    found[at++] = s->baseline_points[1];
    found[at++] = s->despiked;
    found[at++] = s->flags;
    found[at++] = s->has;
    found[at++] = word_of(r->refusal_height_a);
    found[at++] = word_of(r->refusal_noise_a);
    found[at++] = word_of(r->outside_height_a);
    found[at++] = r->outside_index;
    found[at++] = r->refusal;
    found[at++] = r->refusal_index;
    found[at++] = r->outcome;
    found[at++] = r->reasons;
    found[at++] = r->spikes_only_warned;
    found[at++] = (has_curves != 0u) ? hash_of(stw_subtracted_a) : 0u;
    found[at++] = (has_curves != 0u) ? hash_of(stw_smoothed_a) : 0u;
    found[at++] = (has_curves != 0u) ? hash_of(stw_baseline_a) : 0u;
    found[at++] = (has_curves != 0u) ? hash_of(stw_corrected_a) : 0u;
}

static uint32_t push_all(uint32_t n, uint32_t per_point, uint32_t n_marked) {
    uint32_t code = stw_scan_begin(&scan, &method, (const stw_lot *)(const void *)lot_memory, (n_blank != 0u) ? blank_a : NULL,
                                   n_blank, storage, MOST_POINTS + 256u);
    uint32_t mark = 0u;
    uint32_t i;
    for (i = 0u; (i < n) && (code == STW_OK); i++) {
        stw_point point;
        point.current_a = currents[i * per_point];
        point.forward_a = (per_point == 3u) ? currents[(i * 3u) + 1u] : 0.0;
        point.reverse_a = (per_point == 3u) ? currents[(i * 3u) + 2u] : 0.0;
        point.overload = ((mark < n_marked) && (marked[mark] == i)) ? 1u : 0u;
        mark += point.overload;
        code = stw_scan_push(&scan, &point);
    }
    return code;
}

static void check_scan(void) {
    uint32_t counts[4];
    uint32_t per_point;
    uint32_t code;
    if (take(counts, 16u) == 0u) {
        return;
    }
    per_point = (counts[1] != 0u) ? 3u : 1u;
    if ((counts[0] > MOST_POINTS) || (counts[3] > counts[0])) {
        complain("scan too long: ", counts[0]);
        return;
    }
    if ((take(currents, 8u * per_point * counts[0]) == 0u) || (take(marked, 4u * counts[3]) == 0u)) {
        return;
    }
    if (((counts[3] % 2u) != 0u) && (take(&marked[counts[3]], 4u) == 0u)) {
        return; /* padding */
    }
    if (take(expected, 8u * SCAN_WORDS) == 0u) {
        return;
    }
    port_paint_stack();
    code = push_all(counts[0], per_point, counts[3]);
    if (code == STW_OK) {
        uint32_t ticks = port_ticks();
        code = stw_scan_finish(&scan, &scan_result);
        ticks = port_ticks() - ticks;
        sum_ticks += ticks;
        n_counted += 1u;
        most_ticks = (ticks > most_ticks) ? ticks : most_ticks;
    }
    note_stack();
    if (code != STW_OK) {
        complain("begin, push or finish gave ", code);
        return;
    }
    scan_words();
    compare("scan ", n_scans, SCAN_WORDS);
    n_scans += 1u;
    if (counts[2] != UINT32_MAX) {
        code = stw_sample_add(&sample, counts[2], &scan_result);
        if (code != STW_OK) {
            complain("sample add gave ", code);
        }
    }
}

/* ---- a sample ---- */

static void begin_sample(void) {
    stw_conditions conditions;
    double numbers[3];
    uint32_t words[2];
    uint32_t code;
    if ((take(numbers, 24u) == 0u) || (take(words, 8u) == 0u)) {
        return;
    }
    conditions.temperature_c = numbers[0];
    conditions.dilution_factor = numbers[1];
    conditions.dilution_u = numbers[2];
    conditions.today = words[0];
    conditions.stated = words[1];
    code = stw_sample_begin(&sample, &method, (const stw_lot *)(const void *)lot_memory, &conditions);
    if (code != STW_OK) {
        complain("sample begin gave ", code);
    }
}

static void end_sample(void) {
    const stw_sample_result *r = &sample_result;
    uint32_t at = 0u;
    uint32_t i;
    uint32_t code;
    if (take(expected, 8u * SAMPLE_WORDS) == 0u) {
        return;
    }
    port_paint_stack();
    code = stw_sample_finish(&sample, &sample_result);
    note_stack();
    if (code != STW_OK) {
        complain("sample finish gave ", code);
        return;
    }
    found[at++] = word_of(r->mean_signal_a);
    found[at++] = word_of(r->factor);
    found[at++] = word_of(r->level);
    found[at++] = word_of(r->level_low);
    found[at++] = word_of(r->level_high);
    found[at++] = word_of(r->standard_u);
    found[at++] = word_of(r->value);
    found[at++] = word_of(r->low);
    found[at++] = word_of(r->high);
    found[at++] = word_of(r->bound);
    found[at++] = word_of(r->disagreement);
    found[at++] = word_of(r->disagreement_limit);
    found[at++] = r->outcome;
    found[at++] = r->refused_because;
    found[at++] = r->fault;
    found[at++] = r->n_electrodes;
    found[at++] = r->n_scans;
    found[at++] = r->withheld;
    found[at++] = r->warnings;
    found[at++] = r->n_limits;
    for (i = 0u; i < STW_MOST_LIMITS; i++) {
        found[at++] = r->decided[i];
    }
    for (i = 0u; i < STW_MOST_LIMITS; i++) {
        found[at++] = r->verdict[i];
    }
    compare("sample ", n_samples, SAMPLE_WORDS);
    n_samples += 1u;
}

static void check_roots(void) {
    uint64_t two[2];
    while (block_left >= 16u) {
        same_bytes both;
        if (take(two, 16u) == 0u) {
            return;
        }
        both.bits = two[0];
        expected[0] = two[1];
        found[0] = word_of(stw_sqrt(both.number));
        compare("root ", n_roots, 1u);
        n_roots += 1u;
    }
}

/* ---- the file ---- */

static void block_of(uint32_t kind) {
    switch (kind) {
    case BLOCK_METHOD:
        read_method();
        break;
    case BLOCK_LOT:
        read_lot();
        break;
    case BLOCK_SCAN:
        check_scan();
        break;
    case BLOCK_SAMPLE_BEGIN:
        begin_sample();
        break;
    case BLOCK_SAMPLE_END:
        end_sample();
        break;
    case BLOCK_ROOTS:
        check_roots();
        break;
    default:
        complain("unknown block ", kind);
        break;
    }
    skip_rest();
}

static uint64_t instructions(uint64_t ticks) {
    return (ticks * 1000u) / port_ticks_per_1000_instructions();
}

static void summarise(void) {
    write_count("scans ", n_scans);
    write_count(" samples ", n_samples);
    write_count(" roots ", n_roots);
    write_count(" words ", n_words);
    write_count(" differing ", n_different);
    write_count(" errors ", n_errors);
    if ((port_ticks_per_1000_instructions() != 0u) && (n_counted != 0u)) {
        write_count(" stack ", most_stack);
        write_count(" finish-instructions-mean ", instructions(sum_ticks / n_counted));
        write_count(" finish-instructions-most ", instructions(most_ticks));
    }
    port_write("\n");
}

int check_vectors(void) {
    uint32_t head[2];
    block_left = 8u;
    if ((take(head, 8u) == 0u) || (head[0] != MAGIC) || (head[1] != VERSION)) {
        port_write("not a vector file of this version\n");
        return 2;
    }
    for (;;) {
        block_left = 8u;
        if (take(head, 8u) == 0u) {
            break;
        }
        if (head[0] == BLOCK_END) {
            break;
        }
        block_left = head[1];
        block_of(head[0]);
    }
    summarise();
    return ((n_different == 0u) && (n_errors == 0u)) ? 0 : 1;
}
