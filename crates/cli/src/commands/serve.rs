//! `serve`: a study in the browser, or a campaign on phones, until Ctrl-C.

use std::io::{BufRead as _, Write as _};

use stillwell_field::Field;
use stillwell_study::{Clock, Study};
use stillwell_web::{FieldServing, Said, ServeError, Serving, serve, serve_field};

use crate::args::ServeArguments;
use crate::exit::{Failure, Outcome};

pub(crate) fn run(arguments: &ServeArguments) -> Result<(String, Outcome), Failure> {
    if arguments.field {
        return field(arguments);
    }
    let serving = Serving { study: &arguments.study, address: arguments.address, key: arguments.key.clone() };
    serve(&serving, |address| {
        // Whoever cannot read the address sees nothing of the study; that is no reason to end.
        writeln!(std::io::stdout(), "{}", said(address)).ok();
    })?;
    Ok((String::new(), Outcome::Done))
}

fn said(address: &str) -> String {
    format!("open this address in a browser on this computer:\n\n  {address}\n\nCtrl-C ends it")
}

/// What keeps the campaign that will be served from being measured by; nothing where nothing does.
fn cannot_be_used(arguments: &ServeArguments) -> Result<Option<String>, Failure> {
    let study = Study::open_to_read(&arguments.study)?;
    let all = study.campaigns()?;
    let named = arguments.campaign.as_deref();
    let one = all.iter().rfind(|one| named.is_none_or(|name| name == one.label));
    let Some(one) = one else { return Ok(None) };
    let field = Field::open(&study, &one.label)?;
    let last_day = &field.campaign().last_day;
    if *last_day < study.today() {
        return Ok(Some(format!("campaign {} is past its last day, {last_day}", one.label)));
    }
    let is_open = !one.standing.is_approved();
    Ok(is_open.then(|| format!("campaign {} is {}", one.label, one.standing.word())))
}

fn field(arguments: &ServeArguments) -> Result<(String, Outcome), Failure> {
    if let Some(why) = cannot_be_used(arguments)? {
        writeln!(std::io::stdout(), "{why}: phones can be paired, and nothing can be measured by it\n").ok();
    }
    let serving = FieldServing {
        study: &arguments.study,
        campaign: arguments.campaign.as_deref(),
        address: arguments.address,
        origin: arguments.origin.as_deref(),
        clock: Clock::system(),
    };
    serve_field(&serving, |first, further| {
        let mut out = std::io::stdout();
        writeln!(out, "{}\n{}", pairing(first), beside(first)).ok();
        out.flush().ok();
        // Ends with the process, or when nobody can press Enter.
        std::thread::spawn(move || offer_more(&further));
    })?;
    Ok((String::new(), Outcome::Done))
}

/// A new code for each Enter.
fn offer_more(further: &dyn Fn() -> Result<Said, ServeError>) {
    for line in std::io::stdin().lock().lines() {
        let (Ok(_), Ok(next)) = (line, further()) else { return };
        writeln!(std::io::stdout(), "{}", pairing(&next)).ok();
    }
}

fn pairing(said: &Said) -> String {
    format!(
        "{}\n\non the phone, scan the picture or open\n\n  {}\n\nand type in the code, which is good once and for ten minutes:\n\n  {}\n",
        said.picture, said.address, said.code
    )
}

/// How to put TLS before it: without, whoever shares the network can read along, and a phone cannot keep the pages.
fn beside(said: &Said) -> String {
    let words = "Enter prints a code for the next phone; Ctrl-C ends it. Paired phones stay paired.";
    if said.address.starts_with("https://") {
        words.to_owned()
    } else {
        format!(
            "{words}\n\nThis address is not encrypted: use it on a network of your own only. With TLS, phones also keep the pages\n\
             and go on without a link. Let a proxy of this computer end TLS for a name of yours, pass the Host header on\n\
             unchanged and forward to http://127.0.0.1:{0}; then start\n\n  \
             stillwell serve --field STUDY --address 127.0.0.1:{0} --origin https://NAME",
            said.listens.port()
        )
    }
}
