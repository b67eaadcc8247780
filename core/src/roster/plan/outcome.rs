//! What a plan speaks of: pupils the school has, and what becomes of rows and of pupils.

use serde::{Deserialize, Serialize};

use crate::{
    id::PupilId,
    roster::{
        Field, Finding, Row,
        matching::{Match, Why},
    },
    text::Name,
};

/// A pupil the school has.
#[derive(Clone, Debug)]
pub struct Existing {
    /// The pupil.
    pub id: PupilId,
    /// What the school holds, as a row.
    pub row: Row,
    /// Whether the pupil's last day here is over.
    pub left: bool,
    /// Records that were said to be of the same child, as they were.
    pub once: Vec<Row>,
}

/// A new pupil and one of the school who a person said are two children.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Apart {
    /// Line of the new one.
    pub line: u64,
    /// The pupil of the school.
    pub pupil: PupilId,
}

/// A pupil whose record the file would change.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Change {
    /// The pupil.
    pub pupil: PupilId,
    /// What the row is known by.
    pub why: Why,
    /// The fields that differ.
    pub fields: Vec<Field>,
    /// The optional fields that differ, by key.
    #[serde(default)]
    pub optional: Vec<String>,
    /// What the file says.
    pub row: Row,
    /// What the school holds.
    pub old: Row,
}

/// A row that may be about a pupil the school has.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Held {
    /// What the file says.
    pub row: Row,
    /// Whom it may be about.
    pub candidates: Vec<Match<PupilId>>,
    /// What the school holds of each, in the same order.
    #[serde(default)]
    pub old: Vec<Row>,
}

/// A pupil the file says has left.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Gone {
    /// Its line.
    pub line: u64,
    /// The pupil.
    pub pupil: PupilId,
    /// What the row is known by.
    pub why: Why,
    /// The pupil's name as shown.
    pub name: String,
    /// The class, where the pupil leaves that and not the school.
    pub class: Option<Name>,
}

/// A row that says what an earlier one says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = RepeatedRow))]
pub struct Repeat {
    /// Its line.
    pub line: u64,
    /// The earlier one's.
    pub of: u64,
}

/// What a file would change.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Plan {
    /// The school year its year groups are of, by the calendar year it starts in.
    pub year: i32,
    /// Pupils to create.
    pub created: Vec<Row>,
    /// Pupils of whom the file says something else than the school holds.
    pub updated: Vec<Change>,
    /// Pupils of whom the file only says more.
    pub completed: Vec<Change>,
    /// Rows that say what the school holds already.
    pub unchanged: usize,
    /// Rows that wait for a person to say whom they are about.
    pub held: Vec<Held>,
    /// Rows that say the same as an earlier one.
    pub repeats: Vec<Repeat>,
    /// New pupils a person told from pupils of the school.
    pub apart: Vec<Apart>,
    /// Lines a person left out.
    pub left_out: Vec<u64>,
    /// Classes to create, as first spelled in the file.
    pub new_classes: Vec<Name>,
    /// Rows that are left out, and why.
    pub rejected: Vec<Finding>,
    /// What somebody should look at, and what stands in no way.
    pub attention: Vec<Finding>,
    /// Pupils of the school who are not in the file; none where it holds changes only. Nothing
    /// becomes of them.
    pub absent: Vec<Absent>,
    /// Pupils the file says have left. Nothing becomes of them either.
    #[serde(default)]
    pub gone: Vec<Gone>,
    /// Those of both who are to leave the school, because a person gave their number.
    pub leavers: Vec<PupilId>,
    /// Those who are to leave a class only, because a person gave their number.
    #[serde(default)]
    pub class_leavers: Vec<(PupilId, Name)>,
}

/// A pupil of the school who is not in the file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Absent {
    /// The pupil.
    pub pupil: PupilId,
    /// The name, as it is shown.
    pub name: String,
    /// The class.
    pub class: Option<Name>,
}

impl Plan {
    /// Takes out what rows say of an optional field.
    pub fn without_field(&mut self, field: &str) {
        let changes = self.updated.iter_mut().chain(&mut self.completed).flat_map(|change| {
            change.optional.retain(|key| key != field);
            [&mut change.row, &mut change.old]
        });
        let held = self.held.iter_mut().flat_map(|held| std::iter::once(&mut held.row).chain(&mut held.old));
        for row in self.created.iter_mut().chain(changes).chain(held) {
            row.optional.remove(field);
        }
    }

    /// How many would leave the school or a class if a person gave this number.
    #[must_use]
    pub fn may_leave(&self) -> usize {
        self.absent.len() + self.gone.len()
    }
}
