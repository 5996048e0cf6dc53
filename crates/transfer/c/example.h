/* example.h - one sample from its strips to the line that is sent, as firmware would do it. */
#ifndef STW_EXAMPLE_H
#define STW_EXAMPLE_H

#include <stdint.h>

#include "method.h"
#include "sizes.h"
#include "wire.h"

/* What the device itself brings. */
typedef struct {
    const stw_lot *lot;               /* in flash, or received and kept */
    const double *blank_a;            /* behind the lot's record, or recorded on the device; null where none is used */
    uint32_t n_blank;
    const char *name;                 /* "urn:dev:mac:0024befffe804ff1" */
    uint32_t counter;                 /* of results, kept over a loss of power */
    uint32_t time_s;                  /* since 1970-01-01 UTC, 0: the clock is not set */
    /* One point of one scan of one strip; returns 0 when there is none. */
    uint32_t (*converter)(uint32_t electrode, uint32_t scan, uint32_t index, stw_point *point);
} stw_device;

/* Everything that one sample needs in RAM beside the stack. */
typedef struct {
    stw_scan scan;
    stw_scan_result found;
    stw_sample sample;
    stw_sample_result result;
    stw_wire wire;
    double storage[STW_THIS_STORAGE];
} stw_work;

/* Returns STW_OK and the line, or the code of the call that refused. */
uint32_t stw_example_measure(stw_work *work, const stw_device *device, const stw_conditions *conditions, uint32_t n_electrodes,
                             uint32_t n_scans, char line[STW_WIRE_MOST_JSON], uint32_t *n_line);

#endif
