//! GET /pupils/{id}/attainment

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::PupilLearning},
    attainment::{Apart, Estimator, Fitted, ItemStanding, SecureBasis, Standing, State},
    id::{ItemId, PupilId},
    rules::AttainmentRule,
    sequence::Item,
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::{EstimateBasis, estimated_percent, standings_of};
use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply},
    store::AttainmentFacts,
};

/// Answers of one way of answering, by themselves.
#[derive(Serialize, ToSchema)]
pub struct ModeApart {
    /// How often it was asked.
    pub asked: usize,
    /// How often it was right.
    pub right: usize,
    /// The last day on which it was.
    pub last_asked_on: Option<Date>,
    /// What the rule makes of these answers alone.
    pub state: State,
}

impl From<Apart> for ModeApart {
    fn from(one: Apart) -> Self {
        Self {
            asked: one.asked,
            right: one.right,
            last_asked_on: one.progress.last_asked,
            state: one.progress.state,
        }
    }
}

/// One GPC of one pupil.
#[derive(Serialize, ToSchema)]
pub struct PupilItem {
    /// The GPC.
    pub item_id: ItemId,
    /// As shown.
    pub label: String,
    /// How it stands.
    pub standing: Standing,
    /// The state by the rule, whatever was missed.
    pub state: State,
    /// Days on which it was right that count.
    pub days_right: usize,
    /// Days on which it must still be answered right, if all goes well.
    pub days_needed: usize,
    /// The first day on which one of these can be late enough after teaching; none where none has to be.
    pub late_from: Option<Date>,
    /// Whether every answer was right, and there is one.
    pub always_right: bool,
    /// The first day it was taught to the pupil.
    pub taught_on: Option<Date>,
    /// Whether that is the day as of which it was carried in.
    pub carried_in: bool,
    /// The last day it was taught to the pupil.
    pub last_taught_on: Option<Date>,
    /// The last day it was taught without the pupil, while still missed.
    pub missed_on: Option<Date>,
    /// The last day it was asked.
    pub last_asked_on: Option<Date>,
    /// How likely the pupil knows it, in per cent: an estimate. None where nothing was taught and nothing asked.
    pub estimated_percent: Option<u8>,
    /// Answers that were said, signed, written or given by a communication aid.
    pub answered: Option<ModeApart>,
    /// Answers chosen among several shown.
    pub chosen: Option<ModeApart>,
}

impl PupilItem {
    fn new(item: &Item, one: &ItemStanding) -> Self {
        Self {
            item_id: item.id,
            label: item.label.to_string(),
            standing: one.standing,
            state: one.progress.state,
            days_right: one.progress.days_right,
            days_needed: one.progress.days_needed,
            late_from: one.progress.late_from,
            always_right: one.progress.always_right,
            taught_on: one.taught.taught_on,
            carried_in: one.taught.carried_in,
            last_taught_on: one.last_taught,
            missed_on: one.taught.missed_on,
            last_asked_on: one.progress.last_asked,
            estimated_percent: estimated_percent(one),
            answered: one.answered.map(ModeApart::from),
            chosen: one.chosen.map(ModeApart::from),
        }
    }
}

/// How many GPCs stand in which way.
#[derive(Serialize, ToSchema)]
pub struct StandingCounts {
    /// Secure.
    pub secure: usize,
    /// To revisit.
    pub revisit: usize,
    /// Missed.
    pub missed: usize,
    /// Checked, and not yet secure.
    pub not_yet_secure: usize,
    /// Taught, and no check tells.
    pub not_asked: usize,
    /// Nothing is known of it.
    pub unknown: usize,
}

impl StandingCounts {
    fn of<'a>(all: impl Iterator<Item = &'a ItemStanding> + Clone) -> Self {
        let count = |standing| all.clone().filter(|one| one.standing == standing).count();
        Self {
            secure: count(Standing::Secure),
            revisit: count(Standing::Revisit),
            missed: count(Standing::Missed),
            not_yet_secure: count(Standing::NotYetSecure),
            not_asked: count(Standing::NotAsked),
            unknown: count(Standing::Unknown),
        }
    }
}

