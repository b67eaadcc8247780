//! POST /check-rounds/{id}/second-markings

use actix_web::{post, web};
use plumbline_core::{
    access::{
        act::{Manage, Read, Record},
        resource::{Checks, PupilChecks, Round},
    },
    check::second::{Size, draw},
    id::{CheckId, RoundId, StaffId},
    time::Span,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::SecondMarkingBody;
use crate::{
    http::{
        able::able,
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::{Error, Tx},
};

/// A sample to draw.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "check_id": "0199f2c4-0000-7000-8000-00000000000e", "percent": 10, "seed": 11,
    "staff_ids": ["0199f2c4-0000-7000-8000-000000000003"]
}))]
pub struct NewSecondMarking {
    /// A check of the round.
    pub check_id: CheckId,
    /// So many pupils; or give `percent`.
    #[serde(default)]
    pub pupils: Option<usize>,
    /// This part of the pupils, in per cent, 1 to 100, rounded up; or give `pupils`.
    #[serde(default)]
    pub percent: Option<u8>,
    /// Any number: the same gives the same sample of the same pupils and adults.
    pub seed: u32,
    /// 1 to 20 adults who mark a second time. Each is given pupils whose checks they may record and whom they did
    /// not ask or begin to ask first.
    pub staff_ids: Vec<StaffId>,
}

/// Ask for second marking of a sample
///
/// Draws pupils whom the round asks, who are not exempt and to whom the check is accessible, whether they were asked
/// already or not: a second adult can sit beside. Each is given an adult, and until that adult's marks are given nothing of the first ones is
/// told to them. One sample of a check and round.
#[utoipa::path(
    tag = "second marking", operation_id = "ask_second_marking", request_body = NewSecondMarking,
    params(("id" = RoundId, Path, description = "The round"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Drawn", body = SecondMarkingBody), CreateProblems)
)]
#[post("/check-rounds/{id}/second-markings")]
pub async fn ask_second_marking(
    caller: Caller,
    id: web::Path<RoundId>,
    body: Body<NewSecondMarking>,
) -> Result<Reply, Problem> {
    let (id, new) = (*id, body.value);
    caller
        .create_of_pupils(
            "second_marking.ask",
            body.hash,
            move |tx| {
                let permit = tx.permit::<Manage, _>(Round(id))?;
                let size = size(&new, tx.rules()?.marking.second.pupils_most)?;
                let round = tx.round(&permit)?;
                let checks = tx.permit::<Read, _>(Checks)?;
                let check = tx.checks(&checks)?.into_iter().find(|check| check.id == new.check_id);
                let Some(check) = check.filter(|check| round.checks.contains(&check.id)) else {
                    return Err(Problem::field("check_id", "is not a check of this round"));
                };
                let today = tx.today();
                let named = new.staff_ids.iter().enumerate();
                let day = Span { from: today, until: Some(today) };
                let named = named.map(|(n, adult)| (format!("staff_ids[{n}]"), *adult, day));
                able::<Record, PupilChecks, _, _>(tx, &permit, named)?;
                let candidates =
                    tx.second_candidates(&permit, &check, &new.staff_ids).map_err(|error| match error {
                        Error::Missing => Problem::field("staff_ids", "one of them does not work here"),
                        other => other.into(),
                    })?;
                let drawn_from = candidates.iter().filter(|one| !one.adults.is_empty()).count();
                let most = tx.rules()?.marking.second.pupils_most;
                let drawn = draw(candidates, size, new.seed.into());
                if drawn.pupils.is_empty() {
                    let message = "none of them may mark a pupil of this round a second time: name others";
                    return Err(Problem::field("staff_ids", message));
                }
                if drawn.pupils.len() > most {
                    return Err(Problem::field("percent", format!("comes to more than {most} pupils")));
                }
                let row = tx.add_second_marking(&permit, check.id, new.seed, drawn_from, &drawn).map_err(
                    |error| match error {
                        Error::Conflict => {
                            Problem::saying(Code::Conflict, "this check of the round has a sample already")
                        }
                        other => other.into(),
                    },
                )?;
                asked(tx, id, |body| body.id == row.id)
            },
            move |tx, reply| {
                let made = reply.made()?;
                asked(tx, id, |body| body.id == made)
            },
        )
        .await
}

/// The one way in which the size is given.
fn size(new: &NewSecondMarking, most: usize) -> Result<Size, Problem> {
    if !(1..=20).contains(&new.staff_ids.len()) {
        return Err(Problem::field("staff_ids", "name 1 to 20 adults"));
    }
    match (new.pupils, new.percent) {
        (Some(pupils), None) if (1..=most).contains(&pupils) => Ok(Size::Pupils(pupils)),
        (Some(_), None) => Err(Problem::field("pupils", format!("must be 1 to {most}"))),
        (None, Some(percent)) if (1..=100).contains(&percent) => Ok(Size::Percent(percent)),
        (None, Some(_)) => Err(Problem::field("percent", "must be 1 to 100")),
        _ => Err(Problem::field("pupils", "give either pupils or percent")),
    }
}

fn asked(tx: &mut Tx<'_>, round: RoundId, is: impl Fn(&SecondMarkingBody) -> bool) -> Result<Reply, Problem> {
    let permit = tx.permit::<Read, _>(Round(round))?;
    let all = tx.second_markings(&permit)?.into_iter();
    let body = all.map(|(row, sample)| SecondMarkingBody::new(row, sample)).find(is);
    Reply::created(format!("/api/v1/check-rounds/{round}/second-markings"), &body.ok_or(Error::Missing)?)
}
