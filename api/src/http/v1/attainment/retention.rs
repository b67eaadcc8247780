//! GET /groups/{id}/retention

use std::collections::BTreeMap;

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::Read,
        resource::{Group, GroupChecks},
    },
    attainment::{Holiday, Kept, holidays_until, percent, retention},
    id::{GroupId, ItemId},
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply},
    store::AttainmentFacts,
};

/// What was still right.
#[derive(Serialize, ToSchema)]
pub struct KeptCounts {
    /// Answered right when last asked in the lessons before the holiday.
    pub right_before: usize,
    /// Of these, asked in the lessons after it.
    pub asked_after: usize,
    /// Of these, right at the first asking.
    pub right_after: usize,
    /// Right among those asked after it, in per cent; none where these are too few to be told so.
    pub right_percent: Option<u8>,
}

impl KeptCounts {
    fn new(kept: Kept, least: u64) -> Self {
        let Kept { right_before, asked_after, right_after } = kept;
        let right_percent =
            percent(right_after as u64, asked_after as u64).filter(|_| asked_after as u64 >= least);
        Self { right_before, asked_after, right_after, right_percent }
    }
}

/// One GPC over a holiday.
#[derive(Serialize, ToSchema)]
pub struct ItemKept {
    /// The GPC.
    pub item_id: ItemId,
    /// As shown.
    pub label: String,
    /// Pupils.
    #[serde(flatten)]
    pub counts: KeptCounts,
}

/// A holiday.
#[derive(Serialize, ToSchema)]
pub struct HolidayKept {
    /// The last day taught before it.
    pub last_day: Date,
    /// The first day taught after it.
    pub back_on: Date,
    /// Days without lessons.
    pub days: i64,
    /// All GPCs together: pupils and GPCs in pairs.
    #[serde(flatten)]
    pub counts: KeptCounts,
    /// The GPCs, in teaching order.
    pub items: Vec<ItemKept>,
}

/// What was still right after holidays.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "group_id": "0199f2c4-0000-7000-8000-000000000008", "on": "2026-11-25",
    "holidays": [{"last_day": "2026-10-23", "back_on": "2026-11-02", "days": 9,
        "right_before": 14, "asked_after": 12, "right_after": 9, "right_percent": 75,
        "items": [{"item_id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "label": "igh /aɪ/",
                   "right_before": 14, "asked_after": 12, "right_after": 9, "right_percent": 75}]}]
}))]
pub struct GroupRetention {
    /// The group.
    pub group_id: GroupId,
    /// The day.
    pub on: Date,
    /// The holidays of this school year, and the one before it, latest first.
    pub holidays: Vec<HolidayKept>,
}

/// What was still right after holidays
///
/// Of today's members, in whatever group they were asked. A holiday is a stretch of days without lessons for the
/// group, of the length the rule pack says. Of what a pupil answered right when last asked in the lessons before it,
/// the first day of answers in the lessons after it. Answers carried in are left out; those chosen among several shown
/// are compared with their like. Counts, and no verdict: lessons may have gone back to it before it was asked.
#[utoipa::path(
    tag = "attainment", operation_id = "get_group_retention", params(("id" = GroupId, Path, description = "The group")),
    responses((status = 200, description = "What was still right", body = GroupRetention), ReadProblems)
)]
#[get("/groups/{id}/retention")]
pub async fn get_group_retention(caller: Caller, id: web::Path<GroupId>) -> Result<Reply, Problem> {
    let group = *id;
    let (facts, rules, on, calendar) = caller
        .read_logged("group.read_retention", move |tx| {
            let permit = tx.permit::<Read, _>(GroupChecks(group))?;
            let facts = tx.group_attainment(&permit)?;
            let own = tx.permit::<Read, _>(Group(group))?;
            Ok((facts, tx.rules()?, tx.today(), tx.group_calendar(&own)?))
        })
        .await?;
    caller
        .compute(move || {
            let (year, found) = holidays_until(&calendar, on, rules.attainment.asking.holiday_days);
            let of_year = found.iter().rev().filter(|holiday| Some(holiday.back_on) >= year);
            let holidays = of_year.map(|holiday| kept(&facts, holiday, rules.read_with_care_below)).collect();
            Reply::ok(&GroupRetention { group_id: group, on, holidays })
        })
        .await
}

fn kept(facts: &AttainmentFacts, holiday: &Holiday, least: u64) -> HolidayKept {
    let answers: BTreeMap<_, _> =
        facts.learning.iter().map(|(pupil, records)| (*pupil, records.answers.clone())).collect();
    let found = retention(holiday, &answers);
    let all = found.values().fold(Kept::default(), |sum, one| Kept {
        right_before: sum.right_before + one.right_before,
        asked_after: sum.asked_after + one.asked_after,
        right_after: sum.right_after + one.right_after,
    });
    let line = |item: &plumbline_core::sequence::Item| {
        let counts = KeptCounts::new(*found.get(&item.id)?, least);
        Some(ItemKept { item_id: item.id, label: item.label.to_string(), counts })
    };
    HolidayKept {
        last_day: holiday.last_day,
        back_on: holiday.back_on,
        days: holiday.days,
        counts: KeptCounts::new(all, least),
        items: facts.items.iter().filter_map(line).collect(),
    }
}
