//! The cover page on paper: one side of A4. What does not fit is left out at the end of its list, which says
//! how many more there are.

use std::fmt::Write as _;

use plumbline_core::{
    calendar::{DayKind, Half, Session},
    print::{and_more, fitting, lines, share, stacked, written},
};

use super::{document, escaped, name};
use crate::http::v1::cover_pages::{CoverLesson, CoverMember, CoverPageBody};
use crate::http::words::lesson::PlanWord;

// Widths in hundredths of an em of the sheet's 10.5 points, as `sheet.css` has them: a line, one in a list,
// one of each sort of heading, and the columns of the table, names with and without a class beside them.
const LINE: usize = 4950;
const LISTED: usize = 4800;
const HEADING: usize = 3300;
const SECTIONS: usize = 4200;
const NAME: usize = 1290;
const NAME_ALONE: usize = 1990;
const CLASS: usize = 620;

// Heights in tenths of a line of 10.5 points by 1.3.
/// A sheet of 297 mm without its margins is 566 high.
const SHEET: usize = 540;
const TEXT: usize = 10;
/// A paragraph's space after it, and a table row's padding and border.
const SPACE: usize = 2;
const TITLE: usize = 14;
const SECTION: usize = 19;
const FOOTER: usize = 17;
/// What pupils have at the least, if there are so many: a row of headings and a few more.
const SOME_PUPILS: usize = 60;

fn paragraph(text: &str) -> usize {
    lines(text, LINE) * TEXT + SPACE
}

/// A list in one paragraph: its label and its entries.
struct Flow {
    label: &'static str,
    entries: Vec<String>,
}

impl Flow {
    fn wanted(&self) -> usize {
        if self.entries.is_empty() {
            return 0;
        }
        paragraph(&written(self.label, &self.entries, self.entries.len()))
    }

    fn html(&self, height: usize) -> String {
        if self.entries.is_empty() {
            return String::new();
        }
        let shown = fitting(self.label, &self.entries, LINE, (height.saturating_sub(SPACE) / TEXT).max(1));
        let text = written("", &self.entries, shown);
        format!("<p><b>{}</b>{}</p>\n", self.label, escaped(&text))
    }
}

/// A lesson of the day as it is printed.
struct Printed<'a> {
    heading: String,
    note: Option<&'static str>,
    flows: [Flow; 5],
    sentences: &'a [String],
    /// The height of each sentence.
    said: Vec<usize>,
}

impl<'a> Printed<'a> {
    fn of(lesson: &'a CoverLesson, one_of_many: bool) -> Self {
        let sentences: &[String] = lesson.words.as_ref().map_or(&[], |words| &words.sentences);
        Self {
            heading: format!("{}{}", when(lesson.session, one_of_many), called_once(lesson)),
            note: lesson.begun.then_some("A part of this lesson was taught already. What is left:"),
            flows: flows(lesson),
            sentences,
            said: sentences.iter().map(|one| lines(one, LISTED) * TEXT).collect(),
        }
    }

    /// What it takes whatever else there is.
    fn fixed(&self) -> usize {
        paragraph(&self.heading) + self.note.map_or(0, paragraph)
    }

    /// The least and the wanted height of what may be cut short, the most needed first.
    fn parts(&self) -> [(usize, usize); 6] {
        let one = TEXT + SPACE;
        let [items, review, read, exception, spell] = &self.flows;
        let sentences = match self.said.is_empty() {
            true => 0,
            false => self.said.iter().sum::<usize>() + paragraph("") + SPACE,
        };
        [
            (one, items.wanted()),
            (one, read.wanted()),
            (one, exception.wanted()),
            (2 * one, sentences),
            (one, review.wanted()),
            (one, spell.wanted()),
        ]
    }

    /// Written with the heights given to its parts.
    fn html(&self, given: &[usize]) -> String {
        let [for_items, for_read, for_exception, for_sentences, for_review, for_spell] = *given else {
            return String::new();
        };
        let [items, review, read, exception, spell] = &self.flows;
        let mut html = format!("<p><b>{}</b></p>\n", escaped(&self.heading));
        if let Some(note) = self.note {
            let _ = writeln!(html, "<p>{}</p>", escaped(note));
        }
        html.push_str(&items.html(for_items));
        html.push_str(&review.html(for_review));
        html.push_str(&read.html(for_read));
        html.push_str(&exception.html(for_exception));
        html.push_str(&spell.html(for_spell));
        html.push_str(&sentences_html(self.sentences, &self.said, for_sentences));
        html
    }
}

/// What a lesson is called: each thing once, since a step and a lesson may both be called by the one GPC they teach.
fn called_once(lesson: &CoverLesson) -> String {
    let title = match teaches_its_title(lesson) {
        true => format!("Teach {}", lesson.title),
        false => lesson.title.clone(),
    };
    match lesson.title.contains(&lesson.step_title) {
        true => title,
        false => format!("{title}, {}", lesson.step_title),
    }
}

