//! The schools of a trust, as its lead lists them. Being on the list shows nothing of a school.

pub mod add;
pub mod get;
pub mod list;
pub mod remove;
pub mod update;

use plumbline_core::{
    id::{SchoolId, TrustSchoolId},
    time::Instant,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{auth::token::attest::is_key, http::problem::Problem, store::TrustSchoolRow};

/// A school of the trust.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000042", "school_id": "0199f2c4-0000-7000-8000-000000000001",
    "name": "Farholt Infant School", "key": null, "added_at": "2026-09-07T08:00:00.000000Z"
}))]
pub struct TrustSchoolLine {
    /// Its place on the list.
    pub id: TrustSchoolId,
    /// The school.
    pub school_id: SchoolId,
    /// As the trust calls it.
    pub name: String,
    /// The key its server signs files with; none where no file of it is taken.
    pub key: Option<String>,
    /// When it was put on the list.
    pub added_at: Instant,
}

impl From<TrustSchoolRow> for TrustSchoolLine {
    fn from(row: TrustSchoolRow) -> Self {
        let TrustSchoolRow { id, member_id, name, file_key, added_at, .. } = row;
        Self { id, school_id: member_id, name, key: file_key, added_at }
    }
}

/// Refuses what is no key of a school's server.
fn check_key(key: Option<&str>) -> Result<(), Problem> {
    if key.is_none_or(is_key) {
        return Ok(());
    }
    Err(Problem::field("key", "is no Ed25519 public key in base64url"))
}
