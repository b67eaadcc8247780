//! GET /pupils/{id}/transfer

use std::collections::BTreeMap;

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::{PupilTransfer, SchoolProfile},
    },
    attainment::{Answer, CheckAge, Estimator, Fitted, ItemStanding, PupilRecords, SecureBasis, Standing},
    check::{Outcome, ResponseMode, TransferredOutcome},
    id::{ItemId, PupilId},
    lesson::ItemCoverage,
    rules::RulePack,
    sequence::{Item, ItemKind},
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::super::attainment::standings_of;
use crate::{
    http::{
        caller::Caller,
        problem::Problem,
        problems::ReadProblems,
        query::Query,
        reply::Reply,
        sheets::{self, PageFormat},
    },
    store::{HandingOn, PupilView},
};

/// What the format is called, and its version: another one once a reader of this one would read it wrongly.
pub(super) const FORMAT: &str = "pupil_phonics_transfer";
pub(super) const SCHEMA_VERSION: u32 = 1;

/// As what it comes, and with what.
#[derive(Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct TransferQuery {
    /// `json` unless told; `html` to read and print.
    #[serde(default)]
    #[param(inline)]
    pub format: PageFormat,
    /// The unique pupil number too, whole; the lead's to ask for, and the audit log says so.
    #[serde(default)]
    pub upn: bool,
}

/// Whom the file is of.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
pub struct TransferredPupil {
    /// First name.
    pub given_name: String,
    /// Family name.
    pub family_name: Option<String>,
    /// The name the pupil is called by.
    pub preferred_name: Option<String>,
    /// Date of birth.
    pub date_of_birth: Option<Date>,
    /// Unique pupil number, where the lead asked for it.
    pub upn: Option<String>,
    /// The last day at this school; null where none is known.
    pub last_day: Option<Date>,
}

/// An answer to a check.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
pub struct TransferredAnswer {
    /// The day.
    pub on: Date,
    /// What came of it; nothing that was not asked is here.
    pub outcome: Outcome,
    /// Whether it was chosen among several shown.
    pub chosen: bool,
    /// Whether this school itself had it from before its records begin.
    pub carried_in: bool,
}

impl From<&Answer> for TransferredAnswer {
    fn from(answer: &Answer) -> Self {
        let Answer { on, outcome, carried_in, by_choice } = *answer;
        Self { on, outcome, chosen: by_choice, carried_in }
    }
}

impl From<&TransferredAnswer> for TransferredOutcome {
    fn from(answer: &TransferredAnswer) -> Self {
        let TransferredAnswer { on, outcome, chosen, .. } = *answer;
        Self { on, outcome, chosen }
    }
}

/// A correspondence, named by its pair.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
pub struct TransferredGpc {
    /// The letters; a split digraph with its gap, as `a_e`.
    pub grapheme: String,
    /// The sound, in the International Phonetic Alphabet without slashes.
    pub phoneme: String,
    /// How it stands, by this school's rule.
    pub standing: Standing,
    /// The first day it was taught to the pupil.
    pub taught_on: Option<Date>,
    /// Whether that day is the one as of which this school had it from before its records begin.
    pub taught_before: bool,
    /// The last day it was taught without the pupil, while still missed.
    pub missed_on: Option<Date>,
    /// Answers of the pupil to checks, earliest first.
    pub answers: Vec<TransferredAnswer>,
}

/// What else was taught or missed.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
pub struct TransferredItem {
    /// What it is.
    pub kind: ItemKind,
    /// The word, the part or the rule.
    pub text: String,
    /// The first day it was taught to the pupil.
    pub taught_on: Option<Date>,
    /// The last day it was taught without the pupil, while still missed.
    pub missed_on: Option<Date>,
}

/// The line on what helped.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
pub struct TransferredLine {
    /// The line.
    pub text: String,
    /// The day it was written.
    pub on: Date,
}

/// What goes to another school with a pupil. Nothing in it is named by ids of a server.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[schema(example = json!({
    "format": "pupil_phonics_transfer", "schema_version": 1, "made_on": "2026-11-25", "from_school": "Farholt Infant School",
    "pupil": {"given_name": "Zoë", "family_name": "Bell", "preferred_name": "Zo", "date_of_birth": "2020-05-31", "upn": null,
              "last_day": "2026-11-27"},
    "secure_means": {"right_on_days": 3, "days_after_teaching": 7, "carried_in_days": 1}, "cautions": ["Taught is never known."],
    "last_check_on": "2026-11-13", "response_mode": "spoken",
    "what_helped": {"text": "Reads best with a card under the line.", "on": "2026-11-20"},
    "correspondences": [{"grapheme": "igh", "phoneme": "aɪ", "standing": "not_yet_secure", "taught_on": "2026-11-10",
        "taught_before": false, "missed_on": null,
        "answers": [{"on": "2026-11-13", "outcome": "right", "chosen": false, "carried_in": false}]}],
    "others": [{"kind": "exception_word", "text": "said", "taught_on": "2026-11-12", "missed_on": null}]
}))]
pub struct TransferFile {
    /// `pupil_phonics_transfer`.
    pub format: String,
    /// 1; another one once a reader of this would read it wrongly. Further fields may be added to 1.
    pub schema_version: u32,
    /// The day.
    pub made_on: Date,
    /// The school it is from.
    pub from_school: String,
    /// The pupil.
    pub pupil: TransferredPupil,
    /// What "secure" means in it.
    pub secure_means: SecureBasis,
    /// To be shown with it.
    pub cautions: Vec<String>,
    /// The last day on which a check of this school asked a correspondence.
    pub last_check_on: Option<Date>,
    /// How the pupil usually answers.
    pub response_mode: ResponseMode,
    /// The line on what helped.
    pub what_helped: Option<TransferredLine>,
    /// Correspondences taught, missed or asked, in the school's teaching order.
    pub correspondences: Vec<TransferredGpc>,
    /// What else was taught or missed, such as exception words.
    pub others: Vec<TransferredItem>,
}

