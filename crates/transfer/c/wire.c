/* wire.c - the record of one result, as bytes and as a line of text. */
#include "wire.h"

#include <stddef.h>

/* ---- keys of the compact form; the Rust reader holds the same table ---- */

#define KEY_VERSION 0u
#define KEY_NAME 1u
#define KEY_COUNTER 2u
#define KEY_TIME 3u
#define KEY_METHOD 4u
#define KEY_LOT 5u
#define KEY_LOT_CHECKSUM 6u
#define KEY_CALIBRATION 7u
#define KEY_ANALYTE 8u
#define KEY_UNIT 9u
#define KEY_SPECIES 10u
#define KEY_OUTCOME 11u
#define KEY_VALUE 12u
#define KEY_LOW 13u
#define KEY_HIGH 14u
#define KEY_LEVEL 15u
#define KEY_LEVEL_U 16u
#define KEY_BOUND 17u
#define KEY_REFUSED 18u
#define KEY_FAULT 19u
#define KEY_VERDICTS 20u
#define KEY_WITHHELD 21u
#define KEY_WARNINGS 22u
#define KEY_ELECTRODES 23u
#define KEY_SCANS 24u
#define KEY_OFFERED 25u
#define KEY_TRUST_FAILED 26u
#define KEY_TRUST_UNTESTED 27u
#define KEY_REASONS 28u
#define KEY_CHECKSUM 29u

#define MAJOR_UNSIGNED 0x00u
#define MAJOR_BYTES 0x40u
#define MAJOR_TEXT 0x60u
#define MAJOR_ARRAY 0x80u
#define MAJOR_MAP 0xA0u
#define DOUBLE_FOLLOWS 0xFBu

#define FIRST_ABSOLUTE_TIME 0x10000000u /* RFC 8428, 4.5.3: 2^28 */

typedef union {
    double number;
    uint64_t bits;
} same_bytes;

/* What is sent, after what may not be sent was left out. */
typedef struct {
    const stw_wire *wire;
    const stw_sample_result *result;
    uint32_t counter;
    uint32_t time_s;
} content;

/* ---- where it goes; without a place the bytes are only counted and summed ---- */

typedef struct {
    uint8_t *bytes;
    char *text;
    uint32_t n_room;
    uint32_t n;
    uint32_t crc;
} sink;

static void put(sink *to, uint8_t byte) {
    if (to->n < to->n_room) {
        if (to->bytes != NULL) {
            to->bytes[to->n] = byte;
        }
        if (to->text != NULL) {
            to->text[to->n] = (char)byte;
        }
    }
    to->n += 1u;
    to->crc = stw_crc32(to->crc, &byte, 1u);
}

static void put_all(sink *to, const uint8_t *bytes, uint32_t n) {
    uint32_t i;
    for (i = 0u; i < n; i++) {
        put(to, bytes[i]);
    }
}

static uint32_t length_of(const char *text, uint32_t most) {
    uint32_t n = 0u;
    while ((n < most) && (text[n] != '\0')) {
        n += 1u;
    }
    return n;
}

static uint32_t lot_length(const stw_lot *lot) {
    uint32_t n = 0u;
    while ((n < 32u) && (lot->lot[n] != 0u)) {
        n += 1u;
    }
    return n;
}

/* ---- the compact form ---- */

/* The head of an item in the fewest bytes (RFC 8949, 4.2.1). */
static void put_head(sink *to, uint8_t major, uint32_t value) {
    if (value < 24u) {
        put(to, (uint8_t)(major | (uint8_t)value));
    } else if (value < 0x100u) {
        put(to, (uint8_t)(major | 24u));
        put(to, (uint8_t)value);
    } else if (value < 0x10000u) {
        put(to, (uint8_t)(major | 25u));
        put(to, (uint8_t)(value >> 8));
        put(to, (uint8_t)(value & 0xFFu));
    } else {
        put(to, (uint8_t)(major | 26u));
        put(to, (uint8_t)(value >> 24));
        put(to, (uint8_t)((value >> 16) & 0xFFu));
        put(to, (uint8_t)((value >> 8) & 0xFFu));
        put(to, (uint8_t)(value & 0xFFu));
    }
}

