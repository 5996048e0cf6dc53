/* selfcheck.c - the package's own constants: method, basis and lot record fit together, and a whole sample runs to its line.
 * It stands where check.c stands otherwise, and reads the lot's file in the place of the vectors. */
#include <stddef.h>

#include "example.h"
#include "port.h"

#define HASH_BYTES 32u

static stw_lot lot;
static double blank_a[STW_THIS_BLANK + 1u];
static stw_work work;
static char line[STW_WIRE_MOST_JSON + 1u];

static void write_hex(uint32_t value, uint32_t digits) {
    char text[9];
    uint32_t i;
    for (i = 0u; i < digits; i++) {
        text[i] = "0123456789abcdef"[(value >> (4u * ((digits - 1u) - i))) & 15u];
    }
    text[digits] = '\0';
    port_write(text);
}

static void write_pair(const char *name, uint32_t value) {
    port_write(name);
    port_write(" ");
    write_hex(value, 8u);
    port_write("\n");
}

static void write_hash(const char *name, const uint8_t hash[HASH_BYTES]) {
    uint32_t i;
    port_write(name);
    port_write(" ");
    for (i = 0u; i < HASH_BYTES; i++) {
        write_hex(hash[i], 2u);
    }
    port_write("\n");
}

/* Strips that show nothing at all: the trust checks must refuse them. */
static uint32_t dead_strip(uint32_t electrode, uint32_t scan, uint32_t index, stw_point *point) {
    (void)electrode;
    (void)scan;
    point->current_a = 0.0;
    point->forward_a = 0.0;
    point->reverse_a = 0.0;
    point->overload = 0u;
    return (index < STW_THIS_POINTS) ? 1u : 0u;
}

static uint32_t whole_sample(void) {
    stw_device device;
    stw_conditions conditions;
    uint32_t n_line = 0u;
    uint32_t code;
    device.lot = &lot;
    device.blank_a = (STW_THIS_BLANK > 0u) ? blank_a : NULL;
    device.n_blank = STW_THIS_BLANK;
    device.name = "urn:dev:ow:10e2073a01080063";
    device.counter = 1u;
    device.time_s = 0u;
    device.converter = dead_strip;
    conditions.temperature_c = lot.temperature_c;
    conditions.dilution_factor = 1.0;
    conditions.dilution_u = 0.0;
    conditions.today = lot.first_day;
    conditions.stated = STW_TEMPERATURE_STATED;
    code = stw_example_measure(&work, &device, &conditions, 1u, 1u, line, &n_line);
    line[n_line] = '\0';
    return code;
}

int check_vectors(void) {
    const uint32_t n_lot = port_read(&lot, (uint32_t)sizeof lot);
    const uint32_t n_blank = port_read(blank_a, (uint32_t)sizeof blank_a);
    uint32_t code;
    write_pair("lot-bytes", n_lot);
    write_pair("blank-bytes", n_blank);
    write_pair("lot-size", (uint32_t)sizeof(stw_lot));
    write_pair("method-size", (uint32_t)sizeof(stw_method_constants));
    write_pair("work-size", (uint32_t)sizeof(stw_work));
    write_pair("storage-needed", stw_storage_needed(&stw_this_method));
    write_pair("method-checksum-stated", stw_this_method.checksum);
    write_pair("method-checksum", stw_method_checksum(&stw_this_method));
    write_pair("lot-checksum-stated", lot.checksum);
    write_pair("lot-checksum", stw_lot_checksum(&lot, blank_a, n_blank / 8u));
    write_hash("method-hash", stw_this_method.constants->hash);
    write_hash("basis-hash", stw_this_basis.method_hash);
    write_hash("lot-method-hash", lot.method_hash);
    code = whole_sample();
    write_pair("sample", code);
    port_write("line ");
    port_write(line);
    port_write("\n");
    return (code == STW_OK) ? 0 : 1;
}
