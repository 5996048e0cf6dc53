//! Key files: an Ed25519 key, locked with a passphrase, readable by its owner only.
//!
//! The passphrase is stretched by Argon2id (RFC 9106) and locks the key with XChaCha20-Poly1305; whoever changes a byte
//! of the file makes it useless. Parameters: 19 MiB, two passes, one lane ("common practice" for interactive use, from
//! memory).

use std::fs;
use std::io::{Read as _, Write as _};
use std::path::{Path, PathBuf};

use argon2::{Algorithm, Argon2, Params, Version};
use chacha20poly1305::aead::{Aead as _, KeyInit as _, Payload};
use chacha20poly1305::{XChaCha20Poly1305, XNonce};
use ed25519_dalek::{Signer as _, SigningKey};
use serde::{Deserialize, Serialize};
use zeroize::{Zeroize as _, Zeroizing};

use crate::error::StudyError;
use crate::hash::Digest;
use crate::ledger::said;

const KIND: &str = "stillwell key 1";
const MEMORY_KIB: u32 = 19 * 1024;
const PASSES: u32 = 2;
const MAX_FILE_BYTES: u64 = 16 * 1024;
/// Shorter ones are guessed.
const SHORTEST_PASSPHRASE: usize = 8;
const NO_KEY: &str = "name a file that `stillwell study key make` made";

/// A key file's content. Everything but the locked key is open to read.
#[derive(Serialize, Deserialize)]
struct KeyFile {
    kind: String,
    name: String,
    public_key: Digest,
    memory_kib: u32,
    passes: u32,
    salt: String,
    nonce: String,
    locked_key: String,
}

/// A key that was unlocked. Its secret is wiped from memory when it goes.
pub struct SigningPerson {
    name: String,
    key: SigningKey,
}

impl std::fmt::Debug for SigningPerson {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "key of {}", self.name)
    }
}

impl SigningPerson {
    /// Makes a key and its file. The name is the person's, as it will stand in the ledger.
    ///
    /// # Errors
    /// A file that is there already or cannot be written; a passphrase shorter than eight characters.
    pub fn create(path: &Path, name: &str, passphrase: &str) -> Result<Self, StudyError> {
        let name = said("name", name, 200, "the name of the key's owner")?;
        if passphrase.chars().count() < SHORTEST_PASSPHRASE {
            return Err(StudyError::Unsayable {
                what: "passphrase",
                found: "is shorter than 8 characters".to_owned(),
                cure: "some words that only you know",
            });
        }
        let mut secret = Zeroizing::new([0_u8; 32]);
        let (mut salt, mut nonce) = ([0_u8; 16], [0_u8; 24]);
        for bytes in [secret.as_mut_slice(), &mut salt, &mut nonce] {
            getrandom::fill(bytes).map_err(|error| StudyError::Storage { found: error.to_string() })?;
        }
        let key = SigningKey::from_bytes(&secret);
        let mut file = KeyFile {
            kind: KIND.to_owned(),
            name: name.clone(),
            public_key: public_key(&key),
            memory_kib: MEMORY_KIB,
            passes: PASSES,
            salt: hex(&salt),
            nonce: hex(&nonce),
            locked_key: String::new(),
        };
        let lock = lock(&file, passphrase)
            .ok_or_else(|| unusable(path, "the passphrase cannot be stretched", "try again"))?;
        let aad = file.open_part();
        let payload = Payload { msg: secret.as_slice(), aad: aad.as_bytes() };
        let locked = lock
            .encrypt(&XNonce::from(nonce), payload)
            .map_err(|_never| unusable(path, "the key cannot be locked", "try again"))?;
        file.locked_key = hex(&locked);
        write_private(path, &file)?;
        Ok(Self { name, key })
    }

    /// Unlocks a key file.
    ///
    /// # Errors
    /// A file that others may read, that is no key file, or that this passphrase does not open.
    pub fn unlock(path: &Path, passphrase: &str) -> Result<Self, StudyError> {
        refuse_if_others_may_read(path)?;
        let file = read_key_file(path)?;
        let nonce = unhex(&file.nonce).and_then(|nonce| <[u8; 24]>::try_from(nonce).ok());
        let (Some(nonce), Some(locked), true) = (nonce, unhex(&file.locked_key), file.kind == KIND) else {
            return Err(unusable(path, "is not a key file of this version", NO_KEY));
        };
        let wrong =
            || unusable(path, "the passphrase does not open it, or the file was changed", "try again");
        let lock = lock(&file, passphrase).ok_or_else(wrong)?;
        let aad = file.open_part();
        let opened = lock.decrypt(&XNonce::from(nonce), Payload { msg: &locked, aad: aad.as_bytes() });
        let opened = Zeroizing::new(opened.map_err(|_wrong| wrong())?);
        let mut secret = <[u8; 32]>::try_from(opened.as_slice()).map_err(|_length| wrong())?;
        let key = SigningKey::from_bytes(&secret);
        secret.zeroize();
        if public_key(&key) != file.public_key {
            return Err(wrong());
        }
        Ok(Self { name: file.name, key })
    }

