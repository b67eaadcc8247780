//! GET /check-rounds/{id}/pupils/{pupil_id}/second-marks

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::PupilChecks},
    check::Heard,
    id::{CheckId, PupilId, RoundId},
};
use serde::Deserialize;
use utoipa::IntoParams;

use super::SecondMarksBody;
use crate::{
    http::{
        caller::Caller,
        problem::{Code, Problem},
        problems::ReadProblems,
        query::Query,
        reply::Reply,
        words::{school::SchoolEngine, told::Teller},
    },
    store::{Permit, Tx},
};

/// Which check.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct CheckQuery {
    /// A check of the round.
    pub check_id: CheckId,
}

/// Get the second marks of a pupil's check
///
/// Until they are given, that somebody is asked for them and nothing else; then both marks of each item. The reading
/// is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "second marking", operation_id = "get_second_marks",
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil"), CheckQuery),
    responses((status = 200, description = "The marks", body = SecondMarksBody), ReadProblems)
)]
#[get("/check-rounds/{id}/pupils/{pupil_id}/second-marks")]
pub async fn get_second_marks(
    caller: Caller,
    path: web::Path<(RoundId, PupilId)>,
    query: Query<CheckQuery>,
) -> Result<Reply, Problem> {
    let ((round, pupil), check) = (path.into_inner(), query.check_id);
    let words = caller.words().await?;
    caller
        .read_logged("second_marking.read", move |tx| {
            let permit = tx.permit::<Read, _>(PupilChecks { round, pupil, on: None })?;
            Reply::ok(&marks(tx, &permit, &words, check)?)
        })
        .await
}

/// The marks of a pupil's check as whoever holds the permit may see them.
pub(super) fn marks<'tx, A>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, PupilChecks>,
    words: &SchoolEngine,
    check: CheckId,
) -> Result<SecondMarksBody, Problem> {
    let place = tx.second_sample(permit, check)?.ok_or_else(|| {
        Problem::saying(Code::NotFound, "nobody is asked to mark this check of this pupil a second time")
    })?;
    if place.given_at.is_none() {
        return Ok(SecondMarksBody::waiting(check, &place));
    }
    let (_, row) = tx.round_check(permit, check)?;
    let twice = tx.marked_twice(permit, check, &place)?;
    let teller = Teller::of(tx, words, permit.resource().pupil)?;
    let told = twice.second.iter().filter_map(|mark| {
        let heard = Heard::new(mark.heard.as_deref()?).ok()?;
        Some((mark.item_id, teller.tell(&row.items, mark.item_id, &heard)?))
    });
    let told = told.collect();
    Ok(SecondMarksBody::given(check, &row.items, &twice, &told))
}
