//! PUT /groups/{id}/members/{pupil_id}/weekdays

use std::collections::BTreeSet;

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Manage, resource::Group},
    id::{GroupId, PupilId},
    roster::{Weekday, Weekdays},
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{GroupBody, whole};
use crate::{
    http::{
        body::Body,
        caller::{Caller, same_version},
        problem::Problem,
        problems::EditProblems,
        reply::Reply,
    },
    store::Error,
};

/// On which weekdays a member comes.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"from": "2026-11-30", "weekdays": ["monday", "tuesday", "wednesday"], "mornings_only": ["wednesday"]}))]
pub struct WeekdaysBody {
    /// First day; today unless told. The days before stay as they were, and before a member's first it counts for none.
    #[serde(default)]
    pub from: Option<Date>,
    /// The weekdays; null for every day. Must be said.
    #[serde(deserialize_with = "Option::deserialize")]
    #[schema(value_type = Option<Vec<Weekday>>, required)]
    pub weekdays: Option<BTreeSet<Weekday>>,
    /// Those of these weekdays on which the pupil comes in the morning alone.
    #[serde(default)]
    #[schema(value_type = Vec<Weekday>)]
    pub mornings_only: BTreeSet<Weekday>,
    /// Those of these weekdays on which the pupil comes in the afternoon alone.
    #[serde(default)]
    #[schema(value_type = Vec<Weekday>)]
    pub afternoons_only: BTreeSet<Weekday>,
}

impl WeekdaysBody {
    fn read(&self) -> Result<Option<Weekdays>, Problem> {
        let halves = (&self.mornings_only, &self.afternoons_only);
        match &self.weekdays {
            Some(days) => Weekdays::of_halves(days, halves.0, halves.1)
                .map(Some)
                .map_err(|(field, why)| Problem::field(field, why)),
            None if !halves.0.is_empty() => Err(Problem::field("mornings_only", "needs the weekdays named")),
            None if !halves.1.is_empty() => {
                Err(Problem::field("afternoons_only", "needs the weekdays named"))
            }
            None => Ok(None),
        }
    }
}

/// Say on which weekdays a member comes to a group's lessons
///
/// For part-week placements, such as five mornings. A lesson on another weekday, or in the other half of a day, is neither
/// taught to the pupil nor missed by the pupil, unless its register names the pupil. The weekdays go with the days in the group: who leaves and comes
/// again comes every day until something is said.
#[utoipa::path(
    tag = "groups", operation_id = "set_member_weekdays", request_body = WeekdaysBody,
    params(("id" = GroupId, Path, description = "The group"), ("pupil_id" = PupilId, Path, description = "The member"),
           ("If-Match" = String, Header, description = "The group's ETag")),
    responses((status = 200, description = "The group as it is from then on; ETag", body = GroupBody), EditProblems)
)]
#[put("/groups/{id}/members/{pupil_id}/weekdays")]
pub async fn set_member_weekdays(
    caller: Caller,
    ids: web::Path<(GroupId, PupilId)>,
    body: Body<WeekdaysBody>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let (group, pupil) = *ids;
    let weekdays = body.value.read()?;
    caller
        .write("group.set_member_weekdays", move |tx| {
            let permit = tx.permit::<Manage, _>(Group(group))?;
            same_version(tx.group(&permit)?.v, base)?;
            let from = body.value.from.unwrap_or(tx.today());
            let (row, from) =
                tx.set_member_weekdays(&permit, pupil, from, weekdays).map_err(|error| match error {
                    Error::Missing => Problem::field("pupil_id", "is not in this group on that day or later"),
                    other => other.into(),
                })?;
            Ok(Reply::ok(&whole(tx, &permit, &row, from)?)?.version(row.v))
        })
        .await
}
