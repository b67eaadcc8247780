//! GET /pupils/{id}/practice

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::PupilLearning},
    attainment::{PracticeGap, learner},
    id::PupilId,
    phonics::practice::{Basis, Sizes},
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::http::{
    caller::Caller,
    problem::Problem,
    problems::ReadProblems,
    query::Query,
    reply::Reply,
    v1::words::VariantBody,
    words::{daily_seed, school::SchoolEngine},
};

/// How much practice.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct PracticeQuery {
    /// At most how many words, 1 to 40; the rule pack's number unless told.
    #[param(minimum = 1, maximum = 40)]
    pub words: Option<usize>,
}

/// A word to read.
#[derive(Serialize, ToSchema)]
pub struct PracticeWord {
    /// The word.
    pub word: String,
    /// How it is read.
    pub reading: VariantBody,
    /// What it leans on.
    pub basis: Basis,
}

/// A sentence to read.
#[derive(Serialize, ToSchema)]
pub struct PracticeSentence {
    /// The sentence.
    pub sentence: String,
    /// What it leans on.
    pub basis: Basis,
}

/// Practice for one pupil, for home.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "pupil_id": "0199f2c4-0000-7000-8000-000000000007", "on": "2026-11-25", "secure": 2, "current": ["d:d"], "taught": 0,
    "gpcs": ["d:d", "m:m", "o:ɒ"], "words": [{"word": "mod", "reading": {
        "graphemes": ["m", "o", "d"], "phonemes": ["m", "ɒ", "d"], "gpcs": ["m:m", "o:ɒ", "d:d"]}, "basis": "secure"}],
    "sentences": [], "missing": "no_sentences"
}))]
pub struct PupilPractice {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The day it is for: the same at each look, another tomorrow.
    pub on: Date,
    /// Correspondences that are secure.
    pub secure: usize,
    /// Those that lessons taught last and that are not secure, latest first.
    pub current: Vec<String>,
    /// Correspondences taught earlier, carried in from before the records here included, that no
    /// check has shown secure and none has shown not known. They fill up, oldest first,
    /// where the others make too few words or sentences.
    pub taught: usize,
    /// Correspondences to say: the current ones, then secure ones, then those taught earlier.
    pub gpcs: Vec<String>,
    /// Words to read, those with a current correspondence first.
    pub words: Vec<PracticeWord>,
    /// Sentences to read.
    pub sentences: Vec<PracticeSentence>,
    /// Why a list is empty.
    pub missing: Option<PracticeGap>,
}

/// Practice for one pupil, for home
///
/// From the correspondences that are secure for this pupil and those taught last. Where these make
/// fewer words or sentences than asked for, earlier taught ones that no answer has shown not known
/// fill up, oldest first, and what leans on them says so (`basis`). Nothing in it needs anything
/// that was not taught. The reading is written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "pupils", operation_id = "get_pupil_practice",
    params(("id" = PupilId, Path, description = "The pupil"), PracticeQuery),
    responses((status = 200, description = "Practice", body = PupilPractice), ReadProblems)
)]
#[get("/pupils/{id}/practice")]
pub async fn get_pupil_practice(
    caller: Caller,
    id: web::Path<PupilId>,
    query: Query<PracticeQuery>,
) -> Result<Reply, Problem> {
    let pupil = *id;
    if query.words.is_some_and(|words| !(1..=40).contains(&words)) {
        return Err(Problem::field("words", "must be 1 to 40"));
    }
    let SchoolEngine { engine, policy } = caller.words().await?;
    let (records, rules, on) = caller
        .read_logged("pupil.read_practice", move |tx| {
            let permit = tx.permit::<Read, _>(PupilLearning(pupil))?;
            Ok((tx.pupil_learning(&permit)?, tx.rules()?, tx.today()))
        })
        .await?;
    caller
        .compute(move || {
            let rule = rules.practice;
            let learner = learner(&engine, policy, &records, &rules.attainment.secure, rule.current_gpcs_max);
            let sizes = Sizes { words: query.words.unwrap_or(rule.words), sentences: rule.sentences };
            let made = learner.practice(&engine, policy, daily_seed(pupil.uuid(), on), sizes);
            let missing = PracticeGap::of(&made);
            let current = learner.current.iter().filter_map(|id| engine.inventory().get(*id));
            Reply::ok(&PupilPractice {
                pupil_id: pupil,
                on,
                secure: learner.secure.len(),
                taught: learner.taught_only.len(),
                current: current.map(|known| known.gpc.to_string()).collect(),
                gpcs: made.gpcs.iter().map(ToString::to_string).collect(),
                words: made
                    .words
                    .into_iter()
                    .map(|(word, basis)| PracticeWord {
                        word: word.word,
                        reading: word.reading.into(),
                        basis,
                    })
                    .collect(),
                sentences: made
                    .sentences
                    .into_iter()
                    .map(|(sentence, basis)| PracticeSentence { sentence, basis })
                    .collect(),
                missing,
            })
        })
        .await
}
