//! POST /checks

use actix_web::post;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::{Checks, SchoolWords},
    },
    check::{CheckItem, CheckKind},
    id::{ItemId, PseudoWordSetId},
    phonics::{Engine, version::find},
    sequence::Gpc,
    text::{Name, Title},
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::CheckBody;
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{FieldError, Problem},
        problems::CreateProblems,
        reply::Reply,
        words::school::SchoolEngine,
    },
    store::{Error, Tx},
};

/// A check to add.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"name": "Autumn 1 sounds", "kind": "gpc_recognition", "items": [
    {"prompt": "igh", "gpc": {"grapheme": "igh", "phoneme": "aɪ"}}]}))]
pub struct NewCheck {
    /// Its name.
    pub name: Name,
    /// What it asks for.
    pub kind: CheckKind,
    /// 1 to 100 items, in order; none for pseudo-words, which come from the set.
    #[serde(default)]
    pub items: Vec<NewCheckItem>,
    /// The approved set whose words are read, for pseudo-words.
    #[serde(default)]
    pub pseudo_word_set_id: Option<PseudoWordSetId>,
}

/// An item to ask.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewCheckItem {
    /// What the pupil is shown.
    pub prompt: Title,
    /// The GPC it asks for. Needed for GPC recognition, refused for reading words.
    #[serde(default)]
    pub gpc: Option<Gpc>,
}

/// Add a check
///
/// A check never changes afterwards: another wording is another check. Words of a live
/// statutory check never belong here.
#[utoipa::path(
    tag = "checks", operation_id = "create_check", request_body = NewCheck,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Added", body = CheckBody), CreateProblems)
)]
#[post("/checks")]
pub async fn create_check(caller: Caller, body: Body<NewCheck>) -> Result<Reply, Problem> {
    let words = caller.words().await?;
    let new = body.value;
    caller
        .create("check.create", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(Checks)?;
            let items = match (new.kind, new.pseudo_word_set_id) {
                (CheckKind::PseudoWordReading, Some(set)) if new.items.is_empty() => {
                    of_the_set(tx, &words, set)?
                }
                (CheckKind::PseudoWordReading, Some(_)) => {
                    return Err(Problem::field("items", "come from the set: leave them out"));
                }
                (CheckKind::PseudoWordReading, None) => {
                    return Err(Problem::field("pseudo_word_set_id", "is required for reading pseudo-words"));
                }
                (_, Some(_)) => {
                    return Err(Problem::field("pseudo_word_set_id", "is for reading pseudo-words only"));
                }
                (kind, None) => given(tx, &words.engine, kind, &new.items)?,
            };
            let row = tx.add_check(&permit, new.name.as_str(), new.kind, items)?;
            Reply::created(format!("/api/v1/checks/{}", row.id), &CheckBody::from(row))
        })
        .await
}

/// Items as sent.
fn given(
    tx: &Tx<'_>,
    engine: &Engine,
    kind: CheckKind,
    items: &[NewCheckItem],
) -> Result<Vec<CheckItem>, Problem> {
    if !(1..=100).contains(&items.len()) {
        return Err(Problem::field("items", "give 1 to 100 items"));
    }
    let asks_gpc = kind == CheckKind::GpcRecognition;
    let item = |(n, item): (usize, &NewCheckItem)| {
        let at = || format!("items[{n}].gpc");
        let gpc_id = match &item.gpc {
            Some(gpc) if asks_gpc => Some(pair(engine, n, gpc)?),
            None if asks_gpc => return Err(Problem::field(at(), "is required for GPC recognition")),
            Some(_) => return Err(Problem::field(at(), "is not for reading words")),
            None => None,
        };
        Ok(CheckItem { id: tx.new_id(), prompt: item.prompt.clone(), gpc_id, accept: Vec::new() })
    };
    items.iter().enumerate().map(item).collect()
}

/// The words of an approved set, with every reading to accept.
fn of_the_set(
    tx: &mut Tx<'_>,
    words: &SchoolEngine,
    set: PseudoWordSetId,
) -> Result<Vec<CheckItem>, Problem> {
    let refuse = |message: String| Problem::field("pseudo_word_set_id", message);
    let permit = tx.permit::<Read, _>(SchoolWords)?;
    let row = tx.pseudo_word_set(&permit, set).map_err(|error| match error {
        Error::Missing => refuse("is not a set of this school".into()),
        other => other.into(),
    })?;
    if row.approved_at.is_none() {
        return Err(refuse("is not approved yet: the lead looks at every word first".into()));
    }
    let item = |word: String| {
        let offered = words
            .engine
            .offered_pseudo_word(&word, words.policy.accent)
            .map_err(|unfit| refuse(format!("{unfit}: approve another set")))?;
        let prompt = Title::new(&offered.word).map_err(|error| refuse(error.to_string()))?;
        Ok(CheckItem { id: tx.new_id(), prompt, gpc_id: None, accept: offered.accept })
    };
    row.words()?.into_iter().map(item).collect()
}

/// The id of a pair that English has, in its one spelling.
fn pair(engine: &Engine, n: usize, gpc: &Gpc) -> Result<ItemId, Problem> {
    let (gpc, faults) = gpc.settled();
    if faults.is_empty() {
        find(engine, &gpc).map_err(|error| Problem::field(format!("items[{n}].gpc"), error))?;
        return Ok(gpc.id());
    }
    let at = |(field, message): (&str, &str)| FieldError {
        field: format!("items[{n}].gpc.{field}"),
        message: message.to_owned(),
    };
    Err(Problem::fields(faults.into_iter().map(at)))
}
