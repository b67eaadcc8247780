//! POST /checks

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::Checks},
    check::{CheckItem, CheckKind, build::Recipe},
    id::{CheckId, PseudoWordSetId},
    phonics::{Engine, pseudo::OfferedPseudoWord},
    sequence::Gpc,
    text::{Name, Title},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::CheckBody;
use crate::{
    http::{
        body::Body,
        caller::{Caller, same_version},
        problem::{Code, FieldError, Problem},
        problems::CreateProblems,
        reply::Reply,
        words::{
            check::{Prepared, Rules, approved, built, content_of, fits, given, odd, of_the_set, too_few},
            school::words_still_at,
        },
    },
    store::{CheckOrigin, Error, NewCheckRow},
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
    /// 1 to 100 items, in order. Left out with a recipe, they are those it builds; left out for pseudo-words without
    /// one, they are all words of the set.
    #[serde(default)]
    pub items: Vec<NewCheckItem>,
    /// The approved set that made-up words come from.
    #[serde(default)]
    pub pseudo_word_set_id: Option<PseudoWordSetId>,
    /// A check whose next version this is: its series, or any version of it. Of the same kind.
    #[serde(default)]
    pub series_id: Option<CheckId>,
    /// What it was built from, as a proposal says, with the form to take. Needed for a practice check.
    #[serde(default)]
    pub recipe: Option<Recipe>,
}

/// An item to ask.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewCheckItem {
    /// What the pupil is shown; in oral blending and spelling the word the adult has.
    pub prompt: Title,
    /// The GPC it asks for. Needed for GPC recognition, refused for words.
    #[serde(default)]
    pub gpc: Option<Gpc>,
    /// Its section, in a practice check.
    #[serde(default)]
    pub section: Option<u8>,
    /// Whether it is a made-up word, in a practice check.
    #[serde(default)]
    pub pseudo: bool,
}

/// What is odd about an item as sent.
#[derive(Clone, Serialize, ToSchema)]
pub struct CheckWarning {
    /// Where, as in `items[2].prompt`.
    pub field: String,
    /// What, for a person.
    pub message: String,
}

/// A check that was added.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-00000000000e", "name": "Words", "kind": "word_reading",
    "items": [{"id": "0199f2c4-0000-7000-8000-00000000000f", "prompt": "xqz"}],
    "series_id": "0199f2c4-0000-7000-8000-00000000000e", "version": 1, "recipe": null, "edited": false, "earlier": [],
    "cautions": [], "warnings": [{"field": "items[0].prompt",
        "message": "\u{201c}xqz\u{201d} is no word that is known here: how it is read is guessed from its letters"}]
}))]
pub struct AddedCheck {
    /// The check.
    #[serde(flatten)]
    pub check: CheckBody,
    /// What is odd about its items as sent: a word that is not known here or was struck off, one that is not what this
    /// kind of check asks for, or one that stands twice; and of a recipe, that it builds fewer items than it asks for. They
    /// are taken all the same.
    pub warnings: Vec<CheckWarning>,
}

/// What was worked out before anything is written.
struct Judged {
    items: Vec<Prepared>,
    built: Option<CheckOrigin>,
    warnings: Vec<CheckWarning>,
}

