//! POST /staff/{id}/new-password

use actix_web::{post, web};
use plumbline_core::{
    access::{Role, act::Manage, may_renew, resource::Passwords},
    id::{InvitationId, StaffId},
    time::Instant,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    auth::secret::{Secret, invitation_token},
    http::{
        caller::Caller,
        problem::{Code, Problem},
        problems::ActProblems,
        reply::Reply,
    },
};

/// An invitation to choose a new password, shown once.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000003", "token": "AZnyxAAAcACAAAAAAAAAAQ",
    "url": "https://phonics.school.example/#/new-password/AZnyxAAAcACAAAAAAAAAAQ", "expires_at": "2026-11-25T10:00:00.000000Z"
}))]
pub struct NewPasswordBody {
    /// Its id.
    pub id: InvitationId,
    /// What accepts it, once, as at `POST /invitations/accept`.
    pub token: String,
    /// The link, to be given in person.
    pub url: String,
    /// When it ends.
    pub expires_at: Instant,
}

/// Let a colleague choose a new password
///
/// For who has forgotten it or fears that somebody knows it. Takes the place of earlier such links; what the account
/// has holds until the link is used, which ends all its sign-ins. Never for somebody whose role is above one's own, nor
/// for an account that works in another school too: that school has no say here.
#[utoipa::path(
    tag = "staff", operation_id = "offer_new_password",
    params(("id" = StaffId, Path, description = "The member of staff")),
    responses((status = 201, description = "The link", body = NewPasswordBody), ActProblems)
)]
#[post("/staff/{id}/new-password")]
pub async fn offer_new_password(caller: Caller, id: web::Path<StaffId>) -> Result<Reply, Problem> {
    let config = &caller.api().config;
    let (url, seconds) = (config.public_url.clone(), i64::from(config.new_password_minutes) * 60);
    caller
        .write("password.offer", move |tx| {
            let permit = tx.permit::<Manage, _>(Passwords)?;
            let (view, places) = tx.whose_password(&permit, *id)?;
            let today = tx.today();
            let held: Vec<Role> = view
                .roles
                .iter()
                .filter(|span| span.until.is_none_or(|until| until >= today))
                .map(|span| span.role)
                .collect();
            if !may_renew(&tx.actor().roles, &held) {
                return Err(Problem::saying(Code::Forbidden, "somebody with a role above has to do this"));
            }
            let conflict = |detail: &str| Err(Problem::saying(Code::Conflict, detail));
            if *id == tx.actor().staff {
                return conflict("change your own password at PUT /me/password");
            }
            if view.row.account_id.is_none() {
                return conflict("this colleague has not joined yet: invite again");
            }
            if places > 1 {
                return conflict(
                    "this account works in another school too: who runs the server has to do this",
                );
            }
            let secret = Secret::new().map_err(|error| {
                tracing::error!(%error, "randomness");
                Problem::new(Code::Internal)
            })?;
            let expires_at = tx.now().plus_seconds(seconds);
            let invitation = tx.offer_password(&permit, *id, secret.hash(), expires_at)?;
            let token = invitation_token(tx.school(), invitation, &secret);
            let url = format!("{url}/#/new-password/{token}");
            let location = format!("/api/v1/staff/{}", *id);
            Reply::created(location, &NewPasswordBody { id: invitation, token, url, expires_at })
        })
        .await
}
