//! `basis.c` and `sizes.h`: what the method's numbers are numbers of, and how large its buffers are.

use std::fmt::Write as _;

use stillwell_method::Hash;
use stillwell_quantity::QuantityKind;

use crate::crc::crc32;
use crate::frozen::Frozen;
use crate::wire::basis_texts;

/// `basis.c`, with the checksum that `stw_wire_begin` verifies.
pub(super) fn basis_c(kind: &QuantityKind, method: &Hash) -> String {
    let texts = basis_texts(kind);
    let crc = texts.iter().fold(0, |crc, text| crc32(crc32(crc, text.as_bytes()), &[0]));
    let checksum = crc32(crc, method.as_bytes());
    let [analyte, unit, species] = texts.map(|text| c_string(&text));
    let hash: Vec<String> = method.as_bytes().iter().map(|byte| format!("0x{byte:02x}u")).collect();
    format!(
        "/* basis.c - generated, never edited: what the numbers of this method are numbers of.\n * Method revision {method}. */\n\
         #include \"wire.h\"\n\n\
         const stw_basis stw_this_basis = {{\n    .analyte = {analyte},\n    .unit = {unit},\n    .species = {species},\n    \
         .method_hash = {{{}}},\n    .checksum = 0x{checksum:08x}u,\n}};\n",
        hash.join(", ")
    )
}

/// `sizes.h`: the buffers of this method.
pub(super) fn sizes_h(frozen: &Frozen) -> String {
    let n_points = frozen.n_points();
    let n_ends = if frozen.freeze.has_reverse { 2 * frozen.freeze.trust.end_points as usize } else { 0 };
    let n_blank = frozen.blank_a().map_or(0, <[f64]>::len);
    format!(
        "/* sizes.h - generated, never edited: the buffers that this method needs, in doubles. */\n\
         #ifndef STW_SIZES_H\n#define STW_SIZES_H\n\n\
         #define STW_THIS_POINTS {n_points}u  /* of a scan */\n\
         #define STW_THIS_STORAGE {}u /* of one scan in the making */\n\
         #define STW_THIS_BLANK {n_blank}u   /* of the blank; 0: none is subtracted */\n\n#endif\n",
        n_points + n_ends
    )
}

/// A text as a C string: printable ASCII as it is, everything else as octal escapes.
fn c_string(text: &str) -> String {
    let mut out = String::from("\"");
    for byte in text.bytes() {
        match byte {
            b'"' | b'\\' => out.extend(['\\', char::from(byte)]),
            b' '..=b'~' if byte != b'?' => out.push(char::from(byte)),
            other => {
                // Writing into a text does not fail.
                let _infallible = write!(out, "\\{other:03o}");
            }
        }
    }
    out.push('"');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_from_a_method_file_stays_inside_its_quotes() {
        assert_eq!(c_string("a\"b\\c"), r#""a\"b\\c""#);
        assert_eq!(c_string("µ??/"), r#""\302\265\077\077/""#);
    }
}
