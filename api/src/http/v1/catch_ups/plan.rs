//! POST /catch-up-plans

use std::collections::BTreeMap;

use actix_web::post;
use plumbline_core::{
    access::{
        act::{Manage, Read, Record},
        resource::{CatchUpPlans, Group, GroupChecks, GroupDay, Groups},
    },
    calendar::DayKind,
    catch_up::{Adult, Left, Need, NoPlace, OpenItem, Plan, Pupil, Set, Stage, plan},
    id::{GroupId, ItemId, PupilId, StaffId},
    lesson::{Warning, kind_warnings},
    rules::CatchUpRule,
    time::{Date, Span},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{NamedItem, open_list};
use crate::{
    http::{
        able::able,
        body::Body,
        caller::Caller,
        problem::Problem,
        problems::CreateProblems,
        reply::Reply,
        v1::pupils::{PupilLine, lines},
    },
    store::{Assignment, Error, MemberRow, Permit, Tx},
};

/// The most adults a plan is made for, and the most minutes of each.
const MOST: (usize, u16) = (100, 600);

/// What sets are to be made of.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "on": "2026-11-25", "adults": [{"staff_id": "0199f2c4-0000-7000-8000-000000000002", "minutes": 20}]
}))]
pub struct CatchUpPlanBody {
    /// The day of the catch-up.
    pub on: Date,
    /// The adults who have time, 1 to 100, each once.
    pub adults: Vec<PlanAdult>,
    /// The groups whose pupils it is for; unless told, all whose checks the caller may read.
    #[serde(default)]
    pub group_ids: Option<Vec<GroupId>>,
}

/// An adult who has time.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanAdult {
    /// The adult.
    pub staff_id: StaffId,
    /// How many minutes, 1 to 600.
    pub minutes: u16,
    /// Groups of the plan whose pupils this adult takes besides those of the groups assigned to that day.
    /// Only the lead may say so; the lead, or an adult of the group, then records it as `taught_by`.
    #[serde(default)]
    pub also_group_ids: Vec<GroupId>,
}

/// Who shares a need.
#[derive(Serialize, ToSchema)]
pub struct SharedNeed {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The first day it was taught without this pupil.
    pub missed_on: Date,
    /// Whether it is to be taught again because it was answered wrong since it was taught.
    pub again: bool,
}

/// An item of a set, with who needs it.
#[derive(Serialize, ToSchema)]
pub struct SetItem {
    /// The item.
    #[serde(flatten)]
    pub item: NamedItem,
    /// Each pupil of the set: why the item is in it.
    pub needed_by: Vec<SharedNeed>,
}

/// A pupil of a set.
#[derive(Serialize, ToSchema)]
pub struct SetPupil {
    /// The pupil.
    #[serde(flatten)]
    pub pupil: PupilLine,
    /// The group in which it is recorded: one of the pupil's whose pupils the adult takes.
    pub group_id: GroupId,
}

/// What one adult teaches at one go.
#[derive(Serialize, ToSchema)]
pub struct CatchUpSet {
    /// The adult.
    pub staff_id: StaffId,
    /// The adult's name.
    pub staff_name: String,
    /// The pupils. Each needs each of the items.
    pub pupils: Vec<SetPupil>,
    /// The items, longest open first.
    pub items: Vec<SetItem>,
    /// How many minutes it takes.
    pub minutes: u16,
}

/// What found no place.
#[derive(Serialize, ToSchema)]
pub struct LeftOut {
    /// The pupil.
    pub pupil: PupilLine,
    /// The items, longest open first.
    pub items: Vec<NamedItem>,
    /// Why.
    pub why: NoPlace,
}

/// Sets for catch-up.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "on": "2026-11-25",
    "sets": [{"staff_id": "0199f2c4-0000-7000-8000-000000000002", "staff_name": "Amara Osei", "minutes": 3,
        "pupils": [{"id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null, "group_id": "0199f2c4-0000-7000-8000-000000000008"}],
        "items": [{"item_id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "kind": "gpc", "label": "igh /aɪ/",
            "needed_by": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "missed_on": "2026-11-10", "again": false}]}]}],
    "left": [], "warnings": []
}))]
pub struct CatchUpPlan {
    /// The day.
    pub on: Date,
    /// The sets, those that serve most needs first.
    pub sets: Vec<CatchUpSet>,
    /// What is to be taught and found no place.
    pub left: Vec<LeftOut>,
    /// What is odd about the day, where it is taught to none of the groups.
    pub warnings: Vec<Warning>,
}

