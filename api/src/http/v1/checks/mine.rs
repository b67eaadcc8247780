//! GET /my-checks

use actix_web::get;
use plumbline_core::{
    access::{
        act::Read,
        resource::{Checks, Round},
    },
    check::Standing,
    id::{PupilId, RoundId},
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::list_round::{ListedCheck, listed};
use crate::http::{
    caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply, v1::pupils::lines,
};

/// A pupil one is to check in a round that is open.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "round_id": "0199f2c4-0000-7000-8000-000000000010", "round": "Autumn 1", "closes_on": "2026-10-23",
    "pupil_id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null,
    "checks": [{"check_id": "0199f2c4-0000-7000-8000-00000000000e", "standing": "left_to_do", "sitting": null, "exemption": null}]
}))]
pub struct MyCheck {
    /// The round.
    pub round_id: RoundId,
    /// Its name.
    pub round: String,
    /// Its last day.
    pub closes_on: Date,
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// What tells it apart from the same name in the round.
    pub apart: Option<String>,
    /// The checks that are left, under way, or wait for the pupil to be back.
    pub checks: Vec<ListedCheck>,
}

/// What is mine to check?
///
/// Pupils of the rounds open today whom one was named to check and may see, the round that closes first before
/// the others. What is done, exempt or not accessible is left out.
#[utoipa::path(
    tag = "checks", operation_id = "list_my_checks",
    responses((status = 200, description = "By round and name", body = Page<MyCheck>), ReadProblems)
)]
#[get("/my-checks")]
pub async fn list_my_checks(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(Checks)?;
            let (me, today) = (tx.actor().staff, tx.today());
            let mut mine = Vec::new();
            for round in tx.open_rounds(&permit)? {
                if !round.plan.checkers.iter().any(|one| one.staff_id == me) {
                    continue;
                }
                let permit = tx.permit::<Read, _>(Round(round.id))?;
                let rows = tx.round_list(&permit)?.lines;
                let shown = lines(rows.iter().map(|row| (row.pupil.clone(), row.class.clone())).collect());
                for (line, row) in shown.into_iter().zip(rows) {
                    let left = |standing| {
                        matches!(standing, Standing::LeftToDo | Standing::UnderWay | Standing::AbsentToday)
                    };
                    let checks: Vec<ListedCheck> = row
                        .checks
                        .iter()
                        .filter(|one| left(one.standing))
                        .map(|one| listed(one, today))
                        .collect();
                    if row.checkers.contains(&me) && !checks.is_empty() {
                        let (name, apart) = (line.name, line.apart);
                        mine.push(MyCheck {
                            round_id: round.id,
                            round: round.name.clone(),
                            closes_on: round.closes_on,
                            pupil_id: line.id,
                            name,
                            apart,
                            checks,
                        });
                    }
                }
            }
            Reply::ok(&Page::whole(mine))
        })
        .await
}
