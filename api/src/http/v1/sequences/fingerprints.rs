//! GET /sequence-fingerprints

use actix_web::get;
use plumbline_core::{
    access::{act::Read, resource::Sequences},
    id::{SequenceId, VersionId},
    trust::Fingerprint,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::http::{caller::Caller, page::Page, problem::Problem, problems::ReadProblems, reply::Reply};

/// A published version, by what it teaches.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "sequence_id": "0199f2c4-0000-7000-8000-00000000000c", "sequence": "Our sequence",
    "version_id": "0199f2c4-0000-7000-8000-00000000000d", "number": 1,
    "fingerprint": "0f6a1d1c4f2b8f0e9d3c5b7a6978695a4b3c2d1e0f1a2b3c4d5e6f708192a3b4"
}))]
pub struct VersionFingerprint {
    /// The sequence.
    pub sequence_id: SequenceId,
    /// Its name.
    pub sequence: String,
    /// The version.
    pub version_id: VersionId,
    /// Its number.
    pub number: i32,
    /// Two versions that teach the same in the same lessons and order have the same one, whatever they call it.
    #[schema(value_type = String)]
    pub fingerprint: Fingerprint,
}

/// List published versions by what they teach
///
/// So that two schools can see whether they teach from the same sequence without showing each other theirs. Ids, titles and
/// words to remember something by are not in a fingerprint.
#[utoipa::path(
    tag = "sequences", operation_id = "list_sequence_fingerprints",
    responses((status = 200, description = "Versions by name, the latest first", body = Page<VersionFingerprint>), ReadProblems)
)]
#[get("/sequence-fingerprints")]
pub async fn list_sequence_fingerprints(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(Sequences)?;
            let versions = tx.all_versions(&permit)?;
            let ids: Vec<VersionId> = versions.iter().map(|one| one.2).collect();
            let lines = versions.into_iter().zip(tx.fingerprints_of(&permit, &ids)?);
            let line = |((sequence_id, sequence, version_id, number), fingerprint)| VersionFingerprint {
                sequence_id,
                sequence,
                version_id,
                number,
                fingerprint,
            };
            Reply::ok(&Page::whole(lines.map(line).collect()))
        })
        .await
}