/// What a plan is made of.
struct Basis {
    rule: CatchUpRule,
    adults: Vec<Adult>,
    names: Vec<String>,
    pupils: Vec<Pupil>,
    shown: BTreeMap<PupilId, PupilLine>,
    open: BTreeMap<PupilId, Vec<OpenItem>>,
    items: BTreeMap<ItemId, NamedItem>,
    /// By pupil and adult: the group in which it is recorded, and whether the pupil comes to it that day.
    groups: BTreeMap<(PupilId, usize), (bool, GroupId)>,
    warnings: Vec<Warning>,
}

/// Make sets for catch-up
///
/// Of what is still to be taught, and of the adults who have time that day: sets of a few minutes, as the
/// school's rules say, in which every pupil needs every item. The set that serves most needs comes first;
/// of those that serve as many, the one whose items have been open longest. Each pupil has one place
/// before anybody has a second. An adult takes pupils of the plan's groups that the adult is assigned to
/// that day. Nothing is stored but that it was read; what is taught is recorded when it was taught.
#[utoipa::path(
    tag = "catch-up", operation_id = "plan_catch_up", request_body = CatchUpPlanBody,
    responses((status = 200, description = "The sets", body = CatchUpPlan), CreateProblems)
)]
#[post("/catch-up-plans")]
pub async fn plan_catch_up(caller: Caller, body: Body<CatchUpPlanBody>) -> Result<Reply, Problem> {
    let (on, body) = (body.value.on, body.value);
    let basis = caller.read_logged("catch_up.plan", move |tx| gather(tx, &body)).await?;
    caller
        .compute(move || {
            let plan = plan(&basis.rule, &basis.adults, &basis.pupils);
            Reply::ok(&shown(on, basis, plan))
        })
        .await
}

fn gather(tx: &mut Tx<'_>, body: &CatchUpPlanBody) -> Result<Basis, Problem> {
    let permit = tx.permit::<Read, _>(CatchUpPlans)?;
    let on = body.on;
    if !(1..=MOST.0).contains(&body.adults.len()) {
        return Err(Problem::field("adults", "give 1 to 100 adults"));
    }
    let mut basis = Basis {
        rule: tx.rules()?.catch_up,
        adults: Vec::new(),
        names: Vec::new(),
        pupils: Vec::new(),
        shown: BTreeMap::new(),
        open: BTreeMap::new(),
        items: BTreeMap::new(),
        groups: BTreeMap::new(),
        warnings: Vec::new(),
    };
    for (n, adult) in body.adults.iter().enumerate() {
        if !(1..=MOST.1).contains(&adult.minutes) {
            return Err(Problem::field(format!("adults[{n}].minutes"), "must be 1 to 600"));
        }
        if body.adults[..n].iter().any(|other| other.staff_id == adult.staff_id) {
            let message = "this adult stands twice: say all the minutes at one place";
            return Err(Problem::field(format!("adults[{n}].staff_id"), message));
        }
        basis.names.push(tx.staff_name(&permit, adult.staff_id).map_err(|error| match error {
            Error::Missing => {
                Problem::field(format!("adults[{n}].staff_id"), "is not of this school's staff")
            }
            other => other.into(),
        })?);
        basis.adults.push(Adult { staff: adult.staff_id, minutes: adult.minutes });
    }
    let day = Span { from: on, until: Some(on) };
    let named = body.adults.iter().enumerate();
    let named = named.map(|(n, adult)| (format!("adults[{n}].staff_id"), adult.staff_id, day));
    able::<Record, GroupDay, _, _>(tx, &permit, named)?;
    let groups = groups(tx, body.group_ids.as_deref())?;
    also(tx, body, &groups)?;
    tx.note_plan(&permit, &groups);
    let mut rows: Vec<MemberRow> = Vec::new();
    let mut kinds: Vec<DayKind> = Vec::new();
    for group in groups {
        let own = tx.group_calendar(&group)?;
        kinds.push(own.day(on).kind());
        let (group_id, list) = (group.resource().0, open_list(tx, &group, on)?);
        let assigned = tx.group_adults(&group)?;
        let takes = |adult: &PlanAdult| {
            let held = |one: &Assignment| {
                one.staff_id == adult.staff_id && one.from <= on && one.until.is_none_or(|last| on <= last)
            };
            adult.also_group_ids.contains(&group_id) || assigned.iter().any(held)
        };
        let adults: Vec<usize> = (0..body.adults.len()).filter(|n| takes(&body.adults[*n])).collect();
        basis.items.extend(list.items.into_iter().map(|item| (item.item_id, item)));
        for row in list.members.into_iter().filter(|row| list.open.contains_key(&row.pupil.id)) {
            let id = row.pupil.id;
            let comes = own.comes(id, on, None);
            for adult in &adults {
                let known = basis.groups.entry((id, *adult)).or_insert((comes, group_id));
                *known = if comes && !known.0 { (comes, group_id) } else { *known };
            }
            // A pupil of two groups has the same list in both.
            if let Some(known) = basis.pupils.iter_mut().find(|known| known.id == id) {
                known.comes |= comes;
                known.adults.extend(&adults);
                known.adults.sort_unstable();
                known.adults.dedup();
                continue;
            }
            let to_teach = list.open[&id].iter().filter(|line| line.stage == Stage::ToTeach);
            let needs = to_teach.map(|line| Need { item: line.item_id, missed_on: line.missed_on }).collect();
            basis.pupils.push(Pupil { id, comes, adults: adults.clone(), needs });
            rows.push(row);
        }
        basis.open.extend(list.open);
    }
    // Teaching stands first, so one group that is taught decides.
    if let Some(kind) = kinds.into_iter().min() {
        basis.warnings = kind_warnings(kind, on)?;
    }
    let shown = lines(rows.into_iter().map(|row| (row.pupil, row.class)).collect());
    basis.shown = shown.into_iter().map(|line| (line.id, line)).collect();
    Ok(basis)
}

