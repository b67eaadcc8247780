//! GET /groups/{id}/carried-in/answers

use std::collections::BTreeMap;

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::GroupPast},
    check::Outcome,
    id::{GroupId, ItemId, PupilId, StaffId},
    sequence::ItemKind,
    time::{Date, Instant},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::content_today;
use crate::http::{
    caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply, v1::groups::members,
};

/// A GPC: a column of the table.
#[derive(Serialize, ToSchema)]
pub struct CarriedColumn {
    /// The GPC.
    pub item_id: ItemId,
    /// As shown, and as a file may head the column.
    pub label: String,
}

/// An answer carried in.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CarriedAnswer {
    /// The GPC.
    pub item_id: ItemId,
    /// What came of it. Sent as `not_offered` it takes back what was carried in.
    pub outcome: Outcome,
}

/// One pupil's answers of one day.
#[derive(Serialize, ToSchema)]
pub struct CarriedCheck {
    /// The day.
    pub on: Date,
    /// The answers.
    pub answers: Vec<CarriedAnswer>,
    /// Who entered them last.
    pub entered_by: StaffId,
    /// When.
    pub entered_at: Instant,
}

/// A pupil: a row of the table.
#[derive(Serialize, ToSchema)]
pub struct CarriedPupilRow {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// What tells it apart from the same name in this list.
    pub apart: Option<String>,
    /// Answers carried in, by day.
    pub checks: Vec<CarriedCheck>,
}

/// The table of a group's pupils and GPCs.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "group_id": "0199f2c4-0000-7000-8000-000000000008",
    "columns": [{"item_id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "label": "igh /aɪ/"}],
    "pupils": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null, "checks": [
        {"on": "2026-12-16", "answers": [{"item_id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "outcome": "right"}],
         "entered_by": "0199f2c4-0000-7000-8000-000000000002", "entered_at": "2027-01-05T08:50:00.000000Z"}]}]
}))]
pub struct CarriedTable {
    /// The group.
    pub group_id: GroupId,
    /// GPCs of the group's sequence, in teaching order.
    pub columns: Vec<CarriedColumn>,
    /// The group's pupils today, by name.
    pub pupils: Vec<CarriedPupilRow>,
}

/// Get what a group's pupils were checked on before the records here begin
///
/// The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "carried in", operation_id = "list_carried_answers", params(("id" = GroupId, Path, description = "The group")),
    responses((status = 200, description = "The table", body = CarriedTable), ReadProblems)
)]
#[get("/groups/{id}/carried-in/answers")]
pub async fn list_carried_answers(caller: Caller, id: web::Path<GroupId>) -> Result<Reply, Problem> {
    caller
        .read_logged("group.read_carried_answers", move |tx| {
            let permit = tx.permit::<Read, _>(GroupPast(*id))?;
            let (_, content) = content_today(tx, &permit)?;
            let gpcs = content.items().filter(|item| item.kind == ItemKind::Gpc);
            let mut columns: Vec<CarriedColumn> = Vec::new();
            for item in gpcs {
                if !columns.iter().any(|column| column.item_id == item.id) {
                    columns.push(CarriedColumn { item_id: item.id, label: item.label.to_string() });
                }
            }
            let rows = tx.carried_checks(&permit)?;
            let mut pupils = Vec::new();
            for member in members(tx.past_members(&permit)?, &BTreeMap::new()) {
                let mut checks = Vec::new();
                for row in rows.iter().filter(|row| row.pupil_id == member.id) {
                    let answers = row.by_gpc()?.into_iter();
                    checks.push(CarriedCheck {
                        on: row.on_date,
                        answers: answers
                            .map(|(item_id, outcome)| CarriedAnswer { item_id, outcome })
                            .collect(),
                        entered_by: row.entered_by,
                        entered_at: row.at,
                    });
                }
                let (pupil_id, name, apart) = (member.id, member.name, member.apart);
                pupils.push(CarriedPupilRow { pupil_id, name, apart, checks });
            }
            Reply::ok(&CarriedTable { group_id: *id, columns, pupils })
        })
        .await
}
