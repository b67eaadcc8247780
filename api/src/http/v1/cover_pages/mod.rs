//! The cover page: all that somebody who teaches a group for one day needs, on one side of paper. It shows
//! who is due and what to teach; no checks, no history, no dates of birth.

pub mod get;
pub mod open;

use plumbline_core::{
    access::{
        act::Read,
        resource::{Group, GroupDay, SchoolProfile},
    },
    calendar::DayKind,
    id::GroupId,
    lesson::next_lesson,
    time::{Date, Span},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::groups::lesson_facts;
use crate::{
    http::{
        problem::Problem,
        reply::Reply,
        sheets,
        words::{
            lesson::{GroupFacts, LessonWords, PlanWord, lesson_words},
            school::SchoolEngine,
        },
    },
    store::Tx,
};

/// As what the page comes.
#[derive(Clone, Copy, Debug, Default, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PageFormat {
    /// For a program.
    #[default]
    Json,
    /// To print: one side of A4, black on white. Lists that are too long for it say how many more there are.
    Html,
}

/// A group's cover page for one day.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "school": "Farholt Infant School", "group": "Alder", "on": "2026-11-25", "day": "teaching", "recorded": false,
    "finished": false,
    "lesson": {"title": "Lesson 1", "step_title": "Step 1", "begun": false, "items": ["igh /aɪ/"], "words": {
        "review": ["m /m/"], "read": [{"word": "high", "reading": {"graphemes": ["h", "igh"], "phonemes": ["h", "aɪ"], "gpcs": ["h:h", "igh:aɪ"]}}],
        "spell": [], "exception_words": ["the"], "sentences": []}},
    "members": [{"name": "Zo Bell", "apart": null, "class": "Alder"}], "adults": ["Amara Osei"],
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
    /// The lesson; none at the end, and where no version of the sequence is in force that day.
    pub lesson: Option<CoverLesson>,
    /// The pupils who are due, by name.
    pub members: Vec<CoverMember>,
    /// The adults of the group that day.
    pub adults: Vec<String>,
    /// What to do at the end.
    pub hand_back: Vec<String>,
}

/// What to teach.
#[derive(Serialize, ToSchema)]
pub struct CoverLesson {
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
    lesson: Option<GroupFacts>,
}

/// Loads what the page of a day is made of; the reading is logged by the caller.
fn load(tx: &mut Tx<'_>, group: GroupId, on: Option<Date>) -> Result<PageFacts, Problem> {
    let permit = tx.permit::<Read, _>(Group(group))?;
    let on = on.unwrap_or(tx.today());
    // Who has the group today does not see who was or will be in it on days of others.
    tx.permit::<Read, _>(GroupDay { group, on })?;
    tx.note_cover_page(&permit);
    let profile = tx.permit::<Read, _>(SchoolProfile)?;
    let weekdays = tx.member_weekdays(&permit, on)?;
    let mut due = tx.group_members(&permit, on)?;
    due.retain(|member| weekdays.get(&member.pupil.id).is_none_or(|days| days.holds(on)));
    let named: Vec<_> = due.iter().map(|member| (&member.pupil, member.class.as_ref())).collect();
    let apart = super::pupils::apart_without_birthdays(&named);
    let adults = tx.group_adults(&permit)?.into_iter();
    let body = CoverPageBody {
        school: tx.school_profile(&profile)?.name,
        group: tx.group(&permit)?.name,
        on,
        day: tx.group_calendar(&permit)?.day(on).kind(),
        recorded: false,
        finished: false,
        lesson: None,
        members: due
            .into_iter()
            .zip(apart)
            .map(|(member, apart)| CoverMember {
                name: member.pupil.shown_name(),
                apart,
                class: member.class,
            })
            .collect(),
        adults: adults
            .filter(|adult| Span { from: adult.from, until: adult.until }.holds(on))
            .map(|adult| adult.name)
            .collect(),
        hand_back: tx.rules()?.cover.hand_back.clone(),
    };
    Ok(PageFacts { body, lesson: lesson_facts(tx, &permit, on)?.map(|(facts, _)| facts) })
}

/// Makes the page: some milliseconds of computing.
fn make(school: &SchoolEngine, facts: PageFacts) -> CoverPageBody {
    let PageFacts { mut body, lesson } = facts;
    let Some(facts) = lesson else { return body };
    let next = next_lesson(&facts.content, facts.carried.as_ref(), &facts.records);
    body.recorded = facts.records.iter().any(|record| record.on == facts.on);
    body.finished = next.is_none();
    body.lesson = next.map(|next| CoverLesson {
        words: lesson_words(school, &facts, &next).map(CoverWords::from),
        title: next.lesson.title.to_string(),
        step_title: next.step.title.to_string(),
        begun: next.begun(),
        items: next.items().map(|item| item.label.to_string()).collect(),
    });
    body
}

fn answer(body: &CoverPageBody, format: PageFormat) -> Result<Reply, Problem> {
    match format {
        PageFormat::Json => Reply::ok(body),
        PageFormat::Html => Ok(Reply::sheet(sheets::cover::page(body))),
    }
}
