//! What pupils know, as far as checks tell: by the rule, with the estimate beside it, and what to ask next.

pub mod class;
pub mod group;
pub mod group_next;
pub mod pupil;
pub mod pupil_next;
pub mod re_check;
pub mod retention;

use std::collections::BTreeMap;

use plumbline_core::{
    attainment::{
        Candidate, Estimator, Fitted, ItemGaps, ItemStanding, Next, SecureBasis, Standing, gaps, next_items,
        standings,
    },
    id::{ItemId, PupilId},
    rules::{AttainmentRule, RulePack},
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::pupils::lines;
use crate::{http::problem::Problem, store::AttainmentFacts};

/// Where the values of the estimate are from.
#[derive(Clone, Serialize, ToSchema)]
pub struct EstimateBasis {
    /// Whether they were fitted to the school's own answers of the days before. Otherwise they are the rule pack's.
    pub fitted: bool,
    /// How many answers they were fitted to, or how many there are, too few for it.
    pub answers: usize,
    /// How many pupils gave them.
    pub pupils: usize,
    /// To be shown with an estimate.
    pub caution: &'static str,
}

impl EstimateBasis {
    /// Of values fitted, or not.
    pub fn new(fitted: &Fitted, rule: &'static AttainmentRule) -> Self {
        let Fitted { fitted, answers, pupils, .. } = *fitted;
        Self { fitted, answers, pupils, caution: &rule.estimate.caution }
    }
}

/// How likely an item is known, in per cent. Nothing is certain, and an estimate least of all.
pub fn estimated_percent(one: &ItemStanding) -> Option<u8> {
    one.known.map(|known| (known * 100.0).round().clamp(1.0, 99.0) as u8)
}

/// A pupil's items.
pub type Standings = BTreeMap<PupilId, BTreeMap<ItemId, ItemStanding>>;

/// How the items stand with each pupil that concern the pupil.
pub fn standings_of(
    facts: &AttainmentFacts,
    rule: &AttainmentRule,
    estimator: &Estimator,
    on: Date,
) -> Standings {
    let of = |(pupil, items): (&PupilId, &std::collections::BTreeSet<ItemId>)| {
        let records = facts.learning.get(pupil)?;
        Some((*pupil, standings(records, items, &rule.secure, estimator, on)))
    };
    facts.concern.iter().filter_map(of).collect()
}

/// One GPC over the pupils of a group or class.
#[derive(Serialize, ToSchema)]
pub struct ItemAttainment {
    /// The GPC.
    pub item_id: ItemId,
    /// As shown.
    pub label: String,
    /// Pupils it was taught to.
    pub taught: usize,
    /// Pupils with whom it is secure.
    pub secure: usize,
    /// Pupils who were checked on it, with whom it is not yet secure.
    pub not_yet_secure: usize,
    /// Of these, those who were right every time: on too few days, or too soon after teaching.
    pub right_so_far: usize,
    /// Pupils with whom it was secure, and whose latest answer was not right.
    pub revisit: usize,
    /// Pupils who missed it, with whom it is not secure.
    pub missed: usize,
    /// Pupils it was taught to whom no check has asked it.
    pub not_asked: usize,
    /// Pupils of whom nothing is known: neither taught to them nor missed nor asked.
    pub unknown: usize,
    /// Secure among the secure, the not yet secure and those to revisit, in per cent; none where there are none.
    pub secure_percent: Option<u8>,
}

/// A pupil with gaps.
#[derive(Serialize, ToSchema)]
pub struct PupilGaps {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// What tells it apart from the same name in this list.
    pub apart: Option<String>,
    /// Was secure, and the latest answer was not right.
    pub revisit: Vec<ItemId>,
    /// Missed, and not secure.
    pub missed: Vec<ItemId>,
    /// Checked, not yet secure, and not right every time.
    pub not_yet_secure: Vec<ItemId>,
}

/// What the pupils of a group or class know of what they were taught.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "on": "2026-11-25", "pupils": 24, "read_with_care": false,
    "secure_means": {"right_on_days": 3, "days_after_teaching": 7, "carried_in_days": 1},
    "caution": "There is no validated threshold for a single correspondence.",
    "items": [{"item_id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "label": "igh /aɪ/", "taught": 23, "secure": 12,
               "not_yet_secure": 6, "right_so_far": 4, "revisit": 1, "missed": 1, "not_asked": 4, "unknown": 0, "secure_percent": 63}],
    "gaps": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null,
              "revisit": [], "missed": ["c090554b-55fd-56e2-92da-2bfe29aa5983"], "not_yet_secure": []}]
}))]
pub struct Attainment {
    /// The day.
    pub on: Date,
    /// Pupils that day.
    pub pupils: usize,
    /// So few pupils that one of them moves the percentages: read with care.
    pub read_with_care: bool,
    /// What "secure" means here.
    pub secure_means: SecureBasis,
    /// To be shown with it.
    pub caution: &'static str,
    /// The GPCs taught to them or their groups so far, in teaching order.
    pub items: Vec<ItemAttainment>,
    /// Pupils with gaps, by name.
    pub gaps: Vec<PupilGaps>,
}

