//! Keys and who may approve; lots, which are signed; and why signing happens where it does.

use axum::extract::State;
use maud::{Markup, html};
use stillwell_study::{KeyAct, Record, Standing};

use super::ledger::record_address;
use super::study_spine::spine;
use crate::acts::{key_act, lot_act, signer, withdraw_act};
use crate::guard::Visitor;
use crate::layout::{LinkState, Page, Refusal, shell, sign};
use crate::site::Site;
use crate::view::View;
use crate::wording::moment;

pub(crate) async fn page(State(site): State<Site>, visitor: Visitor) -> Result<Markup, Refusal> {
    site.look(visitor, |view| Ok(shell(view, &whole(view)?))).await
}

fn whole(view: &View) -> Result<Page, Refusal> {
    let keys = &view.overview.keys;
    Ok(Page {
        title: "Keys and lots".to_owned(),
        spine: spine(&view.overview, None),
        body: html! {
            h1 { "Keys and lots" }
            p { "An approver looks at what another person recorded, and signs. A key says whose word it is; nobody approves what they recorded themselves." }
            @if keys.is_empty() {
                p class="empty" { "This study knows no key yet: nothing in it can be approved." }
            } @else {
                (table(keys))
            }
            (why_signing(view)?)
            section class="no-print" {
                h2 { "What can be done" }
                div class="acts" {
                    details { summary { "Tell the study whose key it is" } (key_act(view)) }
                    details { summary { "Record a lot of electrodes" } (lot_act(view)) }
                    @for (record, key, is_in_force) in keys {
                        @if *is_in_force {
                            div {
                                p { "Key of " span dir="auto" { (key.name) } ", " (key.role.word()) }
                                (withdraw_act(view, &format!("/keys/{}/withdraw", record.hash), &Standing::default()))
                            }
                        }
                    }
                }
            }
        },
    })
}

fn table(keys: &[(Record, KeyAct, bool)]) -> Markup {
    html! {
        div class="wide" tabindex="0" role="region" aria-label="Keys" {
            table class="dense" {
                thead { tr { th scope="col" { "Key of" } th scope="col" { "Role" } th scope="col" { "Public key" } th scope="col" { "Since (UTC)" } th scope="col" { "Came on" } th scope="col" { "Standing" } } }
                tbody {
                    @for (record, key, is_in_force) in keys {
                        tr {
                            th scope="row" dir="auto" { (key.name) }
                            td { (key.role.word()) }
                            td { span class="hash" { (key.public_key.short()) } }
                            td { a href=(record_address(record.seq)) { (moment(&record.at_utc)) } }
                            td { (if key.voucher.is_some() { "an approver's word" } else { "trust" }) }
                            td { @if *is_in_force { (sign(LinkState::Holds)) " in force" } @else { (sign(LinkState::Stops)) " withdrawn" } }
                        }
                    }
                }
            }
        }
    }
}

/// The safe way, and why.
fn why_signing(view: &View) -> Result<Markup, Refusal> {
    let path = view.site.study_path().display();
    Ok(html! {
        section id="signing" {
            h2 { "Signing from this page" }
            @match signer(view)? {
                Some(signer) => {
                    p { "This server was started with the key of " strong dir="auto" { (signer.name) } " (" span class="hash" { (signer.public_key.short()) } "), "
                        @match signer.role { Some(role) => { (role.word()) " here" } None => { "which this study does not know yet" } }
                        ". The passphrase is asked for at each signature, goes no further than this computer, and is forgotten after it." }
                }
                None => {
                    p { "This server was started without a key, so nobody can sign here. An approver starts their own, on a computer where only they can read the key file:" }
                    pre { code { "stillwell serve " (path) " --key YOUR.key" } }
                    p { "or signs on the command line:" }
                    pre { code { "stillwell study approve " (path) " --result N --as \"YOUR NAME\" --reason \"…\"" } }
                }
            }
            p class="soft" { "Why not upload a key file here? Whoever runs this server could keep the key and the passphrase, and sign in that name for ever. Then the approver's word would be worth no more than the analyst's. A key is therefore unlocked only in a process that its owner started." }
        }
    })
}
