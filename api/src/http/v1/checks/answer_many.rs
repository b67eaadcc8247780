//! POST /check-rounds/{id}/responses

use std::collections::{BTreeMap, BTreeSet, btree_map::Entry};

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Read, resource::Round},
    check::{ResponseMode, Warning},
    id::{CheckId, PupilId, RoundId, StaffId},
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{
    ResponseBody,
    answer::{AnswerBody, Asked, Recorded, take},
    bodies,
};
use crate::{
    http::{
        body::Body,
        caller::Caller,
        page::Page,
        problem::{Code, Gathered, Problem},
        problems::CreateProblems,
        reply::Reply,
        words::{
            school::SchoolEngine,
            told::{told, words_for},
        },
    },
    store::{Permit, Tx},
};

/// Pupils in one request at most: more than any class has.
const MOST: usize = 60;

/// Answers of many pupils to items of one check, as from a log sheet.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "check_id": "0199f2c4-0000-7000-8000-00000000000e", "on": "2026-10-14", "taken_by": "0199f2c4-0000-7000-8000-000000000002",
    "pupils": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007",
                "answers": [{"item_id": "0199f2c4-0000-7000-8000-00000000000f", "outcome": "right"}]}]
}))]
pub struct SheetAnswers {
    /// The check.
    pub check_id: CheckId,
    /// The day, one of the round's, of every pupil who has none of their own.
    #[serde(default)]
    pub on: Option<Date>,
    /// The adult who asked, if somebody else enters it.
    #[serde(default)]
    pub taken_by: Option<StaffId>,
    /// 1 to 60 pupils, each once.
    pub pupils: Vec<PupilAnswers>,
}

/// Answers of one pupil.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PupilAnswers {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The day, where it is another than the others'.
    #[serde(default)]
    pub on: Option<Date>,
    /// The adult who asked, where it is another than of the others.
    #[serde(default)]
    pub taken_by: Option<StaffId>,
    /// How the pupil answered: as usual for this pupil unless told.
    #[serde(default)]
    pub mode: Option<ResponseMode>,
    /// The answers; items left out can follow later.
    pub answers: Vec<AnswerBody>,
}

/// What was recorded of one pupil.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "responses": [{
    "id": "0199f2c4-0000-7000-8000-000000000011", "check_id": "0199f2c4-0000-7000-8000-00000000000e",
    "item_id": "0199f2c4-0000-7000-8000-00000000000f", "on": "2026-10-14", "outcome": "right", "heard": null, "mode": "spoken",
    "taken_by": "0199f2c4-0000-7000-8000-000000000002", "entered_by": "0199f2c4-0000-7000-8000-000000000003",
    "entered_at": "2026-10-14T09:50:00.000000Z", "corrects": null, "reason": null, "in_force": true, "heard_is": null, "sitting_id": null, "late": false}],
    "warnings": []}))]
pub struct PupilRecorded {
    /// The pupil; of a record that was made one with another, that one.
    pub pupil_id: PupilId,
    /// The answers as recorded.
    pub responses: Vec<ResponseBody>,
    /// What is odd about them. They are taken all the same.
    pub warnings: Vec<Warning>,
}

/// Record the answers of many pupils
///
/// All or nothing, each pupil's as if recorded alone. What cannot stand is named by the place of its pupil and of its
/// answer, counted from 0: every fault of every pupil. A pupil whom the registers of that day have absent is asked all the
/// same, with a warning.
#[utoipa::path(
    tag = "checks", operation_id = "record_sheet", request_body = SheetAnswers,
    params(("id" = RoundId, Path, description = "The round"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Recorded", body = Page<PupilRecorded>), CreateProblems)
)]
#[post("/check-rounds/{id}/responses")]
pub async fn record_sheet(
    caller: Caller,
    id: web::Path<RoundId>,
    body: Body<SheetAnswers>,
) -> Result<Reply, Problem> {
    let round = *id;
    let sheet = body.value;
    let answers = sheet.pupils.iter().flat_map(|of| &of.answers);
    let words = words_for(&caller, answers.map(|answer| &answer.heard)).await?;
    caller
        .create("check.record_sheet", body.hash, move |tx| {
            let of_round = tx.permit::<Read, _>(Round(round))?;
            if !(1..=MOST).contains(&sheet.pupils.len()) {
                return Err(Problem::field("pupils", format!("give 1 to {MOST} pupils")));
            }
            let recorded = record(tx, words.as_ref(), &of_round, &sheet)?;
            Reply::created(format!("/api/v1/check-rounds/{round}/progress"), &Page::whole(recorded))
        })
        .await
}

fn record<'tx>(
    tx: &mut Tx<'tx>,
    words: Option<&SchoolEngine>,
    of_round: &Permit<'tx, Read, Round>,
    sheet: &SheetAnswers,
) -> Result<Vec<PupilRecorded>, Problem> {
    let (round, merged) = (of_round.resource().0, tx.merged_records()?);
    let mut absent: BTreeMap<Date, BTreeSet<PupilId>> = BTreeMap::new();
    let (mut recorded, mut wrong, mut met) = (Vec::new(), Gathered::default(), BTreeSet::new());
    for (n, of) in sheet.pupils.iter().enumerate() {
        let at = |field: &str| format!("pupils[{n}].{field}");
        if !met.insert(merged.now(of.pupil_id)) {
            wrong.add(at("pupil_id"), "this pupil stands twice");
            continue;
        }
        let Some(on) = of.on.or(sheet.on) else {
            wrong.add(at("on"), "is required here or for all");
            continue;
        };
        let asked = Asked {
            check: sheet.check_id,
            on,
            taken_by: of.taken_by.or(sheet.taken_by),
            mode: of.mode,
            answers: &of.answers,
        };
        match take(tx, (round, of.pupil_id), &asked) {
            Ok(Recorded { pupil, permit, rows }) => {
                let told = told(tx, &permit, words, &rows)?;
                let away = match absent.entry(on) {
                    Entry::Occupied(known) => known.into_mut(),
                    Entry::Vacant(new) => new.insert(tx.absent_then(of_round, on)?),
                };
                let warnings = away.contains(&pupil).then_some(Warning::AbsentThatDay).into_iter().collect();
                recorded.push(PupilRecorded { pupil_id: pupil, responses: bodies(rows, &told), warnings });
            }
            Err(problem) if problem.code() == Code::NotFound => {
                wrong.add(at("pupil_id"), "is none of the pupils you check");
            }
            Err(problem) => {
                let place = |field: &str| match said_for_all(field, of, sheet) {
                    Some(for_all) => for_all.to_owned(),
                    None => at(field),
                };
                wrong.take(problem, place)?;
            }
        }
    }
    wrong.none()?;
    Ok(recorded)
}

/// The field of the sheet that a pupil's fault is in, where the sheet says it for all.
fn said_for_all(field: &str, of: &PupilAnswers, sheet: &SheetAnswers) -> Option<&'static str> {
    match field {
        "check_id" => Some("check_id"),
        "on" if of.on.is_none() && sheet.on.is_some() => Some("on"),
        "taken_by" if of.taken_by.is_none() => Some("taken_by"),
        _ => None,
    }
}
