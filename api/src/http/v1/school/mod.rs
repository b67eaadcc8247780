//! The school itself.

pub mod get;
pub mod rules;
pub mod update;

use plumbline_core::id::SchoolId;
use serde::Serialize;
use utoipa::ToSchema;

use crate::store::SchoolRow;

/// The school.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000001", "name": "Farholt Infant School",
    "rule_pack": "england", "time_zone": "Europe/London"
}))]
pub struct SchoolBody {
    /// Its id.
    pub id: SchoolId,
    /// Its name.
    pub name: String,
    /// The rule pack it works under.
    pub rule_pack: String,
    /// Its time zone, of the tz database.
    pub time_zone: String,
}

impl From<SchoolRow> for SchoolBody {
    fn from(row: SchoolRow) -> Self {
        Self { id: row.id, name: row.name, rule_pack: row.rule_pack, time_zone: row.time_zone }
    }
}