static void put_count(sink *to, uint32_t key, uint32_t value) {
    put_head(to, MAJOR_UNSIGNED, key);
    put_head(to, MAJOR_UNSIGNED, value);
}

static void put_text(sink *to, uint32_t key, const char *text, uint32_t n) {
    uint32_t i;
    put_head(to, MAJOR_UNSIGNED, key);
    put_head(to, MAJOR_TEXT, n);
    for (i = 0u; i < n; i++) {
        put(to, (uint8_t)text[i]);
    }
}

static void put_hash(sink *to, uint32_t key, const uint8_t hash[32]) {
    put_head(to, MAJOR_UNSIGNED, key);
    put_head(to, MAJOR_BYTES, 32u);
    put_all(to, hash, 32u);
}

/* Always all 64 bits: the number is what it is, not what a shorter form would make of it. */
static void put_number(sink *to, uint32_t key, double x) {
    same_bytes both;
    uint32_t i;
    both.number = x;
    put_head(to, MAJOR_UNSIGNED, key);
    put(to, DOUBLE_FOLLOWS);
    for (i = 0u; i < 8u; i++) {
        put(to, (uint8_t)((both.bits >> (56u - (8u * i))) & 0xFFu));
    }
}

static uint32_t is_bound(uint32_t outcome) {
    return ((outcome == STW_BELOW_QUANTIFICATION) || (outcome == STW_NOT_DETECTED) || (outcome == STW_ABOVE_RANGE)) ? 1u : 0u;
}

static uint32_t n_entries(const content *of) {
    uint32_t n = 21u;
    n += (of->time_s != 0u) ? 1u : 0u;
    if (of->result->outcome == STW_QUANTIFIED) {
        n += 5u;
    } else if (is_bound(of->result->outcome) != 0u) {
        n += 1u;
    } else {
        n += 2u;
    }
    return n;
}

static void put_whose(sink *to, const content *of) {
    const stw_wire *wire = of->wire;
    const stw_basis *basis = wire->basis;
    uint32_t i;
    put_count(to, KEY_VERSION, STW_WIRE_VERSION);
    put_text(to, KEY_NAME, wire->name, length_of(wire->name, STW_WIRE_MOST_NAME));
    put_count(to, KEY_COUNTER, of->counter);
    if (of->time_s != 0u) {
        put_count(to, KEY_TIME, of->time_s);
    }
    put_hash(to, KEY_METHOD, wire->method->constants->hash);
    put_head(to, MAJOR_UNSIGNED, KEY_LOT);
    put_head(to, MAJOR_TEXT, lot_length(wire->lot));
    for (i = 0u; i < lot_length(wire->lot); i++) {
        put(to, wire->lot->lot[i]);
    }
    put_count(to, KEY_LOT_CHECKSUM, wire->lot->checksum);
    put_hash(to, KEY_CALIBRATION, wire->lot->calibration_hash);
    put_text(to, KEY_ANALYTE, basis->analyte, length_of(basis->analyte, STW_WIRE_MOST_TEXT));
    put_text(to, KEY_UNIT, basis->unit, length_of(basis->unit, STW_WIRE_MOST_TEXT));
    put_text(to, KEY_SPECIES, basis->species, length_of(basis->species, STW_WIRE_MOST_TEXT));
}

static void put_numbers(sink *to, const content *of) {
    const stw_sample_result *result = of->result;
    put_count(to, KEY_OUTCOME, result->outcome);
    if (result->outcome == STW_QUANTIFIED) {
        put_number(to, KEY_VALUE, result->value);
        put_number(to, KEY_LOW, result->low);
        put_number(to, KEY_HIGH, result->high);
        put_number(to, KEY_LEVEL, result->level);
        put_number(to, KEY_LEVEL_U, result->standard_u);
    } else if (is_bound(result->outcome) != 0u) {
        put_number(to, KEY_BOUND, result->bound);
    } else {
        put_count(to, KEY_REFUSED, result->refused_because);
        put_count(to, KEY_FAULT, result->fault);
    }
}

