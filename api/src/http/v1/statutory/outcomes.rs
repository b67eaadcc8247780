//! GET /statutory-windows/{id}/outcomes

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::Read,
        resource::{StatutoryFigures, StatutoryWindow},
    },
    id::{PupilId, StatutoryWindowId},
    rules::RulePack,
    statutory::Outcome,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::{StatutoryWindowBody, named};
use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply, v1::pupils::PupilLine},
    store::{StatutoryPupil, StatutoryView},
};

/// What a pupil's result comes to.
#[derive(Serialize, ToSchema)]
pub struct StatutoryOutcomeLine {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// What tells namesakes apart.
    pub apart: Option<String>,
    /// The class.
    pub class: Option<String>,
    /// Code of the year group taught.
    pub year_group: Option<String>,
    /// The mark.
    pub mark: Option<i16>,
    /// The code in its place.
    pub code: Option<String>,
    /// What the mark comes to; a code comes to nothing.
    pub outcome: Option<Outcome>,
    /// The code that stands for the outcome in files.
    pub derived_code: Option<String>,
    /// Why the check was not taken, by its code; for the lead and the head only.
    pub reason: Option<String>,
}

/// What the results of a window come to.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "window": {"id": "0199f2c4-0000-7000-8000-000000000041", "year": 2026, "term": "summer", "term_name": "Summer term",
        "opens_on": "2026-06-08", "closes_on": "2026-06-12", "absentees_until": "2026-06-19", "year_groups": [],
        "submitted_by": null, "submitted_at": null},
    "threshold": 31, "items": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null,
        "class": "Alder", "year_group": "year_1", "mark": 31, "code": null, "outcome": "met", "derived_code": "Wa",
        "reason": null}],
    "note": null
}))]
pub struct StatutoryOutcomes {
    /// The window.
    pub window: StatutoryWindowBody,
    /// What had to be reached; null while it is not known.
    pub threshold: Option<u8>,
    /// Pupils with a result, by year group, class and name.
    pub items: Vec<StatutoryOutcomeLine>,
    /// Why nobody is listed, where that is so.
    pub note: Option<String>,
}

/// What the results of a window come to
///
/// Worked out when asked, and kept nowhere. Of everybody for the lead and the head; of her own pupils for a class
/// teacher, once the results are submitted and the threshold is known: who may enter marks sees neither before.
#[utoipa::path(
    tag = "statutory check", operation_id = "list_statutory_outcomes",
    params(("id" = StatutoryWindowId, Path, description = "The window")),
    responses((status = 200, description = "The outcomes", body = StatutoryOutcomes), ReadProblems)
)]
#[get("/statutory-windows/{id}/outcomes")]
pub async fn list_statutory_outcomes(
    caller: Caller,
    id: web::Path<StatutoryWindowId>,
) -> Result<Reply, Problem> {
    caller
        .read_logged("statutory_window.read_outcomes", move |tx| {
            let permit = tx.permit::<Read, _>(StatutoryWindow(*id))?;
            let whole = tx.permit_if_allowed::<Read, _>(StatutoryFigures)?.is_some();
            let (StatutoryView { window, mut pupils }, rules) = (tx.statutory_view(&permit)?, tx.rules()?);
            let threshold = tx.threshold_of(&permit, &window)?;
            // Who may still enter marks is not to know what they come to.
            let submitted = window.submitted_at.is_some();
            let threshold = threshold.filter(|_| whole || submitted);
            let shown = threshold.is_some() || whole;
            pupils.retain(|pupil| shown && pupil.result.is_some());
            let lines = named(pupils).into_iter();
            let lines = lines.map(|(line, pupil)| outcome(line, pupil, threshold, whole, rules));
            let early = match submitted {
                true => "What has to be reached is not published yet. You see your class's results once it is.",
                false => {
                    "The results of this window are not submitted yet. You see your class's results once they are."
                }
            };
            Reply::ok(&StatutoryOutcomes {
                window: StatutoryWindowBody::new(&window, rules)?,
                threshold,
                items: lines.collect::<Result<_, _>>()?,
                note: (!shown).then(|| early.to_owned()),
            })
        })
        .await
}

fn outcome(
    line: PupilLine,
    pupil: StatutoryPupil,
    threshold: Option<u8>,
    whole: bool,
    rules: &RulePack,
) -> Result<StatutoryOutcomeLine, Problem> {
    let result = pupil.result.as_ref().map(|row| row.result()).transpose()?.flatten();
    let outcome = result.as_ref().and_then(|result| result.outcome(threshold));
    let derived = outcome.and_then(|outcome| rules.statutory_check.derived(outcome));
    let (mark, code, reason) = match pupil.result {
        Some(row) => (row.mark, row.code, row.reason.filter(|_| whole)),
        None => (None, None, None),
    };
    Ok(StatutoryOutcomeLine {
        pupil_id: line.id,
        name: line.name,
        apart: line.apart,
        class: pupil.class,
        year_group: pupil.year_group,
        mark,
        code,
        outcome,
        derived_code: derived.map(|one| one.code.clone()),
        reason,
    })
}