/// Make the file that goes to another school with a pupil
///
/// What was taught, what checks showed day by day, and what helped: correspondences are named by grapheme and phoneme,
/// so that any school can read it. No other child, no adult, no id of this server, no note on usual speech, and no unique
/// pupil number unless the lead asks for it. For the lead and the head; the reading is written to the audit log, as an
/// export, before the answer is sent.
#[utoipa::path(
    tag = "handing on", operation_id = "get_pupil_transfer",
    params(("id" = PupilId, Path, description = "The pupil"), TransferQuery),
    responses((status = 200, description = "The file", content(
        (TransferFile = "application/json"),
        (String = "text/html", example = "<!doctype html><html lang=\"en\"><title>Transfer</title></html>")
    )), ReadProblems)
)]
#[get("/pupils/{id}/transfer")]
pub async fn get_pupil_transfer(
    caller: Caller,
    id: web::Path<PupilId>,
    query: Query<TransferQuery>,
) -> Result<Reply, Problem> {
    let (pupil, TransferQuery { format, upn }) = (*id, query.into_inner());
    let operation = if upn { "pupil.export_transfer_with_upn" } else { "pupil.export_transfer" };
    let file = caller
        .read_logged(operation, move |tx| {
            let permit = tx.permit::<Read, _>(PupilTransfer(pupil))?;
            if upn {
                tx.permit::<Manage, _>(PupilTransfer(pupil))?;
            }
            let (of, mut page) = tx.pupil_transfer(&permit)?;
            page.upn = page.upn.filter(|_| upn);
            let profile = tx.permit::<Read, _>(SchoolProfile)?;
            let school = tx.school_profile(&profile)?.name;
            Ok(file(school, page, of, tx.rules()?, tx.today()))
        })
        .await?;
    match format {
        PageFormat::Json => Reply::ok(&file),
        PageFormat::Html => Ok(Reply::sheet(sheets::transfer::page(&file))),
    }
}

fn file(
    from_school: String,
    page: PupilView,
    mut of: HandingOn,
    rules: &'static RulePack,
    made_on: Date,
) -> TransferFile {
    let (rule, id) = (&rules.attainment, page.row.id);
    // The estimate does not leave the school: no values of it are needed.
    let estimator = Estimator::new(Fitted::pack(&rule.estimate, 0, 0).parameters);
    let standings = standings_of(&of.attainment, rule, &estimator, made_on).remove(&id).unwrap_or_default();
    let records = of.attainment.learning.remove(&id).unwrap_or_default();
    TransferFile {
        format: FORMAT.to_owned(),
        schema_version: SCHEMA_VERSION,
        made_on,
        from_school,
        secure_means: (&rule.secure).into(),
        cautions: vec![rules.handing_on.transfer_caution.clone(), rule.caution.clone()],
        last_check_on: CheckAge::of(Some(&records), made_on, None).last_check_on,
        response_mode: of.modes.remove(&id).unwrap_or(ResponseMode::Spoken),
        what_helped: of
            .what_helped
            .remove(&id)
            .map(|line| TransferredLine { text: line.text, on: line.on_date }),
        correspondences: gpcs(&of.attainment.items, &standings, &records),
        others: others(&of.others, &records),
        pupil: TransferredPupil {
            given_name: page.row.given_name,
            family_name: page.row.family_name,
            preferred_name: page.row.preferred_name,
            date_of_birth: page.row.date_of_birth,
            upn: page.upn.map(|upn| upn.as_str().to_owned()),
            last_day: page.row.left_on,
        },
    }
}

fn gpcs(
    items: &[Item],
    standings: &BTreeMap<ItemId, ItemStanding>,
    records: &PupilRecords,
) -> Vec<TransferredGpc> {
    let line = |item: &Item| {
        let (gpc, one) = (item.gpc.as_ref()?, standings.get(&item.id)?);
        // What was taught to the group alone says nothing of the pupil.
        if one.standing == Standing::Unknown {
            return None;
        }
        let answers = records.answers.get(&item.id).into_iter().flatten();
        let mut answers: Vec<TransferredAnswer> = answers
            .filter(|answer| answer.outcome != Outcome::NotOffered)
            .map(TransferredAnswer::from)
            .collect();
        answers.sort_by_key(|answer| answer.on);
        Some(TransferredGpc {
            grapheme: gpc.grapheme.clone(),
            phoneme: gpc.phoneme.clone(),
            standing: one.standing,
            taught_on: one.taught.taught_on,
            taught_before: one.taught.carried_in,
            missed_on: one.taught.missed_on,
            answers,
        })
    };
    items.iter().filter_map(line).collect()
}

fn others(items: &[Item], records: &PupilRecords) -> Vec<TransferredItem> {
    let line = |item: &Item| {
        let ItemCoverage { taught_on, missed_on, .. } = *records.covered.get(&item.id)?;
        Some(TransferredItem { kind: item.kind, text: item.label.to_string(), taught_on, missed_on })
    };
    items.iter().filter_map(line).collect()
}