static void put_codes(sink *to, const content *of) {
    const stw_sample_result *result = of->result;
    uint32_t i;
    put_head(to, MAJOR_UNSIGNED, KEY_VERDICTS);
    put_head(to, MAJOR_ARRAY, result->n_limits);
    for (i = 0u; i < result->n_limits; i++) {
        put_head(to, MAJOR_UNSIGNED, result->verdict[i]);
    }
    put_count(to, KEY_WITHHELD, result->withheld);
    put_count(to, KEY_WARNINGS, result->warnings);
    put_count(to, KEY_ELECTRODES, result->n_electrodes);
    put_count(to, KEY_SCANS, result->n_scans);
    put_count(to, KEY_OFFERED, of->wire->n_offered);
    put_count(to, KEY_TRUST_FAILED, of->wire->trust_failed);
    put_count(to, KEY_TRUST_UNTESTED, of->wire->trust_untested);
    put_count(to, KEY_REASONS, of->wire->reasons);
}

/* Everything, and the sum of everything before the sum. */
static uint32_t put_compact(sink *to, const content *of) {
    uint32_t checksum;
    put_head(to, MAJOR_MAP, n_entries(of));
    put_whose(to, of);
    put_numbers(to, of);
    put_codes(to, of);
    checksum = to->crc;
    put_count(to, KEY_CHECKSUM, checksum);
    return checksum;
}

/* ---- the line of text ---- */

static void say(sink *to, const char *text) {
    uint32_t i = 0u;
    while (text[i] != '\0') {
        put(to, (uint8_t)text[i]);
        i += 1u;
    }
}

static void say_digit(sink *to, uint32_t digit) {
    static const char digits[] = "0123456789abcdef";
    put(to, (uint8_t)digits[digit & 15u]);
}

static void say_count(sink *to, uint32_t value) {
    uint32_t divisor = 1000000000u;
    while ((divisor > 1u) && (value < divisor)) {
        divisor /= 10u;
    }
    while (divisor > 0u) {
        say_digit(to, (value / divisor) % 10u);
        divisor /= 10u;
    }
}

static void say_label(sink *to, const char *label) {
    say(to, ",\"");
    say(to, label);
    say(to, "\":");
}

/* A byte of a string as RFC 8259, 7 wants it. */
static void say_byte(sink *to, uint8_t byte) {
    if ((byte == (uint8_t)'"') || (byte == (uint8_t)'\\')) {
        put(to, (uint8_t)'\\');
        put(to, byte);
    } else if (byte < 0x20u) {
        say(to, "\\u00");
        say_digit(to, (uint32_t)byte >> 4);
        say_digit(to, (uint32_t)byte & 15u);
    } else {
        put(to, byte);
    }
}

static void say_string(sink *to, const char *label, const char *text, uint32_t most) {
    const uint32_t n = length_of(text, most);
    uint32_t i;
    say_label(to, label);
    say(to, "\"");
    for (i = 0u; i < n; i++) {
        say_byte(to, (uint8_t)text[i]);
    }
    say(to, "\"");
}

static void say_hash(sink *to, const char *label, const uint8_t hash[32]) {
    uint32_t i;
    say_label(to, label);
    say(to, "\"");
    for (i = 0u; i < 32u; i++) {
        say_digit(to, (uint32_t)hash[i] >> 4);
        say_digit(to, (uint32_t)hash[i] & 15u);
    }
    say(to, "\"");
}

static void say_number(sink *to, const char *label, double x) {
    char text[24];
    const uint32_t n = stw_wire_decimal(x, text);
    uint32_t i;
    say_label(to, label);
    for (i = 0u; i < n; i++) {
        put(to, (uint8_t)text[i]);
    }
}

static void say_whole(sink *to, const char *label, uint32_t value) {
    say_label(to, label);
    say_count(to, value);
}

