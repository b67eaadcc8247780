//! What the records of a page say: as the REST operation of the same thing answers, where there is one.

use std::collections::BTreeMap;

use plumbline_core::{check::Usual, id::GroupId, rules::RulePack};
use serde::Serialize;
use serde_json::Value;
use uuid::Uuid;

use super::on_device::{
    AnsweringOnDevice, CarriedOnDevice, CarriedPupil, ClassOnDevice, CodeBody, GroupOnDevice, KeptOnDevice,
    MemberOnDevice, NameOnDevice, PupilOnDevice, ResponseOnDevice, SchoolOnDevice, SittingOnDevice,
    TimetableOnDevice,
};

use crate::{
    http::{
        problem::Problem,
        v1::{
            AdultView,
            answering::{NotAccessibleBody, UsualSound},
            calendar::{ClosureBody, YearBody},
            catch_ups::CatchUpRecordBody,
            checks::{CheckBody, RoundBody},
            exemptions::ExemptionBody,
            lessons::LessonRecordBody,
            sequences::VersionBody,
        },
    },
    store::{
        AnsweringNow, ClassNow, GroupNow, MemberNow, Pulled, PupilView, RecordKind, ResponseRow,
        SavedCarriedIn, SchoolRow, Sitting, Tx,
    },
};

/// Bodies by kind and record.
pub type Bodies = BTreeMap<(RecordKind, Uuid), Value>;

/// What the records of a page say. A record without a body is not there, or not for this reader.
///
/// # Errors
/// If the store fails.
pub fn bodies(tx: &mut Tx<'_>, page: &Pulled) -> Result<Bodies, Problem> {
    let (mut found, rules) = (Bodies::new(), tx.rules()?);
    if page.rows().is_empty() {
        return Ok(found);
    }
    of_school(tx, page, rules, &mut found)?;
    of_places(tx, page, &mut found)?;
    of_lessons(tx, page, &mut found)?;
    of_checks(tx, page, rules, &mut found)?;
    Ok(found)
}

fn put(found: &mut Bodies, kind: RecordKind, id: Uuid, body: &impl Serialize) -> Result<(), Problem> {
    found.insert((kind, id), serde_json::to_value(body)?);
    Ok(())
}

fn of_school(tx: &mut Tx<'_>, page: &Pulled, rules: &RulePack, found: &mut Bodies) -> Result<(), Problem> {
    if let Some(row) = tx.pulled_school(page)? {
        put(found, RecordKind::School, row.id.uuid(), &school(row, rules))?;
    }
    for (id, name) in tx.pulled_staff(page)? {
        put(found, RecordKind::StaffName, id.uuid(), &NameOnDevice { id, name })?;
    }
    for year in tx.pulled_years(page)? {
        put(found, RecordKind::SchoolYear, year.id, &YearBody::from(year))?;
    }
    for row in tx.pulled_closures(page)? {
        put(found, RecordKind::Closure, row.id.uuid(), &ClosureBody::try_from(row)?)?;
    }
    for row in tx.pulled_versions(page)? {
        put(found, RecordKind::SequenceVersion, row.head.id.uuid(), &VersionBody::from(row))?;
    }
    let checks = tx.pulled_checks(page)?;
    for row in checks.clone() {
        put(found, RecordKind::Check, row.id.uuid(), &CheckBody::of(row, &checks, rules))?;
    }
    for row in tx.pulled_rounds(page)? {
        put(found, RecordKind::CheckRound, row.id.uuid(), &without_pupils(RoundBody::from(row))?)?;
    }
    Ok(())
}

fn of_places(tx: &mut Tx<'_>, page: &Pulled, found: &mut Bodies) -> Result<(), Problem> {
    for ClassNow { row, adults } in tx.pulled_classes(page)? {
        let adults = adults.into_iter().map(AdultView::from).collect();
        put(found, RecordKind::Class, row.id.uuid(), &ClassOnDevice { id: row.id, name: row.name, adults })?;
    }
    for view in tx.pulled_pupils(page)? {
        put(found, RecordKind::Pupil, view.row.id.uuid(), &pupil(view))?;
    }
    for group in tx.pulled_groups(page)? {
        put(found, RecordKind::Group, group.row.id.uuid(), &group_body(group))?;
    }
    for MemberNow { id, group: group_id, pupil, days, weekdays } in tx.pulled_members(page)? {
        let body = MemberOnDevice {
            group_id,
            pupil_id: pupil,
            from: days.from,
            until: days.until,
            weekdays: weekdays.map(|days| days.days()),
            mornings_only: weekdays.map(|days| days.mornings_only()).unwrap_or_default(),
            afternoons_only: weekdays.map(|days| days.afternoons_only()).unwrap_or_default(),
        };
        put(found, RecordKind::GroupMember, id, &body)?;
    }
    for (group_id, lines) in tx.pulled_timetables(page)? {
        put(found, RecordKind::Timetable, group_id.uuid(), &TimetableOnDevice { group_id, lines })?;
    }
    Ok(())
}

