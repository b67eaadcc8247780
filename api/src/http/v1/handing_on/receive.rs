//! POST /pupils/{id}/transfer

use std::collections::BTreeSet;

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Manage, resource::PupilTransfer},
    check::{
        CarriedAnswers, CarriedChange, CarriedRow, KnownPupil, Outcome, Receiving, ResponseMode,
        TransferredOutcome, carried_changes, not_of, read_transferred,
    },
    id::{ItemId, PupilId},
    roster::Upn,
    sequence::Gpc,
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::transfer::{FORMAT, SCHEMA_VERSION, TransferFile, TransferredLine, TransferredPupil};
use crate::{
    http::{
        body::Body, caller::Caller, problem::Problem, problems::CreateProblems, query::Query, reply::Reply,
    },
    store::Tx,
};

/// What to do with the file.
#[derive(Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ReceiveQuery {
    /// Only say what would change.
    #[serde(default)]
    pub dry_run: bool,
    /// Take back what the file brought.
    #[serde(default)]
    pub take_back: bool,
}

/// What a file changes of a day.
#[derive(Serialize, ToSchema)]
pub struct ReceivedDay {
    /// The day.
    pub on: Date,
    /// Answers that were not there.
    pub added: usize,
    /// Answers that said something else.
    pub changed: usize,
    /// Answers that were taken back.
    pub removed: usize,
    /// Answers that are there already.
    pub unchanged: usize,
}

/// What another school's file of a pupil brings.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "dry_run": true, "from_school": "Farholt Infant School", "made_on": "2026-11-25",
    "days": [{"on": "2026-11-13", "added": 21, "changed": 0, "removed": 0, "unchanged": 0}], "chosen_left_out": 0, "asked_here_left_out": 0,
    "response_mode": "spoken",
    "what_helped": {"text": "Reads best with a card under the line.", "on": "2026-11-20"}
}))]
pub struct ReceivedTransfer {
    /// Whether nothing was written.
    pub dry_run: bool,
    /// The school it is from.
    pub from_school: String,
    /// When it was made.
    pub made_on: Date,
    /// Days with answers, earliest first.
    pub days: Vec<ReceivedDay>,
    /// Answers chosen among several shown, which are not carried in.
    pub chosen_left_out: usize,
    /// Answers of days on which a check of this school asked the same: they stand here already.
    pub asked_here_left_out: usize,
    /// How the pupil usually answered there; nothing is set by it here.
    pub response_mode: ResponseMode,
    /// What helped there; nothing is set by it here.
    pub what_helped: Option<TransferredLine>,
}

/// Read the file that came with a pupil from another school
///
/// The file as `GET /pupils/{id}/transfer` makes it. It has to be of this pupil: by the unique pupil number, or by the date
/// of birth and the first name. Its answers are carried in, day by day, and count as those do; one of a day that was carried in
/// before is replaced, and the same file again changes nothing. What was taught there is not taken for taught here:
/// where to begin, a placement check says. How the pupil answered and what helped is shown, for adults here to decide.
/// They are shown with a group's answers carried in once the pupil is in a group.
///
/// A file read in by mistake is taken back whole with `take_back=true` and the same file: the answers that a file brought,
/// where they still stand as this one says. Whose file it is is not asked then. What it replaced does not come back; what
/// was there before, and what was entered otherwise since, stays.
#[utoipa::path(
    tag = "handing on", operation_id = "receive_pupil_transfer", request_body = TransferFile,
    params(("id" = PupilId, Path, description = "The pupil"), ReceiveQuery),
    responses((status = 200, description = "What it changed, or would change", body = ReceivedTransfer), CreateProblems)
)]
#[post("/pupils/{id}/transfer")]
pub async fn receive_pupil_transfer(
    caller: Caller,
    id: web::Path<PupilId>,
    query: Query<ReceiveQuery>,
    body: Body<TransferFile>,
) -> Result<Reply, Problem> {
    let (pupil, query, file) = (*id, query.into_inner(), body.value);
    let work = move |tx: &mut Tx<'_>| receive(tx, pupil, &file, query);
    if query.dry_run {
        return caller.read_logged("pupil.preview_transfer", work).await;
    }
    let operation = if query.take_back { "pupil.take_back_transfer" } else { "pupil.receive_transfer" };
    caller.write(operation, work).await
}