static const char *outcome_word(uint32_t outcome) {
    const char *word = "refused";
    if (outcome == STW_QUANTIFIED) {
        word = "quantified";
    } else if (outcome == STW_BELOW_QUANTIFICATION) {
        word = "below-quantification";
    } else if (outcome == STW_NOT_DETECTED) {
        word = "not-detected";
    } else if (outcome == STW_ABOVE_RANGE) {
        word = "above-range";
    } else {
        /* refused */
    }
    return word;
}

static const char *verdict_word(uint32_t verdict) {
    const char *word = "withheld";
    if (verdict == STW_BELOW) {
        word = "below";
    } else if (verdict == STW_ABOVE) {
        word = "above";
    } else if (verdict == STW_TOO_CLOSE_TO_CALL) {
        word = "too-close-to-call";
    } else if (verdict == STW_NOT_DECIDABLE) {
        word = "not-decidable";
    } else {
        /* withheld */
    }
    return word;
}

/* A record of SenML has one value: the number where there is one, else what became of it. */
static void say_numbers(sink *to, const stw_sample_result *result) {
    say_string(to, "outcome_", outcome_word(result->outcome), STW_WIRE_MOST_TEXT);
    if (result->outcome == STW_QUANTIFIED) {
        say_number(to, "v", result->value);
        say_number(to, "low", result->low);
        say_number(to, "high", result->high);
        say_number(to, "level", result->level);
        say_number(to, "level-u", result->standard_u);
    } else {
        say_string(to, "vs", outcome_word(result->outcome), STW_WIRE_MOST_TEXT);
        if (is_bound(result->outcome) != 0u) {
            say_number(to, (result->outcome == STW_ABOVE_RANGE) ? "at-least_" : "less-than_", result->bound);
        } else {
            say_whole(to, "refused", result->refused_because);
            say_whole(to, "fault", result->fault);
        }
    }
}

static void say_verdicts(sink *to, const stw_sample_result *result) {
    uint32_t i;
    say_label(to, "verdicts_");
    say(to, "\"");
    for (i = 0u; i < result->n_limits; i++) {
        if (i > 0u) {
            say(to, " ");
        }
        say(to, verdict_word(result->verdict[i]));
    }
    say(to, "\"");
}

static void say_codes(sink *to, const content *of) {
    say_whole(to, "withheld_", of->result->withheld);
    say_whole(to, "warnings", of->result->warnings);
    say_whole(to, "electrodes", of->result->n_electrodes);
    say_whole(to, "scans", of->result->n_scans);
    say_whole(to, "offered", of->wire->n_offered);
    say_whole(to, "trust-failed", of->wire->trust_failed);
    say_whole(to, "trust-untested", of->wire->trust_untested);
    say_whole(to, "reasons", of->wire->reasons);
}

static void say_line(sink *to, const content *of, uint32_t checksum) {
    const stw_wire *wire = of->wire;
    uint32_t i;
    say(to, "[{\"bn\":\"");
    say(to, wire->name);
    say(to, ":\"");
    if (of->time_s != 0u) {
        say_whole(to, "bt", of->time_s);
    }
    say_string(to, "n", "concentration", STW_WIRE_MOST_TEXT);
    say_string(to, "analyte_", wire->basis->analyte, STW_WIRE_MOST_TEXT);
    say_string(to, "unit_", wire->basis->unit, STW_WIRE_MOST_TEXT);
    say_string(to, "species_", wire->basis->species, STW_WIRE_MOST_TEXT);
    say_numbers(to, of->result);
    say_verdicts(to, of->result);
    say_codes(to, of);
    say_whole(to, "counter", of->counter);
    say_hash(to, "method", wire->method->constants->hash);
    say_label(to, "lot");
    say(to, "\"");
    for (i = 0u; i < lot_length(wire->lot); i++) {
        say_byte(to, wire->lot->lot[i]);
    }
    say(to, "\"");
    say_whole(to, "lot-record", wire->lot->checksum);
    say_hash(to, "calibration", wire->lot->calibration_hash);
    say_whole(to, "wire", STW_WIRE_VERSION);
    say_whole(to, "checksum", checksum);
    say(to, "}]");
}

/* ---- what may be sent ---- */