fn teaches_its_title(lesson: &CoverLesson) -> bool {
    matches!(lesson.items.as_slice(), [only] if *only == lesson.title)
}

/// When a lesson is, in front of its title; the half of the day only where several have to be told apart.
fn when(session: Session, one_of_many: bool) -> String {
    let half = match session.part {
        Half::Morning => "Morning",
        Half::Afternoon => "Afternoon",
    };
    match (session.starts_at, session.minutes) {
        (Some(starts), Some(minutes)) => format!("{starts}, {minutes} minutes: "),
        (Some(starts), None) => format!("{starts}: "),
        (None, _) if one_of_many => format!("{half}: "),
        (None, Some(minutes)) => format!("{minutes} minutes: "),
        (None, None) => String::new(),
    }
}

/// The sheet.
pub fn page(page: &CoverPageBody) -> String {
    let date = page.on.format("%A %-d %B %Y").to_string();
    let (top, title) = (format!("{} · {date}", page.school), format!("Cover page: {}", page.group));
    let notes = notes(page);
    let lessons: Vec<Printed<'_>> =
        page.lessons.iter().map(|lesson| Printed::of(lesson, page.due > 1)).collect();
    let adults = Flow { label: "Adults", entries: page.adults.clone() };
    let one_class = class_of_all(&page.members);
    let due = one_class.map_or("Who is due".into(), |class| format!("Who is due, all of class {class}"));
    let fixed = paragraph(&top) + lines(&due, SECTIONS) * TITLE - TITLE
        + lines(&title, HEADING) * TITLE
        + 4 * SECTION
        + notes.iter().map(|note| paragraph(note)).sum::<usize>()
        + lessons.iter().map(Printed::fixed).sum::<usize>()
        + page.hand_back.iter().map(|line| lines(line, LISTED) * TEXT).sum::<usize>()
        + SPACE
        + FOOTER;
    let mut parts = vec![(SOME_PUPILS, members_height(&page.members, classes_differ(&page.members)))];
    parts.extend(lessons.iter().flat_map(Printed::parts));
    parts.push((TEXT + SPACE, adults.wanted()));
    let given = share(SHEET.saturating_sub(fixed), &parts);
    let ([for_members, of_lessons @ ..], for_adults) = (&given[..given.len() - 1], given[given.len() - 1])
    else {
        return String::new();
    };
    let title = if page.due > 1 { "Lessons" } else { "Lesson" };
    let mut html = format!(
        "<main>\n<p>{}</p>\n<h1>Cover page: {}</h1>\n<h2>{title}</h2>\n",
        escaped(&top),
        name(&page.group)
    );
    for note in &notes {
        let _ = writeln!(html, "<p>{}</p>", escaped(note));
    }
    for (lesson, given) in lessons.iter().zip(of_lessons.chunks(6)) {
        html.push_str(&lesson.html(given));
    }
    let _ = writeln!(html, "<h2>{}</h2>", escaped(&due));
    html.push_str(&members_html(&page.members, *for_members));
    html.push_str(&ending(page, &adults.html(for_adults)));
    document("Cover page", &html)
}

/// Who else is there, and what to do at the end.
fn ending(page: &CoverPageBody, adults: &str) -> String {
    let mut html = String::new();
    html.push_str("<h2>Who else is there</h2>\n");
    if page.adults.is_empty() {
        html.push_str("<p>Nobody is put down for this day.</p>\n");
    }
    html.push_str(adults);
    html.push_str("<h2>At the end</h2>\n<ol>\n");
    for line in &page.hand_back {
        let _ = writeln!(html, "<li>{}</li>", escaped(line));
    }
    html.push_str(
        "</ol>\n<footer><p>Page 1 of 1. Names of pupils: keep it with you.</p></footer>\n</main>\n",
    );
    html
}

fn notes(page: &CoverPageBody) -> Vec<&'static str> {
    let not_taught = page.day != DayKind::Teaching;
    let (none, over) = (page.lessons.is_empty(), page.recorded && page.lessons.is_empty());
    let wanted = !not_taught && page.due > 0;
    let found = [
        (not_taught, "This is not a teaching day of the group."),
        (!not_taught && page.due == 0, "This group has no lesson on this day."),
        (wanted && over, "What was to be taught on this day is recorded already."),
        (wanted && page.recorded && !none, "A lesson of this day is recorded already. What is left:"),
        (page.finished, "The sequence has been taught to its end: ask the phonics lead what to do."),
        (
            wanted && none && !over && !page.finished,
            "No lesson is planned for this day: ask the phonics lead.",
        ),
    ];
    found.into_iter().filter(|(is_so, _)| *is_so).map(|(_, note)| note).collect()
}

