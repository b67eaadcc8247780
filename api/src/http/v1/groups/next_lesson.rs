//! GET /groups/{id}/next-lesson

use std::collections::BTreeSet;

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::Group},
    calendar::{DayKind, Session},
    id::{GroupId, LessonId, VersionId},
    lesson::next_lesson,
    sequence::{Item, Place},
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::{get::OnQuery, lesson_facts};
use crate::http::{
    caller::{Caller, blocking},
    problem::{Code, Problem},
    problems::ReadProblems,
    query::Query,
    reply::Reply,
    words::lesson::{LessonWords, lesson_words},
};

/// The lesson a group is taught next.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "group_id": "0199f2c4-0000-7000-8000-000000000008", "on": "2026-11-25", "day": "teaching",
    "version_id": "0199f2c4-0000-7000-8000-00000000000d", "finished": false, "recorded_today": false,
    "due": [{"on": "2026-11-25", "slot": 1, "part": "morning", "starts_at": "09:00", "minutes": 30}],
    "next_due": {"on": "2026-11-25", "slot": 1, "part": "morning", "starts_at": "09:00", "minutes": 30},
    "lesson": {"id": "0199f2c4-0000-7000-8000-00000000000c", "title": "Lesson 1", "step_title": "Step 1",
               "place": {"step": 1, "lesson": 1}, "begun": false,
               "items": [{"id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "kind": "gpc", "label": "igh /aɪ/",
                          "gpc": {"grapheme": "igh", "phoneme": "aɪ"}}],
               "words": {"review": [{"gpc": "m:m", "why": "due"}], "new": ["igh:aɪ"], "read": [], "no_words": "too_little_taught", "spell": [], "no_spelling": "too_little_taught",
                         "pseudo_words": ["tigh"], "exception_words": ["the"], "sentences": [], "handwriting": ["igh"]}}
}))]
pub struct NextLessonBody {
    /// The group.
    pub group_id: GroupId,
    /// The day asked about.
    pub on: Date,
    /// What that day is to the group.
    pub day: DayKind,
    /// The sequence version in force that day.
    pub version_id: VersionId,
    /// Whether the sequence has been taught to its end.
    pub finished: bool,
    /// Whether a lesson is recorded for that day already.
    pub recorded_today: bool,
    /// The lessons due that day by the group's timetable; none on a day without.
    pub due: Vec<Session>,
    /// When the lesson is due: the first time from that day on that is not recorded; none where the calendar
    /// ends before.
    pub next_due: Option<Session>,
    /// The lesson; none at the end.
    pub lesson: Option<NextLessonPlan>,
}

/// What to teach.
#[derive(Serialize, ToSchema)]
pub struct NextLessonPlan {
    /// The lesson.
    pub id: LessonId,
    /// As shown.
    pub title: String,
    /// Its step, as shown.
    pub step_title: String,
    /// Where it stands.
    pub place: Place,
    /// Whether a part of it was taught already.
    pub begun: bool,
    /// The items still to teach.
    pub items: Vec<Item>,
    /// Words, sentences and review, computed from what the group was taught. None where the
    /// engine cannot make a sequence of it, which never withholds the lesson.
    pub words: Option<LessonWords>,
}

/// What does a group do next?
///
/// The first lesson that was neither delivered nor carried in as taught before. Parts
/// carry on with what remains; re-teaching never moves the place. `next_due` says on which day and at what
/// time it is due by the group's timetable.
#[utoipa::path(
    tag = "groups", operation_id = "get_next_lesson", params(("id" = GroupId, Path, description = "The group"), OnQuery),
    responses((status = 200, description = "The next lesson", body = NextLessonBody), ReadProblems)
)]
#[get("/groups/{id}/next-lesson")]
pub async fn get_next_lesson(
    caller: Caller,
    id: web::Path<GroupId>,
    query: Query<OnQuery>,
) -> Result<Reply, Problem> {
    let (id, school) = (*id, caller.words().await?);
    let ((facts, version), due) = caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(Group(id))?;
            let on = query.on.unwrap_or(tx.today());
            let found = lesson_facts(tx, &permit, on)?.ok_or_else(|| {
                let detail = "the group's sequence has no published version in force on that day";
                Problem::saying(Code::NotFound, detail)
            })?;
            let last = found.0.calendar.calendar.years.last().map_or(on, |year| year.ends_on);
            Ok((found, tx.group_sessions(&permit, on, last)?))
        })
        .await?;
    blocking(move || {
        let next = next_lesson(&facts.content, facts.carried.as_ref(), &facts.records);
        let words = next.as_ref().and_then(|next| lesson_words(&school, &facts, next, &BTreeSet::new()));
        let lesson = next.map(|next| NextLessonPlan {
            words,
            id: next.lesson.id,
            title: next.lesson.title.to_string(),
            step_title: next.step.title.to_string(),
            place: next.place,
            begun: next.begun(),
            items: next.items().cloned().collect(),
        });
        let recorded =
            |one: &Session| facts.records.iter().any(|record| (record.on, record.slot) == (one.on, one.slot));
        Reply::ok(&NextLessonBody {
            next_due: due.iter().find(|one| lesson.is_some() && !recorded(one)).copied(),
            due: due.into_iter().take_while(|one| one.on == facts.on).collect(),
            group_id: id,
            on: facts.on,
            day: facts.calendar.day(facts.on).kind(),
            version_id: version,
            finished: lesson.is_none(),
            recorded_today: facts.records.iter().any(|record| record.on == facts.on),
            lesson,
        })
    })
    .await
}
