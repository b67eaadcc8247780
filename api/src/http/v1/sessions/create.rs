//! POST /sessions

use actix_web::{HttpResponse, http::StatusCode, post, web};
use plumbline_core::{
    id::{AccountId, SchoolId},
    text::Email,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{SessionBody, answer, secret};
use crate::{
    auth::password::{PasswordError, is_current},
    http::{
        Api,
        body::Body,
        caller::blocking,
        problem::{Code, Problem, SchoolChoice},
        problems::SignInProblems,
    },
    store::gate::{Candidate, Workplace},
};

/// Who wants to sign in.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"email": "lead@school.example", "password": "a long passphrase"}))]
pub struct NewSession {
    /// Address of the account, in any case.
    pub email: String,
    /// Its password.
    pub password: String,
    /// Which school, where the account works in several.
    #[serde(default)]
    pub school_id: Option<SchoolId>,
    /// For browsers: put the refresh token into a cookie that scripts cannot read.
    #[serde(default)]
    pub cookie: bool,
}

/// Sign in
///
/// Answers the same, in the same time, for an unknown address and a wrong password.
#[utoipa::path(
    tag = "sessions", operation_id = "create_session", request_body = NewSession, security(()),
    responses((status = 201, description = "Signed in", body = SessionBody), SignInProblems)
)]
#[post("/sessions")]
pub async fn create_session(api: web::Data<Api>, body: Body<NewSession>) -> Result<HttpResponse, Problem> {
    let NewSession { email, password, school_id, cookie } = body.value;
    let now = api.store.clock().now();
    // What is no address gets a place of its own too, so that nobody's slip holds off another's.
    let typed: String = email.chars().take(254).collect();
    let key = Email::new(&email).map_or(typed, |email| email.key());
    api.throttle.attempt(&key, now).map_err(|wait| Problem::new(Code::TooManyAttempts).after(wait))?;
    let store = api.store.clone();
    let lookup = key.clone();
    let found = blocking(move || Ok(store.candidate(&lookup)?)).await?;
    let stored = found.as_ref().map(|candidate| candidate.password_hash.clone());
    if !api.passwords.verify(password.clone(), stored).await.map_err(password_problem)? {
        return Err(Problem::new(Code::BadCredentials));
    }
    api.throttle.succeeded(&key);
    if let Some(candidate) = found.as_ref().filter(|candidate| !is_current(&candidate.password_hash)) {
        renew(&api, candidate.account, password).await?;
    }
    let place = choose(found, school_id)?;
    let secret = secret()?;
    let (store, hash) = (api.store.clone(), secret.hash());
    let until = now.plus_seconds(i64::from(api.config.session_days) * 86_400);
    let (who, refresh) =
        blocking(move || Ok(store.start_session(place.school, place.staff, hash, until)?)).await?;
    answer(&api, StatusCode::CREATED, who, refresh, &secret, cookie)
}

/// Hashes a password anew because today's parameters are higher than those of its hash.
async fn renew(api: &Api, account: AccountId, password: String) -> Result<(), Problem> {
    let hash = api.passwords.hash(password).await.map_err(password_problem)?;
    let store = api.store.clone();
    blocking(move || Ok(store.rehash(account, hash)?)).await
}

fn choose(found: Option<Candidate>, school: Option<SchoolId>) -> Result<Workplace, Problem> {
    let places = found.map(|candidate| candidate.places).unwrap_or_default();
    let mut matching: Vec<Workplace> =
        places.into_iter().filter(|place| school.is_none_or(|id| place.school == id)).collect();
    match matching.len() {
        0 => Err(Problem::new(Code::BadCredentials)),
        1 => matching.pop().ok_or_else(|| Problem::new(Code::BadCredentials)),
        _ => Err(Problem::choose(
            matching
                .into_iter()
                .map(|place| SchoolChoice { id: place.school, name: place.school_name })
                .collect(),
        )),
    }
}

/// What a failure to hash means.
pub fn password_problem(error: PasswordError) -> Problem {
    match error {
        PasswordError::Busy => Problem::new(Code::Busy).after(5),
        PasswordError::Broken => Problem::new(Code::Internal),
    }
}
