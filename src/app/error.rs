//! Why the tool could not answer. A gap is no error: errors end with exit code 2 and leave nothing half-done.

use crate::folder::FolderError;
use crate::rulebook::AdoptionError;
use crate::validate::Wrong;
use crate::yaml::Fault;
use crate::yaml::Places;

/// Why the tool could not answer.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A file is not the document it should be.
    #[error("{file}:{fault}")]
    Fault {
        /// Which file.
        file: String,
        /// What is wrong, and where.
        fault: Fault,
    },
    /// A file or folder could not be read or written.
    #[error(transparent)]
    Folder(#[from] FolderError),
    /// An adoption does not fit its pack.
    #[error("{file}: {source}")]
    Adoption {
        /// Which file.
        file: String,
        /// What is wrong.
        source: AdoptionError,
    },
    /// A document names another that is not there.
    #[error("{file}:{line}:{column}: {message}")]
    Reference {
        /// The file that names it.
        file: String,
        /// Line.
        line: u64,
        /// Column.
        column: u64,
        /// What is not there.
        message: String,
        /// How to mend it.
        hint: Option<String>,
    },
    /// Anything else the tool cannot go on with.
    #[error("{message}")]
    Cannot {
        /// What.
        message: String,
        /// How to mend it.
        hint: Option<String>,
    },
}

impl Error {
    /// How to mend it.
    pub fn hint(&self) -> Option<String> {
        match self {
            Error::Fault { fault, .. } => fault.hint(),
            Error::Folder(error) => error.hint(),
            Error::Adoption { source, .. } => source.hint(),
            Error::Reference { hint, .. } | Error::Cannot { hint, .. } => hint.clone(),
        }
    }

    /// An error with a hint.
    pub fn cannot(message: impl Into<String>, hint: &str) -> Error {
        Error::Cannot { message: message.into(), hint: (!hint.is_empty()).then(|| hint.to_owned()) }
    }

    /// The first thing a document may not say, placed in its text.
    pub fn wrong(file: &str, text: &str, wrong: Wrong) -> Error {
        let (line, column) = Places::of(text).find(&wrong.path);
        let message = format!("`{}`: {}", wrong.path, wrong.message);
        Error::Fault { file: file.to_owned(), fault: Fault { line, column, message, hint: wrong.hint } }
    }
}

impl From<crate::token::TokenError> for Error {
    fn from(error: crate::token::TokenError) -> Error {
        let hint = error.hint();
        Error::Cannot { message: error.to_string(), hint }
    }
}

impl From<crate::pdf::PdfError> for Error {
    fn from(error: crate::pdf::PdfError) -> Error {
        Error::Cannot { message: error.to_string(), hint: error.hint() }
    }
}

impl From<crate::seal::SealError> for Error {
    fn from(error: crate::seal::SealError) -> Error {
        Error::Cannot { message: error.to_string(), hint: error.hint() }
    }
}

impl From<crate::register::RegisterError> for Error {
    fn from(error: crate::register::RegisterError) -> Error {
        Error::Cannot { message: error.to_string(), hint: error.hint() }
    }
}

impl From<crate::checkpoint::CheckpointError> for Error {
    fn from(error: crate::checkpoint::CheckpointError) -> Error {
        Error::Cannot { message: error.to_string(), hint: error.hint() }
    }
}

impl From<crate::canonical::CanonicalError> for Error {
    fn from(error: crate::canonical::CanonicalError) -> Error {
        Error::Cannot { message: error.to_string(), hint: error.hint() }
    }
}

impl From<crate::credential::CredentialError> for Error {
    fn from(error: crate::credential::CredentialError) -> Error {
        Error::cannot(error.to_string(), "take the file as it was sent")
    }
}

impl From<crate::time_stamp::TimeStampError> for Error {
    fn from(error: crate::time_stamp::TimeStampError) -> Error {
        Error::Cannot { message: error.to_string(), hint: error.hint() }
    }
}

impl From<crate::http::HttpError> for Error {
    fn from(error: crate::http::HttpError) -> Error {
        Error::Cannot { message: error.to_string(), hint: error.hint() }
    }
}

impl From<crate::passphrase::PassphraseError> for Error {
    fn from(error: crate::passphrase::PassphraseError) -> Error {
        Error::Cannot { message: error.to_string(), hint: error.hint() }
    }
}
