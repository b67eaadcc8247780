//! How pupils answer checks: usual speech, usual response mode, what is not accessible.

pub mod add_not_accessible;
pub mod end_not_accessible;
pub mod get;
pub mod reviews;
pub mod set_mode;
pub mod set_speech;

use plumbline_core::{
    check::{CheckKind, ResponseMode, SpeechNote},
    id::{NotAccessibleId, PupilId, StaffId},
    roster::optional::{Said, stretches, value_on},
    rules::{Coded, NotAccessibleRule},
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{problem::Problem, reply::Reply},
    store::{AnsweringSubject, AnsweringView, NotAccessibleRow, Tx},
};

/// A sound as a pupil usually says it.
#[derive(Serialize, ToSchema)]
pub struct UsualSound {
    /// The sound meant.
    #[schema(example = "θ")]
    pub sound: String,
    /// The sound said for it; null where it is left out.
    #[schema(example = "f")]
    pub said: Option<String>,
}

/// Days of one note on usual speech.
#[derive(Serialize, ToSchema)]
pub struct SpeechDays {
    /// The first.
    pub from: Date,
    /// The last; null where none is known.
    pub until: Option<Date>,
    /// Its pairs.
    pub pairs: Vec<UsualSound>,
}

/// Days of one usual response mode.
#[derive(Serialize, ToSchema)]
pub struct ModeDays {
    /// The first.
    pub from: Date,
    /// The last; null where none is known.
    pub until: Option<Date>,
    /// The mode.
    pub mode: String,
}

/// A word as it was entered.
#[derive(Serialize, ToSchema)]
pub struct AnsweringWord {
    /// What it is about: `speech` or `mode`.
    pub about: String,
    /// The day it counts from.
    pub from: Date,
    /// What it says, a note as `θ>f`; null where it takes back what was said.
    pub value: Option<String>,
    /// Who entered it.
    pub entered_by: StaffId,
    /// When.
    pub entered_at: Instant,
}

/// That checks are not accessible to a pupil.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000031", "pupil_id": "0199f2c4-0000-7000-8000-000000000007",
    "kind": "word_reading", "mode": null, "reason": "shown_out_of_reach",
    "reason_label": "What is shown cannot be taken in as it is, and there is no other form of it yet",
    "from": "2026-11-25", "review_on": "2027-01-15", "said_by": "0199f2c4-0000-7000-8000-000000000002",
    "said_at": "2026-11-25T10:00:00.000000Z", "ended_on": null, "ended_by": null, "holds": true
}))]
pub struct NotAccessibleBody {
    /// Its id.
    pub id: NotAccessibleId,
    /// The pupil.
    pub pupil_id: PupilId,
    /// Checks of this kind; null for every kind.
    pub kind: Option<CheckKind>,
    /// Answered this way; null for every way.
    pub mode: Option<ResponseMode>,
    /// The reason's code.
    pub reason: String,
    /// The reason as shown; null for a code the rule pack no longer has.
    pub reason_label: Option<String>,
    /// The first day.
    pub from: Date,
    /// The last day, by which somebody looks at it again.
    pub review_on: Date,
    /// Who said so.
    pub said_by: StaffId,
    /// When.
    pub said_at: Instant,
    /// The day on which it was ended before.
    pub ended_on: Option<Date>,
    /// By whom.
    pub ended_by: Option<StaffId>,
    /// Whether it holds today.
    pub holds: bool,
}

impl NotAccessibleBody {
    pub(in crate::http) fn new(row: NotAccessibleRow, rule: &NotAccessibleRule, today: Date) -> Self {
        Self {
            holds: row.entry().holds_on(today),
            id: row.id,
            pupil_id: row.pupil_id,
            kind: row.kind,
            mode: row.mode,
            reason_label: Coded::find(&rule.reasons, &row.reason).map(|reason| reason.label.clone()),
            reason: row.reason,
            from: row.from_on,
            review_on: row.review_on,
            said_by: row.said_by,
            said_at: row.at,
            ended_on: row.ended_on,
            ended_by: row.ended_by,
        }
    }
}

