//! PUT /school-words/{id}

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Manage, resource::SchoolWords},
    id::SchoolWordId,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Reading, SchoolWordBody, body, checked, texts};
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::Problem,
    problems::EditProblems,
    reply::Reply,
};

/// How a word is read.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"readings": [{"sound": "f ɑː h əʊ l t"}]}))]
pub struct SchoolWordReadings {
    /// One to four readings, best first: correspondences, or a sound in IPA.
    pub readings: Vec<Reading>,
}

/// Give one of the school's words other readings
#[utoipa::path(
    tag = "words", operation_id = "update_school_word", request_body = SchoolWordReadings,
    params(("id" = SchoolWordId, Path, description = "The word"),
           ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "The word", body = SchoolWordBody), EditProblems)
)]
#[put("/school-words/{id}")]
pub async fn update_school_word(
    caller: Caller,
    id: web::Path<SchoolWordId>,
    new: Body<SchoolWordReadings>,
) -> Result<Reply, Problem> {
    let (engine, base) = (caller.engine().await?, caller.base_version());
    caller
        .write("school_word.update", move |tx| {
            let permit = tx.permit::<Manage, _>(SchoolWords)?;
            let readings = &texts(&new.value.readings)?;
            let old = tx.school_word(&permit, *id)?;
            same_version(old.v, base)?;
            checked(&engine, &old.word, readings)?;
            let accent = tx.phonics_policy(&permit)?.0.accent;
            let row = tx.update_school_word(&permit, *id, readings.clone(), old.v)?;
            Ok(Reply::ok(&body(&engine, accent, row.clone()))?.version(row.v))
        })
        .await
}
