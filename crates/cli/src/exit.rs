//! Exit codes, and the failures that lead to 2.

use std::process::ExitCode;

use stillwell_field::FieldError;
use stillwell_folder::FolderError;
use stillwell_foresee::ForeseeError;
use stillwell_method::Problem;
use stillwell_study::StudyError;
use stillwell_web::ServeError;

/// How a command ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Outcome {
    /// 0: done.
    Done,
    /// 1: done, but a verdict or a check needs attention.
    Attention,
    /// 2: bad input or usage.
    BadInput,
}

impl Outcome {
    pub(crate) fn code(self) -> ExitCode {
        ExitCode::from(match self {
            Self::Done => 0,
            Self::Attention => 1,
            Self::BadInput => 2,
        })
    }

    pub(crate) fn attention_if(needed: bool) -> Self {
        if needed { Self::Attention } else { Self::Done }
    }
}

/// Why a command could not do its work.
#[derive(Debug)]
pub(crate) enum Failure {
    /// The folder or a file of it.
    Folder { folder: std::path::PathBuf, error: FolderError },
    /// Several problems with places.
    Problems(Vec<Problem>),
    /// What cannot be simulated or foreseen.
    Foresee(ForeseeError),
    /// What a study refused or could not do.
    Study(StudyError),
    /// Why nothing is served.
    Serve(ServeError),
    /// What a campaign lacks.
    Field(FieldError),
    /// One thing that the user named is not there.
    NotThere { what: String, cure: String },
}

impl From<ForeseeError> for Failure {
    fn from(error: ForeseeError) -> Self {
        Self::Foresee(error)
    }
}

impl From<ServeError> for Failure {
    fn from(error: ServeError) -> Self {
        match error {
            ServeError::Study(error) => error.into(),
            other => Self::Serve(other),
        }
    }
}

impl From<StudyError> for Failure {
    fn from(error: StudyError) -> Self {
        match error {
            StudyError::Content(found) => Self::Problems(found.problems),
            other => Self::Study(other),
        }
    }
}

impl From<FieldError> for Failure {
    fn from(error: FieldError) -> Self {
        match error {
            FieldError::Study(error) => error.into(),
            FieldError::Campaign(found) => Self::Problems(found.problems),
            other => Self::Field(other),
        }
    }
}
