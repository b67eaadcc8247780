//! POST /sessions/refresh

use actix_web::{HttpRequest, HttpResponse, http::StatusCode, post, web};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{COOKIE, SessionBody, answer, secret};
use crate::{
    auth::secret::read_refresh_token,
    http::{
        Api,
        body::Body,
        caller::blocking,
        problem::{Code, Problem},
        problems::SignInProblems,
    },
    store::gate::Refresh,
};

/// A refresh token to trade.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"refresh_token": "AZnyxAAAcACAAAAAAAAAAQ"}))]
pub struct RefreshBody {
    /// The token; leave out where it is in the cookie.
    #[serde(default)]
    pub refresh_token: Option<String>,
}

/// Trade a refresh token for the next access token
///
/// Each refresh token serves once. One that comes back after its successor was used ends
/// the sign-in: somebody copied it.
#[utoipa::path(
    tag = "sessions", operation_id = "refresh_session", request_body = RefreshBody, security(()),
    responses((status = 200, description = "Signed in on", body = SessionBody), SignInProblems)
)]
#[post("/sessions/refresh")]
pub async fn refresh_session(
    request: HttpRequest,
    api: web::Data<Api>,
    body: Body<RefreshBody>,
) -> Result<HttpResponse, Problem> {
    let from_body = body.value.refresh_token;
    let in_cookie = from_body.is_none();
    let token = from_body.or_else(|| request.cookie(COOKIE).map(|cookie| cookie.value().to_owned()));
    let refused = || Problem::new(Code::BadRefreshToken);
    let (key, presented) = token.as_deref().and_then(read_refresh_token).ok_or_else(refused)?;
    let secret = secret()?;
    let (store, next) = (api.store.clone(), secret.hash());
    match blocking(move || Ok(store.refresh(key, presented, next)?)).await? {
        Refresh::Renewed(who, key) => answer(&api, StatusCode::OK, who, key, &secret, in_cookie),
        Refresh::Refused | Refresh::Replayed => Err(refused()),
    }
}
