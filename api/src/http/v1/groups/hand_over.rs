//! POST /groups/{id}/hand-over

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Manage, resource::Group},
    id::{GroupId, StaffId},
    roster::hand_over as decide,
    time::{Date, Span},
};
use serde::Deserialize;
use utoipa::ToSchema;

use crate::{
    http::{
        body::Body,
        caller::{Caller, same_version},
        page::Page,
        problem::Problem,
        problems::EditProblems,
        reply::Reply,
        v1::{AdultView, adults},
    },
    store::Error,
};

/// Who takes a group over from whom.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"from_staff_id": "0199f2c4-0000-7000-8000-000000000002",
                          "to_staff_id": "0199f2c4-0000-7000-8000-000000000003", "on": "2026-11-30"}))]
pub struct HandOver {
    /// Who hands over: the days end with the day before.
    pub from_staff_id: StaffId,
    /// Who takes over, with the same end where there was one.
    pub to_staff_id: StaffId,
    /// The first day of the one who takes over.
    pub on: Date,
}

/// Hand a group over to another adult
///
/// In one step: the days of one end, those of the other begin, and with them the sight of the group's
/// pupils, records and coverage. Records of days that were the one's who handed over are still taken from
/// that adult for as many days as the rule pack says; later the lead enters them, naming who taught. Who has
/// the group handed back may enter what is left of any day that was theirs.
#[utoipa::path(
    tag = "groups", operation_id = "hand_over_group", request_body = HandOver,
    params(("id" = GroupId, Path, description = "The group"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "Its adults now; ETag", body = Page<AdultView>), EditProblems)
)]
#[post("/groups/{id}/hand-over")]
pub async fn hand_over_group(
    caller: Caller,
    id: web::Path<GroupId>,
    body: Body<HandOver>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let HandOver { from_staff_id, to_staff_id, on } = body.value;
    caller
        .write("group.hand_over", move |tx| {
            let permit = tx.permit::<Manage, _>(Group(*id))?;
            let base = same_version(tx.group(&permit)?.v, base)?;
            let now = tx.group_adults(&permit)?.into_iter();
            let now: Vec<(StaffId, Span)> =
                now.map(|one| (one.staff_id, Span { from: one.from, until: one.until })).collect();
            let after = decide(&now, from_staff_id, to_staff_id, on)?;
            let (row, list) = tx.set_group_adults(&permit, &after, base).map_err(|error| match error {
                Error::Missing => Problem::field("to_staff_id", "is not of this school's staff"),
                other => other.into(),
            })?;
            Ok(Reply::ok(&Page::whole(adults(list)))?.version(row.v))
        })
        .await
}
