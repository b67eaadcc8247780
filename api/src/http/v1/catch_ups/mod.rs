//! Catch-up: its records, what is still open, and sets for the adults there are.

pub mod delete;
pub mod get;
pub mod history;
pub mod list;
pub mod open;
pub mod plan;
pub mod record;
pub mod record_set;

use std::collections::BTreeMap;

use plumbline_core::{
    access::{
        act::Read,
        resource::{Group, GroupChecks},
    },
    catch_up::{Listed, OpenItem},
    id::{CatchUpId, GroupId, ItemId, PupilId, StaffId},
    lesson::Warning,
    sequence::{Item, ItemKind},
    time::{Date, Instant},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    http::problem::Problem,
    store::{MemberRow, Permit, SavedCatchUp, Tx},
};

/// What was taught in catch-up.
#[derive(Clone, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "on": "2026-11-25", "items": ["c090554b-55fd-56e2-92da-2bfe29aa5983"],
    "pupil_ids": ["0199f2c4-0000-7000-8000-000000000007"]
}))]
pub struct CatchUpBody {
    /// The day.
    pub on: Date,
    /// The items taught: each one that the group was taught by then, or that each of these pupils was to
    /// be taught in another group.
    pub items: Vec<ItemId>,
    /// To whom: pupils who were in the group that day, also on weekdays on which they do not come to its
    /// lessons.
    pub pupil_ids: Vec<PupilId>,
    /// Who taught, if somebody else than who enters this.
    #[serde(default)]
    pub taught_by: Option<StaffId>,
    /// Whether it was taught once more, where the same is recorded already.
    #[serde(default)]
    pub again: bool,
}

/// A catch-up record.
#[derive(Debug, Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000031", "group_id": "0199f2c4-0000-7000-8000-000000000008", "on": "2026-11-25",
    "items": ["c090554b-55fd-56e2-92da-2bfe29aa5983"], "pupil_ids": ["0199f2c4-0000-7000-8000-000000000007"],
    "taught_by": "0199f2c4-0000-7000-8000-000000000002", "entered_by": "0199f2c4-0000-7000-8000-000000000002",
    "entered_at": "2026-11-25T09:32:00.000000Z", "warnings": []
}))]
pub struct CatchUpRecordBody {
    /// Its id.
    pub id: CatchUpId,
    /// The group.
    pub group_id: GroupId,
    /// The day.
    pub on: Date,
    /// The items taught, in teaching order.
    pub items: Vec<ItemId>,
    /// To whom.
    pub pupil_ids: Vec<PupilId>,
    /// Who taught.
    pub taught_by: StaffId,
    /// Who entered the record.
    pub entered_by: StaffId,
    /// When it was entered.
    pub entered_at: Instant,
    /// What is odd about it. It is kept all the same.
    pub warnings: Vec<Warning>,
}

impl CatchUpRecordBody {
    pub(in crate::http) fn new(saved: SavedCatchUp, warnings: Vec<Warning>) -> Self {
        let record = saved.catch_up;
        Self {
            id: record.id,
            group_id: record.group,
            on: record.on,
            items: record.items,
            pupil_ids: record.pupils,
            taught_by: record.taught_by,
            entered_by: record.entered_by,
            entered_at: saved.at,
            warnings,
        }
    }
}

/// An item, to be named.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct NamedItem {
    /// The item.
    pub item_id: ItemId,
    /// What it is.
    pub kind: ItemKind,
    /// As shown.
    pub label: String,
}

impl From<&Item> for NamedItem {
    fn from(item: &Item) -> Self {
        Self { item_id: item.id, kind: item.kind, label: item.label.to_string() }
    }
}

/// What is open for the members of a group.
struct OpenList {
    /// Members of the day.
    members: Vec<MemberRow>,
    /// Every item one of them was taught or missed, in teaching order; reviews left out.
    items: Vec<NamedItem>,
    /// What is open, longest first, then in teaching order; those with nothing open are not here.
    open: BTreeMap<PupilId, Vec<OpenItem>>,
    /// Whether what checks say is in it.
    checks: bool,
}

/// Finds what is open on a day: with what checks say for who may read those of the group, for others what
/// was missed and not taught since.
fn open_list<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Read, Group>,
    on: Date,
) -> Result<OpenList, Problem> {
    let members = tx.group_members(permit, on)?;
    let (records, pasts) = (tx.member_records(permit, on)?, tx.member_pasts(permit, on)?);
    let catch_ups = tx.member_catch_ups(permit, on)?;
    let contents = tx.versions_pinned(permit, &records, &pasts, &catch_ups)?;
    let listed = Listed::of(contents.iter().map(|content| &**content));
    let pupils: Vec<PupilId> = members.iter().map(|member| member.pupil.id).collect();
    let answers = match tx.permit_if_allowed::<Read, _>(GroupChecks(permit.resource().0))? {
        Some(checks) => Some(tx.member_answers(&checks, &pupils, listed.items(), on)?),
        None => None,
    };
    let none = BTreeMap::new();
    let of = |pupil: PupilId| {
        listed.open(
            pupil,
            pasts.iter().map(|past| &past.carried),
            records.iter().map(|saved| &saved.record),
            catch_ups.iter().map(|saved| &saved.catch_up),
            answers.as_ref().map(|answers| answers.get(&pupil).unwrap_or(&none)),
        )
    };
    let open = pupils.iter().map(|pupil| (*pupil, of(*pupil)));
    let open = open.filter(|(_, open)| !open.is_empty()).collect();
    let items = listed.items().iter().map(|item| NamedItem::from(*item)).collect();
    Ok(OpenList { members, items, open, checks: answers.is_some() })
}
