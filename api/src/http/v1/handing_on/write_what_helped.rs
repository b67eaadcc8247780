//! PUT /pupils/{id}/what-helped

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Record, resource::PupilLearning},
    id::PupilId,
    text::Title,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::WhatHelped;
use crate::http::{
    body::Body,
    caller::{Caller, same_version},
    problem::Problem,
    problems::EditProblems,
    reply::Reply,
};

/// A line on what helped a pupil to read.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"text": "Reads best with a card under the line."}))]
pub struct NewWhatHelped {
    /// One short line, at most as long as the rule pack says: a way of asking, a place, a time of day. No diagnosis, and
    /// nothing on health, family or needs. Null removes it.
    #[serde(deserialize_with = "Option::deserialize")]
    #[schema(required = true, value_type = Option<String>)]
    pub text: Option<Title>,
}

/// The line as it is now.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "what_helped": {
    "text": "Reads best with a card under the line.", "on": "2027-07-09", "written_by": "0199f2c4-0000-7000-8000-000000000002"},
    "caution": "One line. No diagnosis."}))]
pub struct WhatHelpedBody {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The line; null where there is none.
    pub what_helped: Option<WhatHelped>,
    /// To be shown where it is written.
    pub caution: &'static str,
}

/// Write what helped a pupil
///
/// One line, in the place of the one before, which is kept nowhere. It stands in the pupil's handover, and in the
/// file that goes to another school. It is no place for a diagnosis.
#[utoipa::path(
    tag = "handing on", operation_id = "write_what_helped", request_body = NewWhatHelped,
    params(("id" = PupilId, Path, description = "The pupil"),
           ("If-Match" = String, Header, description = "The ETag of the pupil's handover")),
    responses((status = 200, description = "As it is now; ETag", body = WhatHelpedBody), EditProblems)
)]
#[put("/pupils/{id}/what-helped")]
pub async fn write_what_helped(
    caller: Caller,
    id: web::Path<PupilId>,
    body: Body<NewWhatHelped>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let (pupil_id, text) = (*id, body.value.text);
    caller
        .write("pupil.write_what_helped", move |tx| {
            let permit = tx.permit::<Record, _>(PupilLearning(pupil_id))?;
            same_version(tx.what_helped(&permit)?.map_or(0, |line| line.v), base)?;
            let rule = &tx.rules()?.handing_on;
            let most = rule.what_helped_characters;
            if text.as_ref().is_some_and(|text| text.as_str().chars().count() > most) {
                return Err(Problem::field("text", format!("must be at most {most} characters")));
            }
            let line = tx.write_what_helped(&permit, text.as_ref())?;
            let v = line.as_ref().map_or(0, |line| line.v);
            let what_helped = line.map(WhatHelped::from);
            let body = WhatHelpedBody { pupil_id, what_helped, caution: &rule.what_helped_caution };
            Ok(Reply::ok(&body)?.version(v))
        })
        .await
}
