//! Who can sign from this page: only the person whose key file the server was started with.
//!
//! A key and its passphrase never travel through the page of a server that somebody else started: whoever runs the process
//! could keep both and sign in that name for ever. So the key file is named when the server is started, must be readable by
//! its owner alone, and the passphrase is asked for at each act, goes over loopback to one's own process, and is forgotten.

use maud::{Markup, html};
use stillwell_study::{Digest, SigningPerson, StudyError, StudyRole};

use crate::guard::FormFields;
use crate::layout::Refusal;
use crate::site::Site;
use crate::view::View;

/// The person whose key the server was started with.
pub(crate) struct Signer {
    /// The name in the key file.
    pub(crate) name: String,
    /// What the study lets this key do; none where it does not know the key.
    pub(crate) role: Option<StudyRole>,
    /// The public key.
    pub(crate) public_key: Digest,
}

/// Who can sign here, if anybody.
pub(crate) fn signer(view: &View) -> Result<Option<Signer>, Refusal> {
    let Some(path) = view.site.key() else { return Ok(None) };
    let (name, public_key) = SigningPerson::open_part(path)?;
    let known =
        view.overview.keys.iter().find(|(_, key, in_force)| *in_force && key.public_key == public_key);
    Ok(Some(Signer { name, role: known.map(|(_, key, _)| key.role), public_key }))
}

/// The field for the passphrase.
pub(super) fn passphrase_field(id: &str) -> Markup {
    html! {
        p {
            label for=(id) { "Passphrase of your key" }
            input id=(id) name="passphrase" type="password" required maxlength="1000" autocomplete="off";
        }
    }
}

/// Unlocks the key of the server's own person for one act.
pub(super) fn unlocked(site: &Site, fields: &FormFields) -> Result<SigningPerson, StudyError> {
    let Some(path) = site.key() else {
        return Err(StudyError::NotAllowed {
            found: "this server was started without a key: nobody can sign here".to_owned(),
            cure: "sign on the command line, or start it with your own key: stillwell serve STUDY --key YOUR.key".to_owned(),
        });
    };
    SigningPerson::unlock(path, fields.raw("passphrase"))
}
