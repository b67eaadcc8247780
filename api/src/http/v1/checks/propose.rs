//! POST /check-proposals

use actix_web::post;
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::{Checks, Group},
    },
    check::{
        CheckKind,
        build::{BuiltItem, Means, Measure, Recipe, Short, reached},
    },
    id::{GroupId, ItemId, PseudoWordSetId, VersionId},
    lesson::items_taught,
    phonics::Engine,
    rules::PracticeSection,
    sequence::Gpc,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::cautions;
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::Problem,
        problems::CreateProblems,
        reply::Reply,
        words::check::{Rules, approved, built, content_of, fits, of_the_set},
    },
    store::Tx,
};

/// A check to have proposed: for a group at its place, for a step of a sequence version, or from a recipe again.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"group_id": "0199f2c4-0000-7000-8000-000000000008", "kind": "word_reading", "items": 10,
    "forms": 2, "seed": 7}))]
pub struct WantedCheck {
    /// A recipe to build again; then nothing else.
    #[serde(default)]
    pub recipe: Option<Recipe>,
    /// For whom: a group, at the last lesson up to which it was taught everything;
    #[serde(default)]
    pub group_id: Option<GroupId>,
    /// or a published version,
    #[serde(default)]
    pub sequence_version_id: Option<VersionId>,
    /// at the end of a step, counted from 1,
    #[serde(default)]
    pub step: Option<u16>,
    /// or of a lesson of it, counted from 1.
    #[serde(default)]
    pub lesson: Option<u16>,
    /// What the check asks for.
    #[serde(default)]
    pub kind: Option<CheckKind>,
    /// Items of a form. A practice check has as many as the statutory check's shape.
    #[serde(default)]
    pub items: Option<u16>,
    /// Forms to build, 1 unless told.
    #[serde(default)]
    pub forms: Option<u8>,
    /// The same request with the same seed builds the same items; 0 unless told.
    #[serde(default)]
    pub seed: u32,
    /// The approved set that made-up words come from.
    #[serde(default)]
    pub pseudo_word_set_id: Option<PseudoWordSetId>,
}

/// An item as proposed. Its first four fields are those of an item of a new check.
#[derive(Serialize, ToSchema)]
pub struct ProposedItem {
    /// What is asked.
    pub prompt: String,
    /// The GPC it asks for alone, in a check of GPC recognition.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gpc: Option<Gpc>,
    /// Its section, in a practice check.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub section: Option<u8>,
    /// Whether it is a made-up word, in a practice check.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub pseudo: bool,
    /// The GPC its word was chosen for, as written on a page.
    pub chosen_for: Option<String>,
    /// The GPCs of its words.
    pub gpc_ids: Vec<ItemId>,
    /// The readings to accept.
    pub accept: Vec<String>,
    /// The sounds the adult says, in oral blending.
    pub sounds: Option<String>,
    /// What the engine knows of how hard it is.
    pub measure: Measure,
}

impl From<BuiltItem> for ProposedItem {
    fn from(built: BuiltItem) -> Self {
        let chosen_for = built.chosen_for.map(|gpc| gpc.label());
        let BuiltItem { prompt, gpc, section, pseudo, measure, .. } = built;
        let (gpc_ids, accept, sounds) = (built.asked.gpc_ids, built.asked.accept, built.asked.sounds);
        Self { prompt, gpc, section, pseudo, chosen_for, gpc_ids, accept, sounds, measure }
    }
}

/// A form as proposed.
#[derive(Serialize, ToSchema)]
pub struct ProposedForm {
    /// Counted from 1.
    pub form: usize,
    /// Its items, in order.
    pub items: Vec<ProposedItem>,
    /// The means of its items.
    pub means: Means,
}

/// Forms of a check, to be looked at, changed and added.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "recipe": {"kind": "word_reading", "sequence_version_id": "0199f2c4-0000-7000-8000-000000000014", "step": 4, "lesson": 2,
        "items": 1, "forms": 1, "form": 1, "seed": 7, "words_version": 3, "engine_data": "5f1c0a9be2d47c36"},
    "rebuilt_alike": true,
    "forms": [{"form": 1, "items": [{"prompt": "night", "chosen_for": "igh /aɪ/", "gpc_ids": ["c090554b-55fd-56e2-92da-2bfe29aa5983"],
        "accept": ["naɪt"], "sounds": null,
        "measure": {"graphemes": 3, "adjacent_consonants": 0, "split_digraphs": 0, "rarity": 1, "lessons_since": 2}}],
        "means": {"graphemes": 3.0, "adjacent_consonants": 0.0, "split_digraphs": 0.0, "rarity": 1.0, "lessons_since": 2.0}}],
    "apart": {"graphemes": 0.0, "adjacent_consonants": 0.0, "split_digraphs": 0.0, "rarity": 0.0, "lessons_since": 0.0},
    "shared_items": 0, "without_words": [], "short": [], "cautions": []
}))]
pub struct ProposedCheck {
    /// What it was built from; with another `form` that of another form. A new check keeps it.
    pub recipe: Recipe,
    /// Whether words and data are those of the recipe that was sent. If not, items may differ.
    pub rebuilt_alike: bool,
    /// The forms.
    pub forms: Vec<ProposedForm>,
    /// How far the two forms that lie furthest apart in something lie apart in it.
    pub apart: Means,
    /// Places at which several forms have one item because there are not enough others; of GPC recognition all.
    pub shared_items: usize,
    /// GPCs taught last that no word fit for the check holds.
    pub without_words: Vec<String>,
    /// What could not be built, by section and how many.
    pub short: Vec<Short>,
    /// To be heeded.
    pub cautions: Vec<String>,
}

