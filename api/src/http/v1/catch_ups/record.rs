//! POST /groups/{id}/catch-up-records

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Record, resource::GroupDay},
    id::{CatchUpId, GroupId, ItemId, PupilId, StaffId},
    lesson::{CatchUpFacts, CatchUpReport, Warning, catch_up as decide, pupils_under_one_record},
};

use super::{CatchUpBody, CatchUpRecordBody};
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::{Error, Permit, SavedCatchUp, Tx},
};

/// Record catch-up
///
/// Items taught to some pupils of a group, on one day and by one adult. They count as taught to these
/// pupils on that day, and never move the group's place. By an adult who is assigned to the group on that
/// day, or the lead; the day is bounded as a lesson's is. A pupil whose record was made one with another is
/// that one. The same recorded twice, that day by that adult, is a `conflict` unless it is said that it was
/// taught `again`.
#[utoipa::path(
    tag = "catch-up", operation_id = "record_catch_up", request_body = CatchUpBody,
    params(("id" = GroupId, Path, description = "The group"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Recorded; ETag", body = CatchUpRecordBody), CreateProblems)
)]
#[post("/groups/{id}/catch-up-records")]
pub async fn record_catch_up(
    caller: Caller,
    id: web::Path<GroupId>,
    body: Body<CatchUpBody>,
) -> Result<Reply, Problem> {
    let (group, body, hash) = (*id, body.value, body.hash);
    caller
        .create("catch_up.record", hash, move |tx| {
            let diary = tx.permit::<Record, _>(GroupDay { group, on: body.on })?;
            let (saved, warnings) = save(tx, &diary, &Part::of(&body))?;
            let (v, location) = (saved.v, format!("/api/v1/catch-up-records/{}", saved.catch_up.id));
            Ok(Reply::created(location, &CatchUpRecordBody::new(saved, warnings))?.version(v))
        })
        .await
}

/// What is recorded in one group: a record by itself, or what a set holds of the group.
pub(in crate::http) struct Part<'a> {
    /// The id a device gave it; the server makes one where none did.
    pub id: Option<CatchUpId>,
    pub items: &'a [ItemId],
    pub pupils: &'a [PupilId],
    pub taught_by: Option<StaffId>,
    pub again: bool,
}

impl<'a> Part<'a> {
    /// A record by itself.
    pub(in crate::http) fn of(body: &'a CatchUpBody) -> Self {
        let CatchUpBody { items, pupil_ids, taught_by, again, .. } = body;
        Self { id: None, items, pupils: pupil_ids, taught_by: *taught_by, again: *again }
    }
}

/// Records what was taught in one group on a day.
pub(in crate::http) fn save<'tx>(
    tx: &mut Tx<'tx>,
    diary: &Permit<'tx, Record, GroupDay>,
    part: &Part<'_>,
) -> Result<(SavedCatchUp, Vec<Warning>), Problem> {
    let day = *diary.resource();
    let basis = tx.catch_up_basis(diary)?;
    if basis.closed_on.is_some_and(|last| day.on > last) {
        return Err(Problem::field("on", "the group was closed before that day").with_code(Code::Conflict));
    }
    if let Some(staff) = part.taught_by {
        tx.known_staff(diary, staff).map_err(|error| match error {
            Error::Missing => Problem::field("taught_by", "is not of this school's staff"),
            other => other.into(),
        })?;
    }
    let merged = tx.merged_records()?;
    let report = CatchUpReport {
        on: day.on,
        items: part.items.to_vec(),
        pupils: pupils_under_one_record(part.pupils, |pupil| merged.now(pupil)),
        taught_by: part.taught_by,
    };
    let facts = CatchUpFacts {
        id: part.id.unwrap_or_else(|| tx.new_id()),
        group: day.group,
        members: &basis.members,
        contents: &basis.contents,
        taught: &basis.taught,
        met: &basis.met,
        day: tx.group_day_calendar(diary)?.day(day.on).kind(),
        today: tx.today(),
        entered_by: tx.actor().staff,
    };
    let (record, warnings) = decide(facts, &report)?;
    let known = tx.day_catch_ups(diary)?;
    if let Some(same) = known.iter().find(|one| record.says_the_same(&one.catch_up) && !part.again) {
        let message = format!(
            "the same is recorded already, as {}: say true if it was taught once more",
            same.catch_up.id
        );
        return Err(Problem::field("again", message).with_code(Code::Conflict));
    }
    Ok((tx.save_catch_up(diary, &record)?, warnings))
}
