//! Roster imports from a file: preview, then confirm.

pub mod confirm;
pub mod create;
pub mod get;

use plumbline_core::{
    id::{PupilId, RosterImportId},
    roster::{Field, Finding},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::store::{ImportRow, ImportStatus};

/// A pupil a file would change.
#[derive(Serialize, ToSchema)]
pub struct ChangeBody {
    /// Line in the file.
    pub line: u64,
    /// The pupil.
    pub pupil_id: PupilId,
    /// Fields that differ.
    pub fields: Vec<Field>,
}

/// A pupil a file would add.
#[derive(Serialize, ToSchema)]
pub struct CreatedBody {
    /// Line in the file.
    pub line: u64,
    /// The name, as it would be shown.
    pub name: String,
    /// The class, as spelled in the file.
    pub class_name: Option<String>,
}

/// What a file was read as and what it would change.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000009", "status": "preview", "encoding": "UTF-8", "rows": 201, "unchanged": 0,
    "created": [{"line": 2, "name": "Zo Bell", "class_name": "Alder"}], "updated": [], "new_classes": ["Alder"],
    "rejected": [{"line": 7, "field": "date_of_birth", "message": "\"31/13/2020\" is not a date; write 2019-05-31 or 31/05/2019"}]
}))]
pub struct ImportBody {
    /// Its id.
    pub id: RosterImportId,
    /// Preview, or confirmed.
    pub status: ImportStatus,
    /// The encoding the file was read in.
    pub encoding: String,
    /// Rows in the file, without the header and empty lines.
    pub rows: usize,
    /// Pupils to add.
    pub created: Vec<CreatedBody>,
    /// Pupils to change.
    pub updated: Vec<ChangeBody>,
    /// Rows that say what the school holds already.
    pub unchanged: usize,
    /// Classes to add.
    pub new_classes: Vec<String>,
    /// Rows that are left out, and why.
    pub rejected: Vec<Finding>,
}

impl From<ImportRow> for ImportBody {
    fn from(row: ImportRow) -> Self {
        let plan = row.plan;
        let mut lines: std::collections::BTreeSet<u64> =
            row.reading.rows.iter().map(|row| row.line).collect();
        lines.extend(row.reading.rejected.iter().map(|finding| finding.line));
        Self {
            id: row.id,
            status: row.status,
            encoding: row.encoding,
            rows: lines.len(),
            created: plan
                .created
                .into_iter()
                .map(|row| CreatedBody {
                    line: row.line,
                    name: plumbline_core::roster::shown_name(
                        row.given_name.as_str(),
                        row.family_name.as_ref().map(plumbline_core::text::Name::as_str),
                        row.preferred_name.as_ref().map(plumbline_core::text::Name::as_str),
                    ),
                    class_name: row.class_name.map(String::from),
                })
                .collect(),
            updated: plan
                .updated
                .into_iter()
                .map(|change| ChangeBody {
                    line: change.row.line,
                    pupil_id: change.pupil,
                    fields: change.fields,
                })
                .collect(),
            unchanged: plan.unchanged,
            new_classes: plan.new_classes.into_iter().map(String::from).collect(),
            rejected: plan.rejected,
        }
    }
}
