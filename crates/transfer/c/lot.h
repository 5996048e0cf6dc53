/* lot.h - the record of one electrode lot: its calibration, its blank, its last day.
 *
 * A new lot is new data, not new code: the record is written to the device's flash or sent to it as these very bytes
 * (little-endian, doubles as IEEE 754 binary64, no padding), followed by the blank where it has one. `checksum` finds a
 * changed byte on the device each time a scan begins. `signature` is Ed25519 over all bytes before `checksum` and the
 * blank's; it is made and verified by the desktop and by whatever loads a record into the device: the kernel does not
 * verify it.
 */
#ifndef STW_LOT_H
#define STW_LOT_H

#include <stdint.h>

#define STW_MOST_ELECTRODES 6u

/* Bits of stw_lot.has */
#define STW_LOT_HAS_PLACE 1u        /* peak_potential_v, place_index and place_fraction are stated */
#define STW_LOT_HAS_HALF_WIDTH 2u
#define STW_LOT_HAS_LOWEST_SIGNAL 4u
#define STW_LOT_HAS_TEMPERATURE 8u

/* What electrodes in this number can see; all in the unit of the levels. */
typedef struct {
    double decision_limit;
    double detection_limit;
    double quantification_limit;
    double disagreement_limit;      /* F quantile for the electrodes of a sample; 0 for one */
} stw_claim;

typedef struct {
    /* the curve: signal = c0 + c1 x + c2 x^2 */
    double coefficients[3];
    double unscaled_covariance[3][3]; /* the upper triangle is read */
    double residual_sd;
    double t_quantile;
    double relative_variance[3];
    double level_min;
    double level_max;
    /* the spread that a sample's electrodes are held against */
    double scans_per_electrode;
    double scan_variance_a2;
    double electrode_variance_a2;     /* of electrode means, at unit weight */
    /* the standards' peak */
    double peak_potential_v;
    double place_fraction;            /* the same between place_index and the next point */
    double half_width_v;
    double lowest_signal_a;           /* of the lowest standard above zero */
    double temperature_c;             /* mean of the standards */
    stw_claim claims[STW_MOST_ELECTRODES]; /* for 1, 2, 3 ... electrodes */
    uint32_t layout;                  /* STW_LAYOUT */
    uint32_t has;                     /* STW_LOT_HAS_... */
    uint32_t n_coefficients;          /* 1, 2 or 3 */
    uint32_t degrees_of_freedom;
    uint32_t place_index;
    uint32_t n_claims;                /* claims that are stated */
    uint32_t n_blank;                 /* points of the blank behind this record; 0: none */
    uint32_t first_day;               /* days since 1970-01-01 */
    uint32_t last_day;                /* itself included */
    uint32_t reserved;                /* 0 */
    uint8_t lot[32];                  /* identity as on the run sheet, UTF-8, zero-filled */
    uint8_t method_hash[32];          /* of the revision that it was calibrated with */
    uint8_t calibration_hash[32];
    uint32_t checksum;                /* CRC-32 over all bytes above, then over the blank's */
    uint32_t reserved_too;            /* 0 */
    uint8_t signature[64];            /* Ed25519 */
} stw_lot;

#endif
