//! The kernel: all arithmetic that a device must repeat.