/// Counts what some pupils know. Nothing is estimated in it.
fn attainment(facts: AttainmentFacts, rules: &'static RulePack, on: Date) -> Attainment {
    let rule = &rules.attainment;
    let estimator = Estimator::new(Fitted::pack(&rule.estimate, 0, 0).parameters);
    let standings = standings_of(&facts, rule, &estimator, on);
    let order: Vec<ItemId> = facts.items.iter().map(|item| item.id).collect();
    let counted = gaps(&order, &standings);
    let pupils = facts.pupils.len();
    let of_pupil = |id: PupilId, which: Standing| {
        let has = |one: &&ItemGaps| one.pupils.contains(&(id, which));
        counted.iter().filter(has).map(|one| one.item_id).collect::<Vec<_>>()
    };
    let shown = lines(facts.pupils).into_iter().map(|line| PupilGaps {
        pupil_id: line.id,
        name: line.name,
        apart: line.apart,
        revisit: of_pupil(line.id, Standing::Revisit),
        missed: of_pupil(line.id, Standing::Missed),
        not_yet_secure: of_pupil(line.id, Standing::NotYetSecure),
    });
    let has_gap = |one: &PupilGaps| {
        [&one.revisit, &one.missed, &one.not_yet_secure].into_iter().any(|items| !items.is_empty())
    };
    let gaps = shown.filter(has_gap).collect();
    let items = facts.items.iter().zip(&counted).map(|(item, one)| ItemAttainment {
        item_id: item.id,
        label: item.label.to_string(),
        taught: one.taught,
        secure: one.secure,
        not_yet_secure: one.not_yet_secure,
        right_so_far: one.right_so_far,
        revisit: one.revisit,
        missed: one.missed,
        not_asked: one.not_asked,
        unknown: one.unknown,
        secure_percent: one.secure_percent,
    });
    Attainment {
        on,
        pupils,
        read_with_care: (pupils as u64) < rules.read_with_care_below,
        secure_means: (&rule.secure).into(),
        caution: &rule.caution,
        items: items.collect(),
        gaps,
    }
}

/// How much there is time for.
#[derive(Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct NextQuery {
    /// Minutes there are, 1 to 60; the rule pack's number unless told.
    #[param(minimum = 1, maximum = 60)]
    pub minutes: Option<u16>,
    /// Whether what a pupil's group was taught and the pupil was not may be asked too; not, unless told.
    pub untaught: Option<bool>,
}

impl NextQuery {
    fn check(self) -> Result<Self, Problem> {
        match self.minutes {
            Some(minutes) if !(1..=60).contains(&minutes) => {
                Err(Problem::field("minutes", "must be 1 to 60"))
            }
            _ => Ok(self),
        }
    }
}

