//! Error analysis: which grapheme was read as what.

pub mod class;
pub mod group;
pub mod pupil;

use std::collections::BTreeMap;

use plumbline_core::{
    check::{
        Heard, SpeechNote,
        confusion::{Answered, Confusion, confusions},
        expected::{Expected, Expecting},
    },
    id::CheckItemId,
    phonics::phoneme::Phoneme,
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::{
    http::{caller::Caller, problem::Problem, reply::Reply, words::school::SchoolEngine},
    store::HeardAnswers,
};

/// Between which days.
#[derive(Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct DaysQuery {
    /// The first day; from the first answer on unless told.
    pub since: Option<Date>,
    /// The last day; up to today unless told.
    pub until: Option<Date>,
}

/// What a grapheme was read as.
#[derive(Serialize, ToSchema)]
pub struct ReadAsBody {
    /// The sounds heard, joined by dots; null where it was left out.
    pub heard: Option<String>,
    /// Answers.
    pub answers: usize,
    /// Pupils who gave one.
    pub pupils: usize,
}

/// A grapheme that was misread.
#[derive(Serialize, ToSchema)]
pub struct ConfusionBody {
    /// The grapheme, a split digraph as `a_e`.
    pub grapheme: String,
    /// The sounds meant, joined by dots.
    pub sounds: String,
    /// Answers in which it was asked for, in any way but choosing.
    pub asked: usize,
    /// Pupils who gave one.
    pub pupils: usize,
    /// Answers that chose one of several: counted apart, and read as nothing.
    pub chosen: usize,
    /// What it was read as, the most often first.
    pub read_as: Vec<ReadAsBody>,
}

/// What was confused with what, from the sounds recorded as heard.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "answers": 120, "pupils": 24, "chosen": 6, "unheard": 9, "acceptable": 1, "withheld": 0,
    "graphemes": [{"grapheme": "sh", "sounds": "ʃ", "asked": 22, "pupils": 20, "chosen": 1,
                   "read_as": [{"heard": "s", "answers": 4, "pupils": 3}]}]
}))]
pub struct ConfusionsBody {
    /// Answers looked at, without those that chose one of several.
    pub answers: usize,
    /// Pupils who gave one.
    pub pupils: usize,
    /// Answers that chose one of several.
    pub chosen: usize,
    /// Wrong answers of which nothing is recorded as heard: they say nothing about graphemes.
    pub unheard: usize,
    /// Answers marked wrong that were one of the readings to accept, or one as the pupil usually says it: worth a
    /// second look, and no confusion.
    pub acceptable: usize,
    /// Figures left out because too few pupils stand behind them, for readers who may not see each pupil's results.
    pub withheld: usize,
    /// Graphemes misread, the most often first.
    pub graphemes: Vec<ConfusionBody>,
}

impl From<Confusion> for ConfusionBody {
    fn from(line: Confusion) -> Self {
        let read_as = line.read_as.into_iter().map(|one| ReadAsBody {
            heard: (!one.heard.is_empty()).then(|| Phoneme::join(&one.heard)),
            answers: one.answers,
            pupils: one.pupils,
        });
        Self {
            grapheme: line.grapheme,
            sounds: Phoneme::join(&line.meant),
            asked: line.asked,
            pupils: line.pupils,
            chosen: line.chosen,
            read_as: read_as.collect(),
        }
    }
}

/// Works out the confusions in answers, in the school's turn.
async fn worked_out(caller: &Caller, words: SchoolEngine, found: HeardAnswers) -> Result<Reply, Problem> {
    caller.compute(move || Reply::ok(&body(&words, &found))).await
}

fn body(words: &SchoolEngine, found: &HeardAnswers) -> ConfusionsBody {
    let expecting = Expecting::new(&words.engine, words.policy.accent);
    let expected: BTreeMap<CheckItemId, Expected> =
        found.items.iter().map(|item| (item.id, expecting.of(item))).collect();
    let (nothing, usual) = (Expected::default(), SpeechNote::default());
    let heard: Vec<Option<Heard>> = found.answers.iter().map(|one| one.heard.clone()).collect();
    let answers = found.answers.iter().zip(&heard).map(|(one, heard)| Answered {
        pupil: one.pupil,
        expected: expected.get(&one.item).unwrap_or(&nothing),
        note: found.notes.get(&one.pupil).unwrap_or(&usual),
        outcome: one.outcome,
        heard: heard.as_ref(),
        chosen: one.mode.is_choice(),
    });
    let out = confusions(answers, found.smallest);
    ConfusionsBody {
        answers: out.answers,
        pupils: out.pupils,
        chosen: out.chosen,
        unheard: out.unheard,
        acceptable: out.acceptable,
        withheld: out.withheld,
        graphemes: out.lines.into_iter().map(ConfusionBody::from).collect(),
    }
}
