//! POST /trust-files

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::TrustReports},
    time::Instant,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::TrustReleaseLine;
use crate::{
    auth::token::attest::{says_it_is_of, vouched_for},
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
};

/// A file of a school.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"file": "eyJ0eXAiOiJ0cnVzdC1yZWxlYXNlK2p3dCJ9.e30.c2lnbmF0dXJl"}))]
pub struct NewTrustFile {
    /// What is in it, as it left the school.
    pub file: String,
}

/// Take a file in which a school shows the trust something
///
/// It has to be addressed to this trust and signed by the server of a school on its list, by the key there. It stands in the
/// place of an earlier one of the same half term; one that is older than the last that was taken, here or dropped since,
/// is refused.
#[utoipa::path(
    tag = "trust", operation_id = "take_trust_file", request_body = NewTrustFile,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Taken", body = TrustReleaseLine), CreateProblems)
)]
#[post("/trust-files")]
pub async fn take_trust_file(caller: Caller, body: Body<NewTrustFile>) -> Result<Reply, Problem> {
    let file = body.value.file;
    caller
        .create("trust_release.take", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(TrustReports)?;
            let refused = |message: &str| Problem::field("file", message);
            let file = file.trim();
            let said = says_it_is_of(file).ok_or_else(|| refused("is no file of a school for a trust"))?;
            let schools = tx.trust_schools(&permit)?;
            let school = schools.iter().find(|school| school.member_id == said);
            let school = school.ok_or_else(|| refused("is of no school on the list"))?;
            let key = school.file_key.as_deref();
            let key = key.ok_or_else(|| refused("is of a school without a key on the list"))?;
            let (shared, signed_at) = vouched_for(file, key, said, tx.school()).ok_or_else(|| {
                refused("is not signed by the school's key, not for this trust, or was changed on the way")
            })?;
            let shared = shared.cut_again().map_err(|error| refused(&error.to_string()))?;
            if let Some(last) = tx.trust_file_signed_at(&permit, &shared)?.filter(|last| signed_at < *last) {
                return Err(older(shared.half_term(), signed_at, last));
            }
            let taken = tx.take_trust_file(&permit, &shared, signed_at)?;
            let address = format!("/api/v1/trust-releases/{}", taken.id);
            Reply::created(address, &TrustReleaseLine::of(&taken)?)
        })
        .await
}

fn older(half_term: &str, signed_at: Instant, last: Instant) -> Problem {
    let said = format!(
        "this file was signed at {signed_at}, and the school's last file of {half_term} that was taken here at {last}: \
         an older one does not take its place, even if that was dropped since"
    );
    Problem::saying(Code::Conflict, said)
}