/// Add a check
///
/// A check never changes afterwards: another wording is the next version of its series, and answers keep the version
/// they were given to. The engine says of each item which GPCs it asks for and what to accept; what is odd about an
/// item is said in `warnings`, and taken. With a recipe the
/// check keeps it, and says whether its items are still those it builds. Words of a live statutory check never
/// belong here.
#[utoipa::path(
    tag = "checks", operation_id = "create_check", request_body = NewCheck,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Added", body = AddedCheck), CreateProblems)
)]
#[post("/checks")]
pub async fn create_check(caller: Caller, body: Body<NewCheck>) -> Result<Reply, Problem> {
    caller.may::<Manage, _>(Checks).await?;
    let (words, version) = caller.words_to_judge().await?;
    let new = body.value;
    let set_id = set_of(&new)?;
    let wanted = new.recipe.clone();
    let read = caller.read(move |tx| {
        let set = set_id.map(|id| approved(tx, id)).transpose()?;
        let content = wanted.map(|recipe| content_of(tx, recipe.sequence_version_id)).transpose()?;
        Ok((set, content, Rules::from(tx.rules()?)))
    });
    let (set, content, rules) = read.await?;
    if let Some((recipe, content)) = new.recipe.as_ref().zip(content.as_ref()) {
        fits(recipe, content, rules.rule).map_err(|problem| {
            problem.map_fields(|one| FieldError { field: format!("recipe.{}", one.field), ..one })
        })?;
    }
    let set_version = set.as_ref().map(|row| row.v);
    let asked = new.clone();
    let judged = caller
        .compute(move || {
            let NewCheck { kind, items, recipe, .. } = asked;
            let letters = set.map(|row| row.words()).transpose()?;
            let set = letters.map(|letters| of_the_set(&words, &letters)).transpose()?;
            let Some((recipe, content)) = recipe.zip(content) else {
                let items = if items.is_empty() { all_of(set.as_deref()) } else { items };
                let warnings = odd(&words, kind, &items);
                let items = given(&words, kind, &items, set.as_deref(), rules.sections)?;
                return Ok(Judged { items, built: None, warnings });
            };
            let made = built(&words, &content, set.as_deref().unwrap_or_default(), rules, &recipe);
            let short = too_few(&made, &recipe, items.len());
            let mut forms = made.forms;
            // The form is one of those built: that was asked before.
            let form = forms.swap_remove(usize::from(recipe.form) - 1);
            let form: Vec<Prepared> = form.into_iter().map(Prepared::try_from).collect::<Result<_, _>>()?;
            let warnings = odd(&words, kind, &items).into_iter().chain(short).collect();
            let items = match items.is_empty() {
                true => form.clone(),
                false => given(&words, kind, &items, set.as_deref(), rules.sections)?,
            };
            if items.is_empty() {
                return Err(Problem::field("recipe", "builds no items here: too little is taught by then"));
            }
            let same = |(a, b): (&Prepared, &Prepared)| {
                (&a.prompt, a.gpc_id, a.section, a.pseudo) == (&b.prompt, b.gpc_id, b.section, b.pseudo)
            };
            let edited = items.len() != form.len() || !items.iter().zip(&form).all(same);
            // As it was built here and now, whatever the recipe was first built with.
            let engine_data = Engine::data_version().to_owned();
            let recipe = Recipe { words_version: version, engine_data, ..recipe };
            Ok(Judged { items, built: Some(CheckOrigin { recipe, edited }), warnings })
        })
        .await?;
    caller
        .create("check.create", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(Checks)?;
            words_still_at(tx, version)?;
            if let (Some(id), Some(v)) = (set_id, set_version) {
                same_version(approved(tx, id)?.v, v.into())?;
            }
            let item = |one: &Prepared| {
                let Prepared { gpc_id, section, pseudo, .. } = *one;
                let item = CheckItem::new(tx.new_id(), one.prompt.clone()).with(one.asked.clone());
                CheckItem { gpc_id, section, pseudo, ..item }
            };
            let row = NewCheckRow {
                name: new.name.to_string(),
                kind: new.kind,
                items: judged.items.iter().map(item).collect(),
                follows: new.series_id,
                built: judged.built.clone(),
            };
            let row = tx.add_check(&permit, row).map_err(|error| match error {
                Error::Missing => Problem::field("series_id", "is not a check of this school"),
                Error::Conflict => {
                    Problem::field("series_id", "is a check of another kind").with_code(Code::Invalid)
                }
                other => other.into(),
            })?;
            let (all, rules) = (tx.checks(&permit)?, tx.rules()?);
            let location = format!("/api/v1/checks/{}", row.id);
            let (check, warnings) = (CheckBody::of(row, &all, rules), judged.warnings.clone());
            Reply::created(location, &AddedCheck { check, warnings })
        })
        .await
}

/// The set that made-up words come from; refuses what does not go together.
fn set_of(new: &NewCheck) -> Result<Option<PseudoWordSetId>, Problem> {
    let made_up = matches!(new.kind, CheckKind::PseudoWordReading | CheckKind::PracticeCheck);
    if new.kind == CheckKind::Placement {
        return Err(Problem::field("kind", "is made by a placement alone"));
    }
    if new.recipe.as_ref().is_some_and(|recipe| recipe.kind != new.kind) {
        return Err(Problem::field("recipe.kind", "is not the kind of this check"));
    }
    if new.kind == CheckKind::PracticeCheck && new.recipe.is_none() {
        let message = "is required: have a practice check proposed, then change its words at will";
        return Err(Problem::field("recipe", message));
    }
    let of_recipe = new.recipe.as_ref().and_then(|recipe| recipe.pseudo_word_set_id);
    match (new.pseudo_word_set_id, of_recipe) {
        (Some(_), _) if !made_up => {
            Err(Problem::field("pseudo_word_set_id", "is for reading pseudo-words only"))
        }
        (Some(one), Some(other)) if one != other => {
            Err(Problem::field("pseudo_word_set_id", "is not the set of the recipe"))
        }
        (None, None) if new.kind == CheckKind::PseudoWordReading => {
            Err(Problem::field("pseudo_word_set_id", "is required for reading pseudo-words"))
        }
        (one, other) => Ok(one.or(other)),
    }
}

/// Every word of a set, as items.
fn all_of(set: Option<&[OfferedPseudoWord]>) -> Vec<NewCheckItem> {
    let words = set.unwrap_or_default().iter().filter_map(|word| Title::new(&word.word).ok());
    words.map(|prompt| NewCheckItem { prompt, gpc: None, section: None, pseudo: false }).collect()
}
