//! POST /pseudo-word-sets/{id}/approval

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Manage, resource::SchoolWords},
    id::PseudoWordSetId,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{SetBody, body};
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::{Code, Problem},
    problems::EditProblems,
    reply::Reply,
};

/// An approval.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"leave_out": ["lownt"]}))]
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
    let base = caller.base_version()?;
    let words = caller.words().await?;
    caller
        .write("pseudo_word_set.approve", move |tx| {
            let permit = tx.permit::<Manage, _>(SchoolWords)?;
            let row = tx.pseudo_word_set(&permit, *id)?;
            if row.approved_at.is_some() {
                return Err(Problem::saying(Code::Conflict, "the set is approved already"));
            }
            same_version(row.v, base)?;
            let mut left = row.words()?;
            for (n, out) in approval.value.leave_out.iter().enumerate() {
                let out = out.trim().to_lowercase();
                let at = left
                    .iter()
                    .position(|word| *word == out)
                    .ok_or_else(|| Problem::field(format!("leave_out[{n}]"), "is not in the set"))?;
                left.remove(at);
            }
            let unfit = |word: &String| {
                words.engine.offered_pseudo_word(word, words.policy.accent).err().map(|e| e.to_string())
            };
            let unfit: Vec<String> = left.iter().filter_map(unfit).collect();
            if !unfit.is_empty() {
                return Err(Problem::field("leave_out", format!("leave these out: {}", unfit.join("; "))));
            }
            if left.is_empty() {
                return Err(Problem::field("leave_out", "no word would be left"));
            }
            let row = tx.approve_pseudo_word_set(&permit, *id, &left, base)?;
            Ok(Reply::ok(&body(&words, &row)?)?.version(row.v))
        })
        .await
}
