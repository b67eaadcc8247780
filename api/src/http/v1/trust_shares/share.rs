//! POST /trust-shares

use actix_web::post;
use plumbline_core::{
    access::{act::Publish, resource::TrustShares},
    id::{ReportReleaseId, SchoolId, TrustShareId},
    text::Title,
    trust::{Fingerprint, MapsOn, Shared},
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{TrustShareLine, digest, figures};
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::{Error, Permit, TrustShareRow, Tx},
};

/// What to show which trust.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "release_id": "0199f2c4-0000-7000-8000-000000000032", "trust_id": "0199f2c4-0000-7000-8000-000000000040",
    "digest": "6b1f0c4e2a7d9b8c3f5e6a1d0b2c4f8e7a9d3c5b1e0f2a4d6c8b0e1f3a5d7c9b",
    "maps_on": {"fingerprint": "0f6a1d1c4f2b8f0e9d3c5b7a6978695a4b3c2d1e0f1a2b3c4d5e6f708192a3b4",
                "why": "The same GPCs by the end of each half term"}
}))]
pub struct NewTrustShare {
    /// The release.
    pub release_id: ReportReleaseId,
    /// The trust: the id of the school where its lead works, as the lead reads it there.
    pub trust_id: SchoolId,
    /// That of what would leave, as it was looked at.
    pub digest: String,
    /// On to which sequence the school's own maps, where it is another than the other schools'.
    #[serde(default)]
    pub maps_on: Option<NewMapsOn>,
}

/// A statement that the school's figures may stand beside those of schools with another sequence. The trust is told who
/// said so, when and why.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewMapsOn {
    /// The other sequence, as the trust tells it.
    #[schema(value_type = String)]
    pub fingerprint: Fingerprint,
    /// How the school's own maps on to it.
    #[schema(value_type = String, min_length = 1, max_length = 200)]
    pub why: Title,
}

/// Show a trust figures of a release
///
/// What leaves is what was looked at, by its digest, and stays at the school: the trust's lead reads it where it is as long
/// as it is not withdrawn, or gets it as a file. Of one half term one release is shown to a trust. A repeat of a request whose
/// share was withdrawn since says so.
#[utoipa::path(
    tag = "trust", operation_id = "share_with_trust", request_body = NewTrustShare,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Shared", body = TrustShareLine), CreateProblems)
)]
#[post("/trust-shares")]
pub async fn share_with_trust(caller: Caller, body: Body<NewTrustShare>) -> Result<Reply, Problem> {
    let new = body.value;
    caller.create_of_pupils("trust_share.share", body.hash, move |tx| share(tx, &new), again).await
}

fn share(tx: &mut Tx<'_>, new: &NewTrustShare) -> Result<Reply, Problem> {
    let permit = tx.permit::<Publish, _>(TrustShares)?;
    let figures = match figures(tx, new.release_id) {
        Err(problem) if problem.code() == Code::NotFound => {
            return Err(Problem::field("release_id", "is no release of this school"));
        }
        found => found?,
    };
    if digest(&figures)? != new.digest {
        let unseen = "is not that of what would leave: look at it first";
        return Err(Problem::field("digest", unseen));
    }
    let maps_on = match &new.maps_on {
        Some(_) if figures.sequences.is_empty() => {
            return Err(Problem::field(
                "maps_on",
                "is of no use: no sequence was taught from in the school year",
            ));
        }
        Some(said) if figures.sequences == [said.fingerprint.clone()] => {
            return Err(Problem::field("maps_on.fingerprint", "is the school's own sequence"));
        }
        Some(said) => Some(MapsOn {
            fingerprint: said.fingerprint.clone(),
            why: said.why.as_str().to_owned(),
            said_by: tx.staff_name(&permit, tx.actor().staff)?,
            said_on: tx.today(),
        }),
        None => None,
    };
    let shared = Shared { figures, maps_on };
    let row = tx.share_with_trust(&permit, new.trust_id, &shared).map_err(|error| match error {
        Error::Conflict => Problem::saying(
            Code::Conflict,
            format!(
                "something of {} is shown to this trust already: withdraw that first",
                shared.half_term()
            ),
        ),
        other => other.into(),
    })?;
    said(tx, &permit, row)
}

/// What a repeat is answered: as it is by then.
fn again(tx: &mut Tx<'_>, reply: Reply) -> Result<Reply, Problem> {
    let permit = tx.permit::<Publish, _>(TrustShares)?;
    let id: TrustShareId = reply.made()?;
    let row = tx.trust_share(&permit, id)?;
    if let Some(at) = row.withdrawn_at {
        let said =
            format!("what this request shared was withdrawn at {at}: share it anew, as another request");
        return Err(Problem::saying(Code::Conflict, said));
    }
    said(tx, &permit, row)
}

fn said<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Publish, TrustShares>,
    row: TrustShareRow,
) -> Result<Reply, Problem> {
    let read_here = tx.trust_reads_here(permit, row.trust_id)?;
    let address = format!("/api/v1/trust-shares/{}", row.id);
    Reply::created(address, &TrustShareLine::of(row, read_here))
}
