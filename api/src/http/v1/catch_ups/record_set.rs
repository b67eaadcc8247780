//! POST /catch-up-records

use std::collections::BTreeSet;

use actix_web::post;
use plumbline_core::{
    access::{
        act::Record,
        resource::{CatchUpPlans, GroupDay},
    },
    id::{GroupId, ItemId, PupilId, StaffId},
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    CatchUpRecordBody,
    record::{Part, save},
};
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, FieldError, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::{Permit, Tx},
};

/// The most pupils of a set.
const MOST: usize = 100;

/// What was taught to a set of pupils, of one group or several.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "on": "2026-11-25", "items": ["c090554b-55fd-56e2-92da-2bfe29aa5983"],
    "pupils": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "group_id": "0199f2c4-0000-7000-8000-000000000008"}]
}))]
pub struct CatchUpSetRecord {
    /// The day.
    pub on: Date,
    /// The items taught: for each group such as its own record would take.
    pub items: Vec<ItemId>,
    /// To whom, 1 to 100, each once, and in which group each is recorded.
    pub pupils: Vec<TaughtPupil>,
    /// Who taught, if somebody else than who enters this.
    #[serde(default)]
    pub taught_by: Option<StaffId>,
    /// Whether it was taught once more, where the same is recorded already.
    #[serde(default)]
    pub again: bool,
}

/// A pupil of a set.
#[derive(Clone, Copy, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TaughtPupil {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The group, as the plan says it: one the pupil was in that day.
    pub group_id: GroupId,
}

/// What was recorded of a set.
#[derive(Debug, Serialize, ToSchema)]
#[schema(example = json!({"records": [{
    "id": "0199f2c4-0000-7000-8000-000000000031", "group_id": "0199f2c4-0000-7000-8000-000000000008", "on": "2026-11-25",
    "items": ["c090554b-55fd-56e2-92da-2bfe29aa5983"], "pupil_ids": ["0199f2c4-0000-7000-8000-000000000007"],
    "taught_by": "0199f2c4-0000-7000-8000-000000000002", "entered_by": "0199f2c4-0000-7000-8000-000000000002",
    "entered_at": "2026-11-25T09:32:00.000000Z", "warnings": []}]}))]
pub struct CatchUpSetRecorded {
    /// One record for each group, in the order in which the groups stand in the set.
    pub records: Vec<CatchUpRecordBody>,
}

/// What a set holds of one group.
struct OfGroup<'tx> {
    diary: Permit<'tx, Record, GroupDay>,
    pupils: Vec<PupilId>,
    /// Where each stands in the set.
    places: Vec<usize>,
}

/// Record a set of catch-up
///
/// Items taught at one go to pupils of one group or several, as a plan makes sets: one record in each group,
/// all of them or none. By an adult who may record in each of the groups on that day. What cannot be recorded
/// is said of the place in the list. The location is that of the first record.
#[utoipa::path(
    tag = "catch-up", operation_id = "record_catch_up_set", request_body = CatchUpSetRecord,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Recorded", body = CatchUpSetRecorded), CreateProblems)
)]
#[post("/catch-up-records")]
pub async fn record_catch_up_set(caller: Caller, body: Body<CatchUpSetRecord>) -> Result<Reply, Problem> {
    let (body, hash) = (body.value, body.hash);
    caller
        .create("catch_up.record_set", hash, move |tx| {
            tx.permit::<Record, _>(CatchUpPlans)?;
            let parts = parts(tx, &body)?;
            let (mut records, mut faults) = (Vec::new(), Vec::new());
            for part in parts {
                let said = Part {
                    id: None,
                    items: &body.items,
                    pupils: &part.pupils,
                    taught_by: body.taught_by,
                    again: body.again,
                };
                match save(tx, &part.diary, &said) {
                    Ok((saved, warnings)) => records.push(CatchUpRecordBody::new(saved, warnings)),
                    Err(problem) if problem.code() == Code::Invalid => {
                        faults.extend(placed(problem, &part.places).errors().iter().cloned());
                    }
                    Err(problem) => return Err(placed(problem, &part.places)),
                }
            }
            let (None, Some(first)) = (faults.first(), records.first()) else {
                // What is wrong with the day or the adult is so for each group.
                let mut said = BTreeSet::new();
                faults.retain(|fault: &FieldError| said.insert((fault.field.clone(), fault.message.clone())));
                return Err(Problem::fields(faults));
            };
            let location = format!("/api/v1/catch-up-records/{}", first.id);
            Reply::created(location, &CatchUpSetRecorded { records })
        })
        .await
}

/// The set's parts by group, each with the right to record in it.
fn parts<'tx>(tx: &mut Tx<'tx>, body: &CatchUpSetRecord) -> Result<Vec<OfGroup<'tx>>, Problem> {
    if !(1..=MOST).contains(&body.pupils.len()) {
        return Err(Problem::field("pupils", "give 1 to 100 pupils"));
    }
    if body.items.is_empty() {
        return Err(Problem::field("items", "give at least one"));
    }
    if let Some(n) = (1..body.items.len()).find(|n| body.items[..*n].contains(&body.items[*n])) {
        return Err(Problem::field(format!("items[{n}]"), "this item stands twice"));
    }
    let merged = tx.merged_records()?;
    let mut parts: Vec<OfGroup<'tx>> = Vec::new();
    for (n, TaughtPupil { pupil_id, group_id }) in body.pupils.iter().enumerate() {
        let pupil = merged.now(*pupil_id);
        if parts.iter().any(|part| part.pupils.contains(&pupil)) {
            return Err(Problem::field(format!("pupils[{n}].pupil_id"), "this pupil stands twice"));
        }
        if let Some(part) = parts.iter_mut().find(|part| part.diary.resource().group == *group_id) {
            part.pupils.push(pupil);
            part.places.push(n);
            continue;
        }
        let day = GroupDay { group: *group_id, on: body.on };
        let diary = tx.permit_if_allowed(day)?.ok_or_else(|| {
            let field = format!("pupils[{n}].group_id");
            Problem::field(field, "is not a group in which you may record on that day")
        })?;
        parts.push(OfGroup { diary, pupils: vec![pupil], places: vec![n] });
    }
    Ok(parts)
}

/// A complaint about one group's part, said of the set: of the pupil's place, or of the place of the first
/// pupil of the group.
fn placed(problem: Problem, places: &[usize]) -> Problem {
    let of_group = problem.code() == Code::Conflict;
    problem.map_fields(|FieldError { field, message }| {
        let index = |list: &str| field.strip_prefix(list)?.strip_suffix(']')?.parse::<usize>().ok();
        let group = format!("pupils[{}].group_id", places.first().copied().unwrap_or_default());
        if let Some(place) = index("pupil_ids[").and_then(|n| places.get(n)) {
            return FieldError { field: format!("pupils[{place}].pupil_id"), message };
        }
        if index("items[").is_some() {
            return FieldError { field: group, message: format!("{field}: {message}") };
        }
        if of_group && field == "on" {
            return FieldError { field: group, message };
        }
        FieldError { field, message }
    })
}
