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
    http::{caller::Caller, problem::Problem},
    store::{Permit, ResponseRow, Tx},
};

/// The engine to tell with, where any sounds were heard.
///
/// # Errors
/// As [`Caller::words`].
pub async fn words_for<'a, T: 'a>(
    caller: &Caller,
    heard: impl IntoIterator<Item = &'a Option<T>>,
) -> Result<Option<SchoolEngine>, Problem> {
    match heard.into_iter().any(Option::is_some) {
        true => Ok(Some(caller.words().await?)),
        false => Ok(None),
    }
}

/// Tells of what was heard of one pupil.
pub struct Teller<'a> {
    expecting: Expecting<'a>,
    note: SpeechNote,
}

impl<'a> Teller<'a> {
    /// Of a pupil, with the usual speech where whoever asks may know that.
    ///
    /// # Errors
    /// If the store fails.
    pub fn of(tx: &mut Tx<'_>, words: &'a SchoolEngine, pupil: PupilId) -> Result<Self, Problem> {
        let today = tx.today();
        let note = match tx.permit_if_allowed::<Read, _>(PupilAnswering(pupil))? {
            Some(permit) => tx.speech_note(&permit, today)?,
            None => SpeechNote::default(),
        };
        Ok(Self { expecting: Expecting::new(&words.engine, words.policy.accent), note })
    }

    /// How sounds heard stand to what an item of a check expects.
    pub fn tell(&self, items: &[CheckItem], item: CheckItemId, heard: &Heard) -> Option<HeardIs> {
        let item = items.iter().find(|known| known.id == item)?;
        Some(heard_is(&self.expecting.of(item).accept, &self.note, heard))
    }
}

/// How what was heard in responses of a pupil stands, whichever checks of the round they are to. Nothing where there
/// is no engine to tell with.
///
/// # Errors
/// If the store fails.
pub fn told<'tx, A>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, PupilChecks>,
    words: Option<&SchoolEngine>,
    rows: &[ResponseRow],
) -> Result<BTreeMap<ResponseId, HeardIs>, Problem> {
    let heard = |row: &ResponseRow| Heard::new(row.heard.as_deref()?).ok();
    let heard: Vec<_> = rows.iter().filter_map(|row| Some((row, heard(row)?))).collect();
    let Some(words) = words.filter(|_| !heard.is_empty()) else { return Ok(BTreeMap::new()) };
    let teller = Teller::of(tx, words, permit.resource().pupil)?;
    let mut checks: Vec<_> = heard.iter().map(|(row, _)| row.check_id).collect();
    checks.sort_unstable();
    checks.dedup();
    let mut out = BTreeMap::new();
    for check in checks {
        let (_, check) = tx.round_check(permit, check)?;
        for (row, heard) in heard.iter().filter(|(row, _)| row.check_id == check.id) {
            out.extend(teller.tell(&check.items, row.item_id, heard).map(|is| (row.id, is)));
        }
    }
    Ok(out)
}
