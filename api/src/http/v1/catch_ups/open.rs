//! GET /groups/{id}/catch-up

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Group},
    catch_up::OpenItem,
    id::{GroupId, PupilId},
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::{NamedItem, open_list};
use crate::http::{
    caller::Caller,
    problem::Problem,
    problems::ReadProblems,
    query::Query,
    reply::Reply,
    v1::{groups::get::OnQuery, pupils::lines},
};

/// A member with something open.
#[derive(Serialize, ToSchema)]
pub struct OpenPupil {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// What tells it apart from the same name in this list.
    pub apart: Option<String>,
    /// What is open, longest first, then in teaching order.
    pub items: Vec<OpenItem>,
}

/// What was missed and is still open.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "group_id": "0199f2c4-0000-7000-8000-000000000008", "on": "2026-11-25", "with_checks": true,
    "items": [{"item_id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "kind": "gpc", "label": "igh /aɪ/"}],
    "pupils": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null,
                "items": [{"item_id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "stage": "to_check", "missed_on": "2026-11-10",
                           "taught_on": "2026-11-17", "asked_on": null, "again": false}]}]
}))]
pub struct CatchUpList {
    /// The group.
    pub group_id: GroupId,
    /// The day.
    pub on: Date,
    /// Whether what checks say is in it. Without, it holds what was missed and not taught since.
    pub with_checks: bool,
    /// The items named below, in teaching order.
    pub items: Vec<NamedItem>,
    /// Members with something open, by name.
    pub pupils: Vec<OpenPupil>,
}

/// What was missed and is still open
///
/// Of the group's members of the day, in whatever group they missed it. An item is open from the first day
/// it was taught without the pupil until it was taught to the pupil, by a lesson or in catch-up, and then
/// answered right in a check on that day or later. Answered wrong since it was taught, it is to be taught
/// again. A check asks for a GPC by itself, for any other item where it has the item's label as a word to
/// read. Answers carried in clear nothing. Lessons of days on which a pupil was not in the group, or does
/// not come, were not missed. Who may not read the group's checks sees what was not taught since. The
/// reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "catch-up", operation_id = "get_catch_up_list", params(("id" = GroupId, Path, description = "The group"), OnQuery),
    responses((status = 200, description = "What is open", body = CatchUpList), ReadProblems)
)]
#[get("/groups/{id}/catch-up")]
pub async fn get_catch_up_list(
    caller: Caller,
    id: web::Path<GroupId>,
    query: Query<OnQuery>,
) -> Result<Reply, Problem> {
    caller
        .read_logged("group.read_catch_up", move |tx| {
            let permit = tx.permit::<Read, _>(Group(*id))?;
            let on = query.on.unwrap_or(tx.today());
            let mut list = open_list(tx, &permit, on)?;
            let shown = lines(list.members.into_iter().map(|row| (row.pupil, row.class)).collect());
            let pupils: Vec<OpenPupil> = shown
                .into_iter()
                .filter_map(|line| {
                    let items = list.open.remove(&line.id)?;
                    Some(OpenPupil { pupil_id: line.id, name: line.name, apart: line.apart, items })
                })
                .collect();
            let named = |item: &NamedItem| {
                pupils.iter().flat_map(|p| &p.items).any(|open| open.item_id == item.item_id)
            };
            list.items.retain(named);
            Reply::ok(&CatchUpList { group_id: *id, on, with_checks: list.checks, items: list.items, pupils })
        })
        .await
}
