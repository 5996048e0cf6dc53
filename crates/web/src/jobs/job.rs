//! The jobs of this launch: a few run at once, the others wait for their turn.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};

use axum::http::StatusCode;
use maud::Markup;
use tokio::sync::watch;

use crate::layout::Refusal;
use crate::view::View;

/// Jobs that run at the same time.
const AT_ONCE: usize = 2;
/// Jobs that wait; more are not taken.
const WAITING: usize = 16;
/// Ended jobs that are remembered.
const REMEMBERED: usize = 100;

/// What a job has to show when it is done: drawn when somebody looks, so that its forms hold the tokens of that page.
pub(crate) type Outcome = Box<dyn Fn(&View) -> Markup + Send + Sync>;

/// How a job stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum State {
    /// Others run.
    Waits,
    /// It runs and can be stopped.
    Runs,
    /// It records and goes through to its end.
    Records,
    /// It is done.
    Done,
    /// Somebody stopped it; nothing was recorded.
    Stopped,
    /// It could not be done.
    Failed,
}

impl State {
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Waits => "waits for others",
            Self::Runs => "runs",
            Self::Records => "records",
            Self::Done => "done",
            Self::Stopped => "stopped",
            Self::Failed => "not done",
        }
    }

    pub(crate) fn is_over(self) -> bool {
        matches!(self, Self::Done | Self::Stopped | Self::Failed)
    }

    pub(crate) fn can_be_stopped(self) -> bool {
        matches!(self, Self::Waits | Self::Runs)
    }
}

/// How far a job is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Progress {
    pub(crate) state: State,
    pub(crate) done: usize,
    pub(crate) of: usize,
    /// What is counted: `files`, `series`.
    pub(crate) what: &'static str,
}

/// One job.
pub(crate) struct Job {
    pub(crate) number: usize,
    pub(crate) title: String,
    progress: watch::Sender<Progress>,
    ended: Mutex<Option<Result<Outcome, Refusal>>>,
}

/// What a job's work holds: where it says how far it is, and hears whether it was stopped.
#[derive(Clone)]
pub(crate) struct Ticket(Arc<Job>);

/// The jobs of this launch.
#[derive(Clone, Default)]
pub(crate) struct Jobs(Arc<Inside>);

#[derive(Default)]
struct Inside {
    all: Mutex<Vec<Arc<Job>>>,
    turn: Turn,
}

/// A place among those that run.
#[derive(Default)]
struct Turn {
    running: Mutex<usize>,
    freed: Condvar,
}

fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // Whatever a panicking job left behind is a number or a whole value.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Jobs {
    /// Begins a job and gives its number.
    pub(crate) fn begin(
        &self,
        title: String,
        what: &'static str,
        work: impl FnOnce(&Ticket) -> Result<Outcome, Refusal> + Send + 'static,
    ) -> Result<usize, Refusal> {
        let job = self.enlisted(title, what)?;
        let number = job.number;
        let jobs = self.clone();
        let begun = std::thread::Builder::new().name(format!("job-{number}")).spawn({
            let job = Arc::clone(&job);
            move || jobs.0.turn.run(&job, work)
        });
        if let Err(error) = begun {
            job.end(State::Failed, Err(Refusal::failed(&format!("no thread for it: {error}"))));
        }
        Ok(number)
    }

    fn enlisted(&self, title: String, what: &'static str) -> Result<Arc<Job>, Refusal> {
        let mut all = locked(&self.0.all);
        if all.iter().filter(|job| !job.state().is_over()).count() >= AT_ONCE + WAITING {
            let found = "more long work waits already than is taken";
            return Err(Refusal::new(
                StatusCode::SERVICE_UNAVAILABLE,
                found,
                "wait for it, or stop some of it",
            ));
        }
        let number = all.last().map_or(1, |last| last.number + 1);
        if all.len() >= REMEMBERED
            && let Some(oldest) = all.iter().position(|job| job.state().is_over())
        {
            all.remove(oldest);
        }
        let (progress, _) = watch::channel(Progress { state: State::Waits, done: 0, of: 0, what });
        let job = Arc::new(Job { number, title, progress, ended: Mutex::new(None) });
        all.push(Arc::clone(&job));
        Ok(job)
    }

    /// The job of that number.
    pub(crate) fn one(&self, number: usize) -> Result<Arc<Job>, Refusal> {
        let found = locked(&self.0.all).iter().find(|job| job.number == number).cloned();
        found.ok_or_else(|| {
            let words = format!("no job {number} of this launch is remembered");
            Refusal::new(StatusCode::NOT_FOUND, &words, "what was recorded stands in the ledger")
        })
    }

    /// All of them, the last first.
    pub(crate) fn all(&self) -> Vec<Arc<Job>> {
        locked(&self.0.all).iter().rev().cloned().collect()
    }
}

impl Turn {
    fn run(&self, job: &Arc<Job>, work: impl FnOnce(&Ticket) -> Result<Outcome, Refusal>) {
        let mut running = locked(&self.running);
        while *running >= AT_ONCE && job.state() == State::Waits {
            // Looked at again now and then: one that was stopped need not wait for the others.
            let pause = std::time::Duration::from_millis(200);
            running = self.freed.wait_timeout(running, pause).unwrap_or_else(PoisonError::into_inner).0;
        }
        if !job.turns(State::Waits, State::Runs) {
            drop(running);
            return job.end(State::Stopped, Err(stopped()));
        }
        *running += 1;
        drop(running);
        let done = catch_unwind(AssertUnwindSafe(|| work(&Ticket(Arc::clone(job)))));
        *locked(&self.running) -= 1;
        self.freed.notify_all();
        match done {
            Ok(Ok(outcome)) => job.end(State::Done, Ok(outcome)),
            Ok(Err(_)) if job.state() == State::Stopped => job.end(State::Stopped, Err(stopped())),
            Ok(Err(refusal)) => job.end(State::Failed, Err(refusal)),
            Err(_panic) => job.end(State::Failed, Err(Refusal::failed("the work broke off"))),
        }
    }
}

