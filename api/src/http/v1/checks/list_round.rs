//! GET /check-rounds/{id}/list

use std::collections::BTreeMap;

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Round},
    check::Standing,
    id::{CheckId, ExemptionId, PupilId, RoundId, SittingId, StaffId},
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply, v1::pupils::lines},
    store::{ListCheck, RoundList},
};

/// A round as it stands: who is left, with whom somebody is at work, who is done.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "round_id": "0199f2c4-0000-7000-8000-000000000010", "on": "2026-10-14",
    "pupils": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null,
        "checkers": ["0199f2c4-0000-7000-8000-000000000002"],
        "checks": [{"check_id": "0199f2c4-0000-7000-8000-00000000000e", "standing": "left_to_do", "sitting": null, "exemption": null}]}],
    "counts": [{"check_id": "0199f2c4-0000-7000-8000-00000000000e", "left_to_do": 1, "under_way": 0, "done": 0,
        "absent_today": 0, "exempt": 0, "not_accessible": 0}],
    "adults": [{"staff_id": "0199f2c4-0000-7000-8000-000000000002", "name": "Amara Osei"}]
}))]
pub struct RoundListBody {
    /// The round.
    pub round_id: RoundId,
    /// The day it is said of: today.
    pub on: Date,
    /// Pupils by name.
    pub pupils: Vec<ListedPupil>,
    /// How many of these pupils are how far, by check.
    pub counts: Vec<CheckCounts>,
    /// Names of the adults that are named.
    pub adults: Vec<ListedAdult>,
}

/// One pupil of a round.
#[derive(Serialize, ToSchema)]
pub struct ListedPupil {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// What tells it apart from the same name in this list.
    pub apart: Option<String>,
    /// Who is to check the pupil; empty where nobody was named.
    pub checkers: Vec<StaffId>,
    /// Each check of the round.
    pub checks: Vec<ListedCheck>,
}

/// How far a pupil is with one check.
#[derive(Serialize, ToSchema)]
pub struct ListedCheck {
    /// The check.
    pub check_id: CheckId,
    /// How far.
    pub standing: Standing,
    /// The sitting that goes on.
    pub sitting: Option<ListedSitting>,
    /// What exempts the pupil.
    pub exemption: Option<ListedExemption>,
}

/// A sitting that goes on.
#[derive(Serialize, ToSchema)]
pub struct ListedSitting {
    /// Its id.
    pub id: SittingId,
    /// Who has it.
    pub held_by: StaffId,
    /// Since when it is paused; null while it is not.
    pub paused_at: Option<Instant>,
}

/// What exempts a pupil.
#[derive(Serialize, ToSchema)]
pub struct ListedExemption {
    /// Its id.
    pub id: ExemptionId,
    /// Why: a code of the rule pack.
    pub reason: String,
    /// When to look at it again.
    pub review_on: Date,
    /// Whether that day has come.
    pub review_due: bool,
}

/// Pupils by how far they are with a check.
#[derive(Serialize, ToSchema)]
pub struct CheckCounts {
    /// The check.
    pub check_id: CheckId,
    /// Nothing was asked yet.
    pub left_to_do: usize,
    /// Somebody has begun.
    pub under_way: usize,
    /// Every item was answered or left out.
    pub done: usize,
    /// Marked absent today.
    pub absent_today: usize,
    /// Not to be asked.
    pub exempt: usize,
    /// Cannot be asked in this way.
    pub not_accessible: usize,
}

/// An adult of the list.
#[derive(Serialize, ToSchema)]
pub struct ListedAdult {
    /// The adult.
    pub staff_id: StaffId,
    /// The adult's name.
    pub name: String,
}

/// Who is left, under way, done, absent or exempt in a round?
///
/// The round's pupils whom one may see, check by check. No marks, and no totals of right answers. Ask again with
/// `If-None-Match`: as long as nothing has changed the answer is 304 without a body.
#[utoipa::path(
    tag = "checks", operation_id = "get_round_list",
    params(("id" = RoundId, Path, description = "The round"),
           ("If-None-Match" = Option<String>, Header, description = "The ETag of the list one has")),
    responses((status = 200, description = "As it stands; ETag", body = RoundListBody),
              (status = 304, description = "As it was"), ReadProblems)
)]
#[get("/check-rounds/{id}/list")]
pub async fn get_round_list(caller: Caller, id: web::Path<RoundId>) -> Result<Reply, Problem> {
    let has = caller.has();
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Round(*id))?;
            // Another adult sees other pupils, and another day other absences.
            let etag = format!("\"v{}.{}.{}\"", tx.version(), tx.today(), tx.actor().staff);
            if has(&etag) {
                return Ok(Reply::unchanged(etag));
            }
            let (list, today) = (tx.round_list(&permit)?, tx.today());
            Ok(Reply::ok(&body(&list, today))?.tagged(etag))
        })
        .await
}

fn body(list: &RoundList, today: Date) -> RoundListBody {
    let shown = lines(list.lines.iter().map(|line| (line.pupil.clone(), line.class.clone())).collect());
    let pupils = shown.into_iter().zip(&list.lines).map(|(shown, line)| ListedPupil {
        pupil_id: shown.id,
        name: shown.name,
        apart: shown.apart,
        checkers: line.checkers.iter().copied().collect(),
        checks: line.checks.iter().map(|one| listed(one, today)).collect(),
    });
    let mut counted: BTreeMap<(CheckId, Standing), usize> = BTreeMap::new();
    for one in list.lines.iter().flat_map(|line| &line.checks) {
        *counted.entry((one.check, one.standing)).or_default() += 1;
    }
    let counts = list.checks.iter().map(|check| {
        let of = |standing| counted.get(&(check.id, standing)).copied().unwrap_or(0);
        CheckCounts {
            check_id: check.id,
            left_to_do: of(Standing::LeftToDo),
            under_way: of(Standing::UnderWay),
            done: of(Standing::Done),
            absent_today: of(Standing::AbsentToday),
            exempt: of(Standing::Exempt),
            not_accessible: of(Standing::NotAccessible),
        }
    });
    let adults =
        list.adults.iter().map(|(staff_id, name)| ListedAdult { staff_id: *staff_id, name: name.clone() });
    RoundListBody {
        round_id: list.round.id,
        on: today,
        pupils: pupils.collect(),
        counts: counts.collect(),
        adults: adults.collect(),
    }
}

/// How far a pupil is with one check, as shown.
pub fn listed(one: &ListCheck, today: Date) -> ListedCheck {
    ListedCheck {
        check_id: one.check,
        standing: one.standing,
        sitting: one.sitting.as_ref().map(|sitting| ListedSitting {
            id: sitting.id,
            held_by: sitting.holder,
            paused_at: sitting.paused_at,
        }),
        exemption: one.exemption.as_ref().map(|row| ListedExemption {
            id: row.id,
            reason: row.reason.clone(),
            review_on: row.review_on,
            review_due: row.review_on <= today,
        }),
    }
}
