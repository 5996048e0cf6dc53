//! Standards to calibration, detection limits and inverse prediction.
