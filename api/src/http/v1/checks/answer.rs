//! POST /check-rounds/{id}/pupils/{pupil_id}/responses

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Record, resource::PupilChecks},
    check::{CheckKind, Heard, Outcome, Response, ResponseMode, answered, check_answers},
    id::{CheckId, CheckItemId, PupilId, RoundId, StaffId},
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{ResponseBody, answer_facts, bodies, for_this_pupil, heard_fits, not_of_the_round};
use crate::{
    http::{
        body::Body,
        caller::Caller,
        page::Page,
        problem::{Code, Gathered, Problem},
        problems::CreateProblems,
        reply::Reply,
        words::told::{told, words_for},
    },
    store::{Error, NewResponse, Permit, ResponseRow, Tx, response_of},
};

/// Answers of one pupil to items of one check.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "check_id": "0199f2c4-0000-7000-8000-00000000000e", "on": "2026-10-14",
    "answers": [{"item_id": "0199f2c4-0000-7000-8000-00000000000f", "outcome": "right"}]
}))]
pub struct NewResponses {
    /// The check.
    pub check_id: CheckId,
    /// The day: one of the round's.
    pub on: Date,
    /// The adult who asked, if somebody else enters it.
    #[serde(default)]
    pub taken_by: Option<StaffId>,
    /// How the pupil answers: as usual for this pupil unless told.
    #[serde(default)]
    pub mode: Option<ResponseMode>,
    /// The answers; items left out can follow later.
    pub answers: Vec<AnswerBody>,
}

/// An answer to one item.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AnswerBody {
    /// The item.
    pub item_id: CheckItemId,
    /// What came of it.
    pub outcome: Outcome,
    /// What was heard instead, in sounds: `b.ɪ.n`. For a wrong answer.
    #[serde(default)]
    #[schema(value_type = Option<String>, example = "b.ɪ.n")]
    pub heard: Option<Heard>,
}

/// Record a pupil's answers
///
/// Answers are only ever added: a second answer to an item is refused, a correction names
/// the first. Where sounds were heard, the answer tells how they stand to what is expected: a reading to accept that
/// was marked wrong is taken as sent, and shown. Not asking an item is not a wrong answer: it can be asked on a later
/// day. In a round that is for other pupils the lead alone asks one. Answers of a record that was made one with another
/// are that one's. Answers given on a day of the round are taken for some days
/// after it closed, and marked late. Those of a placement check are given to the placement; here
/// they are only corrected.
#[utoipa::path(
    tag = "checks", operation_id = "record_responses", request_body = NewResponses,
    params(("id" = RoundId, Path, description = "The round"), ("pupil_id" = PupilId, Path, description = "The pupil"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Recorded", body = Page<ResponseBody>), CreateProblems)
)]
#[post("/check-rounds/{id}/pupils/{pupil_id}/responses")]
pub async fn record_responses(
    caller: Caller,
    path: web::Path<(RoundId, PupilId)>,
    body: Body<NewResponses>,
) -> Result<Reply, Problem> {
    let (round, pupil) = path.into_inner();
    let new = body.value;
    let words = words_for(&caller, new.answers.iter().map(|answer| &answer.heard)).await?;
    caller
        .create("check.record", body.hash, move |tx| {
            let asked = Asked {
                check: new.check_id,
                on: new.on,
                taken_by: new.taken_by,
                mode: new.mode,
                answers: &new.answers,
            };
            let Recorded { pupil, permit, rows } = take(tx, (round, pupil), &asked)?;
            let location = format!("/api/v1/check-rounds/{round}/pupils/{pupil}/responses");
            let told = told(tx, &permit, words.as_ref(), &rows)?;
            Reply::created(location, &Page::whole(bodies(rows, &told)))
        })
        .await
}

/// Answers of one pupil of one day.
pub(super) struct Asked<'a> {
    pub(super) check: CheckId,
    pub(super) on: Date,
    pub(super) taken_by: Option<StaffId>,
    pub(super) mode: Option<ResponseMode>,
    pub(super) answers: &'a [AnswerBody],
}

/// Answers as recorded, and whose they are now.
pub(super) struct Recorded<'tx> {
    pub(super) pupil: PupilId,
    pub(super) permit: Permit<'tx, Record, PupilChecks>,
    pub(super) rows: Vec<ResponseRow>,
}

/// Records answers of one pupil: the one way they are, alone or among others.
pub(super) fn take<'tx>(
    tx: &mut Tx<'tx>,
    (round, pupil): (RoundId, PupilId),
    asked: &Asked<'_>,
) -> Result<Recorded<'tx>, Problem> {
    let pupil = tx.merged_records()?.now(pupil);
    let permit = tx.permit::<Record, _>(PupilChecks { round, pupil, on: None })?;
    let (round_row, check) = tx.round_check(&permit, asked.check).map_err(not_of_the_round)?;
    if check.kind == CheckKind::Placement {
        let detail = "a placement check asks in its own order: answer it at \
            /pupils/{id}/placements/{placement_id}/answers";
        return Err(Problem::saying(Code::Conflict, detail));
    }
    let is_asked = tx.is_asked(&permit, &round_row, asked.on)?;
    for_this_pupil(tx, round, is_asked)?;
    let there: Vec<Response> = tx.responses(&permit)?.into_iter().map(response_of).collect();
    let (existing, left_on) = (answered(&there, asked.check), tx.last_day(&permit)?);
    let facts = answer_facts(tx, (&round_row, &check), &existing, left_on)?;
    let answers: Vec<_> = asked.answers.iter().map(|answer| answer.item_id).collect();
    let mut wrong = Gathered::default();
    wrong.of(check_answers(&facts, asked.on, &answers).map_err(Problem::from))?;
    for (n, answer) in asked.answers.iter().enumerate() {
        wrong.of(heard_fits(answer.outcome, answer.heard.as_ref(), format!("answers[{n}].heard")))?;
    }
    let mode = match asked.mode {
        Some(mode) => mode,
        None => tx.usual_mode(&permit, asked.on)?,
    };
    if let Some(staff) = asked.taken_by {
        wrong.of(tx.known_staff(&permit, staff).map_err(|error| match error {
            Error::Missing => Problem::field("taken_by", "is not of this school's staff"),
            other => other.into(),
        }))?;
    }
    wrong.none()?;
    let taken_by = asked.taken_by.unwrap_or(tx.actor().staff);
    let second = tx.second_sample(&permit, asked.check)?.map(|place| place.staff_id);
    if second.is_some_and(|second| [taken_by, tx.actor().staff].contains(&second)) {
        let detail = "this adult is asked to mark this check of this pupil a second time: somebody \
            else asks first";
        return Err(Problem::saying(Code::Conflict, detail));
    }
    let responses: Vec<NewResponse> = asked
        .answers
        .iter()
        .map(|answer| NewResponse {
            id: None,
            check: asked.check,
            item: answer.item_id,
            on: asked.on,
            outcome: answer.outcome,
            heard: answer.heard.clone(),
            mode,
            taken_by,
            corrects: None,
            reason: None,
            sitting: None,
            late: facts.late(),
        })
        .collect();
    let rows = tx.add_responses(&permit, &responses)?;
    Ok(Recorded { pupil, permit, rows })
}
