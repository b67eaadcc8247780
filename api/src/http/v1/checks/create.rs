//! POST /checks

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::Checks},
    check::{CheckItem, CheckKind},
    id::ItemId,
    phonics::{Engine, version::find},
    sequence::Gpc,
    text::{Name, Title},
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::CheckBody;
use crate::http::{
    body::Body,
    caller::Caller,
    problem::{FieldError, Problem},
    problems::CreateProblems,
    reply::Reply,
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
    /// 1 to 100 items, in order.
    pub items: Vec<NewCheckItem>,
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
    let engine = caller.engine().await?;
    let new = body.value;
    caller
        .create("check.create", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(Checks)?;
            if !(1..=100).contains(&new.items.len()) {
                return Err(Problem::field("items", "give 1 to 100 items"));
            }
            let mut items = Vec::new();
            for (n, item) in new.items.iter().enumerate() {
                let gpc_id: Option<ItemId> = match (new.kind, &item.gpc) {
                    (CheckKind::GpcRecognition, Some(gpc)) => Some(pair(&engine, n, gpc)?),
                    (CheckKind::WordReading, None) => None,
                    (CheckKind::GpcRecognition, None) => {
                        return Err(Problem::field(
                            format!("items[{n}].gpc"),
                            "is required for GPC recognition",
                        ));
                    }
                    (CheckKind::WordReading, Some(_)) => {
                        return Err(Problem::field(format!("items[{n}].gpc"), "is not for reading words"));
                    }
                };
                items.push(CheckItem { id: tx.new_id(), prompt: item.prompt.clone(), gpc_id });
            }
            let row = tx.add_check(&permit, new.name.as_str(), new.kind, items)?;
            Reply::created(format!("/api/v1/checks/{}", row.id), &CheckBody::from(row))
        })
        .await
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
