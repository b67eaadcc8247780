//! What files of other systems say of a pupil beside cells.

use serde::{Deserialize, Serialize};

use crate::{roster::Field, text::Name};

crate::vocabulary! {
    /// What a pupil file is. Its content says so, not its name.
    pub enum Format as "FileFormat" {
        /// A text file of cells (RFC 4180 and its relatives).
        Text = "text",
        /// A workbook (ECMA-376).
        Workbook = "workbook",
        /// Rostering files in one archive (1EdTech OneRoster, CSV binding).
        OneRoster = "oneroster",
        /// A Common Transfer File (Department for Education, XML).
        TransferFile = "ctf",
    }
}

#[expect(clippy::derivable_impls, reason = "what vocabularies derive is the macro's to say")]
impl Default for Format {
    fn default() -> Self {
        Self::Text
    }
}

/// What somebody should know of a line, and what stands in no way.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Note {
    /// What it is about.
    pub field: Option<Field>,
    /// What, for a person.
    pub message: String,
}

/// What a line says beside its cells. Lines of text files and workbooks say nothing more.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Beside {
    /// The line adds nobody: it is about a pupil the school has, or about no pupil.
    pub known_only: bool,
    /// The reference is another system's: that it is not the school's says nothing against.
    pub foreign: bool,
    /// The pupil is said to have left the school.
    pub left: bool,
    /// Classes the pupil is said to have left.
    pub left_classes: Vec<Name>,
    /// What somebody should know.
    pub notes: Vec<Note>,
}
