//! All series judged once for each state of the ledger: while the page is awaited where there are few scans, else as long work.

use std::ops::ControlFlow;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use maud::html;
use stillwell_method::Method;
use stillwell_report::quality::Quality;
use stillwell_study::{Anchor, Digest, Study, StudyError};

use crate::jobs::{Job, Outcome};
use crate::layout::Refusal;
use crate::view::View;

/// Scans that are walked while the page is awaited; more are long work.
const MOST_AT_ONCE: usize = 3000;

/// How often a program's question looks whether the long work is over.
const PAUSE: Duration = Duration::from_millis(50);

/// Quality over time at one state of the ledger.
pub(crate) struct Judged {
    /// The method in force.
    pub(crate) method: Method,
    /// That state.
    pub(crate) anchor: Anchor,
    /// The numbers of the series, in the order of time.
    pub(crate) labels: Vec<String>,
    /// Number and name of each series that the method in force cannot read, and why.
    pub(crate) unread: Vec<[String; 3]>,
    /// What was found.
    pub(crate) quality: Quality,
}

/// What was judged already, or is under way.
#[derive(Default)]
pub(crate) struct Judgements(Mutex<Option<Held>>);

enum Held {
    Ready(Arc<Judged>),
    UnderWay { head: Digest, job: usize },
}

/// What a page can show now.
pub(crate) enum Stand {
    Ready(Arc<Judged>),
    UnderWay(Arc<Job>),
}

impl Judged {
    fn of(study: &Study, tell: &mut dyn FnMut(usize, usize) -> ControlFlow<()>) -> Result<Self, StudyError> {
        let walked = study.walk_in_time(tell)?;
        let quality = Quality::of(study, &walked.method, &walked.walks())?;
        let labels = walked.labels();
        let unread = walked.unread.into_iter().map(|(one, why)| [one.label, one.act.name, why]);
        let unread = unread.collect();
        Ok(Self { method: walked.method, anchor: walked.anchor, labels, unread, quality })
    }
}

impl Judgements {
    /// What is known at the view's state of the ledger; otherwise it is judged now, or long work is begun.
    pub(super) fn stand(&self, view: &View) -> Result<Stand, Refusal> {
        let head = view.overview.anchor.head;
        let mut held = self.locked();
        if let Some(stand) = known(&mut held, view, &head)? {
            return Ok(stand);
        }
        let n_scans: usize = view.overview.series.iter().map(|one| one.act.n_scans).sum();
        if n_scans <= MOST_AT_ONCE {
            let judged = Arc::new(Judged::of(&view.study, &mut |_, _| ControlFlow::Continue(()))?);
            *held = Some(Held::Ready(Arc::clone(&judged)));
            return Ok(Stand::Ready(judged));
        }
        let job = begun(view)?;
        *held = Some(Held::UnderWay { head, job });
        Ok(Stand::UnderWay(view.site.jobs().one(job)?))
    }

    /// The same for a program, which waits for the end.
    pub(super) fn awaited(&self, view: &View) -> Result<Arc<Judged>, Refusal> {
        loop {
            match self.stand(view)? {
                Stand::Ready(judged) => return Ok(judged),
                Stand::UnderWay(_) => std::thread::sleep(PAUSE),
            }
        }
    }

    /// What was judged already at that state of the ledger.
    pub(super) fn ready(&self, head: &Digest) -> Option<Arc<Judged>> {
        match &*self.locked() {
            Some(Held::Ready(judged)) if judged.anchor.head == *head => Some(Arc::clone(judged)),
            _ => None,
        }
    }

    fn locked(&self) -> MutexGuard<'_, Option<Held>> {
        // What another page left behind when it broke off is whole or absent.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// What is held for a state of the ledger. Long work that failed is forgotten once its reason was told.
fn known(held: &mut Option<Held>, view: &View, head: &Digest) -> Result<Option<Stand>, Refusal> {
    match held {
        Some(Held::Ready(judged)) if judged.anchor.head == *head => {
            Ok(Some(Stand::Ready(Arc::clone(judged))))
        }
        Some(Held::UnderWay { head: of, job }) if of == head => {
            let Ok(job) = view.site.jobs().one(*job) else { return Ok(None) };
            let failed = job.shown(|ended| ended.as_ref().err().cloned()).flatten();
            match failed {
                None => Ok(Some(Stand::UnderWay(job))),
                Some(refusal) => {
                    *held = None;
                    Err(refusal)
                }
            }
        }
        _ => Ok(None),
    }
}

fn begun(view: &View) -> Result<usize, Refusal> {
    let site = view.site.clone();
    view.site.jobs().begin("Judging quality over time".to_owned(), "series", move |ticket| {
        let study = Study::open_to_read(site.study_path())?;
        let judged = Judged::of(&study, &mut |done, of| ticket.at(done, of))?;
        *site.judged().locked() = Some(Held::Ready(Arc::new(judged)));
        Ok(Box::new(|_: &View| html! { p { a href="/quality" { "Quality over time" } } }) as Outcome)
    })
}
