//! The frozen method as C for a small device, with proof that it computes the same 64 bits.
//!
//! `c/kernel.h` and `c/kernel.c` are written by hand, once; `c/lot.h` is the layout of a lot's record. This room freezes an
//! approved revision and its calibration into the constants that the C reads, and writes scans with the expected bits of
//! every intermediate result.
#![warn(clippy::indexing_slicing)]
