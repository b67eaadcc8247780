//! GET /trust-shares/{id}/file

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Publish, resource::TrustShares},
    id::TrustShareId,
    trust::Shared,
};

use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply},
    store::Error,
};

/// Export what the school showed a trust as a file
///
/// For a trust whose lead works on another server: signed by this server and addressed to that trust, as one line of text
/// (JWS). It takes it as the school's by the key at `GET /trust-key`. What was withdrawn is exported no more; ask the trust
/// to drop a file it has.
#[utoipa::path(
    tag = "trust", operation_id = "get_trust_share_file",
    params(("id" = TrustShareId, Path, description = "What was shown")),
    responses((status = 200, description = "The file", content_type = "application/jose", body = String,
        example = "eyJ0eXAiOiJ0cnVzdC1yZWxlYXNlK2p3dCJ9.e30.c2lnbmF0dXJl"), ReadProblems)
)]
#[get("/trust-shares/{id}/file")]
pub async fn get_trust_share_file(caller: Caller, id: web::Path<TrustShareId>) -> Result<Reply, Problem> {
    let row = caller
        .read_logged("trust_share.export", move |tx| {
            let permit = tx.permit::<Publish, _>(TrustShares)?;
            let row = tx.trust_share(&permit, *id)?;
            if row.withdrawn_at.is_some() { Err(Error::Missing.into()) } else { Ok(row) }
        })
        .await?;
    let shared: Shared = serde_json::from_str(&row.body)?;
    let file = caller.api().tokens.vouch(row.trust_id, shared, row.shared_at)?;
    Ok(Reply::text("application/jose", file))
}
