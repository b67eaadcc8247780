//! POST /groups/{id}/carried-in/answers

use std::collections::BTreeSet;

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Record, resource::GroupPast},
    check::{CarriedRow, check_rows},
    id::{GroupId, PupilId},
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{CarriedChanges, DryRunQuery, answers::CarriedAnswer, been, carry, content_today};
use crate::{
    http::{
        body::Body, caller::Caller, problem::Problem, problems::CreateProblems, query::Query, reply::Reply,
    },
    store::Tx,
};

/// What pupils of a group were checked on, on one day.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"on": "2026-12-16", "rows": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "answers": [
    {"item_id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "outcome": "right"}]}]}))]
pub struct NewCarriedAnswers {
    /// The day.
    pub on: Date,
    /// One row a pupil; who or what is left out stays as it is.
    pub rows: Vec<NewCarriedRow>,
}

/// A pupil's answers.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewCarriedRow {
    /// The pupil, in the group today.
    pub pupil_id: PupilId,
    /// The answers.
    pub answers: Vec<CarriedAnswer>,
}

/// Carry in what a group's pupils were checked on before
///
/// The whole class in one request. An answer for a pupil, a day and a GPC replaces the one carried
/// in before, which stays in the history; the same request again changes nothing. They count as the
/// school's rule for "secure" says: at most so many of its right days, by `secure_means` of the
/// report. A wrong answer counts like any other.
#[utoipa::path(
    tag = "carried in", operation_id = "save_carried_answers", request_body = NewCarriedAnswers,
    params(("id" = GroupId, Path, description = "The group"), DryRunQuery),
    responses((status = 200, description = "What it changed, or would change", body = CarriedChanges), CreateProblems)
)]
#[post("/groups/{id}/carried-in/answers")]
pub async fn save_carried_answers(
    caller: Caller,
    id: web::Path<GroupId>,
    query: Query<DryRunQuery>,
    body: Body<NewCarriedAnswers>,
) -> Result<Reply, Problem> {
    let (new, dry_run) = (body.value, query.dry_run);
    let rows: Vec<CarriedRow> = (0..)
        .zip(&new.rows)
        .map(|(place, row)| CarriedRow {
            place,
            pupil: row.pupil_id,
            answers: row.answers.iter().map(|answer| (answer.item_id, answer.outcome)).collect(),
        })
        .collect();
    let work = move |tx: &mut Tx<'_>| {
        let permit = tx.permit::<Record, _>(GroupPast(*id))?;
        been(new.on, tx.today())?;
        let (_, content) = content_today(tx, &permit)?;
        let members: BTreeSet<PupilId> =
            tx.past_members(&permit)?.into_iter().map(|member| member.pupil.id).collect();
        check_rows(&rows, &content, &members)?;
        carry(tx, &permit, new.on, &rows, dry_run)
    };
    if dry_run {
        return caller.read_logged("group.preview_carried_answers", work).await;
    }
    caller.write("group.save_carried_answers", work).await
}
