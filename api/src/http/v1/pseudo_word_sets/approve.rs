//! POST /pseudo-word-sets/{id}/approval

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Manage, resource::SchoolWords},
    id::PseudoWordSetId,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{SetBody, body, judged};
use crate::{
    http::{
        body::Body,
        caller::{Base, Caller, same_version},
        problem::{Code, Problem},
        problems::EditProblems,
        reply::Reply,
        words::school::words_still_at,
    },
    store::PseudoWordSetRow,
};

/// An approval.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"leave_out": ["frowl"]}))]
pub struct Approval {
    /// Words to take out first.
    #[serde(default)]
    pub leave_out: Vec<String>,
}

/// Approve a set of pseudo-words for checks
///
/// The lead has looked at every word; those left out are gone. An approved set does not change:
/// other words are another set.
#[utoipa::path(
    tag = "words", operation_id = "approve_pseudo_word_set", request_body = Approval,
    params(("id" = PseudoWordSetId, Path, description = "The set"),
           ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "Approved", body = SetBody), EditProblems)
)]
#[post("/pseudo-word-sets/{id}/approval")]
pub async fn approve_pseudo_word_set(
    caller: Caller,
    id: web::Path<PseudoWordSetId>,
    approval: Body<Approval>,
) -> Result<Reply, Problem> {
    let (id, base) = (*id, caller.base_version());
    let (words, version) = caller.words_to_judge().await?;
    let set = caller
        .read(move |tx| {
            let permit = tx.permit::<Manage, _>(SchoolWords)?;
            let row = tx.pseudo_word_set(&permit, id)?;
            waits(&row, base)?;
            Ok(row)
        })
        .await?;
    let left = caller
        .compute(move || {
            let left = judged(&words, staying(set.words()?, &approval.value.leave_out)?);
            let unfit: Vec<&str> = left.iter().filter_map(|word| word.problem.as_deref()).collect();
            if !unfit.is_empty() {
                return Err(Problem::field("leave_out", format!("leave these out: {}", unfit.join("; "))));
            }
            Ok(left)
        })
        .await?;
    let letters: Vec<String> = left.iter().map(|word| word.word.clone()).collect();
    caller
        .write("pseudo_word_set.approve", move |tx| {
            let permit = tx.permit::<Manage, _>(SchoolWords)?;
            words_still_at(tx, version)?;
            // At the version read before, so with the words judged.
            let now = tx.pseudo_word_set(&permit, id)?;
            waits(&now, base)?;
            let row = tx.approve_pseudo_word_set(&permit, id, &letters, now.v)?;
            Ok(Reply::ok(&body(&row, left.clone()))?.version(row.v))
        })
        .await
}

/// Whether a set is as the lead looked at it, and not approved yet.
fn waits(row: &PseudoWordSetRow, base: Base) -> Result<(), Problem> {
    if row.approved_at.is_some() {
        return Err(Problem::saying(Code::Conflict, "the set is approved already"));
    }
    same_version(row.v, base).map(|_| ())
}

/// The words that stay.
fn staying(mut left: Vec<String>, leave_out: &[String]) -> Result<Vec<String>, Problem> {
    for (n, out) in leave_out.iter().enumerate() {
        let out = out.trim().to_lowercase();
        let at = left.iter().position(|word| *word == out);
        left.remove(at.ok_or_else(|| Problem::field(format!("leave_out[{n}]"), "is not in the set"))?);
    }
    if left.is_empty() { Err(Problem::field("leave_out", "no word would be left")) } else { Ok(left) }
}
