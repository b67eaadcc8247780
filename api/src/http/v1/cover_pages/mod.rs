//! The cover page: all that somebody who teaches a group for one day needs, on one side of paper. It shows
//! who is due and what to teach; no checks, no history, no dates of birth.

pub mod get;
pub mod open;

use std::collections::BTreeSet;

use plumbline_core::{
    access::{
        act::Read,
        resource::{Group, GroupDay, SchoolProfile},
    },
    calendar::{DayKind, Half, Session},
    id::{GroupId, ItemId, PupilId, StaffId},
    lesson::{lessons_left, who_is_there},
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::groups::lesson_facts;
use crate::{
    http::{
        problem::Problem,
        reply::Reply,
        sheets::{self, PageFormat},
        words::{
            lesson::{GroupFacts, LessonWords, PlanWord, lesson_words},
            school::SchoolEngine,
        },
    },
    store::Tx,
};

/// A group's cover page for one day.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "school": "Farholt Infant School", "group": "Alder", "on": "2026-11-25", "day": "teaching", "recorded": false,
    "finished": false, "due": 1,
    "lessons": [{"session": {"on": "2026-11-25", "slot": 1, "part": "morning", "starts_at": "09:00", "minutes": 30}, "title": "Lesson 1", "step_title": "Step 1", "begun": false, "items": ["igh /aɪ/"], "words": {
        "review": ["m /m/"], "read": [{"word": "high", "reading": {"graphemes": ["h", "igh"], "phonemes": ["h", "aɪ"], "gpcs": ["h:h", "igh:aɪ"]}}],
        "spell": [], "exception_words": ["the"], "sentences": []}}],
    "members": [{"name": "Zo Bell", "apart": null, "class": "Alder", "slots": [1], "only": null}], "adults": ["Amara Osei"],
    "hand_back": ["Tick who was away."]
}))]
pub struct CoverPageBody {
    /// The school.
    pub school: String,
    /// The group.
    pub group: String,
    /// The day.
    pub on: Date,
    /// What that day is to the group.
    pub day: DayKind,
    /// Whether a lesson is recorded for that day already.
    pub recorded: bool,
    /// Whether the sequence has been taught to its end.
    pub finished: bool,
    /// How many lessons are due that day by the group's timetable.
    pub due: usize,
    /// The lessons of the day that are not recorded yet, in order: each as if those before it had been taught.
    /// None on a day without, at the end of the sequence, and where no version of it is in force that day.
    pub lessons: Vec<CoverLesson>,
    /// The pupils who come to a lesson that is due, by name: not who comes on other weekdays, nor whose class or year
    /// group is away.
    pub members: Vec<CoverMember>,
    /// The adults of the group that day, without who is away.
    pub adults: Vec<String>,
    /// What to do at the end.
    pub hand_back: Vec<String>,
}

/// What to teach.
#[derive(Serialize, ToSchema)]
pub struct CoverLesson {
    /// When it is due.
    pub session: Session,
    /// As shown.
    pub title: String,
    /// Its step, as shown.
    pub step_title: String,
    /// Whether a part of it was taught already.
    pub begun: bool,
    /// The items still to teach.
    pub items: Vec<String>,
    /// Words and sentences; none where none can be made of the sequence.
    pub words: Option<CoverWords>,
}

/// The words of the lesson.
#[derive(Serialize, ToSchema)]
pub struct CoverWords {
    /// What to go back to.
    pub review: Vec<String>,
    /// Words to read.
    pub read: Vec<PlanWord>,
    /// Words to spell.
    pub spell: Vec<PlanWord>,
    /// Exception words.
    pub exception_words: Vec<String>,
    /// Sentences to read.
    pub sentences: Vec<String>,
}

/// A pupil who is due.
#[derive(Serialize, ToSchema)]
pub struct CoverMember {
    /// The name the pupil is called by.
    pub name: String,
    /// Where the list holds this name twice: what tells the two apart. Never a day of birth.
    pub apart: Option<String>,
    /// The class.
    pub class: Option<String>,
    /// The slots of the lessons due to which the pupil comes, recorded ones too.
    pub slots: Vec<u8>,
    /// The half of the day whose lessons they are, where the pupil does not come to all.
    pub only: Option<Half>,
}

impl From<LessonWords> for CoverWords {
    fn from(words: LessonWords) -> Self {
        let shown = |gpc: String| match gpc.split_once(':') {
            Some((grapheme, phoneme)) => format!("{grapheme} /{phoneme}/"),
            None => gpc,
        };
        Self {
            review: words.review.into_iter().map(|one| shown(one.gpc)).collect(),
            read: words.read,
            spell: words.spell,
            exception_words: words.exception_words,
            sentences: words.sentences,
        }
    }
}

