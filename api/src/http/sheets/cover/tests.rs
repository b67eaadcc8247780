//! What the cover page shows, and that it says what it leaves out.

use plumbline_core::time::Date;

use super::*;
use crate::http::v1::{cover_pages::CoverWords, words::VariantBody};

fn member(name: &str, class: &str) -> CoverMember {
    CoverMember { name: name.into(), apart: None, class: Some(class.into()), slots: vec![1], only: None }
}

fn at(slot: u8, part: Half, starts_at: Option<&str>, minutes: Option<u16>) -> Session {
    let on = Date::from_ymd_opt(2026, 11, 25).unwrap();
    Session { on, slot, part, starts_at: starts_at.map(|time| time.parse().unwrap()), minutes }
}

fn a_page(members: Vec<CoverMember>, sentences: usize) -> CoverPageBody {
    let word = |word: &str, graphemes: &[&str]| PlanWord {
        word: word.into(),
        reading: VariantBody {
            graphemes: graphemes.iter().map(ToString::to_string).collect(),
            phonemes: Vec::new(),
            gpcs: Vec::new(),
        },
    };
    CoverPageBody {
        school: "Farholt & Co".into(),
        group: "Alder <1>".into(),
        on: Date::from_ymd_opt(2026, 11, 25).unwrap(),
        day: DayKind::Teaching,
        recorded: false,
        finished: false,
        due: 1,
        lessons: vec![CoverLesson {
            session: at(1, Half::Morning, None, None),
            title: "Lesson 1".into(),
            step_title: "Step 1".into(),
            begun: false,
            items: vec!["igh /aɪ/".into()],
            words: Some(CoverWords {
                review: vec!["m /m/".into()],
                read: vec![word("night", &["n", "igh", "t"])],
                spell: vec![word("cake", &["c", "a_e", "k"])],
                exception_words: vec!["the".into()],
                sentences: (0..sentences).map(|n| format!("A cat sat on mat {n}.")).collect(),
            }),
        }],
        members,
        adults: vec!["Amara Osei".into()],
        hand_back: vec!["Tick who was away.".into()],
    }
}

#[test]
fn everything_short_is_whole_and_escaped() {
    let html = page(&a_page(vec![member("Zoë <b>Bell</b>", "Birch"), member("مريم بن سالم", "Oak")], 2));
    for part in [
        "Farholt &amp; Co · Wednesday 25 November 2026",
        "<h1>Cover page: <bdi>Alder &lt;1&gt;</bdi></h1>",
        "<b>Teach</b>: igh /aɪ/",
        "<b>Words to read</b>: night (n·igh·t)",
        "<b>Words to spell</b>: cake (c·a_e·k)",
        "<b>Common exception words</b>: the",
        "<li>A cat sat on mat 1.</li>",
        "<bdi>Zoë &lt;b&gt;Bell&lt;/b&gt;</bdi>",
        "<th scope=\"row\"><bdi>مريم بن سالم</bdi></th>",
        "<b>Adults</b>: Amara Osei",
        "<li>Tick who was away.</li>",
        "Page 1 of 1",
    ] {
        assert!(html.contains(part), "{part}\n{html}");
    }
    assert!(html.contains("<h2>Who is due</h2>") && html.contains("<td><bdi>Birch</bdi></td>"));
    assert!(html.contains("<html lang=\"en\">") && !html.contains(" more<") && !html.contains("<script"));
}

#[test]
fn what_a_lesson_teaches_is_said_once() {
    let mut one = a_page(vec![member("Zoë", "Birch")], 0);
    let lesson = &mut one.lessons[0];
    (lesson.title, lesson.step_title) = ("d /d/".into(), "d /d/".into());
    lesson.items = vec!["d /d/".into()];
    let html = page(&one);
    assert!(html.contains("<p><b>Teach d /d/</b></p>"), "{html}");
    assert_eq!(html.matches("d /d/").count(), 1, "{html}");
    // More than the title says is listed, under its step.
    let lesson = &mut one.lessons[0];
    lesson.items.push("the".into());
    lesson.step_title = "Step 3".into();
    let html = page(&one);
    assert!(html.contains("<b>d /d/, Step 3</b>") && html.contains("<b>Teach</b>: d /d/, the"), "{html}");
}

/// The pupils and the number that a page says is left out.
fn counted(html: &str) -> (usize, usize) {
    let rows = html.matches("<th scope=\"row\">").count();
    let more =
        html.split("<p><b>and ").nth(1).map_or(0, |rest| rest.split(' ').next().unwrap().parse().unwrap());
    (rows, more)
}

