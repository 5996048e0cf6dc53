//! `CHECKSUMS`: the BLAKE3 hash of every file; and `SIGNATURE`: an approver's, over that list.

use super::{PackageFile, blake3_of};

/// The list's file name.
pub const CHECKSUMS: &str = "CHECKSUMS";
/// The signature's file name.
pub const SIGNATURE: &str = "SIGNATURE";

/// One line a file: hash, two spaces, name; sorted by name.
pub fn checksums(files: &[PackageFile]) -> String {
    let line = |file: &PackageFile| format!("{}  {}\n", blake3_of(&file.bytes), file.name);
    files.iter().map(line).collect::<Vec<_>>().concat()
}

/// The list read back: name and hash; none where a line is no such pair.
pub(super) fn listed(text: &str) -> Option<Vec<(String, String)>> {
    let pair = |line: &str| {
        let (hash, name) = line.split_once("  ")?;
        let is_hash = hash.len() == 64 && hash.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'));
        (is_hash && is_plain(name)).then(|| (name.to_owned(), hash.to_owned()))
    };
    let pairs: Option<Vec<(String, String)>> = text.lines().map(pair).collect();
    pairs.filter(|pairs| !pairs.is_empty())
}

/// A name that leads nowhere but into the package.
fn is_plain(name: &str) -> bool {
    let is_plain_part = |part: &str| !part.is_empty() && part != "." && part != "..";
    let is_plain_char = |c: char| c.is_ascii_alphanumeric() || "._-/".contains(c);
    name.chars().all(is_plain_char) && name.split('/').all(is_plain_part)
}

/// Who signed, with which key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Signer {
    /// Name as in the study.
    pub name: String,
    /// Ed25519 public key, 64 hexadecimal digits.
    pub public_key: String,
    /// Over the bytes of `CHECKSUMS`.
    pub signature: [u8; 64],
}

/// The text of `SIGNATURE`.
pub fn signer_text(signer: &Signer) -> String {
    let hex = signer.signature.map(|byte| format!("{byte:02x}")).concat();
    format!(
        "Ed25519 over the bytes of {CHECKSUMS}\nname {}\npublic-key {}\nsignature {hex}\n",
        signer.name.replace('\n', " "),
        signer.public_key
    )
}

/// Reads `SIGNATURE`; none where it is none.
pub fn read_signer(text: &str) -> Option<Signer> {
    let mut lines = text.lines().skip(1);
    let mut value = |key: &str| lines.next()?.strip_prefix(key)?.strip_prefix(' ').map(str::to_owned);
    let (name, public_key, signature) = (value("name")?, value("public-key")?, value("signature")?);
    let digits: Vec<u32> = signature.chars().map(|c| c.to_digit(16)).collect::<Option<_>>()?;
    let (pairs, rest) = digits.as_chunks::<2>();
    let bytes: Vec<u8> =
        pairs.iter().map(|[high, low]| u8::try_from(16 * high + low).ok()).collect::<Option<_>>()?;
    let signature = <[u8; 64]>::try_from(bytes).ok().filter(|_| rest.is_empty())?;
    let signer = Signer { name, public_key, signature };
    (signer_text(&signer) == text).then_some(signer)
}