fn stopped() -> Refusal {
    Refusal::new(StatusCode::CONFLICT, "it was stopped before it recorded anything", "begin it again")
}

impl Job {
    pub(crate) fn state(&self) -> State {
        self.progress.borrow().state
    }

    pub(crate) fn progress(&self) -> Progress {
        self.progress.borrow().clone()
    }

    /// To be told of every change.
    pub(crate) fn watched(&self) -> watch::Receiver<Progress> {
        self.progress.subscribe()
    }

    /// Stops it where it can still be stopped; says whether it could.
    pub(crate) fn stop(&self) -> bool {
        self.turns(State::Waits, State::Stopped) || self.turns(State::Runs, State::Stopped)
    }

    /// What it has to show, once it is over.
    pub(crate) fn shown<T>(&self, look: impl FnOnce(&Result<Outcome, Refusal>) -> T) -> Option<T> {
        locked(&self.ended).as_ref().map(look)
    }

    /// From one state to another in one step; says whether it was in the first.
    fn turns(&self, from: State, to: State) -> bool {
        self.progress.send_if_modified(|progress| {
            let is_there = progress.state == from;
            if is_there {
                progress.state = to;
            }
            is_there
        })
    }

    fn end(&self, state: State, ended: Result<Outcome, Refusal>) {
        *locked(&self.ended) = Some(ended);
        self.progress.send_modify(|progress| progress.state = state);
    }
}

impl Ticket {
    /// Says how far it is. Breaks where the job was stopped.
    pub(crate) fn at(&self, done: usize, of: usize) -> std::ops::ControlFlow<()> {
        self.0.progress.send_modify(|progress| (progress.done, progress.of) = (done, of));
        if self.0.state() == State::Stopped {
            std::ops::ControlFlow::Break(())
        } else {
            std::ops::ControlFlow::Continue(())
        }
    }

    /// From here on it cannot be stopped, unless it was already.
    pub(crate) fn records(&self) -> Result<(), Refusal> {
        if self.0.turns(State::Runs, State::Records) { Ok(()) } else { Err(stopped()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc::channel;

    fn until(job: &Job, wanted: impl Fn(State) -> bool) {
        for _ in 0..500 {
            if wanted(job.state()) {
                return;
            }
            std::thread::sleep(std::time::Duration::from_millis(10));
        }
        panic!("it stays {:?}", job.state());
    }

    fn nothing() -> Outcome {
        Box::new(|_| maud::html! {})
    }

    #[test]
    fn two_run_the_third_waits_and_each_can_be_stopped() {
        let jobs = Jobs::default();
        let (go, gone) = channel::<()>();
        let gone = Arc::new(Mutex::new(gone));
        for _ in 0..3 {
            let gone = Arc::clone(&gone);
            jobs.begin("work".to_owned(), "files", move |ticket| {
                let _turn = gone.lock().map(|gone| gone.recv());
                ticket.records()?;
                Ok(nothing())
            })
            .unwrap();
        }
        let [first, second, third] = [1, 2, 3].map(|number| jobs.one(number).unwrap());
        let running = || [&first, &second, &third].iter().filter(|job| job.state() == State::Runs).count();
        for _ in 0..200 {
            if running() == 2 {
                break;
            }
            std::thread::sleep(std::time::Duration::from_millis(10));
        }
        assert_eq!(running(), 2);
        let waiting = [&first, &second, &third].into_iter().find(|job| job.state() == State::Waits).unwrap();
        assert!(waiting.stop());
        until(waiting, State::is_over);
        let runner = [&first, &second, &third].into_iter().find(|job| job.state() == State::Runs).unwrap();
        assert!(runner.stop() && !runner.stop());
        go.send(()).unwrap();
        go.send(()).unwrap();
        for job in [&first, &second, &third] {
            until(job, State::is_over);
        }
        let states = [&first, &second, &third].map(|job| job.state());
        assert_eq!(states.iter().filter(|state| **state == State::Done).count(), 1, "{states:?}");
        assert_eq!(states.iter().filter(|state| **state == State::Stopped).count(), 2, "{states:?}");
    }

    #[test]
    fn work_that_breaks_off_says_so_and_frees_its_place() {
        let jobs = Jobs::default();
        for _ in 0..4 {
            jobs.begin("work".to_owned(), "files", |_| panic!("on purpose")).unwrap();
        }
        for number in 1..=4 {
            until(&jobs.one(number).unwrap(), |state| state == State::Failed);
        }
    }

    #[test]
    fn there_is_an_end_to_what_waits() {
        let jobs = Jobs::default();
        let (go, gone) = channel::<()>();
        let gone = Arc::new(Mutex::new(gone));
        let mut n_taken = 0;
        for _ in 0..100 {
            let gone = Arc::clone(&gone);
            let begun = jobs.begin("work".to_owned(), "files", move |_| {
                let _ended = gone.lock().map(|gone| gone.recv());
                Ok(nothing())
            });
            n_taken += usize::from(begun.is_ok());
        }
        drop(go);
        assert_eq!(n_taken, AT_ONCE + WAITING);
    }
}
