//! PUT /pupils/{id}/answering/speech

use actix_web::{put, web};
use plumbline_core::{
    access::{act::Manage, resource::PupilAnswering},
    check::SpeechNote,
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

/// How a pupil usually says sounds from a day on.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"pairs": [{"sound": "θ", "said": "f"}], "from": "2026-11-25"}))]
pub struct NewSpeechNote {
    /// Pairs of sounds, and nothing else; none ends the note.
    pub pairs: Vec<NewUsualSound>,
    /// The first day it counts on, today unless told. It counts from then on, whatever was said of later days
    /// before.
    #[serde(default)]
    pub from: Option<Date>,
}

/// A sound as a pupil usually says it.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewUsualSound {
    /// The sound meant, in the International Phonetic Alphabet.
    pub sound: String,
    /// The sound said for it; null where it is left out.
    #[serde(deserialize_with = "Option::deserialize")]
    #[schema(required = true)]
    pub said: Option<String>,
}

/// Say how a pupil usually says sounds
///
/// Pairs of sounds that the pupil's usual accent or speech makes alike, so that a marker accepts them. Nothing else
/// is taken: no words, no name of a difficulty. It is no diagnosis. A change is dated, and every earlier word stays
/// on record.
#[utoipa::path(
    tag = "answering", operation_id = "set_speech_note", request_body = NewSpeechNote,
    params(("id" = PupilId, Path, description = "The pupil"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "As it is now; ETag", body = AnsweringBody), EditProblems)
)]
#[put("/pupils/{id}/answering/speech")]
pub async fn set_speech_note(
    caller: Caller,
    id: web::Path<PupilId>,
    body: Body<NewSpeechNote>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let (id, NewSpeechNote { pairs, from }) = (*id, body.value);
    caller
        .write("pupil.set_speech", move |tx| {
            let permit = tx.permit::<Manage, _>(PupilAnswering(id))?;
            same_version(tx.answering(&permit)?.v, base)?;
            let typed: Vec<_> =
                pairs.iter().map(|pair| (pair.sound.as_str(), pair.said.as_deref())).collect();
            let note = SpeechNote::new(&typed, tx.rules()?.marking.speech_note.pairs_most)
                .map_err(|error| Problem::field(error.field(), error))?;
            let text = note.to_string();
            let value = Some(text.as_str()).filter(|text| !text.is_empty());
            let from = from.unwrap_or(tx.today());
            tx.say_answering(&permit, AnsweringSubject::Speech, from, value)?;
            let view = tx.answering(&permit)?;
            shown(tx, id, view)
        })
        .await
}
