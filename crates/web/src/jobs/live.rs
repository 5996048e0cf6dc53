//! Progress as it happens: server-sent events, which a browser asks for again by itself when the line breaks.

use std::convert::Infallible;
use std::time::Duration;

use axum::extract::{Path, State};
use axum::response::sse::{Event, KeepAlive, Sse};
use futures_util::{Stream, stream};
use tokio::sync::watch::Receiver;

use super::job::Progress;
use crate::layout::Refusal;
use crate::site::Site;

/// A line without news is kept open by a word now and then.
const SIGN_OF_LIFE: Duration = Duration::from_secs(10);
/// News come no faster than a person sees them.
const LEAST_PAUSE: Duration = Duration::from_millis(100);

/// Where the line stands: the next to be told, or the end.
enum Line {
    First(Receiver<Progress>),
    Next(Receiver<Progress>),
    Over,
}

/// How far a job is, again and again until it is over.
pub(super) async fn events(
    State(site): State<Site>,
    Path(number): Path<usize>,
) -> Result<Sse<impl Stream<Item = Result<Event, Infallible>>>, Refusal> {
    let watched = site.jobs().one(number)?.watched();
    let told = stream::unfold(Line::First(watched), |line| async move {
        let mut watched = match line {
            Line::First(watched) => watched,
            Line::Next(mut watched) => {
                tokio::time::sleep(LEAST_PAUSE).await;
                watched.changed().await.ok()?;
                watched
            }
            Line::Over => return None,
        };
        let progress = watched.borrow_and_update().clone();
        let next = if progress.state.is_over() { Line::Over } else { Line::Next(watched) };
        Some((Ok(told(&progress)), next))
    });
    Ok(Sse::new(told).keep_alive(KeepAlive::new().interval(SIGN_OF_LIFE)))
}

fn told(progress: &Progress) -> Event {
    let data = serde_json::json!({
        "state": progress.state.word(),
        "is_over": progress.state.is_over(),
        "done": progress.done,
        "of": progress.of,
        "what": progress.what,
    });
    Event::default().event("progress").data(data.to_string())
}
