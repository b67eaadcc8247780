//! GET /groups/{id}/re-check

use std::collections::BTreeMap;

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::Read,
        resource::{Group, GroupChecks},
    },
    attainment::{CheckAge, Fitted, back_on, next_items},
    calendar::OwnCalendar,
    id::{GroupId, ItemId, PupilId},
    rules::AttainmentRule,
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::{EstimateBasis, candidates};
use crate::{
    http::{
        caller::Caller,
        problem::Problem,
        problems::ReadProblems,
        reply::Reply,
        v1::{catch_ups::NamedItem, pupils::lines},
    },
    store::AttainmentFacts,
};

/// A pupil, with what to ask.
#[derive(Serialize, ToSchema)]
pub struct PupilReCheck {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// What tells it apart from the same name in this list.
    pub apart: Option<String>,
    /// The last day on which a check here asked the pupil a GPC; none where none has.
    pub last_check_on: Option<Date>,
    /// How many days ago that is.
    pub days: Option<i64>,
    /// Whether no check asked since the latest holiday, or none ever.
    pub re_check: bool,
    /// What to ask, in this order; nothing where nothing was taught to the pupil.
    pub item_ids: Vec<ItemId>,
}

/// How old a group's last check is, and what to ask each pupil in some minutes.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "group_id": "0199f2c4-0000-7000-8000-000000000008", "on": "2026-09-03", "last_check_on": "2026-07-10", "days": 55,
    "teaching_days": 9, "never_asked": 1, "back_on": "2026-09-02", "re_check": 1, "minutes": 3,
    "estimate": {"fitted": false, "answers": 120, "pupils": 24, "caution": "An estimate, for planning what to ask and to teach."},
    "caution": "A starting point. The adult who knows the pupil stops earlier, or goes on.",
    "items": [{"item_id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "kind": "gpc", "label": "igh /aɪ/"}],
    "pupils": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null,
                "last_check_on": "2026-07-10", "days": 55, "re_check": true, "item_ids": ["c090554b-55fd-56e2-92da-2bfe29aa5983"]}]
}))]
pub struct GroupReCheck {
    /// The group.
    pub group_id: GroupId,
    /// The day.
    pub on: Date,
    /// The last day on which a check here asked one of its pupils a GPC; none where none has.
    pub last_check_on: Option<Date>,
    /// How many days ago that is.
    pub days: Option<i64>,
    /// How many days were taught since, the day itself left out, today not.
    pub teaching_days: Option<usize>,
    /// Pupils whom no check here has asked a GPC.
    pub never_asked: usize,
    /// The first day taught after the latest holiday.
    pub back_on: Option<Date>,
    /// Pupils whom no check has asked since then, those never asked included: while there are any, what stands there of
    /// them is from before.
    pub re_check: usize,
    /// Minutes for each pupil.
    pub minutes: u16,
    /// Where the values of the estimate are from.
    pub estimate: EstimateBasis,
    /// To be shown with it.
    pub caution: &'static str,
    /// The GPCs named below, in teaching order.
    pub items: Vec<NamedItem>,
    /// Today's members, by name.
    pub pupils: Vec<PupilReCheck>,
}

/// How old a group's last check is, and a short check for each pupil
///
/// For the start of a school year, or after any long break: for each of today's members the GPCs that are worth most
/// to be asked in the minutes of the rule pack, chosen as under next-items. It is stored nowhere; to have it answered,
/// make a check of its items and a round. The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "attainment", operation_id = "get_group_re_check", params(("id" = GroupId, Path, description = "The group")),
    responses((status = 200, description = "What to ask", body = GroupReCheck), ReadProblems)
)]
#[get("/groups/{id}/re-check")]
pub async fn get_group_re_check(caller: Caller, id: web::Path<GroupId>) -> Result<Reply, Problem> {
    let group = *id;
    let (facts, rule, on, there, calendar) = caller
        .read_logged("group.read_re_check", move |tx| {
            let permit = tx.permit::<Read, _>(GroupChecks(group))?;
            let facts = tx.group_attainment(&permit)?;
            let own = tx.permit::<Read, _>(Group(group))?;
            let calendar = tx.group_calendar(&own)?;
            Ok((facts, &tx.rules()?.attainment, tx.today(), tx.answers_there(&permit)?, calendar))
        })
        .await?;
    let fitted = caller.estimate_values(GroupChecks(group), &rule.estimate, there).await?;
    caller.compute(move || Reply::ok(&re_check(group, facts, rule, &fitted, &calendar, on))).await
}

fn re_check(
    group_id: GroupId,
    mut facts: AttainmentFacts,
    rule: &'static AttainmentRule,
    fitted: &Fitted,
    calendar: &OwnCalendar,
    on: Date,
) -> GroupReCheck {
    let back_on = back_on(calendar, on, rule.asking.holiday_days);
    let minutes = rule.asking.re_check_minutes;
    let order: Vec<ItemId> = facts.items.iter().map(|item| item.id).collect();
    let all = candidates(&facts, rule, fitted, (on, back_on));
    let age = |pupil: PupilId| CheckAge::of(facts.learning.get(&pupil), on, back_on);
    let latest = facts.learning.keys().map(|pupil| age(*pupil)).max_by_key(|age| age.last_check_on);
    let last_check_on = latest.and_then(|age| age.last_check_on);
    let taught_since = |day: Date| day.succ_opt().map_or(0, |next| calendar.teaching_days(next, on).len());
    let to_ask = |pupil: PupilId| -> Vec<ItemId> {
        let theirs: BTreeMap<_, _> =
            all.get(&pupil).map(|items| (pupil, items.clone())).into_iter().collect();
        let next = next_items(&order, &theirs, rule.asking.items_in(minutes), false);
        next.into_iter().map(|one| one.item_id).collect()
    };
    let pupils: Vec<PupilReCheck> = lines(std::mem::take(&mut facts.pupils))
        .into_iter()
        .map(|line| {
            let age = age(line.id);
            PupilReCheck {
                pupil_id: line.id,
                name: line.name,
                apart: line.apart,
                last_check_on: age.last_check_on,
                days: age.days,
                re_check: age.re_check,
                item_ids: to_ask(line.id),
            }
        })
        .collect();
    let named = |id: ItemId| pupils.iter().any(|pupil| pupil.item_ids.contains(&id));
    GroupReCheck {
        group_id,
        on,
        last_check_on,
        days: latest.and_then(|age| age.days),
        teaching_days: last_check_on.map(taught_since),
        never_asked: pupils.iter().filter(|pupil| pupil.last_check_on.is_none()).count(),
        back_on,
        re_check: pupils.iter().filter(|pupil| pupil.re_check).count(),
        minutes,
        estimate: EstimateBasis::new(fitted, rule),
        caution: &rule.asking.caution,
        items: facts.items.iter().filter(|item| named(item.id)).map(NamedItem::from).collect(),
        pupils,
    }
}
