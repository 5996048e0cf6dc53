//! Fields of a C struct by name, in their order: as bytes in the device's memory and as text of an initialiser.

use std::fmt::Write as _;

/// One value of a field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Value {
    /// `double`
    F64(f64),
    /// `uint32_t`
    U32(u32),
    /// `int32_t`
    I32(i32),
    /// `uint8_t[32]`
    Bytes32([u8; 32]),
}

/// Fields in the order of the struct, without padding.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Fields(pub(crate) Vec<(String, Value)>);

impl Fields {
    pub(crate) fn f64(&mut self, name: impl Into<String>, value: f64) {
        self.0.push((name.into(), Value::F64(value)));
    }

    pub(crate) fn u32(&mut self, name: impl Into<String>, value: u32) {
        self.0.push((name.into(), Value::U32(value)));
    }

    pub(crate) fn i32(&mut self, name: impl Into<String>, value: i32) {
        self.0.push((name.into(), Value::I32(value)));
    }

    pub(crate) fn bytes32(&mut self, name: impl Into<String>, value: [u8; 32]) {
        self.0.push((name.into(), Value::Bytes32(value)));
    }

    /// As they lie in a little-endian memory.
    pub(crate) fn bytes(&self) -> Vec<u8> {
        let mut bytes = Vec::new();
        for (_, value) in &self.0 {
            match value {
                Value::F64(value) => bytes.extend(value.to_bits().to_le_bytes()),
                Value::U32(value) => bytes.extend(value.to_le_bytes()),
                Value::I32(value) => bytes.extend(value.to_le_bytes()),
                Value::Bytes32(value) => bytes.extend(value),
            }
        }
        bytes
    }

    /// `    .name = value,` line by line.
    pub(crate) fn initialiser(&self) -> String {
        let mut text = String::new();
        for (name, value) in &self.0 {
            let value = match value {
                Value::F64(value) => exact_hexadecimal(*value),
                Value::U32(value) => format!("{value}u"),
                Value::I32(value) => format!("{value}"),
                Value::Bytes32(bytes) => {
                    let listed: Vec<String> = bytes.iter().map(|byte| format!("0x{byte:02x}u")).collect();
                    format!("{{{}}}", listed.join(", "))
                }
            };
            // Writing to a String cannot fail.
            let _written = writeln!(text, "    .{name} = {value},");
        }
        text
    }
}

/// A finite number as an exact hexadecimal literal of C99.
///
/// # Units
/// Those of the number.
///
/// # Source
/// ISO/IEC 9899:1999, 6.4.4.2.
///
/// # Example
/// ```
/// assert_eq!(stillwell_transfer::exact_hexadecimal(-0.3), "-0x1.3333333333333p-2");
/// assert_eq!(stillwell_transfer::exact_hexadecimal(8.0), "0x1p+3");
/// ```
pub fn exact_hexadecimal(value: f64) -> String {
    let bits = value.to_bits();
    let sign = if bits >> 63 == 0 { "" } else { "-" };
    let exponent = i64::try_from((bits >> 52) & 0x7ff).unwrap_or(0);
    let fraction = bits & 0x000f_ffff_ffff_ffff;
    if exponent == 0 && fraction == 0 {
        return format!("{sign}0x0p+0");
    }
    let digits = format!("{fraction:013x}");
    let digits = digits.trim_end_matches('0');
    let point = if digits.is_empty() { "" } else { "." };
    let (whole, power) = if exponent == 0 { (0, -1022) } else { (1, exponent - 1023) };
    format!("{sign}0x{whole}{point}{digits}p{power:+}")
}
