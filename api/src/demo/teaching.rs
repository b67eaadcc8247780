//! Teaching: every group's lessons, day by day, logged by those who taught them.

use plumbline_core::time::Date;
use serde::Deserialize;
use serde_json::{Value, json};

use super::{
    Failure,
    data::Pupil,
    plan::Plan,
    progress::count,
    setup::{Gpc, Ready, ReadyGroup, Work},
    side_by_side::side_by_side,
};
use crate::remote::{Made, Person, Tagged};

/// The group with a lesson in two parts, the one with a lesson taught again, and the one
/// with a cover teacher; each at a meeting counted from the first.
const IN_PARTS: (&str, usize) = ("g_rowan", 6);
const TAUGHT_AGAIN: (&str, usize) = ("g_linden", 13);
const COVERED: &str = "g_juniper";

/// How often a lesson is not taught, a pupil is absent, late, and too late for the lesson.
const NOT_TAUGHT: f64 = 0.04;
const ABSENT: f64 = 0.05;
const LATE: f64 = 0.02;
const TOO_LATE: f64 = 0.3;
/// How many pupils are away from the second week to the end of the half term.
const LONG_AWAY: f64 = 0.02;

/// What a group was taught.
#[derive(Default)]
pub(super) struct Diary {
    /// GPCs with the day of their lesson.
    pub(super) gpcs: Vec<(Gpc, Date)>,
    tally: Tally,
}

#[derive(Default)]
struct Tally {
    delivered: usize,
    parts: usize,
    again: usize,
    not_taught: usize,
    absences: usize,
}

/// The lesson that is due.
#[derive(Deserialize)]
struct Next {
    lesson: Option<Lesson>,
}

#[derive(Deserialize)]
struct Lesson {
    id: String,
    begun: bool,
    items: Vec<Item>,
}

#[derive(Deserialize)]
struct Item {
    id: String,
    gpc: Option<Gpc>,
}

/// Whether a pupil is away on a day.
pub(super) fn is_away(work: &Work<'_>, pupil: &Pupil, day: Date) -> bool {
    let reference = pupil.pupil_ref.as_str();
    let second_week = work.plan.term.starts_on + chrono::Days::new(7);
    let long = second_week <= day
        && day <= work.plan.term.ends_on
        && work.chance.happens(LONG_AWAY, &["long away", reference]);
    long || work.chance.happens(ABSENT, &["away", reference, &day.to_string()])
}

/// The register of a lesson: those who were not simply there.
fn register(work: &Work<'_>, group: &ReadyGroup<'_>, day: Date) -> Vec<Value> {
    let date = day.to_string();
    let mark = |(pupil, id): &(&Pupil, String)| {
        let about = |what: &'static str| [what, pupil.pupil_ref.as_str(), date.as_str()];
        if is_away(work, pupil, day) {
            Some(json!({"pupil_id": id, "mark": "absent"}))
        } else if work.chance.happens(LATE, &about("late")) {
            let missed = work.chance.happens(TOO_LATE, &about("too late"));
            Some(json!({"pupil_id": id, "mark": "late", "missed": missed}))
        } else {
            None
        }
    };
    group.pupils.iter().filter_map(mark).collect()
}

