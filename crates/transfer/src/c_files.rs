//! The hand-written C, as texts.

/// One file of the package.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CFile {
    /// Its name.
    pub name: &'static str,
    /// Its text.
    pub text: &'static str,
}

macro_rules! files {
    ($($name:literal),+ $(,)?) => {
        &[$(CFile { name: $name, text: include_str!(concat!("../c/", $name)) }),+]
    };
}

/// Every hand-written file: headers, kernel, test program and what it needs on a PC and on the emulated Cortex-M3.
pub const C_FILES: &[CFile] = files![
    "kernel.h",
    "lot.h",
    "method.h",
    "parts.h",
    "arithmetic.c",
    "order.c",
    "trust.c",
    "peak.c",
    "kernel.c",
    "inverse.c",
    "sample.c",
    "check.c",
    "port.h",
    "port_pc.c",
    "port_m3.c",
    "startup_m3.c",
    "m3.ld",
    "fuzz.c",
];

/// The kernel's sources: what firmware compiles beside `method.c`.
pub const KERNEL_SOURCES: &[&str] =
    &["arithmetic.c", "order.c", "trust.c", "peak.c", "kernel.c", "inverse.c", "sample.c"];