/// An item to ask.
#[derive(Serialize, ToSchema)]
pub struct ItemToAsk {
    /// The GPC.
    pub item_id: ItemId,
    /// As shown.
    pub label: String,
    /// Whom to ask it.
    pub pupil_ids: Vec<PupilId>,
    /// Of these, those with whom it was secure and whose latest answer was not right.
    pub revisit: usize,
    /// Of the others, those who were taught it before the latest holiday and not asked since.
    pub not_asked_since_holiday: usize,
    /// How much more certain the answers make on the average, all these pupils together, in bits: an estimate.
    pub estimated_gain: f64,
}

/// What to ask next.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "on": "2026-11-25", "minutes": 3, "items_fit": 22, "back_on": "2026-11-02",
    "estimate": {"fitted": false, "answers": 120, "pupils": 24, "caution": "An estimate, for planning what to ask and to teach."},
    "caution": "A starting point. The adult who knows the pupil stops earlier, or goes on.",
    "items": [{"item_id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "label": "igh /aɪ/",
               "pupil_ids": ["0199f2c4-0000-7000-8000-000000000007"], "revisit": 0, "not_asked_since_holiday": 1, "estimated_gain": 0.48}]
}))]
pub struct NextItems {
    /// The day.
    pub on: Date,
    /// Minutes there are.
    pub minutes: u16,
    /// How many items fit into them, by the rule pack's seconds for each.
    pub items_fit: usize,
    /// The first day taught after the latest holiday.
    pub back_on: Option<Date>,
    /// Where the values of the estimate are from.
    pub estimate: EstimateBasis,
    /// To be shown with it.
    pub caution: &'static str,
    /// The items, worth most first: those to revisit, those not asked since the holiday, those that an answer
    /// tells most about.
    pub items: Vec<ItemToAsk>,
}

/// What there is to ask each pupil.
fn candidates(
    facts: &AttainmentFacts,
    rule: &AttainmentRule,
    fitted: &Fitted,
    (on, back_on): (Date, Option<Date>),
) -> BTreeMap<PupilId, BTreeMap<ItemId, Candidate>> {
    let estimator = Estimator::new(fitted.parameters);
    let of_pupil = |(pupil, items): (PupilId, BTreeMap<ItemId, ItemStanding>)| {
        let candidate = |one: &ItemStanding| {
            Some((one.item_id, Candidate::of(one, on, back_on, estimator.parameters())?))
        };
        (pupil, items.values().filter_map(candidate).collect())
    };
    standings_of(facts, rule, &estimator, on).into_iter().map(of_pupil).collect()
}

/// Chooses what to ask some pupils.
fn chosen(
    facts: &AttainmentFacts,
    rule: &'static AttainmentRule,
    fitted: &Fitted,
    query: NextQuery,
    days: (Date, Option<Date>),
) -> NextItems {
    let minutes = query.minutes.unwrap_or(rule.asking.minutes);
    let fit = rule.asking.items_in(minutes);
    let order: Vec<ItemId> = facts.items.iter().map(|item| item.id).collect();
    let asked = candidates(facts, rule, fitted, days);
    let line = |next: Next| {
        let item = facts.items.iter().find(|item| item.id == next.item_id)?;
        Some(ItemToAsk {
            item_id: item.id,
            label: item.label.to_string(),
            pupil_ids: next.pupils,
            revisit: next.revisit,
            not_asked_since_holiday: next.due,
            estimated_gain: (next.gain * 100.0).round() / 100.0,
        })
    };
    let items = next_items(&order, &asked, fit, query.untaught.unwrap_or(false));
    NextItems {
        on: days.0,
        minutes,
        items_fit: fit,
        back_on: days.1,
        estimate: EstimateBasis::new(fitted, rule),
        caution: &rule.asking.caution,
        items: items.into_iter().filter_map(line).collect(),
    }
}
