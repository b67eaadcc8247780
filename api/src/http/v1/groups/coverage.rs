//! GET /groups/{id}/coverage

use std::collections::BTreeMap;

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Group},
    id::{GroupId, ItemId, PupilId},
    lesson::coverage,
    sequence::ItemKind,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::get::OnQuery;
use crate::http::{
    caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply, v1::pupils::lines,
};

/// An item taught to a group, and who of today's members missed it.
#[derive(Serialize, ToSchema)]
pub struct GroupCoverageLine {
    /// The item.
    pub item_id: ItemId,
    /// What it is.
    pub kind: ItemKind,
    /// As shown.
    pub label: String,
    /// Members it was taught to.
    pub taught: usize,
    /// Of these, members of whom only what was carried in says so.
    pub carried_in: usize,
    /// Of these, members of whom only catch-up records say so.
    pub caught_up: usize,
    /// Members who were there for none of its lessons, or of whom it was carried in that they missed
    /// it.
    pub missed_by: Vec<PupilId>,
}

/// A member with items missed.
#[derive(Serialize, ToSchema)]
pub struct MissedLine {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// What tells it apart from the same name in this list.
    pub apart: Option<String>,
    /// Items missed and not taught since.
    pub items: Vec<ItemId>,
}

/// What was taught to a group and who missed what.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "members": 24,
    "items": [{"item_id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "kind": "gpc", "label": "igh /aɪ/", "taught": 23, "carried_in": 0, "caught_up": 1,
               "missed_by": ["0199f2c4-0000-7000-8000-000000000007"]}],
    "missed": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null,
                "items": ["c090554b-55fd-56e2-92da-2bfe29aa5983"]}]
}))]
pub struct GroupCoverage {
    /// Members that day.
    pub members: usize,
    /// Items taught or carried in, in order of teaching; reviews left out.
    pub items: Vec<GroupCoverageLine>,
    /// Members who missed something, with what.
    pub missed: Vec<MissedLine>,
}

/// What was taught to a group, and the list of what was missed
///
/// Missed stays on the list until it was taught to that very pupil, in this group or another, by a lesson
/// or in catch-up.
#[utoipa::path(
    tag = "groups", operation_id = "get_group_coverage", params(("id" = GroupId, Path, description = "The group"), OnQuery),
    responses((status = 200, description = "Coverage", body = GroupCoverage), ReadProblems)
)]
#[get("/groups/{id}/coverage")]
pub async fn get_group_coverage(
    caller: Caller,
    id: web::Path<GroupId>,
    query: Query<OnQuery>,
) -> Result<Reply, Problem> {
    caller
        .read_logged("group.read_coverage", move |tx| {
            let permit = tx.permit::<Read, _>(Group(*id))?;
            let on = query.on.unwrap_or(tx.today());
            let members = tx.group_members(&permit, on)?;
            let lessons = tx.group_lessons_read(&permit, on)?;
            let records: Vec<_> =
                lessons.records.iter().filter(|saved| saved.record.on <= on).cloned().collect();
            let mut items: Vec<GroupCoverageLine> = Vec::new();
            let past = lessons.past.as_ref().map(|past| &past.carried);
            let group_past = lessons.past.as_slice();
            for content in tx.versions_pinned(&permit, &records, group_past, &[])? {
                for item in content.items().filter(|item| item.kind != ItemKind::Review) {
                    let touched = records.iter().any(|saved| saved.record.items.contains(&item.id))
                        || past.is_some_and(|past| past.items.contains(&item.id));
                    if touched && !items.iter().any(|line| line.item_id == item.id) {
                        let (kind, label) = (item.kind, item.label.to_string());
                        items.push(GroupCoverageLine {
                            item_id: item.id,
                            kind,
                            label,
                            taught: 0,
                            carried_in: 0,
                            caught_up: 0,
                            missed_by: vec![],
                        });
                    }
                }
            }
            let (theirs, pasts) = (tx.member_records(&permit, on)?, tx.member_pasts(&permit, on)?);
            let catch_ups = tx.member_catch_ups(&permit, on)?;
            let mut missed: BTreeMap<PupilId, Vec<ItemId>> = BTreeMap::new();
            for member in &members {
                let covered = coverage(
                    member.pupil.id,
                    pasts.iter().map(|past| &past.carried),
                    theirs.iter().map(|saved| &saved.record),
                    catch_ups.iter().map(|saved| &saved.catch_up),
                );
                for line in &mut items {
                    match covered.get(&line.item_id) {
                        Some(one) if one.taught_on.is_some() => {
                            line.taught += 1;
                            line.carried_in += usize::from((one.times, one.catch_ups) == (0, 0));
                            line.caught_up +=
                                usize::from(one.times == 0 && one.catch_ups > 0 && !one.carried_in);
                        }
                        Some(_) => {
                            line.missed_by.push(member.pupil.id);
                            missed.entry(member.pupil.id).or_default().push(line.item_id);
                        }
                        None => {}
                    }
                }
            }
            let shown = lines(members.iter().map(|row| (row.pupil.clone(), row.class.clone())).collect());
            let missed = shown
                .into_iter()
                .filter_map(|line| {
                    let items = missed.remove(&line.id)?;
                    Some(MissedLine { pupil_id: line.id, name: line.name, apart: line.apart, items })
                })
                .collect();
            Reply::ok(&GroupCoverage { members: members.len(), items, missed })
        })
        .await
}