/// Have a check proposed
///
/// Built by the engine of what was taught up to a place, and of nothing else: half of the items for what was taught
/// last, no GPC twice before each once, no word that is struck off or screened, exception words only as taught,
/// made-up words only of an approved set. Forms are of one structure item by item; their measures are a likeness of
/// words and no proof that they are equally hard. Nothing is written: add a form with `POST /checks`, changed or not.
#[utoipa::path(
    tag = "checks", operation_id = "propose_check", request_body = WantedCheck,
    responses((status = 200, description = "The forms", body = ProposedCheck), CreateProblems)
)]
#[post("/check-proposals")]
pub async fn propose_check(caller: Caller, body: Body<WantedCheck>) -> Result<Reply, Problem> {
    caller.may::<Manage, _>(Checks).await?;
    let (words, version) = caller.words_to_judge().await?;
    let wanted = body.value;
    let read = caller.read(move |tx| {
        let pack = tx.rules()?;
        let rules = Rules::from(pack);
        let sent = wanted.recipe.clone();
        let items = match wanted.kind {
            Some(CheckKind::PracticeCheck) => {
                u16::try_from(rules.sections.iter().map(PracticeSection::words).sum::<usize>()).ok()
            }
            _ => wanted.items,
        };
        let recipe = recipe(tx, &wanted, items)?;
        let content = content_of(tx, recipe.sequence_version_id)?;
        fits(&recipe, &content, rules.rule)?;
        let set = recipe.pseudo_word_set_id.map(|id| approved(tx, id)).transpose()?;
        Ok((recipe, sent, content, set, rules, pack))
    });
    let (recipe, sent, content, set, rules, pack) = read.await?;
    caller
        .compute(move || {
            let letters = set.map(|row| row.words()).transpose()?.unwrap_or_default();
            let set = of_the_set(&words, &letters)?;
            let made = built(&words, &content, &set, rules, &recipe);
            let recent = rules.rule.recent_lessons;
            let mut told = cautions(recipe.kind, pack);
            told.extend((recipe.forms > 1).then(|| rules.rule.caution.clone()));
            let engine_data = Engine::data_version().to_owned();
            let recipe = Recipe { words_version: version, engine_data, ..recipe };
            let form = |(n, items): (usize, Vec<BuiltItem>)| {
                let measures: Vec<Measure> = items.iter().map(|item| item.measure).collect();
                let items = items.into_iter().map(ProposedItem::from).collect();
                ProposedForm { form: n + 1, items, means: Means::of(&measures, recent) }
            };
            let forms: Vec<ProposedForm> = made.forms.into_iter().enumerate().map(form).collect();
            let means: Vec<Means> = forms.iter().map(|form| form.means).collect();
            Reply::ok(&ProposedCheck {
                rebuilt_alike: sent.is_none_or(|sent| sent == recipe),
                recipe,
                forms,
                apart: Means::apart(&means),
                shared_items: made.shared,
                without_words: made.without_words.iter().map(Gpc::label).collect(),
                short: made.short,
                cautions: told,
            })
        })
        .await
}

/// The recipe that was sent, or the one that follows from what is wanted; what it is built with comes later.
fn recipe(tx: &mut Tx<'_>, wanted: &WantedCheck, items: Option<u16>) -> Result<Recipe, Problem> {
    if let Some(recipe) = &wanted.recipe {
        let else_said =
            wanted.group_id.is_some() || wanted.sequence_version_id.is_some() || wanted.kind.is_some();
        return match else_said {
            true => Err(Problem::field("recipe", "says it all: leave out the other fields")),
            false => Ok(recipe.clone()),
        };
    }
    let kind = wanted.kind.ok_or_else(|| Problem::field("kind", "is required without a recipe"))?;
    let items = items.ok_or_else(|| Problem::field("items", "is required"))?;
    let (sequence_version_id, step, lesson) = place(tx, wanted)?;
    Ok(Recipe {
        kind,
        sequence_version_id,
        step,
        lesson,
        items,
        forms: wanted.forms.unwrap_or(1),
        form: 1,
        seed: wanted.seed,
        pseudo_word_set_id: wanted.pseudo_word_set_id,
        words_version: 0,
        engine_data: String::new(),
    })
}

/// The version, step and lesson that are meant.
fn place(tx: &mut Tx<'_>, wanted: &WantedCheck) -> Result<(VersionId, u16, u16), Problem> {
    let number = |n: usize| u16::try_from(n).unwrap_or(u16::MAX);
    match (wanted.group_id, wanted.sequence_version_id, wanted.step) {
        (Some(group), None, None) => {
            let permit = tx.permit::<Read, _>(Group(group))?;
            let lessons = tx.group_lessons_read(&permit, tx.today())?;
            let version = lessons.version.ok_or_else(|| {
                Problem::field("group_id", "its sequence has no published version in force today")
            })?;
            let records: Vec<_> = lessons.records.into_iter().map(|saved| saved.record).collect();
            let taught = items_taught(lessons.past.as_ref().map(|past| &past.carried), &records);
            let place = reached(&version.content, &taught)
                .ok_or_else(|| Problem::field("group_id", "its first lesson is not taught yet"))?;
            Ok((version.head.id, number(place.step), number(place.lesson)))
        }
        (None, Some(version), Some(step)) => {
            let lesson = match wanted.lesson {
                Some(lesson) => lesson,
                None => {
                    let content = content_of(tx, version)?;
                    let found = usize::from(step).checked_sub(1).and_then(|at| content.steps.get(at));
                    number(found.map_or(0, |step| step.lessons.len()))
                }
            };
            Ok((version, step, lesson))
        }
        (None, Some(_), None) => Err(Problem::field("step", "is required with sequence_version_id")),
        _ => Err(Problem::field("group_id", "give either a group_id, or sequence_version_id and step")),
    }
}
