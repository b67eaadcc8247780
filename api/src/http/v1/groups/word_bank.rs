//! GET /groups/{id}/word-bank

use actix_web::{get, web};
use plumbline_core::{
    id::GroupId,
    phonics::bank::{Audience, BankKind, Plan},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::http::{
    caller::Caller,
    problem::Problem,
    problems::ReadProblems,
    query::Query,
    reply::Reply,
    v1::words::{VariantBody, group_steps},
    words::school::SchoolEngine,
};

/// Which words.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct WordBankQuery {
    /// `read` (the default) or `spell`: to spell, every correspondence itself was taught.
    #[param(inline)]
    pub kind: Option<WordBankKind>,
    /// `child` (the default: words children of 4 to 7 know), `common` or `all`.
    #[param(inline)]
    pub audience: Option<WordBankAudience>,
    /// At most how many, 1 to 2000; 200 unless told.
    #[param(minimum = 1, maximum = 2000)]
    pub limit: Option<usize>,
    /// Only words read with this correspondence, such as `ai:eɪ`.
    pub gpc: Option<String>,
}

/// What a bank is for.
#[derive(Clone, Copy, Debug, Deserialize, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum WordBankKind {
    /// To read.
    Read,
    /// To spell.
    Spell,
}

/// Which words of the language a bank shows.
#[derive(Clone, Copy, Debug, Deserialize, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum WordBankAudience {
    /// Words children of 4 to 7 know.
    Child,
    /// Those and common words that pass the suitability screen.
    Common,
    /// Everything that passes the suitability screen.
    All,
}

/// A word of a bank.
#[derive(Serialize, ToSchema)]
pub struct BankWordBody {
    /// The word.
    pub word: String,
    /// How it is read with what was taught.
    pub reading: VariantBody,
}

/// A statutory exception word that the group cannot decode yet.
#[derive(Serialize, ToSchema)]
pub struct ExceptionBody {
    /// The word.
    pub word: String,
    /// Whether it was taught as a whole.
    pub taught: bool,
    /// Correspondences it lacks.
    pub lacking: Vec<String>,
}

/// What a group can read or spell.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "kind": "read", "total": 1, "words": [{"word": "dog",
        "reading": {"graphemes": ["d", "o", "g"], "phonemes": ["d", "ɒ", "ɡ"], "gpcs": ["d:d", "o:ɒ", "g:g"]}}],
    "exception_words": [{"word": "the", "taught": true, "lacking": ["th:ð", "e:ə"]}]
}))]
pub struct WordBankBody {
    /// To read or to spell.
    pub kind: WordBankKind,
    /// How many there are.
    pub total: usize,
    /// The words, best known to children first, up to the limit.
    pub words: Vec<BankWordBody>,
    /// Statutory words that are exceptions for this group now: the taught ones first, then those
    /// that lack least.
    pub exception_words: Vec<ExceptionBody>,
}

/// The words a group can read or spell with what it was taught
///
/// Computed from the lessons recorded; every word shows its segmentation.
#[utoipa::path(
    tag = "groups", operation_id = "get_word_bank",
    params(("id" = GroupId, Path, description = "The group"), WordBankQuery),
    responses((status = 200, description = "The bank", body = WordBankBody), ReadProblems)
)]
#[get("/groups/{id}/word-bank")]
pub async fn get_word_bank(
    caller: Caller,
    id: web::Path<GroupId>,
    query: Query<WordBankQuery>,
) -> Result<Reply, Problem> {
    let SchoolEngine { engine, policy } = caller.words().await?;
    let kind = query.kind.unwrap_or(WordBankKind::Read);
    let limit = query.limit.unwrap_or(200);
    if !(1..=2000).contains(&limit) {
        return Err(Problem::field("limit", "must be 1 to 2000"));
    }
    let bank_kind = match kind {
        WordBankKind::Read => BankKind::Read,
        WordBankKind::Spell => BankKind::Spell,
    };
    let audience = match query.audience.unwrap_or(WordBankAudience::Child) {
        WordBankAudience::Child => Audience::Child,
        WordBankAudience::Common => Audience::Common,
        WordBankAudience::All => Audience::All,
    };
    let wanted = match &query.gpc {
        Some(text) => Some(engine.inventory().find(text).map_err(|error| Problem::field("gpc", error))?),
        None => None,
    };
    let reading = engine.clone();
    let steps = caller.read(move |tx| group_steps(tx, &reading, *id)).await?;
    caller
        .compute(move || {
            let plan = Plan::new(&engine, steps, policy);
            let wanted = wanted.and_then(|id| engine.inventory().get(id)).map(|found| &found.gpc);
            let bank = plan.bank(&engine, 1, bank_kind, audience);
            let mut total = 0;
            let mut words = Vec::new();
            for word in bank {
                // What is only counted is not written out.
                let written =
                    (wanted.is_some() || total < limit).then(|| plan.write(&engine, &word, bank_kind));
                let held =
                    written.flatten().filter(|w| wanted.is_none_or(|gpc| w.reading.gpcs.contains(gpc)));
                total += usize::from(wanted.is_none() || held.is_some());
                words.extend(held.filter(|_| words.len() < limit));
            }
            let words = words
                .into_iter()
                .map(|word| BankWordBody { word: word.word, reading: word.reading.into() })
                .collect();
            let mut exception_words: Vec<_> = plan
                .exception_words(&engine, 1)
                .into_iter()
                .filter(|word| !word.lacking.is_empty())
                .map(|word| ExceptionBody {
                    word: word.word.to_owned(),
                    taught: word.taught_at.is_some(),
                    lacking: word.lacking.iter().map(ToString::to_string).collect(),
                })
                .collect();
            exception_words.sort_by_key(|word: &ExceptionBody| (!word.taught, word.lacking.len()));
            Reply::ok(&WordBankBody { kind, total, words, exception_words })
        })
        .await
}
