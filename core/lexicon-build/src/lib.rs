//! Builds the lexicon that `plumbline-core` embeds. Deterministic: the same sources give the same
//! bytes. See `core/rules/lexicon/README.md` for the files and the command lines.

pub mod arcs;
pub mod arpa;
pub mod bath;
pub mod convert;
pub mod em;
pub mod penalty;
pub mod rows;
pub mod screens;
pub mod sources;

use std::path::Path;

/// Why a build stops.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A source cannot be read.
    #[error("cannot read {0}: {1}")]
    Read(String, String),
    /// A result cannot be written.
    #[error("cannot write {0}: {1}")]
    Write(String, String),
    /// The rules of core are damaged.
    #[error(transparent)]
    Rules(#[from] plumbline_core::phonics::DataError),
    /// An override is wrong.
    #[error("overrides.txt: {0}")]
    Override(String),
    /// Words that nothing explains and that the list of known ones does not hold.
    #[error("{} new words cannot be aligned; add an override, or list them in unaligned.txt: {}", .0.len(), .0.join(" "))]
    Unaligned(Vec<String>),
    /// Words of the child list without a pronunciation.
    #[error("{} child words have no pronunciation; add overrides: {}", .0.len(), .0.join(" "))]
    Missing(Vec<String>),
    /// The command line is wrong.
    #[error("{0}")]
    Usage(String),
}

impl Error {
    fn read(path: &Path, error: &std::io::Error) -> Self {
        Self::Read(path.display().to_string(), error.to_string())
    }
}
