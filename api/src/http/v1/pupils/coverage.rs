//! GET /pupils/{id}/coverage

use std::collections::BTreeMap;

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::PupilLearning},
    id::{ItemId, PupilId},
    lesson::{ItemCoverage, coverage},
    sequence::ItemKind,
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// What lessons covered of one item, for one pupil.
#[derive(Serialize, ToSchema)]
pub struct CoverageLine {
    /// The item.
    pub item_id: ItemId,
    /// What it is.
    pub kind: ItemKind,
    /// As shown when it was taught.
    pub label: String,
    /// The first day it was taught to this pupil; none while missed.
    pub taught_on: Option<Date>,
    /// The last day it was taught without this pupil, while still missed.
    pub missed_on: Option<Date>,
    /// Lessons recorded that taught it to this pupil.
    pub times: u32,
    /// Catch-up records that taught it to this pupil.
    pub catch_ups: u32,
    /// Whether the day is the one as of which it was carried in, and no lesson's or catch-up's.
    pub carried_in: bool,
}

/// What was taught to one pupil. Taught is never known: checks tell that.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "pupil_id": "0199f2c4-0000-7000-8000-000000000007", "lessons_attended": 21, "lessons_missed": 2,
    "items": [{"item_id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "kind": "gpc", "label": "igh /aɪ/",
               "taught_on": "2026-11-10", "missed_on": null, "times": 2, "catch_ups": 0, "carried_in": false}]
}))]
pub struct PupilCoverage {
    /// The pupil.
    pub pupil_id: PupilId,
    /// Lessons that taught this pupil something.
    pub lessons_attended: usize,
    /// Lessons given to the pupil's groups without this pupil.
    pub lessons_missed: usize,
    /// Items the lessons touched or that were carried in, in order of teaching; reviews left out.
    pub items: Vec<CoverageLine>,
}

/// What was taught to a pupil, and what was missed
///
/// By the pupil's own presence on the day, in catch-up, and as carried in for this pupil from before the records
/// here. The reading is written to the audit log before
/// the answer is sent.
#[utoipa::path(
    tag = "pupils", operation_id = "get_pupil_coverage", params(("id" = PupilId, Path, description = "The pupil")),
    responses((status = 200, description = "Coverage", body = PupilCoverage), ReadProblems)
)]
#[get("/pupils/{id}/coverage")]
pub async fn get_pupil_coverage(caller: Caller, id: web::Path<PupilId>) -> Result<Reply, Problem> {
    let pupil = *id;
    caller
        .read_logged("pupil.read_coverage", move |tx| {
            let permit = tx.permit::<Read, _>(PupilLearning(pupil))?;
            let records: Vec<_> = tx.pupil_records(&permit)?.into_iter().map(|(_, saved)| saved).collect();
            let mut shown: BTreeMap<ItemId, (ItemKind, String)> = BTreeMap::new();
            let mut order: Vec<ItemId> = Vec::new();
            let (pasts, catch_ups) = (tx.pupil_pasts(&permit)?, tx.pupil_catch_ups(&permit)?);
            for content in tx.versions_pinned(&permit, &records, &pasts, &catch_ups)? {
                for item in content.items().filter(|item| item.kind != ItemKind::Review) {
                    shown.insert(item.id, (item.kind, item.label.to_string()));
                    if !order.contains(&item.id) {
                        order.push(item.id);
                    }
                }
            }
            let covered = coverage(
                pupil,
                pasts.iter().map(|past| &past.carried),
                records.iter().map(|saved| &saved.record),
                catch_ups.iter().map(|saved| &saved.catch_up),
            );
            let items = order
                .into_iter()
                .filter_map(|item_id| {
                    let line = covered.get(&item_id)?;
                    let (kind, label) = shown.get(&item_id)?.clone();
                    let ItemCoverage { taught_on, missed_on, times, catch_ups, carried_in } = *line;
                    Some(CoverageLine {
                        item_id,
                        kind,
                        label,
                        taught_on,
                        missed_on,
                        times,
                        catch_ups,
                        carried_in,
                    })
                })
                .collect();
            let taught = |saved: &crate::store::SavedRecord| {
                saved.record.register.iter().any(|entry| entry.pupil_id == pupil && entry.was_taught())
            };
            let lessons_attended = records.iter().filter(|saved| taught(saved)).count();
            let lessons_missed = records.len() - lessons_attended;
            Reply::ok(&PupilCoverage { pupil_id: pupil, lessons_attended, lessons_missed, items })
        })
        .await
}
