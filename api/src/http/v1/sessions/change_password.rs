//! PUT /me/password

use actix_web::put;
use serde::Deserialize;
use utoipa::ToSchema;

use super::{check_length, create::password_problem, guess};
use crate::http::{
    body::Body,
    caller::Caller,
    problem::Problem,
    problems::{ActProblems, SignInProblems},
    reply::Reply,
};

/// A new password of one's own.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"password": "a long passphrase", "new_password": "another long passphrase"}))]
pub struct PasswordChange {
    /// The one the account has.
    pub password: String,
    /// Another of 12 to 200 characters.
    pub new_password: String,
}

/// Change one's own password
///
/// Ends all other sign-ins of the account, in every school it works in. Guesses count like those at signing in.
#[utoipa::path(
    tag = "sessions", operation_id = "change_password", request_body = PasswordChange,
    responses((status = 204, description = "Changed"), SignInProblems, ActProblems)
)]
#[put("/me/password")]
pub async fn change_password(caller: Caller, body: Body<PasswordChange>) -> Result<Reply, Problem> {
    let PasswordChange { password, new_password } = body.value;
    check_length("new_password", &new_password)?;
    let (key, stored) = caller.own_account().await?;
    let api = caller.api();
    guess(api, &key, password, stored.clone(), "that is not the password the account has").await?;
    let hash = api.passwords.hash(new_password).await.map_err(password_problem)?;
    caller.change_password(stored, hash).await?;
    Ok(Reply::nothing())
}
