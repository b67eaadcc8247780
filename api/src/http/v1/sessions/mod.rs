//! Signing in and out.

pub mod change_password;
pub mod create;
pub mod end;
pub mod end_all;
pub mod me;
pub mod refresh;

use actix_web::{
    HttpResponse,
    cookie::{Cookie, SameSite, time::Duration},
};
use plumbline_core::id::{SchoolId, StaffId};
use serde::Serialize;
use utoipa::ToSchema;

use super::super::{Api, problem::Problem};
use crate::{
    auth::secret::{Secret, refresh_token},
    http::problem::Code,
    store::{Who, gate::RefreshKey},
};

/// Name of the browser's refresh cookie.
pub const COOKIE: &str = "__Host-plumbline-refresh";

/// A sign-in.
#[derive(Debug, Serialize, ToSchema)]
#[schema(example = json!({
    "access_token": "eyJ0eXAiOiJhdCtqd3QiLCJhbGciOiJFZERTQSJ9.e30.c2ln", "token_type": "Bearer", "expires_in": 600,
    "refresh_token": "AZnyxAAAcACAAAAAAAAAAQ", "school_id": "0199f2c4-0000-7000-8000-000000000001",
    "staff_id": "0199f2c4-0000-7000-8000-000000000002"
}))]
pub struct SessionBody {
    /// Send it as `Authorization: Bearer ...`.
    pub access_token: String,
    /// Always `Bearer`.
    pub token_type: &'static str,
    /// Seconds until the access token runs out.
    pub expires_in: i64,
    /// Trade it for the next access token, once. Absent where it went into a cookie.
    pub refresh_token: Option<String>,
    /// The school of this sign-in.
    pub school_id: SchoolId,
    /// The member of staff.
    pub staff_id: StaffId,
}

/// Answers with a sign-in: everything in JSON, or the refresh token in a cookie that
/// scripts cannot read.
fn answer(
    api: &Api,
    status: actix_web::http::StatusCode,
    who: Who,
    key: RefreshKey,
    secret: &Secret,
    in_cookie: bool,
) -> Result<HttpResponse, Problem> {
    let token = refresh_token(key, secret);
    let body = SessionBody {
        access_token: api.tokens.issue(who, api.store.clock().now())?,
        token_type: "Bearer",
        expires_in: api.tokens.seconds(),
        refresh_token: (!in_cookie).then(|| token.clone()),
        school_id: who.school,
        staff_id: who.staff,
    };
    let mut response = HttpResponse::build(status);
    if in_cookie {
        let cookie = Cookie::build(COOKIE, token)
            .path("/")
            .secure(true)
            .http_only(true)
            .same_site(SameSite::Strict)
            .max_age(Duration::days(i64::from(api.config.session_days)))
            .finish();
        response.cookie(cookie);
    }
    Ok(response.json(body))
}

/// Shortest and longest password, in characters.
const LENGTH: std::ops::RangeInclusive<usize> = 12..=200;

/// Refuses a new password that is too short or too long.
pub fn check_length(field: &str, password: &str) -> Result<(), Problem> {
    if LENGTH.contains(&password.chars().count()) {
        return Ok(());
    }
    Err(Problem::field(field, "must be 12 to 200 characters"))
}

/// Refuses a password that is not an account's, in these words. A guess counts as one at signing in.
pub async fn guess(
    api: &Api,
    email_key: &str,
    password: String,
    stored: String,
    otherwise: &str,
) -> Result<(), Problem> {
    let now = api.store.clock().now();
    api.throttle.attempt(email_key, now).map_err(|wait| Problem::new(Code::TooManyAttempts).after(wait))?;
    if !api.passwords.verify(password, Some(stored)).await.map_err(create::password_problem)? {
        return Err(Problem::saying(Code::BadCredentials, otherwise));
    }
    api.throttle.succeeded(email_key);
    Ok(())
}

fn secret() -> Result<Secret, Problem> {
    Secret::new().map_err(|error| {
        tracing::error!(%error, "randomness");
        Problem::new(Code::Internal)
    })
}