fn receive(
    tx: &mut Tx<'_>,
    pupil: PupilId,
    file: &TransferFile,
    query: ReceiveQuery,
) -> Result<Reply, Problem> {
    let ReceiveQuery { dry_run, take_back } = query;
    let permit = tx.permit::<Manage, _>(PupilTransfer(pupil))?;
    if file.format != FORMAT {
        return Err(Problem::field("format", format!("is not {FORMAT}")));
    }
    if file.schema_version != SCHEMA_VERSION {
        let message = format!("is {}; this server reads {SCHEMA_VERSION}", file.schema_version);
        return Err(Problem::field("schema_version", message));
    }
    let known = tx.receiver(&permit)?;
    let of = named(&file.pupil)?;
    // A file read in for the wrong child is taken back, too.
    if !take_back {
        if let Some(upn) = &of.upn
            && tx.is_anothers(&permit, upn)?
        {
            return Err(Problem::field("pupil.upn", "is the one of another pupil here"));
        }
        if let Some(fault) = not_of(&of, &known.pupil, &known.upns) {
            return Err(vec![fault].into());
        }
    }
    let pairs = file.correspondences.iter().map(|one| {
        let gpc = Gpc { grapheme: one.grapheme.clone(), phoneme: one.phoneme.clone() };
        (gpc, one.answers.iter().map(TransferredOutcome::from).collect())
    });
    // What was read in before a check here asked the same on that day is taken back too.
    let nothing = BTreeSet::new();
    let asked_here = if take_back { &nothing } else { &known.asked_here };
    let of = Receiving { today: tx.today(), born: known.pupil.born, asked_here };
    let read = read_transferred(pairs, of)?;
    let mut changes: Vec<(Date, CarriedChange)> = Vec::new();
    for (place, (on, answers)) in (0..).zip(read.days) {
        let there = known.carried.get(&on);
        let brought = known.transferred.get(&on);
        let answers = match take_back {
            true => taken_back(answers, there, brought),
            false => answers.into_iter().collect(),
        };
        let row = CarriedRow { place, pupil, answers };
        let existing = there.map(|there| (pupil, there.clone())).into_iter().collect();
        changes.extend(carried_changes(&[row], &existing).into_iter().map(|change| (on, change)));
    }
    if !dry_run {
        tx.save_transferred(&permit, &changes)?;
    }
    let day = |(on, change): (Date, CarriedChange)| {
        let CarriedChange { added, changed, removed, unchanged, .. } = change;
        ReceivedDay { on, added, changed, removed, unchanged }
    };
    Reply::ok(&ReceivedTransfer {
        dry_run,
        from_school: file.from_school.clone(),
        made_on: file.made_on,
        days: changes.into_iter().map(day).collect(),
        chosen_left_out: read.chosen,
        asked_here_left_out: read.here,
        response_mode: file.response_mode,
        what_helped: file.what_helped.clone(),
    })
}

/// The answers of a day that a file brought and that stand as this one says, as not offered.
fn taken_back(
    answers: CarriedAnswers,
    there: Option<&CarriedAnswers>,
    brought: Option<&BTreeSet<ItemId>>,
) -> Vec<(ItemId, Outcome)> {
    let stands = |item: &ItemId, outcome: Outcome| {
        brought.is_some_and(|brought| brought.contains(item))
            && there.and_then(|there| there.get(item)) == Some(&outcome)
    };
    let gone = answers.into_iter().filter(|(item, outcome)| stands(item, *outcome));
    gone.map(|(item, _)| (item, Outcome::NotOffered)).collect()
}

fn named(pupil: &TransferredPupil) -> Result<KnownPupil, Problem> {
    let upn = pupil.upn.as_deref().map(Upn::new).transpose();
    Ok(KnownPupil {
        reference: None,
        upn: upn.map_err(|error| Problem::field("pupil.upn", error.to_string()))?,
        given_name: pupil.given_name.clone(),
        family_name: pupil.family_name.clone(),
        preferred_name: pupil.preferred_name.clone(),
        born: pupil.date_of_birth,
    })
}