fn of_lessons(tx: &mut Tx<'_>, page: &Pulled, found: &mut Bodies) -> Result<(), Problem> {
    for (group, saved) in tx.pulled_pasts(page)? {
        put(found, RecordKind::CarriedIn, group.uuid(), &carried(group, saved))?;
    }
    for saved in tx.pulled_lessons(page)? {
        let id = saved.record.id.uuid();
        put(found, RecordKind::LessonRecord, id, &LessonRecordBody::new(saved, Vec::new()))?;
    }
    for saved in tx.pulled_catch_ups(page)? {
        let id = saved.catch_up.id.uuid();
        put(found, RecordKind::CatchUp, id, &CatchUpRecordBody::new(saved, Vec::new()))?;
    }
    Ok(())
}

fn of_checks(
    tx: &mut Tx<'_>,
    page: &Pulled,
    rules: &'static RulePack,
    found: &mut Bodies,
) -> Result<(), Problem> {
    for row in tx.pulled_responses(page)? {
        put(found, RecordKind::Response, row.id.uuid(), &response(row))?;
    }
    for one in tx.pulled_sittings(page)? {
        put(found, RecordKind::Sitting, one.id.uuid(), &sitting(one))?;
    }
    for row in tx.pulled_exemptions(page)? {
        put(found, RecordKind::Exemption, row.id.uuid(), &ExemptionBody::from(row))?;
    }
    let today = tx.today();
    for AnsweringNow { pupil, mode, speech, not_accessible } in tx.pulled_answering(page)? {
        let sound = |usual: Usual| UsualSound {
            sound: usual.sound.to_string(),
            said: usual.said.map(|said| said.to_string()),
        };
        let barred = not_accessible.into_iter();
        let body = AnsweringOnDevice {
            pupil_id: pupil,
            mode,
            speech: speech.pairs().map(sound).collect(),
            not_accessible: barred
                .map(|row| NotAccessibleBody::new(row, &rules.marking.not_accessible, today))
                .collect(),
        };
        put(found, RecordKind::PupilAnswering, pupil.uuid(), &body)?;
    }
    Ok(())
}

fn school(row: SchoolRow, rules: &RulePack) -> SchoolOnDevice {
    let code = |code: &str, label: &str| CodeBody { code: code.to_owned(), label: label.to_owned() };
    let years = rules.year_groups.iter().map(|year| code(&year.code, &year.name));
    let reasons = rules.not_taught_reasons.iter().map(|one| code(&one.code, &one.label));
    SchoolOnDevice {
        id: row.id,
        name: row.name,
        time_zone: row.time_zone,
        rule_pack: row.rule_pack,
        year_groups: years.collect(),
        not_taught_reasons: reasons.collect(),
    }
}

/// A round as everybody at the school may know it: for which pupils by name it is for is told to those alone who
/// may see them.
fn without_pupils(body: RoundBody) -> Result<Value, Problem> {
    let mut body = serde_json::to_value(body)?;
    if let Some(whom) = body.get_mut("whom").and_then(Value::as_object_mut) {
        whom.remove("pupil_ids");
    }
    Ok(body)
}

fn pupil(view: PupilView) -> PupilOnDevice {
    PupilOnDevice {
        id: view.row.id,
        name: view.row.shown_name(),
        label: view.row.label,
        class_ids: view.classes.into_iter().map(|(id, _)| id).collect(),
        year_group: view.year_group,
    }
}

fn group_body(group: GroupNow) -> GroupOnDevice {
    let GroupNow { row, adults, course } = group;
    let kept = course.kept.into_iter();
    let kept = kept.map(|(version_id, days)| KeptOnDevice { version_id, from: days.from, until: days.until });
    GroupOnDevice {
        id: row.id,
        name: row.name,
        sequence_id: row.sequence_id,
        closed_on: row.closed_on,
        kept_versions: kept.collect(),
        adults: adults.into_iter().map(AdultView::from).collect(),
    }
}

fn carried(group_id: GroupId, saved: SavedCarriedIn) -> CarriedOnDevice {
    let pupils = saved.carried.pupils.into_iter();
    let pupils =
        pupils.map(|(pupil_id, missed)| CarriedPupil { pupil_id, missed: missed.into_iter().collect() });
    CarriedOnDevice {
        group_id,
        as_of: saved.carried.as_of,
        version_id: saved.version,
        lesson_ids: saved.carried.lessons,
        item_ids: saved.carried.items,
        pupils: pupils.collect(),
    }
}

fn response(row: ResponseRow) -> ResponseOnDevice {
    ResponseOnDevice {
        id: row.id,
        round_id: row.round_id,
        check_id: row.check_id,
        item_id: row.item_id,
        pupil_id: row.pupil_id,
        on: row.on_date,
        outcome: row.outcome,
        heard: row.heard,
        mode: row.mode,
        taken_by: row.taken_by,
        corrects: row.corrects,
        reason: row.reason,
        sitting_id: row.sitting_id,
        late: row.late,
    }
}

fn sitting(one: Sitting) -> SittingOnDevice {
    SittingOnDevice {
        id: one.id,
        round_id: one.round,
        pupil_id: one.pupil,
        check_id: one.check,
        held_by: one.holder,
        adults: one.adults,
        paused_at: one.paused_at,
        finished_at: one.finished_at,
    }
}
