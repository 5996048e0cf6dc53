/* wire.h - the record of one result on its way from the device to the desktop.
 *
 *   stw_wire_begin   once a sample: whose record it is, and whether basis, method and lot belong together
 *   stw_wire_scan    once for each scan that stw_sample_add was given: its trust checks are remembered
 *   stw_wire_cbor    the record as bytes (RFC 8949), some 200
 *   stw_wire_json    the same record as one line of text (SenML, RFC 8428), some 800 characters
 *
 * Both forms carry the same 64 bits of every number, and the same checksum: the CRC-32 of the compact form. A number never
 * goes out without what it is a number of (analyte, unit, form), and what may not be shown is not sent: a refused sample has
 * no number, a bound is called a bound, a withheld verdict is sent as withheld. README.md has the tables of fields.
 *
 * Nothing is allocated and nothing is written beyond the buffer: where it does not fit, the call says so.
 */
#ifndef STW_WIRE_H
#define STW_WIRE_H

#include <stdint.h>

#include "kernel.h"

#define STW_WIRE_VERSION 1u
#define STW_WIRE_MOST_NAME 48u   /* bytes of the device's name */
#define STW_WIRE_MOST_TEXT 64u   /* bytes of analyte, unit and form each */
#define STW_WIRE_MOST_CBOR 512u  /* more is never needed */
#define STW_WIRE_MOST_JSON 2048u

/* What a call returns, beside STW_OK and STW_ARGUMENT_MISSING. */
#define STW_WIRE_BASIS_CHANGED 64u      /* the checksum of the basis is wrong, or a text of it is empty or too long */
#define STW_WIRE_BASIS_OF_ANOTHER 65u   /* the basis is not that of this method, or the lot is not */
#define STW_WIRE_NAME_UNUSABLE 66u      /* empty, too long, or a character that RFC 8428, 4.5.1 does not allow */
#define STW_WIRE_TIME_UNUSABLE 67u      /* between 1 and 2^28 - 1: RFC 8428, 4.5.3 reads that as relative to now */
#define STW_WIRE_BUFFER_TOO_SMALL 68u
#define STW_WIRE_RESULT_UNUSABLE 69u    /* no outcome that there is, a code beyond its table, or a number that is not finite */

/* What the numbers of a method are numbers of (basis.c; generated, never edited). */
typedef struct {
    const char *analyte;      /* "nitrate" */
    const char *unit;         /* "mg/L" */
    const char *species;      /* the form that is counted: "NO3-" or "N"; the analyte itself where it has one form only */
    uint8_t method_hash[32];
    uint32_t checksum;        /* CRC-32 over the three texts, each with its closing zero, then the hash */
} stw_basis;

extern const stw_basis stw_this_basis;

/* One record in the making; its fields are the wire's. */
typedef struct {
    const stw_basis *basis;
    const stw_method *method;
    const stw_lot *lot;
    const char *name;
    uint32_t trust_failed;    /* bit i: check i failed in some scan */
    uint32_t trust_untested;  /* bit i: check i could not be tested in some scan */
    uint32_t reasons;         /* STW_BECAUSE_... of all scans */
    uint32_t n_offered;       /* scans, refused ones among them */
} stw_wire;

/* name: of the device and, if wished, the place; it should be unique in the world, such as "urn:dev:mac:0024befffe804ff1". */
uint32_t stw_wire_begin(stw_wire *wire, const stw_basis *basis, const stw_method *method, const stw_lot *lot,
                        const char *name);
void stw_wire_scan(stw_wire *wire, const stw_scan_result *result);

/* counter: of the device's records, so that a lost one is missed. time_s: seconds since 1970-01-01 UTC, 0 where the clock is
 * not set. n_written is 0 unless the call returns STW_OK. */
uint32_t stw_wire_cbor(const stw_wire *wire, const stw_sample_result *result, uint32_t counter, uint32_t time_s,
                       uint8_t *bytes, uint32_t n_bytes, uint32_t *n_written);
/* One line without its end and without a closing zero. */
uint32_t stw_wire_json(const stw_wire *wire, const stw_sample_result *result, uint32_t counter, uint32_t time_s, char *text,
                       uint32_t n_text, uint32_t *n_written);

/* 17 significant digits, correctly rounded (ties to even): enough to read back the same 64 bits. At least 24 characters are
 * needed; returns how many were written, 0 for a number that is not finite. */
uint32_t stw_wire_decimal(double x, char *text);

#endif