#[test]
fn pupils_come_before_the_rest_and_whoever_is_left_out_is_counted() {
    let many = |n: usize| (0..n).map(|n| member(&format!("Pupil Number {n}"), "Alder")).collect();
    // A class fits whole whatever else there is, and the sentences give way, counted.
    let html = page(&a_page(many(34), 40));
    assert!(html.contains("<h2>Who is due, all of class Alder</h2>") && !html.contains(">Class<"));
    assert_eq!(counted(&html), (34, 0));
    let sentences = html.matches("<li>A cat").count();
    assert!(sentences > 0 && html.contains(&format!("<li>and {} more</li>", 40 - sentences)), "{sentences}");
    let (rows, more) = counted(&page(&a_page(many(200), 2)));
    assert!(rows > 40 && rows + more == 200, "{rows} {more}");
}

#[test]
fn long_names_wrap_and_none_is_cut() {
    // As in case O20.
    let name = "Maximiliana-Theodora Konstantinopoulou Featherstonehaugh-Cholmondeley-Wriothesley";
    let list: Vec<_> = (0..60).map(|n| member(&format!("{name}{n}"), "Oak")).collect();
    let html = page(&a_page(list, 2));
    let (rows, more) = counted(&html);
    assert!(rows > 8 && more > 0 && rows + more == 60, "{rows} {more}");
    assert_eq!(html.matches(name).count(), rows);
}

#[test]
fn what_there_is_not_is_said() {
    let empty = CoverPageBody { lessons: Vec::new(), adults: Vec::new(), ..a_page(Vec::new(), 0) };
    let html = page(&empty);
    assert!(
        html.contains("Nobody is due.")
            && html.contains("No lesson is planned")
            && html.contains("Nobody is put down")
    );
    let finished = page(&CoverPageBody { lessons: Vec::new(), finished: true, ..a_page(Vec::new(), 0) });
    assert!(finished.contains("taught to its end") && !finished.contains("No lesson is planned"));
}

#[test]
fn each_lesson_of_the_day_is_printed_with_its_time() {
    let mut two = a_page(vec![member("Zoë Bell", "Birch")], 2);
    let mut second = a_page(Vec::new(), 1).lessons.remove(0);
    (second.title, second.begun) = ("Lesson 2".into(), true);
    second.session = at(2, Half::Afternoon, None, Some(20));
    two.lessons[0].session = at(1, Half::Morning, Some("09:00"), Some(30));
    (two.due, two.lessons) = (2, vec![two.lessons.remove(0), second]);
    let html = page(&two);
    let places: Vec<_> = [
        "<h2>Lessons</h2>",
        "<b>09:00, 30 minutes: Lesson 1, Step 1</b>",
        "<li>A cat sat on mat 1.</li>",
        "<b>Afternoon: Lesson 2, Step 1</b>",
        "A part of this lesson was taught already.",
        "<h2>Who is due, all of class Birch</h2>",
    ]
    .iter()
    .map(|part| html.find(part).unwrap_or_else(|| panic!("{part}\n{html}")))
    .collect();
    assert!(places.is_sorted(), "{places:?}\n{html}");
    // Nine lessons with much to read stay on one side: what is left out is counted.
    let many = (0..9).map(|_| a_page(Vec::new(), 30).lessons.remove(0)).collect();
    let html =
        page(&CoverPageBody { due: 9, lessons: many, ..a_page(vec![member("Zoë Bell", "Birch")], 0) });
    assert_eq!(html.matches("<b>Morning: Lesson 1, Step 1</b>").count(), 9);
    assert!(html.contains(" more</li>") && html.contains("Zoë Bell"));
}

#[test]
fn a_day_without_a_lesson_says_so() {
    let free = page(&CoverPageBody { due: 0, lessons: Vec::new(), ..a_page(Vec::new(), 0) });
    assert!(free.contains("This group has no lesson on this day.") && !free.contains("No lesson is planned"));
    let trip = CoverPageBody { due: 0, lessons: Vec::new(), day: DayKind::Trip, ..a_page(Vec::new(), 0) };
    let trip = page(&trip);
    assert!(trip.contains("This is not a teaching day of the group") && !trip.contains("on this day"));
    let done = page(&CoverPageBody { recorded: true, lessons: Vec::new(), ..a_page(Vec::new(), 0) });
    assert!(done.contains("is recorded already") && !done.contains("No lesson is planned"));
}