/// The groups of a plan: those named, or all whose checks the caller may read.
fn groups<'tx>(
    tx: &mut Tx<'tx>,
    named: Option<&[GroupId]>,
) -> Result<Vec<Permit<'tx, Read, Group>>, Problem> {
    let ids: Vec<GroupId> = match named {
        Some(named) => named.to_vec(),
        None => {
            let all = tx.permit::<Read, _>(Groups)?;
            tx.groups(&all)?.into_iter().map(|group| group.id).collect()
        }
    };
    let mut permits: Vec<Permit<'tx, Read, Group>> = Vec::new();
    for (n, id) in ids.into_iter().enumerate() {
        let field = || format!("group_ids[{n}]");
        if permits.iter().any(|known| known.resource().0 == id) {
            return Err(Problem::field(field(), "this group stands twice"));
        }
        match tx.permit_if_allowed::<Read, _>(GroupChecks(id))? {
            Some(_) => permits.push(tx.permit(Group(id))?),
            None if named.is_some() => {
                return Err(Problem::field(field(), "is not a group whose checks you may read"));
            }
            None => {}
        }
    }
    Ok(permits)
}

/// Asks whether adults may take pupils of groups they are not assigned to.
fn also<'tx>(
    tx: &mut Tx<'tx>,
    body: &CatchUpPlanBody,
    groups: &[Permit<'tx, Read, Group>],
) -> Result<(), Problem> {
    for (n, adult) in body.adults.iter().enumerate() {
        for (m, id) in adult.also_group_ids.iter().enumerate() {
            if groups.iter().all(|group| group.resource().0 != *id) {
                let field = format!("adults[{n}].also_group_ids[{m}]");
                return Err(Problem::field(field, "is not a group of this plan"));
            }
            tx.permit::<Manage, _>(Group(*id))?;
        }
    }
    Ok(())
}

fn shown(on: Date, basis: Basis, made: Plan) -> CatchUpPlan {
    let named = |items: &[ItemId]| items.iter().filter_map(|id| basis.items.get(id).cloned()).collect();
    let line = |pupil: &PupilId| basis.shown.get(pupil).cloned();
    let need = |pupil: &PupilId, item: ItemId| {
        let open = basis.open.get(pupil)?.iter().find(|line| line.item_id == item)?;
        Some(SharedNeed { pupil_id: *pupil, missed_on: open.missed_on, again: open.again })
    };
    let set = |set: Set| {
        let items: Vec<NamedItem> = named(&set.items);
        let item = |item: NamedItem| {
            let needed_by = set.pupils.iter().filter_map(|pupil| need(pupil, item.item_id)).collect();
            SetItem { item, needed_by }
        };
        let in_group = |pupil: &PupilId| {
            let (_, group_id) = *basis.groups.get(&(*pupil, set.adult))?;
            Some(SetPupil { pupil: line(pupil)?, group_id })
        };
        CatchUpSet {
            staff_id: basis.adults[set.adult].staff,
            staff_name: basis.names[set.adult].clone(),
            pupils: set.pupils.iter().filter_map(in_group).collect(),
            items: items.into_iter().map(item).collect(),
            minutes: set.minutes,
        }
    };
    let left =
        |left: Left| Some(LeftOut { pupil: line(&left.pupil)?, items: named(&left.items), why: left.why });
    CatchUpPlan {
        on,
        sets: made.sets.into_iter().map(set).collect(),
        left: made.left.into_iter().filter_map(left).collect(),
        warnings: basis.warnings,
    }
}
