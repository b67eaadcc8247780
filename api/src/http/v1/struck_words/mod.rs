//! Words and pseudo-words the school never shows to children.

pub mod add;
pub mod list;
pub mod remove;

use plumbline_core::{
    id::{StaffId, StruckWordId},
    time::Instant,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::store::StruckWordRow;

/// A word struck off.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000016", "word": "bamp",
    "struck_by": "0199f2c4-0000-7000-8000-000000000002", "struck_at": "2026-11-25T10:00:00.000000Z"
}))]
pub struct StruckWordBody {
    /// Its id.
    pub id: StruckWordId,
    /// The word.
    pub word: String,
    /// Who struck it off.
    pub struck_by: StaffId,
    /// When.
    pub struck_at: Instant,
}

impl From<StruckWordRow> for StruckWordBody {
    fn from(row: StruckWordRow) -> Self {
        Self { id: row.id, word: row.word, struck_by: row.struck_by, struck_at: row.struck_at }
    }
}