/// What a page is made of, from one snapshot.
struct PageFacts {
    body: CoverPageBody,
    due: Vec<Session>,
    lesson: Option<GroupFacts>,
}

/// Loads what the page of a day is made of; the reading is logged by the caller. `away` is who is said not to
/// be there.
fn load(
    tx: &mut Tx<'_>,
    group: GroupId,
    on: Option<Date>,
    away: Option<StaffId>,
) -> Result<PageFacts, Problem> {
    let permit = tx.permit::<Read, _>(Group(group))?;
    let on = on.unwrap_or(tx.today());
    // Who has the group today does not see who was or will be in it on days of others.
    tx.permit::<Read, _>(GroupDay { group, on })?;
    tx.note_cover_page(&permit);
    let profile = tx.permit::<Read, _>(SchoolProfile)?;
    let (own, due) = (tx.group_calendar(&permit)?, tx.group_sessions(&permit, on, on)?);
    let mut members = tx.group_members(&permit, on)?;
    let comes = |pupil: PupilId, half: Option<Half>| own.comes(pupil, on, half);
    members.retain(|member| {
        let comes_to = |session: &Session| comes(member.pupil.id, Some(session.part));
        if due.is_empty() { comes(member.pupil.id, None) } else { due.iter().any(comes_to) }
    });
    let comes_to = |pupil: PupilId| -> (Vec<u8>, Option<Half>) {
        let (to, not): (Vec<&Session>, Vec<&Session>) =
            due.iter().partition(|session| comes(pupil, Some(session.part)));
        let only = to.first().filter(|_| !not.is_empty()).map(|session| session.part);
        (to.into_iter().map(|session| session.slot).collect(), only)
    };
    let named: Vec<_> = members.iter().map(|member| (&member.pupil, member.class.as_ref())).collect();
    let apart = super::pupils::apart_without_birthdays(&named);
    let adults = tx.adults_of_day(&permit, on)?;
    if away.is_some_and(|away| adults.iter().all(|adult| adult.staff != away)) {
        return Err(Problem::field("away", "is not an adult of the group on that day"));
    }
    let adults = who_is_there(adults, tx.opened().is_some(), away);
    let body = CoverPageBody {
        school: tx.school_profile(&profile)?.name,
        group: tx.group(&permit)?.name,
        on,
        day: own.day(on).kind(),
        recorded: false,
        finished: false,
        due: due.len(),
        lessons: Vec::new(),
        members: members
            .into_iter()
            .zip(apart)
            .map(|(member, apart)| {
                let (slots, only) = comes_to(member.pupil.id);
                CoverMember { name: member.pupil.shown_name(), apart, class: member.class, slots, only }
            })
            .collect(),
        adults: adults.into_iter().map(|adult| adult.name).collect(),
        hand_back: tx.rules()?.cover.hand_back.clone(),
    };
    Ok(PageFacts { body, due, lesson: lesson_facts(tx, &permit, on)?.map(|(facts, _)| facts) })
}

/// Makes the page: some milliseconds of computing.
fn make(school: &SchoolEngine, facts: PageFacts) -> CoverPageBody {
    let PageFacts { mut body, mut due, lesson } = facts;
    let Some(facts) = lesson else { return body };
    let recorded: Vec<u8> =
        facts.records.iter().filter(|record| record.on == facts.on).map(|record| record.slot).collect();
    body.recorded = !recorded.is_empty();
    due.retain(|session| !recorded.contains(&session.slot));
    let mut left = lessons_left(&facts.content, facts.carried.as_ref(), &facts.records).peekable();
    body.finished = left.peek().is_none();
    let mut before: BTreeSet<ItemId> = BTreeSet::new();
    for (session, next) in due.into_iter().zip(left) {
        body.lessons.push(CoverLesson {
            session,
            words: lesson_words(school, &facts, &next, &before).map(CoverWords::from),
            title: next.lesson.title.to_string(),
            step_title: next.step.title.to_string(),
            begun: next.begun(),
            items: next.items().map(|item| item.label.to_string()).collect(),
        });
        before.extend(&next.remaining);
    }
    body
}

fn answer(body: &CoverPageBody, format: PageFormat) -> Result<Reply, Problem> {
    match format {
        PageFormat::Json => Reply::ok(body),
        PageFormat::Html => Ok(Reply::sheet(sheets::cover::page(body))),
    }
}
