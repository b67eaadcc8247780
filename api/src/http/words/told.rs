//! What a marker is told of what was heard: how it stands to what is expected. The marker decides.

use std::collections::BTreeMap;

use plumbline_core::{
    access::{
        act::Read,
        resource::{PupilAnswering, PupilChecks},
    },
    check::{CheckItem, Heard, HeardIs, SpeechNote, expected::Expecting, heard_is},
    id::{CheckItemId, PupilId, ResponseId},
};

use super::school::SchoolEngine;
use crate::{
    http::problem::Problem,
    store::{Permit, ResponseRow, Tx},
};

/// How a pupil usually says sounds, where whoever asks may know that.
///
/// # Errors
/// If the store fails.
pub fn note_of(tx: &mut Tx<'_>, pupil: PupilId) -> Result<SpeechNote, Problem> {
    let today = tx.today();
    match tx.permit_if_allowed::<Read, _>(PupilAnswering(pupil))? {
        Some(permit) => Ok(tx.speech_note(&permit, today)?),
        None => Ok(SpeechNote::default()),
    }
}

/// How sounds heard stand to what items of a check expect, by item.
pub fn told_of<'a>(
    words: &SchoolEngine,
    items: &[CheckItem],
    note: &SpeechNote,
    heard: impl IntoIterator<Item = (CheckItemId, &'a Heard)>,
) -> BTreeMap<CheckItemId, HeardIs> {
    let mut heard = heard.into_iter().peekable();
    if heard.peek().is_none() {
        return BTreeMap::new();
    }
    let expecting = Expecting::new(&words.engine, words.policy.accent);
    let told = |(id, heard)| {
        let item = items.iter().find(|item| item.id == id)?;
        Some((id, heard_is(&expecting.of(item).accept, note, heard)))
    };
    heard.filter_map(told).collect()
}

/// The same of responses of a pupil, whichever checks of the round they are to.
///
/// # Errors
/// If the store fails.
pub fn told<'tx, A>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, PupilChecks>,
    words: &SchoolEngine,
    rows: &[ResponseRow],
) -> Result<BTreeMap<ResponseId, HeardIs>, Problem> {
    let note = note_of(tx, permit.resource().pupil)?;
    let mut out = BTreeMap::new();
    let mut checks: Vec<_> = rows.iter().filter(|row| row.heard.is_some()).map(|row| row.check_id).collect();
    checks.sort_unstable();
    checks.dedup();
    for check in checks {
        let (_, check) = tx.round_check(permit, check)?;
        for row in rows.iter().filter(|row| row.check_id == check.id) {
            let Some(heard) = row.heard.as_deref().and_then(|text| Heard::new(text).ok()) else { continue };
            let told = told_of(words, &check.items, &note, [(row.item_id, &heard)]);
            out.extend(told.into_values().map(|is| (row.id, is)));
        }
    }
    Ok(out)
}
