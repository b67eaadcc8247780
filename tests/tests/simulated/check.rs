//! What must hold once everything is pushed and pulled. The numbers are those of the protocol's invariants.

use std::collections::{BTreeMap, BTreeSet};

use plumbline_tests::{Device, Stop, Value, text};

use super::world::World;

/// Most pushes and pages it may take until all is quiet.
const ENOUGH: usize = 400;

/// Everything is pushed and pulled; then everything that is wrong.
pub fn at_quiet(world: &mut World<'_>) -> Vec<String> {
    let mut wrong = Vec::new();
    for (device, _) in &mut world.devices {
        drain(device, &mut wrong);
    }
    for (device, _) in &mut world.devices {
        let pages = device.pull(7, Stop::Never);
        let most = device.kept.records.len() / 7 + ENOUGH;
        if pages > most {
            wrong.push(format!("I9 {}: {pages} pages", device.name));
        }
    }
    for at in 0..world.devices.len() {
        let teacher = world.devices[at].1;
        let cold = world.cold(teacher);
        let device = &world.devices[at].0;
        wrong.extend(device.violations.iter().map(|what| format!("I6 {}: {what}", device.name)));
        wrong.extend(device.unanswered.iter().map(|status| format!("I5 {}: answered {status}", device.name)));
        converged(device, &cold, &mut wrong);
        within_its_scopes(world, device, teacher, &mut wrong);
        answered_once(device, &world.entered[at], &mut wrong);
        as_the_server_has_it(world, device, teacher, &mut wrong);
    }
    for teacher in ["T", "U"] {
        one_effect_each(world, teacher, &mut wrong);
    }
    wrong
}

/// I5: whatever waits is answered.
fn drain(device: &mut Device, wrong: &mut Vec<String>) {
    for _ in 0..ENOUGH {
        if device.kept.outbox.is_empty() {
            return;
        }
        device.push(3, false);
    }
    wrong.push(format!("I5 {}: the outbox does not drain: {:?}", device.name, device.kept.outbox.first()));
}

/// I1: what came bit by bit is what a device that begins now has.
fn converged(device: &Device, cold: &Device, wrong: &mut Vec<String>) {
    let bodies = |device: &Device| -> BTreeMap<String, Value> {
        device.kept.records.iter().map(|(key, record)| (key.clone(), record.body.clone())).collect()
    };
    let (warm, cold_bodies) = (bodies(device), bodies(cold));
    let keys: BTreeSet<&String> = warm.keys().chain(cold_bodies.keys()).collect();
    for key in keys {
        if warm.get(key) != cold_bodies.get(key) {
            wrong.push(format!(
                "I1 {} {key}: {:?} but {:?}",
                device.name,
                warm.get(key),
                cold_bodies.get(key)
            ));
        }
    }
    if device.kept.places != cold.kept.places {
        wrong.push(format!("I1 {}: records stand in other scopes than on a new device", device.name));
    }
}

/// I2: the school's own scope and the groups the teacher has, and nothing of any other.
fn within_its_scopes(world: &World<'_>, device: &Device, teacher: &str, wrong: &mut Vec<String>) {
    let mut held: BTreeSet<String> = world.grants[teacher].iter().map(|id| format!("group:{id}")).collect();
    let scopes: BTreeSet<String> = device.kept.places.values().flatten().cloned().collect();
    held.extend(scopes.iter().filter(|scope| scope.starts_with("school:")).cloned());
    if scopes != held {
        wrong.push(format!("I2 {}: holds {scopes:?} instead of {held:?}", device.name));
    }
    for (id, body) in device.all("lesson_record") {
        if !world.grants[teacher].contains(&text(&body["group_id"])) {
            wrong.push(format!("I2 {}: has {id} of a group that is not the teacher's", device.name));
        }
    }
}

/// I3 and I5: each operation that was entered has an outcome, and no other has.
fn answered_once(device: &Device, entered: &[String], wrong: &mut Vec<String>) {
    let answered: BTreeSet<&String> = device.kept.outcomes.keys().collect();
    let entered: BTreeSet<&String> = entered.iter().collect();
    for id in entered.difference(&answered) {
        wrong.push(format!("I5 {}: {id} has no outcome", device.name));
    }
    for id in answered.difference(&entered) {
        wrong.push(format!("I5 {}: nobody entered {id}", device.name));
    }
}

/// I3: as many effects as outcomes that say so. One that is superseded has one too: it is kept in the history.
fn one_effect_each(world: &World<'_>, teacher: &str, wrong: &mut Vec<String>) {
    let of_teacher = world.devices.iter().filter(|(_, of)| *of == teacher);
    let applied = of_teacher
        .flat_map(|(device, _)| device.kept.outcomes.values())
        .filter(|outcome| matches!(outcome["outcome"].as_str(), Some("applied" | "merged" | "superseded")))
        .count();
    let entries = world.lesson_entries(teacher);
    if applied != entries {
        wrong.push(format!("I3 {teacher}: {applied} operations were taken, {entries} had an effect"));
    }
}

/// The lessons and members of the teacher's groups are those REST shows: the filter itself is right, not only the
/// same on two devices. I7: so what was deleted is gone.
fn as_the_server_has_it(world: &World<'_>, device: &Device, teacher: &str, wrong: &mut Vec<String>) {
    let (mut lessons, mut members) = (BTreeMap::new(), BTreeSet::new());
    for group in &world.grants[teacher] {
        let list = world.lead().get(&format!("/groups/{group}/lesson-records")).expect(200)["items"].clone();
        for record in list.as_array().unwrap() {
            lessons.insert(text(&record["id"]), essence(record));
        }
        let group = world.lead().get(&format!("/groups/{group}")).expect(200);
        members.extend(group["members"].as_array().unwrap().iter().map(|member| text(&member["id"])));
    }
    let held: BTreeMap<String, Value> =
        device.all("lesson_record").into_iter().map(|(id, body)| (id, essence(&body))).collect();
    if held != lessons {
        wrong.push(format!("I1 {}: lessons {held:?} instead of {lessons:?}", device.name));
    }
    let held: BTreeSet<String> =
        device.all("group_member").values().map(|body| text(&body["pupil_id"])).collect();
    if held != members {
        wrong.push(format!("I1 {}: members {held:?} instead of {members:?}", device.name));
    }
}

/// What a lesson record says, whoever shows it.
fn essence(record: &Value) -> Value {
    let fields =
        ["group_id", "on", "slot", "lesson_id", "outcome", "reason", "items", "entered_by", "entered_at"];
    fields.iter().map(|field| record[*field].clone()).collect()
}
