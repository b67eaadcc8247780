//! GET /suspected-duplicates

use std::collections::BTreeMap;

use actix_web::get;
use plumbline_core::{
    access::{act::Read, resource::Roster},
    id::PupilId,
    roster::{Alike, suspects},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::http::{
    caller::Caller,
    page::Page,
    problem::Problem,
    problems::ReadProblems,
    reply::Reply,
    v1::pupils::{PupilLine, lines},
};

/// Pairs shown at once; the next come up as these are decided.
const MOST: usize = 200;

/// Two records that may be one child's.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "pupils": [{"id": "0199f2c4-0000-7000-8000-000000000007", "name": "Rory Hale", "apart": "Alder"},
               {"id": "0199f2c4-0000-7000-8000-000000000017", "name": "Rory Hale", "apart": "Rowan"}],
    "why": "name_and_birth", "says": "the same name and date of birth; different references"
}))]
pub struct SuspectedDuplicate {
    /// The two.
    pub pupils: [PupilLine; 2],
    /// What they have in common.
    pub why: Alike,
    /// The same in words, with what else to know.
    pub says: String,
}

/// List records that may be one child's
///
/// Alike by name, and not told apart by date of birth, by a lasting UPN or by a decision. Twins are
/// not among them; leavers are, since who comes back may have been added anew. Surest first, 200 pairs
/// at most. The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "pupils", operation_id = "list_suspected_duplicates",
    responses((status = 200, description = "Pairs of pupils", body = Page<SuspectedDuplicate>), ReadProblems)
)]
#[get("/suspected-duplicates")]
pub async fn list_suspected_duplicates(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read_logged("pupil.list_suspected", |tx| {
            let permit = tx.permit::<Read, _>(Roster)?;
            let year = tx.school_year_of(tx.today())?;
            let (pupils, _) = tx.roster_rows(&permit, year)?;
            let found = suspects(&pupils, &tx.decisions(&permit)?, MOST);
            let ids: Vec<PupilId> = found.iter().flat_map(|one| one.pupils).collect();
            let rows = tx.pupils_by_id(&permit, &ids)?;
            let rows: BTreeMap<_, _> = rows.into_iter().map(|row| (row.0.id, row)).collect();
            let pairs = found.into_iter().filter_map(|one| {
                let two = one.pupils.iter().filter_map(|id| rows.get(id).cloned()).collect();
                let pupils: [PupilLine; 2] = lines(two).try_into().ok()?;
                Some(SuspectedDuplicate { pupils, why: one.why, says: one.says })
            });
            Reply::ok(&Page::whole(pairs.collect()))
        })
        .await
}
