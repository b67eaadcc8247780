//! What a school shows its trust: figures cut out of its own releases, looked at first, withdrawn when it likes.

pub mod file;
pub mod get;
pub mod key;
pub mod list;
pub mod look;
pub mod share;
pub mod withdraw;

use plumbline_core::{
    access::{
        act::Read,
        resource::{SchoolReport, Sequences},
    },
    id::{ReportReleaseId, SchoolId, StaffId, TrustShareId, VersionId},
    report::Release,
    text::hex,
    time::Instant,
    trust::SharedFigures,
};
use serde::Serialize;
use sha2::{Digest as _, Sha256};
use utoipa::ToSchema;

use crate::{
    http::problem::Problem,
    store::{TrustShareRow, Tx},
};

/// Something shown to a trust, without its figures.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000041", "trust_id": "0199f2c4-0000-7000-8000-000000000040",
    "release_id": "0199f2c4-0000-7000-8000-000000000032", "school_year": 2026, "half_term": "Autumn 2",
    "shared_by": "0199f2c4-0000-7000-8000-000000000002", "shared_at": "2026-12-18T16:10:00.000000Z", "withdrawn_at": null,
    "read_here": true
}))]
pub struct TrustShareLine {
    /// Its id.
    pub id: TrustShareId,
    /// The trust: the school where its lead works.
    pub trust_id: SchoolId,
    /// The release it is cut out of.
    pub release_id: ReportReleaseId,
    /// The calendar year in which the school year starts.
    pub school_year: i32,
    /// The half term's name.
    pub half_term: String,
    /// Who shared it.
    pub shared_by: StaffId,
    /// When.
    pub shared_at: Instant,
    /// Since when the trust does not see it any more.
    pub withdrawn_at: Option<Instant>,
    /// Whether the trust works on this server and has this school on its list: if not, it gets it as a file.
    pub read_here: bool,
}

impl TrustShareLine {
    fn of(row: TrustShareRow, read_here: bool) -> Self {
        Self {
            id: row.id,
            trust_id: row.trust_id,
            release_id: row.release_id,
            school_year: row.school_year,
            half_term: row.half_term,
            shared_by: row.shared_by,
            shared_at: row.shared_at,
            withdrawn_at: row.withdrawn_at,
            read_here,
        }
    }
}

/// What would leave of a release.
fn figures(tx: &mut Tx<'_>, id: ReportReleaseId) -> Result<SharedFigures, Problem> {
    let report = tx.permit::<Read, _>(SchoolReport)?;
    let sequences = tx.permit::<Read, _>(Sequences)?;
    let release: Release = serde_json::from_str(&tx.release(&report, id)?.body)?;
    let school_year = tx.school_year_of(release.as_of)?;
    let versions: Vec<VersionId> =
        (release.basis.versions.iter()).filter(|used| used.this_year).map(|used| used.version_id).collect();
    let fingerprints = tx.fingerprints_of(&sequences, &versions)?;
    let ids = (tx.school(), id);
    SharedFigures::cut(ids, release, school_year, fingerprints)
        .map_err(|error| Problem::field("release_id", error))
}

/// By what it is known whether somebody has seen these figures: SHA-256 of their JSON, in hexadecimal.
fn digest(figures: &SharedFigures) -> Result<String, Problem> {
    Ok(hex(&Sha256::digest(serde_json::to_vec(figures)?)))
}
