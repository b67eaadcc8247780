//! GET /trust-key

use actix_web::get;
use plumbline_core::{
    access::{act::Read, resource::TrustShares},
    id::SchoolId,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply};

/// By what a trust knows the school and its files.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "school_id": "0199f2c4-0000-7000-8000-000000000001", "key": "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"
}))]
pub struct TrustKey {
    /// The school.
    pub school_id: SchoolId,
    /// The public key its server signs files with: Ed25519, in base64url. Another once the server's key is renewed.
    pub key: String,
}

/// Read by what a trust knows the school
///
/// To be told the trust's lead in another way than with the files.
#[utoipa::path(
    tag = "trust", operation_id = "get_trust_key",
    responses((status = 200, description = "The school and its server's key", body = TrustKey), ReadProblems)
)]
#[get("/trust-key")]
pub async fn get_trust_key(caller: Caller) -> Result<Reply, Problem> {
    let school_id = caller
        .read(|tx| {
            tx.permit::<Read, _>(TrustShares)?;
            Ok(tx.school())
        })
        .await?;
    Reply::ok(&TrustKey { school_id, key: caller.api().tokens.public_key().to_owned() })
}
