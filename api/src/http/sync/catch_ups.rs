//! Operations on catch-up records. They are added, each under the id its device made, and taken back, and never changed.

use std::collections::BTreeSet;

use plumbline_core::{
    access::{
        act::Record,
        resource::{GroupDay, Replica},
    },
    id::{CatchUpId, GroupId, ItemId, PupilId},
    lesson::CatchUp,
    roster::Decisions,
};

use super::{Effect, Op};
use crate::{
    http::{
        problem::{Code, Problem},
        v1::catch_ups::{
            CatchUpBody,
            record::{Part, save},
        },
    },
    store::{KnownCatchUp, Permit, Tx},
};

/// Records catch-up. The same again, under the same id, is one record.
pub fn record<'tx>(
    tx: &mut Tx<'tx>,
    _permit: &Permit<'tx, Record, Replica>,
    op: &Op,
) -> Result<Effect, Problem> {
    let mut said = op.said();
    let (group, id): (GroupId, CatchUpId) = (said.take("group_id")?, said.take_made("id")?);
    let body: CatchUpBody = said.body()?;
    let diary = tx.permit::<Record, _>(GroupDay { group, on: body.on })?;
    let other = || Problem::field("id", "is the id of another record").with_code(Code::Conflict);
    match tx.catch_up_known(&diary, id)? {
        None => {}
        Some(KnownCatchUp::Elsewhere) => return Err(other()),
        Some(KnownCatchUp::Deleted) => {
            return Err(Problem::field("id", "the record was deleted meanwhile").with_code(Code::Gone));
        }
        Some(KnownCatchUp::Here(there)) => {
            let same = says(&tx.merged_records()?, &there.catch_up, &body);
            return same.then_some(Effect::Found(there.v)).ok_or_else(other);
        }
    }
    let (saved, _) = save(tx, &diary, &Part { id: Some(id), ..Part::of(&body) })?;
    Ok(Effect::Applied(saved.v))
}

/// Takes a record back: what was missed is open again. One that is taken back already stays so. There is one version of
/// what it says, so that none need be named.
pub fn delete<'tx>(
    tx: &mut Tx<'tx>,
    _permit: &Permit<'tx, Record, Replica>,
    op: &Op,
) -> Result<Effect, Problem> {
    let mut said = op.said();
    let id: CatchUpId = said.take("id")?;
    said.nothing_else()?;
    let day = tx.catch_up_place(id)?;
    let diary = tx.permit::<Record, _>(day)?;
    if let Some(KnownCatchUp::Deleted) = tx.catch_up_known(&diary, id)? {
        return Ok(Effect::Found(tx.version()));
    }
    tx.delete_catch_up(&diary, id)?;
    Ok(Effect::Applied(tx.version()))
}

/// Whether a record says what was sent, pupils under the records they are by now.
fn says(merged: &Decisions, there: &CatchUp, sent: &CatchUpBody) -> bool {
    let pupils = |of: &[PupilId]| of.iter().map(|pupil| merged.now(*pupil)).collect::<BTreeSet<_>>();
    let items = |of: &[ItemId]| of.iter().copied().collect::<BTreeSet<_>>();
    items(&there.items) == items(&sent.items) && pupils(&there.pupils) == pupils(&sent.pupil_ids)
}