static uint32_t text_is_usable(const char *text) {
    uint32_t n;
    if (text == NULL) {
        return 0u;
    }
    n = length_of(text, STW_WIRE_MOST_TEXT + 1u);
    return ((n > 0u) && (n <= STW_WIRE_MOST_TEXT)) ? 1u : 0u;
}

static uint32_t with_text(uint32_t crc, const char *text) {
    uint32_t sum = crc;
    uint32_t i = 0u;
    uint8_t byte;
    do {
        byte = (uint8_t)text[i];
        sum = stw_crc32(sum, &byte, 1u);
        i += 1u;
    } while (byte != 0u);
    return sum;
}

static uint32_t basis_is_whole(const stw_basis *basis) {
    uint32_t crc;
    if ((text_is_usable(basis->analyte) == 0u) || (text_is_usable(basis->unit) == 0u) || (text_is_usable(basis->species) == 0u)) {
        return 0u;
    }
    crc = with_text(with_text(with_text(0u, basis->analyte), basis->unit), basis->species);
    return (stw_crc32(crc, basis->method_hash, 32u) == basis->checksum) ? 1u : 0u;
}

static uint32_t is_alphanumeric(char c) {
    return (((c >= 'A') && (c <= 'Z')) || ((c >= 'a') && (c <= 'z')) || ((c >= '0') && (c <= '9'))) ? 1u : 0u;
}

/* RFC 8428, 4.5.1 */
static uint32_t name_is_usable(const char *name) {
    const uint32_t n = length_of(name, STW_WIRE_MOST_NAME + 1u);
    uint32_t i;
    if ((n == 0u) || (n > STW_WIRE_MOST_NAME) || (is_alphanumeric(name[0]) == 0u)) {
        return 0u;
    }
    for (i = 0u; i < n; i++) {
        const char c = name[i];
        if ((is_alphanumeric(c) == 0u) && (c != '-') && (c != ':') && (c != '.') && (c != '/') && (c != '_')) {
            return 0u;
        }
    }
    return 1u;
}

static uint32_t is_same_hash(const uint8_t one[32], const uint8_t other[32]) {
    uint32_t i;
    for (i = 0u; i < 32u; i++) {
        if (one[i] != other[i]) {
            return 0u;
        }
    }
    return 1u;
}

static uint32_t is_finite(double x) {
    same_bytes both;
    both.number = x;
    return ((both.bits & UINT64_C(0x7FF0000000000000)) != UINT64_C(0x7FF0000000000000)) ? 1u : 0u;
}

static uint32_t result_is_usable(const stw_sample_result *result) {
    uint32_t i;
    if ((result->outcome < STW_QUANTIFIED) || (result->outcome > STW_REFUSED) || (result->n_limits > STW_MOST_LIMITS)) {
        return 0u;
    }
    for (i = 0u; i < result->n_limits; i++) {
        if ((result->verdict[i] < STW_BELOW) || (result->verdict[i] > STW_WITHHELD)) {
            return 0u;
        }
        if ((result->verdict[i] <= STW_TOO_CLOSE_TO_CALL) && ((result->withheld != 0u) || (result->outcome == STW_REFUSED))) {
            return 0u; /* what may not be shown is not sent */
        }
    }
    if (result->outcome == STW_QUANTIFIED) {
        return is_finite(result->value) & is_finite(result->low) & is_finite(result->high) & is_finite(result->level) &
               is_finite(result->standard_u);
    }
    return (is_bound(result->outcome) != 0u) ? is_finite(result->bound) : 1u;
}

static uint32_t is_sendable(const content *of) {
    if ((of->wire == NULL) || (of->result == NULL) || (of->wire->basis == NULL)) {
        return STW_ARGUMENT_MISSING;
    }
    if ((of->time_s != 0u) && (of->time_s < FIRST_ABSOLUTE_TIME)) {
        return STW_WIRE_TIME_UNUSABLE;
    }
    return (result_is_usable(of->result) != 0u) ? STW_OK : STW_WIRE_RESULT_UNUSABLE;
}

