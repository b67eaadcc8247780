//! Operations on lesson records. A lesson is one unit: nothing of two reports is mixed.

use plumbline_core::{
    access::{
        act::{Read, Record},
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
    let Some(there) = tx.record_at(&diary, report.slot)? else {
        if base.is_some() || deleted_by_others(tx, permit, &diary, report.slot)? {
            return Err(Problem::field("on", "the record was deleted meanwhile").with_code(Code::Gone));
        }
        return Ok(Effect::Applied(save(tx, day, &report, None)?.0.v));
    };
    if knew(base, &there) || tx.made_here(permit, there.v)? {
        let (saved, _) = amend::amend(tx, there.record.id, &report, there.v.into())?;
        return Ok(Effect::Applied(saved.v));
    }
    // Whoever did not say who taught does not contradict who did; the version is the record's.
    let taught_by = report.taught_by.or(Some(there.record.taught_by));
    let as_amended = LessonReport { taught_by, version_id: None, ..report };
    let lessons = tx.group_lessons(&diary)?;
    let (wanted, _) = decided(tx, &diary, lessons, &as_amended, Some(there.record.id))?;
    if same(&wanted, &there.record) {
        return Ok(Effect::Found(there.v));
    }
    let reads = tx.permit::<Read, _>(day)?;
    let kept = tx.lessons_set_aside(&reads, wanted.id)?;
    if !kept.iter().any(|(_, one)| same(one, &wanted)) {
        tx.keep_superseded(&diary, op.op_id, &wanted)?;
    }
    stands(there)
}

/// Whether an operation was made knowing of what the record says: by the record's version, or by the one with which its
/// row was sent anew, as something was set aside since.
fn knew(base: Option<i64>, there: &SavedRecord) -> bool {
    let anew = there.aside_v.filter(|aside| *aside > there.v);
    base.is_some_and(|base| base == there.v || Some(base) == anew)
}

/// Whether this replica had a hand in the last record of the day and slot, and somebody else deleted it: an edit that
/// was made not knowing of that brings nothing back.
fn deleted_by_others<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Record, Replica>,
    diary: &Permit<'tx, Record, GroupDay>,
    slot: u8,
) -> Result<bool, Problem> {
    let Some((deleted, before)) = tx.versions_of_deleted(diary, slot)? else { return Ok(false) };
    for v in before {
        if tx.made_here(permit, v)? {
            return Ok(!tx.made_here(permit, deleted)?);
        }
    }
    Ok(false)
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
    let Some(there) = tx.record_of(&diary, id)? else {
        return Ok(Effect::Found(tx.version()));
    };
    if !knew(base, &there) && !tx.made_here(permit, there.v)? {
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
