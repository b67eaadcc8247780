//! Operations on lesson records. A lesson is one unit: nothing of two reports is mixed.

use plumbline_core::{
    access::{
        act::Record,
        resource::{GroupDay, Replica},
    },
    id::{GroupId, LessonRecordId},
    lesson,
};

use super::{Effect, Op};
use crate::{
    http::{
        problem::{Code, Problem},
        v1::lessons::{LessonRecordBody, LessonReport, amend, decided, delete as deleting, save},
    },
    store::{Permit, SavedRecord, Tx},
};

/// Records a lesson, or amends the record of its day and slot. Where another change was there first, that one stands,
/// and what this says is kept in the history.
pub fn record<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Record, Replica>,
    op: &Op,
) -> Result<Effect, Problem> {
    let (mut said, base) = (op.said(), op.base()?);
    let group: GroupId = said.take("group_id")?;
    let report: LessonReport = said.body()?;
    let day = GroupDay { group, on: report.on };
    let diary = tx.permit::<Record, _>(day)?;
    let records = tx.group_lessons(&diary)?.records;
    let there =
        records.into_iter().find(|saved| (saved.record.on, saved.record.slot) == (day.on, report.slot));
    let Some(there) = there else {
        return match base {
            None => Ok(Effect::Applied(save(tx, day, &report, None)?.0.v)),
            Some(_) => Err(Problem::saying(Code::Gone, "the record was deleted meanwhile")),
        };
    };
    if base == Some(there.v) || tx.made_here(permit, there.v)? {
        let (saved, _) = amend::amend(tx, there.record.id, &report, there.v.into())?;
        return Ok(Effect::Applied(saved.v));
    }
    // Whoever did not say who taught does not contradict who did; the version is the record's.
    let taught_by = report.taught_by.or(Some(there.record.taught_by));
    let as_amended = LessonReport { taught_by, version_id: None, ..report };
    let (wanted, _) = decided(tx, &diary, &as_amended, Some(there.record.id))?;
    if same(&wanted, &there.record) {
        return Ok(Effect::Applied(there.v));
    }
    tx.keep_superseded(&diary, op.op_id, &wanted)?;
    stands(there)
}

/// Deletes a record. One that is deleted already stays so.
pub fn delete<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Record, Replica>,
    op: &Op,
) -> Result<Effect, Problem> {
    let (mut said, base) = (op.said(), op.base()?);
    let id: LessonRecordId = said.take("id")?;
    said.nothing_else()?;
    let day = tx.any_record_place(id)?;
    let diary = tx.permit::<Record, _>(day)?;
    let records = tx.group_lessons(&diary)?.records;
    let Some(there) = records.into_iter().find(|saved| saved.record.id == id) else {
        return Ok(Effect::Applied(tx.version()));
    };
    if base != Some(there.v) && !tx.made_here(permit, there.v)? {
        return stands(there);
    }
    deleting::delete(tx, id, there.v.into())?;
    Ok(Effect::Applied(tx.version()))
}

fn stands(there: SavedRecord) -> Result<Effect, Problem> {
    let v = there.v;
    Ok(Effect::Superseded(v, serde_json::to_value(LessonRecordBody::new(there, Vec::new()))?))
}

/// Whether two records say the same, whoever entered them.
fn same(one: &lesson::Record, other: &lesson::Record) -> bool {
    lesson::Record { entered_by: other.entered_by, ..one.clone() } == *other
}
