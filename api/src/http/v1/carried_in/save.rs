//! PUT /groups/{id}/carried-in

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Record, resource::GroupPast},
    id::{GroupId, ItemId, LessonId, PupilId},
    lesson::{CarryError, CarryFacts, Extent, Statement, carry_in},
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{CarriedInBody, content_today, reply};
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::{Code, Problem},
    problems::EditProblems,
    reply::Reply,
};

/// What a group was taught before: one of `through_lesson_id`, `through_step` and `lesson_ids`.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "as_of": "2026-12-18", "through_step": 12,
    "missed": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "item_ids": ["c090554b-55fd-56e2-92da-2bfe29aa5983"]}]
}))]
pub struct CarriedInReport {
    /// The day by which it had been taught.
    pub as_of: Date,
    /// Everything up to this lesson, which is the last.
    #[serde(default)]
    pub through_lesson_id: Option<LessonId>,
    /// Everything up to the end of this step, counted from 1.
    #[serde(default)]
    #[schema(minimum = 1)]
    pub through_step: Option<usize>,
    /// These lessons.
    #[serde(default)]
    pub lesson_ids: Option<Vec<LessonId>>,
    /// To whom. Unless told, those it was said of before; where nothing was carried in before, everyone in
    /// the group on the day `as_of`, or on the group's first day where it had nobody yet.
    #[serde(default)]
    pub pupil_ids: Option<Vec<PupilId>>,
    /// Who missed what, where it is known.
    #[serde(default)]
    pub missed: Vec<MissedBefore>,
}

/// What one pupil missed.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MissedBefore {
    /// The pupil.
    pub pupil_id: PupilId,
    /// Items of the lessons.
    pub item_ids: Vec<ItemId>,
}

impl CarriedInReport {
    fn extent(&self) -> Result<Extent, Problem> {
        match (self.through_lesson_id, self.through_step, &self.lesson_ids) {
            (Some(last), None, None) => Ok(Extent::Through(last)),
            (None, Some(step), None) => Ok(Extent::ThroughStep(step)),
            (None, None, Some(lessons)) => Ok(Extent::Lessons(lessons.clone())),
            _ => {
                let message = "give one of through_lesson_id, through_step and lesson_ids";
                Err(Problem::field("lesson_ids", message))
            }
        }
    }
}

/// Say what a group was taught before its records here begin
///
/// In place of what was said before. The lessons count as taught on the day `as_of`, to the pupils
/// named and marked as carried in wherever they are shown: the next lesson, words, coverage, what
/// was missed, books, practice and the report go by it. It is evidence of nothing a pupil knows. A
/// lesson recorded here cannot be carried in; one that a record teaches again stays until that
/// record is deleted. Later versions of the sequence leave it as it is. Without `pupil_ids`, who joined the
/// group after that day is not among those taught, who has moved on since is, and what was said before keeps
/// its pupils.
#[utoipa::path(
    tag = "carried in", operation_id = "save_carried_in", request_body = CarriedInReport,
    params(("id" = GroupId, Path, description = "The group"), ("If-Match" = String, Header, description = "The ETag read, which is the group's")),
    responses((status = 200, description = "As it is now; ETag", body = CarriedInBody), EditProblems)
)]
#[put("/groups/{id}/carried-in")]
pub async fn save_carried_in(
    caller: Caller,
    id: web::Path<GroupId>,
    body: Body<CarriedInReport>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let report = body.value;
    let extent = report.extent()?;
    caller
        .write("group.save_carried_in", move |tx| {
            let permit = tx.permit::<Record, _>(GroupPast(*id))?;
            same_version(tx.group_of_past(&permit)?.v, base)?;
            let before = tx.group_past(&permit)?;
            // What is put right stays with the version it was said in.
            let (version, content) = match &before {
                Some(old) => tx.version_carried(&permit, old)?,
                None => content_today(tx, &permit)?,
            };
            let members: Vec<PupilId> =
                tx.past_members(&permit)?.into_iter().map(|member| member.pupil.id).collect();
            let (then, records) = (tx.members_then(&permit, report.as_of)?, tx.records_since(&permit)?);
            let facts = CarryFacts {
                content: &content,
                members: &members,
                then: &then,
                before: before.as_ref().map(|old| &old.carried),
                records: &records,
                today: tx.today(),
            };
            let statement = Statement {
                as_of: report.as_of,
                extent: extent.clone(),
                pupils: report.pupil_ids.clone(),
                missed: report.missed.iter().map(|one| (one.pupil_id, one.item_ids.clone())).collect(),
            };
            let carried = carry_in(facts, statement).map_err(|error| refused(&error, &extent))?;
            tx.save_past(&permit, &carried, version)?;
            reply(tx, &permit)
        })
        .await
}

fn refused(error: &CarryError, extent: &Extent) -> Problem {
    let conflict = matches!(error, CarryError::Recorded(..) | CarryError::RestsOn(_));
    let code = if conflict { Code::Conflict } else { Code::Invalid };
    Problem::field(error.field(extent), error.to_string()).with_code(code)
}