    /// Name and public key of a key file, which are open to read: no passphrase is needed.
    ///
    /// # Errors
    /// A file that cannot be read or is no key file.
    pub fn open_part(path: &Path) -> Result<(String, Digest), StudyError> {
        let file = read_key_file(path)?;
        Ok((file.name, file.public_key))
    }

    /// Whose key it is.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The public key, as a study keeps it.
    pub fn public_key(&self) -> Digest {
        public_key(&self.key)
    }

    /// Signs a digest; 128 hexadecimal digits.
    pub(crate) fn sign(&self, digest: &Digest) -> String {
        hex(&self.key.sign(digest.as_bytes()).to_bytes())
    }
}

impl SigningPerson {
    /// Signs bytes as they are, for a device that knows no other way.
    pub(crate) fn sign_bytes(&self, bytes: &[u8]) -> [u8; 64] {
        self.key.sign(bytes).to_bytes()
    }
}

impl KeyFile {
    /// What is not locked, but cannot be changed either.
    fn open_part(&self) -> String {
        [&self.kind, &self.name, &self.public_key.to_string(), &self.salt, &self.nonce]
            .map(String::as_str)
            .join("\n")
    }
}

fn read_key_file(path: &Path) -> Result<KeyFile, StudyError> {
    let mut text = String::new();
    fs::File::open(path)
        .and_then(|file| file.take(MAX_FILE_BYTES).read_to_string(&mut text))
        .map_err(|error| StudyError::file(path, error))?;
    serde_json::from_str(&text).map_err(|_other_text| unusable(path, "is not a key file", NO_KEY))
}

fn public_key(key: &SigningKey) -> Digest {
    let text = hex(key.verifying_key().as_bytes());
    Digest::parse(&text).unwrap_or(Digest::NOTHING)
}

fn lock(file: &KeyFile, passphrase: &str) -> Option<XChaCha20Poly1305> {
    // A stranger's file must not make us stretch for hours.
    if file.memory_kib > 1024 * 1024 || file.passes > 64 {
        return None;
    }
    let params = Params::new(file.memory_kib, file.passes, 1, Some(32)).ok()?;
    let mut stretched = Zeroizing::new([0_u8; 32]);
    let salt = unhex(&file.salt)?;
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
        .hash_password_into(passphrase.as_bytes(), &salt, stretched.as_mut_slice())
        .ok()?;
    XChaCha20Poly1305::new_from_slice(stretched.as_slice()).ok()
}

fn write_private(path: &Path, file: &KeyFile) -> Result<(), StudyError> {
    let mut options = fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt as _;
        options.mode(0o600);
    }
    let text = serde_json::to_string_pretty(file)
        .map_err(|error| StudyError::Storage { found: error.to_string() })?;
    let written = options.open(path).and_then(|mut to| {
        to.write_all(text.as_bytes())?;
        to.write_all(b"\n")?;
        to.sync_all()
    });
    written.map_err(|error| StudyError::file(path, error))
}

/// On systems with owners and groups a key file belongs to one person.
fn refuse_if_others_may_read(path: &Path) -> Result<(), StudyError> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let mode = fs::metadata(path).map_err(|error| StudyError::file(path, error))?.permissions().mode();
        if mode & 0o077 != 0 {
            let found = format!("others may read it (mode {:03o})", mode & 0o777);
            return Err(StudyError::Key {
                path: path.to_owned(),
                found,
                cure: "chmod 600, if nobody has copied it",
            });
        }
    }
    Ok(())
}

fn unusable(path: &Path, found: &str, cure: &'static str) -> StudyError {
    StudyError::Key { path: PathBuf::from(path), found: found.to_owned(), cure }
}

pub(crate) fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing into a text does not fail.
        let _infallible = write!(text, "{byte:02x}");
        text
    })
}

/// The bytes of an even number of hexadecimal digits.
pub(crate) fn unhex(text: &str) -> Option<Vec<u8>> {
    let digits: Vec<u32> = text.chars().map(|c| c.to_digit(16)).collect::<Option<_>>()?;
    let (pairs, rest) = digits.as_chunks::<2>();
    let byte = |[high, low]: &[u32; 2]| u8::try_from(16 * high + low).ok();
    rest.is_empty().then(|| pairs.iter().map(byte).collect()).flatten()
}