/// How a pupil answers checks: what a marker needs to know, and nothing about the pupil beyond.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "pupil_id": "0199f2c4-0000-7000-8000-000000000007", "on": "2026-11-25",
    "speech": [{"sound": "θ", "said": "f"}], "mode": "spoken",
    "speech_days": [{"from": "2026-09-01", "until": null, "pairs": [{"sound": "θ", "said": "f"}]}], "mode_days": [],
    "words": [{"about": "speech", "from": "2026-09-01", "value": "θ>f", "entered_by": "0199f2c4-0000-7000-8000-000000000002",
               "entered_at": "2026-11-25T10:00:00.000000Z"}],
    "not_accessible": [], "cautions": ["It is no diagnosis."]
}))]
pub struct AnsweringBody {
    /// The pupil.
    pub pupil_id: PupilId,
    /// Today.
    pub on: Date,
    /// Sounds as the pupil usually says them today.
    pub speech: Vec<UsualSound>,
    /// How the pupil usually answers today: aloud, where nothing was said.
    pub mode: ResponseMode,
    /// The days of each note.
    pub speech_days: Vec<SpeechDays>,
    /// The days of each mode.
    pub mode_days: Vec<ModeDays>,
    /// Every word as entered, earliest first of each sort.
    pub words: Vec<AnsweringWord>,
    /// Checks that are not accessible, past ones too, the latest first.
    pub not_accessible: Vec<NotAccessibleBody>,
    /// To be shown with it.
    pub cautions: Vec<String>,
}

fn pairs(text: &str) -> Vec<UsualSound> {
    usual_sounds(&text.parse().unwrap_or_default())
}

/// The pairs of a note.
pub fn usual_sounds(note: &SpeechNote) -> Vec<UsualSound> {
    let pair = |usual: plumbline_core::check::Usual| UsualSound {
        sound: usual.sound.to_string(),
        said: usual.said.map(|said| said.to_string()),
    };
    note.pairs().map(pair).collect()
}

/// How a pupil answers, as of today, with its version.
fn shown(tx: &Tx<'_>, id: PupilId, view: AnsweringView) -> Result<Reply, Problem> {
    let (rule, today) = (&tx.rules()?.marking, tx.today());
    let (speech, mode) = (view.of(AnsweringSubject::Speech), view.of(AnsweringSubject::Mode));
    let words = [(AnsweringSubject::Speech, speech), (AnsweringSubject::Mode, mode)];
    let word = |about: AnsweringSubject, one: &Said| AnsweringWord {
        about: about.as_str().to_owned(),
        from: one.from,
        value: one.value.clone(),
        entered_by: one.entered_by,
        entered_at: one.at,
    };
    let body = AnsweringBody {
        pupil_id: id,
        on: today,
        speech: value_on(speech, today).map(pairs).unwrap_or_default(),
        mode: value_on(mode, today).and_then(ResponseMode::parse).unwrap_or(ResponseMode::Spoken),
        speech_days: stretches(speech)
            .into_iter()
            .map(|days| SpeechDays { from: days.from, until: days.until, pairs: pairs(days.value) })
            .collect(),
        mode_days: stretches(mode)
            .into_iter()
            .map(|days| ModeDays { from: days.from, until: days.until, mode: days.value.to_owned() })
            .collect(),
        words: words.iter().flat_map(|(about, said)| said.iter().map(|one| word(*about, one))).collect(),
        not_accessible: view
            .not_accessible
            .iter()
            .map(|row| NotAccessibleBody::new(row.clone(), &rule.not_accessible, today))
            .collect(),
        cautions: vec![rule.speech_note.caution.clone(), rule.not_accessible.caution.clone()],
    };
    Ok(Reply::ok(&body)?.version(view.v))
}
