//! Classes.

pub mod create;
pub mod get;
pub mod list;
pub mod set_adults;

use plumbline_core::id::ClassId;
use serde::Serialize;
use utoipa::ToSchema;

use super::{AdultView, pupils::PupilLine};
use crate::store::ClassRow;

/// A class.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"id": "0199f2c4-0000-7000-8000-000000000006", "name": "Alder"}))]
pub struct ClassLine {
    /// Its id.
    pub id: ClassId,
    /// Its name.
    pub name: String,
}

impl From<ClassRow> for ClassLine {
    fn from(row: ClassRow) -> Self {
        Self { id: row.id, name: row.name }
    }
}

/// A class with its adults and pupils.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000006", "name": "Alder",
    "adults": [{"staff_id": "0199f2c4-0000-7000-8000-000000000002", "name": "Amara Osei", "from": "2026-09-01", "until": null}],
    "pupils": [{"id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zoë Bell", "apart": null}]
}))]
pub struct ClassBody {
    /// Its id.
    pub id: ClassId,
    /// Its name.
    pub name: String,
    /// Adults, past and coming ones too.
    pub adults: Vec<AdultView>,
    /// Pupils in it today.
    pub pupils: Vec<PupilLine>,
}
