/* driver.c - asks the package's own code for records: one line of fields in, one line of the answer out. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "wire.h"

#define FIELDS 34u

static char *field[FIELDS];

static uint32_t whole(uint32_t i) {
    return (uint32_t)strtoul(field[i], NULL, 16);
}

static double number(uint32_t i) {
    const unsigned long long bits = strtoull(field[i], NULL, 16);
    double x;
    memcpy(&x, &bits, sizeof x);
    return x;
}

static void split(char *line) {
    uint32_t i;
    for (i = 0u; i < FIELDS; i++) {
        field[i] = line;
        line += strcspn(line, "\t\n");
        if (*line != '\0') {
            *line = '\0';
            line += 1;
        }
    }
}

static uint32_t basis_sum(const stw_basis *basis) {
    uint32_t crc = stw_crc32(0u, (const uint8_t *)basis->analyte, (uint32_t)strlen(basis->analyte) + 1u);
    crc = stw_crc32(crc, (const uint8_t *)basis->unit, (uint32_t)strlen(basis->unit) + 1u);
    crc = stw_crc32(crc, (const uint8_t *)basis->species, (uint32_t)strlen(basis->species) + 1u);
    return stw_crc32(crc, basis->method_hash, 32u);
}

/* field 0: cbor, json or decimal; then the record, see tests/it/wire/device.rs. */
static void answer(void) {
    static stw_method_constants constants;
    static stw_lot lot;
    static stw_method method;
    static stw_basis basis;
    static stw_sample_result result;
    static uint8_t bytes[STW_WIRE_MOST_CBOR];
    static char text[STW_WIRE_MOST_JSON];
    stw_wire wire;
    uint32_t room = whole(33u);
    uint32_t n = 0u;
    uint32_t code;
    uint32_t i;
    if (strcmp(field[0], "decimal") == 0) {
        n = stw_wire_decimal(number(1u), text);
        printf("%.*s\n", (int)n, text);
        return;
    }
    memset(&constants, (int)whole(4u), sizeof constants);
    method.constants = &constants;
    memset(&lot, 0, sizeof lot);
    memcpy(lot.lot, field[5], (strlen(field[5]) < 32u) ? strlen(field[5]) : 32u);
    lot.checksum = whole(6u);
    memset(lot.calibration_hash, (int)whole(7u), 32u);
    memcpy(lot.method_hash, constants.hash, 32u);
    memcpy(basis.method_hash, constants.hash, 32u);
    basis.analyte = field[8];
    basis.unit = field[9];
    basis.species = field[10];
    basis.checksum = basis_sum(&basis) ^ whole(32u);
    code = stw_wire_begin(&wire, &basis, &method, &lot, field[1]);
    if (code == STW_OK) {
        result.outcome = whole(11u);
        result.value = number(12u);
        result.low = number(13u);
        result.high = number(14u);
        result.level = number(15u);
        result.standard_u = number(16u);
        result.bound = number(17u);
        result.refused_because = whole(18u);
        result.fault = whole(19u);
        result.n_limits = whole(20u);
        for (i = 0u; i < STW_MOST_LIMITS; i++) {
            result.verdict[i] = whole(21u + i);
        }
        result.withheld = whole(25u);
        result.warnings = whole(26u);
        result.n_electrodes = whole(27u);
        result.n_scans = whole(28u);
        wire.n_offered = whole(29u);
        wire.trust_failed = whole(30u);
        wire.trust_untested = whole(30u) >> 3;
        wire.reasons = whole(31u);
        if (strcmp(field[0], "cbor") == 0) {
            code = stw_wire_cbor(&wire, &result, whole(2u), whole(3u), bytes, room, &n);
        } else {
            code = stw_wire_json(&wire, &result, whole(2u), whole(3u), text, room, &n);
        }
    }
    printf("%u ", (unsigned)code);
    for (i = 0u; i < n; i++) {
        if (strcmp(field[0], "cbor") == 0) {
            printf("%02x", bytes[i]);
        } else {
            putchar(text[i]);
        }
    }
    putchar('\n');
}

int main(void) {
    static char line[4096];
    while (fgets(line, sizeof line, stdin) != NULL) {
        split(line);
        answer();
    }
    return 0;
}
