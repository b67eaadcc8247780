//! PUT /pupils/{id}/answering/mode

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Manage, resource::PupilAnswering},
    check::ResponseMode,
    id::PupilId,
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{AnsweringBody, shown};
use crate::{
    http::{
        body::Body,
        caller::{Caller, same_version},
        problem::Problem,
        problems::EditProblems,
        reply::Reply,
    },
    store::AnsweringSubject,
};

/// How a pupil usually answers from a day on.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"mode": "communication_aid", "from": "2026-11-25"}))]
pub struct NewUsualMode {
    /// The response mode; null takes back what was said, and the pupil answers aloud.
    #[serde(deserialize_with = "Option::deserialize")]
    #[schema(required = true)]
    pub mode: Option<ResponseMode>,
    /// The first day it counts on, today unless told.
    #[serde(default)]
    pub from: Option<Date>,
}

/// Say how a pupil usually answers
///
/// Answers recorded without a mode are taken to be given this way.
#[utoipa::path(
    tag = "answering", operation_id = "set_usual_mode", request_body = NewUsualMode,
    params(("id" = PupilId, Path, description = "The pupil"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "As it is now; ETag", body = AnsweringBody), EditProblems)
)]
#[put("/pupils/{id}/answering/mode")]
pub async fn set_usual_mode(
    caller: Caller,
    id: web::Path<PupilId>,
    body: Body<NewUsualMode>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let (id, NewUsualMode { mode, from }) = (*id, body.value);
    caller
        .write("pupil.set_mode", move |tx| {
            let permit = tx.permit::<Manage, _>(PupilAnswering(id))?;
            same_version(tx.answering(&permit)?.v, base)?;
            let (from, value) = (from.unwrap_or(tx.today()), mode.map(ResponseMode::as_str));
            tx.say_answering(&permit, AnsweringSubject::Mode, from, value)?;
            let view = tx.answering(&permit)?;
            shown(tx, id, view)
        })
        .await
}
