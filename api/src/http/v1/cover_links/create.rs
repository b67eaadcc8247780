//! POST /groups/{id}/cover-links

use actix_web::{post, web};
use chrono::NaiveTime;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::{CoverLinks, Group, GroupDay, SchoolProfile},
    },
    id::{CoverLinkId, GroupId},
    lesson::{CoverLinkFacts, cover_link},
    time::{Date, Instant},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    auth::secret::{Secret, cover_link_token},
    clock::instant_in,
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
};

/// Which day.
#[derive(Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"on": "2026-11-26"}))]
pub struct NewCoverLink {
    /// The day: today or one of the next few, as many as the rule pack says.
    pub on: Date,
}

/// A link, shown once.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000012", "on": "2026-11-26",
    "url": "https://phonics.school.example/cover#AZnyxAAAcACAAAAAAAAAAQ", "token": "AZnyxAAAcACAAAAAAAAAAQ",
    "valid_from": "2026-11-26T00:00:00.000000Z", "valid_until": "2026-11-26T18:00:00.000000Z"
}))]
pub struct NewCoverLinkBody {
    /// Its id, to take it back by.
    pub id: CoverLinkId,
    /// The day of the page.
    pub on: Date,
    /// What to hand over. It cannot be shown again; make another, and take this one back.
    pub url: String,
    /// What follows the `#`: for a program.
    pub token: String,
    /// From when on it opens the page.
    pub valid_from: Instant,
    /// Until when.
    pub valid_until: Instant,
}

/// Make a link to a group's cover page
///
/// Whoever holds it sees the page of that group and day, without an account, from the day's beginning to the
/// end of the school day (the rule pack's `cover`). No Idempotency-Key is taken, because remembering the answer
/// would mean storing the secret: a second link does no harm, and each can be taken back.
#[utoipa::path(
    tag = "cover", operation_id = "create_cover_link", request_body = NewCoverLink,
    params(("id" = GroupId, Path, description = "The group")),
    responses((status = 201, description = "The link", body = NewCoverLinkBody), CreateProblems)
)]
#[post("/groups/{id}/cover-links")]
pub async fn create_cover_link(
    caller: Caller,
    id: web::Path<GroupId>,
    body: Body<NewCoverLink>,
) -> Result<Reply, Problem> {
    let (id, on, base) = (*id, body.value.on, caller.api().config.public_url.clone());
    caller
        .write("cover_link.create", move |tx| {
            let permit = tx.permit::<Manage, _>(CoverLinks(id))?;
            let group = tx.permit::<Read, _>(Group(id))?;
            // Who will not have the group that day cannot let somebody else in.
            tx.permit::<Read, _>(GroupDay { group: id, on })?;
            let profile = tx.permit::<Read, _>(SchoolProfile)?;
            let (zone, rule) = (tx.school_profile(&profile)?.time_zone, &tx.rules()?.cover);
            let facts = CoverLinkFacts {
                day: tx.group_calendar(&group)?.day(on).kind(),
                has_lesson: !tx.group_sessions(&group, on, on)?.is_empty(),
                closed_on: tx.group(&group)?.closed_on,
                today: tx.today(),
                now: tx.now(),
                begins: instant_in(&zone, on, NaiveTime::MIN),
                ends: instant_in(&zone, on, rule.valid_until),
            };
            let valid = cover_link(on, facts, rule)?;
            let secret = Secret::new().map_err(|_| Problem::new(Code::Internal))?;
            let link = tx.add_cover_link(&permit, on, secret.hash(), valid)?;
            let token = cover_link_token(tx.school(), link, &secret);
            // After the "#", so that no server, proxy or referrer gets to see it.
            let url = format!("{base}/cover#{token}");
            let (valid_from, valid_until) = valid;
            let body = NewCoverLinkBody { id: link, on, url, token, valid_from, valid_until };
            Reply::created(format!("/api/v1/groups/{id}/cover-links/{link}"), &body)
        })
        .await
}
