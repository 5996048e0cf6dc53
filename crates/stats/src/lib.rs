//! Generic statistics: least squares, distributions, variance components, seeded randomness.