static void begin_sink(sink *to, uint8_t *bytes, char *text, uint32_t n_room) {
    to->bytes = bytes;
    to->text = text;
    to->n_room = n_room;
    to->n = 0u;
    to->crc = 0u;
}

static content content_of(const stw_wire *wire, const stw_sample_result *result, uint32_t counter, uint32_t time_s) {
    content of;
    of.wire = wire;
    of.result = result;
    of.counter = counter;
    of.time_s = time_s;
    return of;
}

/* ---- what firmware calls ---- */

uint32_t stw_wire_begin(stw_wire *wire, const stw_basis *basis, const stw_method *method, const stw_lot *lot,
                        const char *name) {
    if ((wire == NULL) || (basis == NULL) || (method == NULL) || (lot == NULL) || (name == NULL)) {
        return STW_ARGUMENT_MISSING;
    }
    wire->basis = NULL;
    if (method->constants == NULL) {
        return STW_ARGUMENT_MISSING;
    }
    if (basis_is_whole(basis) == 0u) {
        return STW_WIRE_BASIS_CHANGED;
    }
    if ((is_same_hash(basis->method_hash, method->constants->hash) == 0u) ||
        (is_same_hash(basis->method_hash, lot->method_hash) == 0u)) {
        return STW_WIRE_BASIS_OF_ANOTHER;
    }
    if (name_is_usable(name) == 0u) {
        return STW_WIRE_NAME_UNUSABLE;
    }
    wire->basis = basis;
    wire->method = method;
    wire->lot = lot;
    wire->name = name;
    wire->trust_failed = 0u;
    wire->trust_untested = 0u;
    wire->reasons = 0u;
    wire->n_offered = 0u;
    return STW_OK;
}

void stw_wire_scan(stw_wire *wire, const stw_scan_result *result) {
    uint32_t i;
    if ((wire == NULL) || (result == NULL)) {
        return;
    }
    for (i = 0u; i < STW_TRUST_CHECKS; i++) {
        const uint32_t bit = (uint32_t)1u << i;
        if (result->trust[i].state == STW_FAILED) {
            wire->trust_failed |= bit;
        } else if (result->trust[i].state >= STW_NOT_TESTABLE) {
            wire->trust_untested |= bit;
        } else {
            /* passed */
        }
    }
    wire->reasons |= result->reasons;
    wire->n_offered += 1u;
}

uint32_t stw_wire_cbor(const stw_wire *wire, const stw_sample_result *result, uint32_t counter, uint32_t time_s,
                       uint8_t *bytes, uint32_t n_bytes, uint32_t *n_written) {
    const content of = content_of(wire, result, counter, time_s);
    uint32_t code;
    sink to;
    if ((bytes == NULL) || (n_written == NULL)) {
        return STW_ARGUMENT_MISSING;
    }
    *n_written = 0u;
    code = is_sendable(&of);
    if (code != STW_OK) {
        return code;
    }
    begin_sink(&to, bytes, NULL, n_bytes);
    (void)put_compact(&to, &of);
    if (to.n > n_bytes) {
        return STW_WIRE_BUFFER_TOO_SMALL;
    }
    *n_written = to.n;
    return STW_OK;
}

uint32_t stw_wire_json(const stw_wire *wire, const stw_sample_result *result, uint32_t counter, uint32_t time_s, char *text,
                       uint32_t n_text, uint32_t *n_written) {
    const content of = content_of(wire, result, counter, time_s);
    uint32_t code;
    uint32_t checksum;
    sink to;
    if ((text == NULL) || (n_written == NULL)) {
        return STW_ARGUMENT_MISSING;
    }
    *n_written = 0u;
    code = is_sendable(&of);
    if (code != STW_OK) {
        return code;
    }
    begin_sink(&to, NULL, NULL, 0u);
    checksum = put_compact(&to, &of);
    begin_sink(&to, NULL, text, n_text);
    say_line(&to, &of, checksum);
    if (to.n > n_text) {
        return STW_WIRE_BUFFER_TOO_SMALL;
    }
    *n_written = to.n;
    return STW_OK;
}