/// The lists of a lesson: what to teach and go back to, words to read, exception words, words to spell.
fn flows(lesson: &CoverLesson) -> [Flow; 5] {
    let words = lesson.words.as_ref();
    let apart = |list: &Vec<PlanWord>| {
        // Dots keep a word's graphemes on one line.
        let word = |one: &PlanWord| format!("{} ({})", one.word, one.reading.graphemes.join("·"));
        list.iter().map(word).collect()
    };
    let of = |label, entries: Option<Vec<String>>| Flow { label, entries: entries.unwrap_or_default() };
    [
        of("Teach", (!teaches_its_title(lesson)).then(|| lesson.items.clone())),
        of("Go back to", words.map(|words| words.review.clone())),
        of("Words to read", words.map(|words| apart(&words.read))),
        of("Common exception words", words.map(|words| words.exception_words.clone())),
        of("Words to spell", words.map(|words| apart(&words.spell))),
    ]
}

fn sentences_html(sentences: &[String], heights: &[usize], room: usize) -> String {
    if sentences.is_empty() {
        return String::new();
    }
    let room = room.saturating_sub(TEXT + 2 * SPACE);
    let shown = stacked(heights, TEXT, room);
    let mut html = String::from("<p><b>Sentences to read</b></p>\n<ul>\n");
    for sentence in &sentences[..shown] {
        let _ = writeln!(html, "<li>{}</li>", escaped(sentence));
    }
    if shown < sentences.len() {
        let _ = writeln!(html, "<li>{}</li>", and_more(sentences.len() - shown).trim());
    }
    html.push_str("</ul>\n");
    html
}

fn called(member: &CoverMember) -> String {
    let name = match &member.apart {
        Some(apart) => format!("{} ({apart})", member.name),
        None => member.name.clone(),
    };
    match member.only {
        Some(Half::Morning) => format!("{name}, morning only"),
        Some(Half::Afternoon) => format!("{name}, afternoon only"),
        None => name,
    }
}

/// The class all are in, where it is one: then it is said once, and names have its room.
fn class_of_all(members: &[CoverMember]) -> Option<&str> {
    let class = members.first()?.class.as_deref()?;
    (!classes_differ(members)).then_some(class)
}

fn classes_differ(members: &[CoverMember]) -> bool {
    members.windows(2).any(|two| two[0].class != two[1].class)
}

fn row(member: &CoverMember, with_class: bool) -> usize {
    let class = member.class.as_deref().unwrap_or_default();
    let lines = match with_class {
        true => lines(&called(member), NAME).max(lines(class, CLASS)),
        false => lines(&called(member), NAME_ALONE),
    };
    lines * TEXT + SPACE
}

/// How high the two tables are that stand side by side.
fn members_height(members: &[CoverMember], with_class: bool) -> usize {
    if members.is_empty() {
        return TEXT + SPACE;
    }
    let (left, right) = members.split_at(members.len().div_ceil(2));
    let height = |half: &[CoverMember]| half.iter().map(|one| row(one, with_class)).sum::<usize>();
    height(left).max(height(right)) + 2 * (TEXT + SPACE)
}

fn members_html(members: &[CoverMember], room: usize) -> String {
    if members.is_empty() {
        return "<p>Nobody is due.</p>\n".into();
    }
    let with_class = classes_differ(members);
    let more = |shown: usize| if shown < members.len() { TEXT + SPACE } else { 0 };
    let fits = |shown: &usize| members_height(&members[..*shown], with_class) + more(*shown) <= room;
    let shown = (0..=members.len()).rev().find(fits).unwrap_or(0);
    let (left, right) = members[..shown].split_at(shown.div_ceil(2));
    let mut html = String::from("<div class=\"halves\">\n");
    for (half, label) in [(left, "Pupils due"), (right, "Pupils due, continued")] {
        if half.is_empty() {
            continue;
        }
        let _ = write!(
            html,
            "<table aria-label=\"{label}\">\n<thead><tr><th scope=\"col\" class=\"away\">Away</th>\
             <th scope=\"col\">Name</th>"
        );
        if with_class {
            html.push_str("<th scope=\"col\" class=\"class\">Class</th>");
        }
        html.push_str("</tr></thead>\n<tbody>\n");
        for member in half {
            let _ = write!(html, "<tr><td></td><th scope=\"row\">{}</th>", name(&called(member)));
            if with_class {
                let _ = write!(html, "<td>{}</td>", name(member.class.as_deref().unwrap_or_default()));
            }
            html.push_str("</tr>\n");
        }
        html.push_str("</tbody>\n</table>\n");
    }
    html.push_str("</div>\n");
    if shown < members.len() {
        let _ = writeln!(html, "<p><b>{}</b></p>", and_more(members.len() - shown).trim());
    }
    html
}

#[cfg(test)]
mod tests;