/// What one pupil knows of what was taught.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "pupil_id": "0199f2c4-0000-7000-8000-000000000007", "on": "2026-11-25",
    "secure_means": {"right_on_days": 3, "days_after_teaching": 7, "carried_in_days": 1},
    "caution": "There is no validated threshold for a single correspondence.",
    "estimate": {"fitted": false, "answers": 120, "pupils": 24, "caution": "An estimate, for planning what to ask and to teach."},
    "counts": {"secure": 0, "revisit": 0, "missed": 0, "not_yet_secure": 1, "not_asked": 0, "unknown": 0},
    "items": [{"item_id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "label": "igh /aɪ/", "standing": "not_yet_secure",
               "state": "practising", "days_right": 2, "days_needed": 1, "late_from": "2026-11-17", "always_right": true,
               "taught_on": "2026-11-10", "carried_in": false, "last_taught_on": "2026-11-10", "missed_on": null,
               "last_asked_on": "2026-11-13", "estimated_percent": 93,
               "answered": {"asked": 2, "right": 2, "last_asked_on": "2026-11-13", "state": "practising"}, "chosen": null}]
}))]
pub struct PupilAttainment {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The day.
    pub on: Date,
    /// What "secure" means here.
    pub secure_means: SecureBasis,
    /// To be shown with it.
    pub caution: &'static str,
    /// Where the values of the estimate are from.
    pub estimate: EstimateBasis,
    /// How many items stand in which way.
    pub counts: StandingCounts,
    /// The GPCs taught to the pupil's groups so far, and what else the pupil was taught or asked, in teaching order.
    pub items: Vec<PupilItem>,
}

/// What a pupil knows of what was taught
///
/// Each GPC by the school's rule for secure, with why, and how many right days are still needed. Beside it stands an
/// estimate of how likely the pupil knows it, which changes no state. Answers chosen among several shown stand apart
/// too. The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "attainment", operation_id = "get_pupil_attainment", params(("id" = PupilId, Path, description = "The pupil")),
    responses((status = 200, description = "Attainment", body = PupilAttainment), ReadProblems)
)]
#[get("/pupils/{id}/attainment")]
pub async fn get_pupil_attainment(caller: Caller, id: web::Path<PupilId>) -> Result<Reply, Problem> {
    let pupil = *id;
    let (facts, rule, on, there) = caller
        .read_logged("pupil.read_attainment", move |tx| {
            let permit = tx.permit::<Read, _>(PupilLearning(pupil))?;
            let facts = tx.pupil_attainment(&permit)?;
            Ok((facts, &tx.rules()?.attainment, tx.today(), tx.answers_there(&permit)?))
        })
        .await?;
    let fitted = caller.estimate_values(PupilLearning(pupil), &rule.estimate, there).await?;
    caller.compute(move || Reply::ok(&shown(pupil, &facts, rule, &fitted, on))).await
}

fn shown(
    pupil_id: PupilId,
    facts: &AttainmentFacts,
    rule: &'static AttainmentRule,
    fitted: &Fitted,
    on: Date,
) -> PupilAttainment {
    let estimator = Estimator::new(fitted.parameters);
    let theirs = standings_of(facts, rule, &estimator, on).remove(&pupil_id).unwrap_or_default();
    let items = facts.items.iter().filter_map(|item| Some(PupilItem::new(item, theirs.get(&item.id)?)));
    PupilAttainment {
        pupil_id,
        on,
        secure_means: (&rule.secure).into(),
        caution: &rule.caution,
        estimate: EstimateBasis::new(fitted, rule),
        counts: StandingCounts::of(theirs.values()),
        items: items.collect(),
    }
}
