//! POST /invitations/accept

use actix_web::{HttpResponse, post, web};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    auth::secret::read_invitation_token,
    http::{
        Api,
        body::Body,
        caller::blocking,
        problem::{Code, Problem},
        problems::SignInProblems,
        v1::sessions::{check_length, create::password_problem, guess},
    },
};

/// An invitation to accept.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"token": "AZnyxAAAcACAAAAAAAAAAQ", "password": "a long passphrase"}))]
pub struct Acceptance {
    /// The invitation's token.
    pub token: String,
    /// A new password of 12 to 200 characters; for someone who joins and works in another school of
    /// this server, that account's password.
    pub password: String,
}

/// Who has joined.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"school_name": "Farholt Infant School", "name": "Amara Osei", "email": "a.osei@school.example"}))]
pub struct Accepted {
    /// The school.
    pub school_name: String,
    /// The member of staff.
    pub name: String,
    /// The address to sign in with.
    pub email: String,
}

/// The same answer for every link that does not hold.
fn gone() -> Problem {
    let detail = "this link was used, replaced or has expired: sign in, or ask for a new one";
    Problem::saying(Code::NotFound, detail)
}

/// Accept an invitation
///
/// Works once. Then sign in. One to choose a new password ends all sign-ins of the account.
#[utoipa::path(
    tag = "staff", operation_id = "accept_invitation", request_body = Acceptance, security(()),
    responses((status = 200, description = "Joined", body = Accepted), SignInProblems)
)]
#[post("/invitations/accept")]
pub async fn accept_invitation(api: web::Data<Api>, body: Body<Acceptance>) -> Result<HttpResponse, Problem> {
    let Acceptance { token, password } = body.value;
    let (school, id, secret) = read_invitation_token(&token).ok_or_else(gone)?;
    let store = api.store.clone();
    let invited = blocking(move || Ok(store.invited(school, id, secret)?)).await;
    let invited =
        invited.map_err(|problem| if problem.code() == Code::NotFound { gone() } else { problem })?;
    let hash = match invited.account.filter(|_| !invited.renews) {
        // Guesses count like those at signing in: an invitation is no way around.
        Some((_, stored)) => {
            let otherwise = "this address has an account on this server: use its password";
            guess(&api, &invited.email_key, password, stored, otherwise).await?;
            None
        }
        None => {
            check_length("password", &password)?;
            Some(api.passwords.hash(password).await.map_err(password_problem)?)
        }
    };
    let key = invited.renews.then_some(invited.email_key);
    let store = api.store.clone();
    blocking(move || Ok(store.accept_invitation(school, id, secret, hash)?)).await?;
    if let Some(key) = key {
        // Whoever was held off for forgetting it knows the new one.
        api.throttle.succeeded(&key);
    }
    let accepted = Accepted { school_name: invited.school_name, name: invited.name, email: invited.email };
    Ok(HttpResponse::Ok().json(accepted))
}
