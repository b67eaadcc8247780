//! POST /invitations

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::StaffList},
    id::InvitationId,
    text::{Email, Name},
    time::Instant,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::store::Error;

use super::{RoleBody, StaffBody, spans};
use crate::{
    auth::secret::{Secret, invitation_token},
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
};

/// Someone to invite.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Amara Osei", "email": "a.osei@school.example", "roles": [{"role": "teacher"}]}))]
pub struct NewInvitation {
    /// Name.
    pub name: Name,
    /// Address of the account to be.
    pub email: Email,
    /// Roles with their days.
    pub roles: Vec<RoleBody>,
}

/// An invitation, shown once.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000003", "token": "AZnyxAAAcACAAAAAAAAAAQ",
    "url": "https://phonics.school.example/#/invitation/AZnyxAAAcACAAAAAAAAAAQ", "expires_at": "2026-12-02T09:00:00.000000Z",
    "staff": {"id": "0199f2c4-0000-7000-8000-000000000002", "name": "Amara Osei", "email": "a.osei@school.example",
              "has_account": false, "disabled": false, "roles": []}
}))]
pub struct InvitationBody {
    /// Its id.
    pub id: InvitationId,
    /// What accepts it, once. It cannot be shown again; invite again to replace it.
    pub token: String,
    /// The link to hand over in person or by message.
    pub url: String,
    /// When it ends.
    pub expires_at: Instant,
    /// The member of staff, who can be assigned to classes and groups already.
    pub staff: StaffBody,
}

/// Invite someone to the staff
///
/// Inviting an address again that has not accepted yet replaces the earlier link, so a
/// repeated request does no harm; no Idempotency-Key is taken, because remembering the
/// answer would mean storing the secret.
#[utoipa::path(
    tag = "staff", operation_id = "invite_staff", request_body = NewInvitation,
    responses((status = 201, description = "The invitation", body = InvitationBody), CreateProblems)
)]
#[post("/invitations")]
pub async fn invite_staff(caller: Caller, body: Body<NewInvitation>) -> Result<Reply, Problem> {
    let config = &caller.api().config;
    let (url, seconds) = (config.public_url.clone(), i64::from(config.invitation_days) * 86_400);
    let new = body.value;
    caller
        .write("staff.invite", move |tx| {
            let permit = tx.permit::<Manage, _>(StaffList)?;
            let roles = spans(&new.roles, tx.today())?;
            let secret = Secret::new().map_err(|_| Problem::new(Code::Internal))?;
            let expires_at = tx.now().plus_seconds(seconds);
            let name = new.name.as_str();
            let (view, id) = tx
                .invite(&permit, name, &new.email, &roles, secret.hash(), expires_at)
                .map_err(|error| match error {
                    Error::Conflict => Problem::saying(
                        Code::Conflict,
                        "this address has joined already; change the roles at PUT /staff/{id}/roles",
                    ),
                    other => other.into(),
                })?;
            let token = invitation_token(tx.school(), id, &secret);
            let url = format!("{url}/#/invitation/{token}");
            let location = format!("/api/v1/staff/{}", view.row.id);
            Reply::created(location, &InvitationBody { id, token, url, expires_at, staff: view.into() })
        })
        .await
}