impl Ready<'_> {
    /// The lead closes the school for a day and finds cover for another.
    pub(super) fn arrange(&self) -> Result<(), Failure> {
        let plan = self.work.plan;
        let lead = self.people.get("lead")?;
        let body = json!({"from": plan.closure, "kind": "closure", "reason": closure_reason(plan)});
        let _: Made = lead.post("/closures", &body)?;
        self.work.progress.say(&format!("The school was shut on {}: no lesson was due", plan.closure));

        let Some(group) = self.groups.iter().find(|ready| ready.group.key == COVERED) else { return Ok(()) };
        #[derive(Deserialize)]
        struct Group {
            adults: Vec<Value>,
        }
        let path = format!("/groups/{}", group.id);
        let Tagged { body: Group { mut adults }, etag } = lead.get_tagged(&path)?;
        for adult in adults.iter_mut().filter_map(Value::as_object_mut) {
            adult.remove("name");
        }
        let cover = &self.people.get("cover")?.staff_id;
        adults.push(json!({"staff_id": cover, "from": plan.cover, "until": plan.cover}));
        lead.put(&format!("{path}/adults"), Some(&etag), &json!({"adults": adults}))?;
        self.work.progress.say(&format!(
            "The lead has given {} to the cover teacher for one day, {}",
            group.group.name, plan.cover
        ));
        Ok(())
    }

    /// Logs the lessons of every group; the groups side by side, each in the order of days.
    pub(super) fn teach(&self) -> Result<Vec<Diary>, Failure> {
        let plan = self.work.plan;
        let (first, last) = (plan.days.first(), plan.days.last());
        let span = first.zip(last).map(|(from, to)| format!(", {from} to {to}")).unwrap_or_default();
        self.work.progress.say(&format!(
            "Teachers log their lessons of {}{span} ...",
            count(plan.days.len(), "teaching day")
        ));
        let diaries = side_by_side(&self.groups, |group| self.teach_group(group))?;
        let sum = |of: fn(&Tally) -> usize| diaries.iter().map(|diary| of(&diary.tally)).sum::<usize>();
        self.work.progress.say(&format!(
            "{} logged: {} taught in one go, {} in parts, {} again, {} not taught; {} marked",
            count(sum(|t| t.delivered + t.parts + t.again + t.not_taught), "lesson"),
            sum(|t| t.delivered),
            sum(|t| t.parts),
            sum(|t| t.again),
            sum(|t| t.not_taught),
            count(sum(|t| t.absences), "absence"),
        ));
        Ok(diaries)
    }

    fn teach_group(&self, ready: &ReadyGroup<'_>) -> Result<Diary, Failure> {
        let (work, key) = (self.work, ready.group.key.as_str());
        let teacher = self.people.get(ready.group.adults.first().map_or("lead", String::as_str))?;
        let mut diary = Diary::default();
        let mut last_taught: Option<String> = None;
        for (n, day) in work.plan.meetings(ready.group.lessons_per_week).enumerate() {
            let next: Next = teacher.get(&format!("/groups/{}/next-lesson?on={day}", ready.id))?;
            let Some(lesson) = next.lesson else { break };
            let adult =
                if key == COVERED && day == work.plan.cover { self.people.get("cover")? } else { teacher };
            let due_again = key == TAUGHT_AGAIN.0 && n >= TAUGHT_AGAIN.1 && diary.tally.again == 0;
            let again = last_taught.clone().filter(|_| due_again);
            let in_parts = key == IN_PARTS.0 && n >= IN_PARTS.1 && diary.tally.parts == 0;
            let about = ["not taught", key, &day.to_string()];
            if let Some(lesson_id) = again {
                diary.tally.again += 1;
                self.log(
                    adult,
                    ready,
                    day,
                    json!({"lesson_id": lesson_id, "outcome": "retaught"}),
                    &mut diary,
                )?;
            } else if in_parts && lesson.items.len() > 1 {
                diary.tally.parts += 1;
                let first = &lesson.items[..1];
                let body = json!({"lesson_id": lesson.id, "outcome": "part", "items": ids(first)});
                diary.note(first, day);
                self.log(adult, ready, day, body, &mut diary)?;
            } else if work.chance.happens(NOT_TAUGHT, &about) {
                diary.tally.not_taught += 1;
                let reasons = &work.data.rules.not_taught_reasons;
                let reason = work.chance.pick(reasons, &["reason", key, &day.to_string()]);
                let reason = reason.map(|coded| coded.code.as_str());
                let body = json!({"lesson_id": lesson.id, "outcome": "not_delivered", "reason": reason});
                self.log(adult, ready, day, body, &mut diary)?;
            } else {
                if lesson.begun {
                    diary.tally.parts += 1
                } else {
                    diary.tally.delivered += 1
                }
                diary.note(&lesson.items, day);
                let body = json!({"lesson_id": lesson.id, "outcome": "delivered"});
                self.log(adult, ready, day, body, &mut diary)?;
                last_taught = Some(lesson.id);
            }
        }
        Ok(diary)
    }

    fn log(
        &self,
        adult: &Person,
        ready: &ReadyGroup<'_>,
        day: Date,
        mut body: Value,
        diary: &mut Diary,
    ) -> Result<(), Failure> {
        body["on"] = json!(day);
        if body["outcome"] != "not_delivered" {
            let register = register(self.work, ready, day);
            diary.tally.absences += register.iter().filter(|entry| entry["mark"] == "absent").count();
            body["register"] = Value::Array(register);
        }
        // What a cover teacher did not record in time, the lead enters for them.
        let cover = self.people.get("cover")?;
        let adult = match std::ptr::eq(adult, cover) {
            true => {
                body["taught_by"] = json!(cover.staff_id);
                self.people.get("lead")?
            }
            false => adult,
        };
        let _: Made = adult.post(&format!("/groups/{}/lesson-records", ready.id), &body)?;
        Ok(())
    }
}

impl Diary {
    fn note(&mut self, items: &[Item], day: Date) {
        self.gpcs.extend(items.iter().filter_map(|item| Some((item.gpc.clone()?, day))));
    }
}

fn ids(items: &[Item]) -> Vec<&str> {
    items.iter().map(|item| item.id.as_str()).collect()
}

/// Snow in the winter months, a burst pipe in the others.
fn closure_reason(plan: &Plan) -> &'static str {
    match chrono::Datelike::month(&plan.closure) {
        11 | 12 | 1..=3 => "weather",
        _ => "building",
    }
}
