/* example.c - one sample from its strips to the line that is sent, as firmware would do it. */
#include "example.h"

/* One scan, point by point as the converter delivers it. */
static uint32_t measure_scan(stw_work *work, const stw_device *device, uint32_t electrode, uint32_t scan) {
    stw_point point;
    uint32_t index = 0u;
    uint32_t code = stw_scan_begin(&work->scan, &stw_this_method, device->lot, device->blank_a, device->n_blank, work->storage,
                                   STW_THIS_STORAGE);
    while ((code == STW_OK) && (device->converter(electrode, scan, index, &point) != 0u)) {
        code = stw_scan_push(&work->scan, &point);
        index += 1u;
    }
    if (code == STW_OK) {
        code = stw_scan_finish(&work->scan, &work->found);
    }
    return code;
}

uint32_t stw_example_measure(stw_work *work, const stw_device *device, const stw_conditions *conditions, uint32_t n_electrodes,
                             uint32_t n_scans, char line[STW_WIRE_MOST_JSON], uint32_t *n_line) {
    uint32_t electrode;
    uint32_t scan;
    uint32_t code = stw_sample_begin(&work->sample, &stw_this_method, device->lot, conditions);
    *n_line = 0u;
    if (code == STW_OK) {
        code = stw_wire_begin(&work->wire, &stw_this_basis, &stw_this_method, device->lot, device->name);
    }
    for (electrode = 0u; electrode < n_electrodes; electrode++) {
        for (scan = 0u; scan < n_scans; scan++) {
            if (code == STW_OK) {
                code = measure_scan(work, device, electrode, scan);
            }
            if (code == STW_OK) {
                stw_wire_scan(&work->wire, &work->found);
                code = stw_sample_add(&work->sample, electrode, &work->found);
            }
        }
    }
    if (code == STW_OK) {
        code = stw_sample_finish(&work->sample, &work->result);
    }
    if (code == STW_OK) {
        code = stw_wire_json(&work->wire, &work->result, device->counter, device->time_s, line, STW_WIRE_MOST_JSON, n_line);
    }
    return code;
}
