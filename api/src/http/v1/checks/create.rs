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
        caller::{Caller, same_version},
        problem::{FieldError, Problem},
        problems::CreateProblems,
        reply::Reply,
        words::school::{SchoolEngine, words_still_at},
    },
    store::{Error, PseudoWordSetRow, Tx},
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
    let (words, version) = caller.words_to_judge().await?;
    let engine = words.engine.clone();
    let new = body.value;
    let set = match new.pseudo_word_set_id {
        Some(id) if new.kind == CheckKind::PseudoWordReading && new.items.is_empty() => {
            let read = move |tx: &mut Tx<'_>| {
                tx.permit::<Manage, _>(Checks)?;
                approved(tx, id)
            };
            let row = caller.read(read).await?;
            Some(caller.compute(move || Ok((row.v, of_the_set(&words, row.words()?)?))).await?)
        }
        _ => None,
    };
    caller
        .create("check.create", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(Checks)?;
            let items = match (new.kind, new.pseudo_word_set_id, &set) {
                (CheckKind::Placement, ..) => {
                    return Err(Problem::field("kind", "is made by a placement alone"));
                }
                (CheckKind::PseudoWordReading, Some(id), Some((v, read))) => {
                    words_still_at(tx, version)?;
                    same_version(approved(tx, id)?.v, *v)?;
                    let item = |(prompt, accept): &(Title, Vec<String>)| CheckItem {
                        id: tx.new_id(),
                        prompt: prompt.clone(),
                        gpc_id: None,
                        accept: accept.clone(),
                    };
                    read.iter().map(item).collect()
                }
                (CheckKind::PseudoWordReading, Some(_), _) => {
                    return Err(Problem::field("items", "come from the set: leave them out"));
                }
                (CheckKind::PseudoWordReading, None, _) => {
                    return Err(Problem::field("pseudo_word_set_id", "is required for reading pseudo-words"));
                }
                (_, Some(_), _) => {
                    return Err(Problem::field("pseudo_word_set_id", "is for reading pseudo-words only"));
                }
                (kind, None, _) => given(tx, &engine, kind, &new.items)?,
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

fn refused(message: impl Into<String>) -> Problem {
    Problem::field("pseudo_word_set_id", message.into())
}

/// An approved set.
fn approved(tx: &mut Tx<'_>, set: PseudoWordSetId) -> Result<PseudoWordSetRow, Problem> {
    let permit = tx.permit::<Read, _>(SchoolWords)?;
    let row = tx.pseudo_word_set(&permit, set).map_err(|error| match error {
        Error::Missing => refused("is not a set of this school"),
        other => other.into(),
    })?;
    match row.approved_at {
        Some(_) => Ok(row),
        None => Err(refused("is not approved yet: the lead looks at every word first")),
    }
}

/// The words of a set as shown, each with every reading to accept: computing, to be done outside a
/// transaction.
fn of_the_set(words: &SchoolEngine, letters: Vec<String>) -> Result<Vec<(Title, Vec<String>)>, Problem> {
    let read = |word: String| {
        let offered = words
            .engine
            .offered_pseudo_word(&word, words.policy.accent)
            .map_err(|unfit| refused(format!("{unfit}: approve another set")))?;
        let prompt = Title::new(&offered.word).map_err(|error| refused(error.to_string()))?;
        Ok((prompt, offered.accept))
    };
    letters.into_iter().map(read).collect()
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
