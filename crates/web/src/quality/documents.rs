//! The same as documents: what `control`, `lot`, `validate` and `compare` print with `--format json`.

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Response};
use serde::Serialize;
use stillwell_report::json;
use stillwell_report::quality::{Compared, comparison_answer, lot_missing_words};

use super::judgement::Judged;
use crate::guard::Visitor;
use crate::layout::Refusal;
use crate::site::Site;

type Answered = Result<Response, Refusal>;

/// `/api/control`
pub(crate) async fn control(State(site): State<Site>, visitor: Visitor) -> Answered {
    document(site, visitor, |judged| {
        Ok(json::charts::of(&judged.method, &judged.quality.charts, &judged.labels))
    })
    .await
}

/// `/api/lots`
pub(crate) async fn lots(State(site): State<Site>, visitor: Visitor) -> Answered {
    document(site, visitor, |judged| match &judged.quality.lots {
        Ok(review) => Ok(json::lots::of(&judged.method, review)),
        Err(why) => Err(missing(&why.to_string(), lot_missing_words(why))),
    })
    .await
}

/// `/api/validation`
pub(crate) async fn validation(State(site): State<Site>, visitor: Visitor) -> Answered {
    document(site, visitor, |judged| Ok(json::validation::of(&judged.method, &judged.quality.validation)))
        .await
}

/// `/api/comparison`
pub(crate) async fn comparison(State(site): State<Site>, visitor: Visitor) -> Answered {
    document(site, visitor, |judged| match &judged.quality.comparison {
        Compared::Made { review, records } => Ok(json::comparison::of(&judged.method, review, records)),
        compared => {
            let answer = comparison_answer(compared);
            Err(missing(&answer.words, &answer.next))
        }
    })
    .await
}

fn missing(found: &str, cure: &str) -> Refusal {
    Refusal::new(StatusCode::NOT_FOUND, found, cure)
}

async fn document<T: Serialize>(
    site: Site,
    visitor: Visitor,
    made: impl FnOnce(&Judged) -> Result<T, Refusal> + Send + 'static,
) -> Answered {
    site.look(visitor, move |view| {
        let judged = view.site.judged().awaited(view)?;
        let path = view.site.study_path();
        let study = (&judged.anchor, path, judged.labels.as_slice());
        Ok(Json(json::study::over_series(made(&judged)?, Some(study))).into_response())
    })
    .await
}
