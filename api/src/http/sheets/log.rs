//! The log sheet of a check: pupils and a box for each item, to be filled in by hand and entered afterwards.

use std::fmt::Write as _;

use plumbline_core::{
    check::{CheckItem, CheckKind, Outcome},
    print::lines,
    rules::CarriedCells,
    time::Date,
};

use super::{check::APART, day, document, escaped, name, numbered};

/// Boxes side by side on an upright sheet, and pupils below each other: with margins of 12 mm, 7 mm a box and a row.
const BOXES: usize = 15;
const ROWS: usize = 26;
/// Letters of an item above its box: upright, and turned; longer ones are told by their number.
const UPRIGHT: usize = 3;
const ABOVE: usize = 14;
/// A line of the key in hundredths of an em of 10.5 points; how many of them a sheet has room for beside all its rows,
/// and how many more take five rows away.
const LINE: usize = 4950;
const KEY: usize = 6;
const FIVE_ROWS: usize = 7;

/// What a log sheet is of.
pub struct LogSheet<'a> {
    /// The school.
    pub school: &'a str,
    /// The round.
    pub round: &'a str,
    /// Its days.
    pub days: (Date, Date),
    /// The check.
    pub check: &'a str,
    /// What it asks for.
    pub kind: CheckKind,
    /// Which version of it.
    pub version: i32,
    /// Whom it is of: a group, or everybody the reader checks.
    pub of: &'a str,
    /// Its items.
    pub items: &'a [CheckItem],
    /// Names of pupils as shown, with what tells namesakes apart.
    pub pupils: &'a [(String, Option<String>)],
    /// How many are not on it, who are exempt, and to whom the check is not accessible.
    pub left_out: (usize, usize),
    /// How outcomes are written.
    pub cells: &'a CarriedCells,
}

/// The sheet. Items that do not fit side by side have sheets of their own with the same pupils.
pub fn page(sheet: &LogSheet<'_>) -> String {
    let columns: Vec<(usize, &[CheckItem])> =
        sheet.items.chunks(BOXES).enumerate().map(|(n, items)| (n * BOXES, items)).collect();
    let keys: Vec<String> = columns.iter().map(|(before, items)| key(sheet.kind, *before, items)).collect();
    let longest = keys.iter().map(|key| lines(key, LINE)).max().unwrap_or(0);
    let fewer = (longest.saturating_sub(KEY) * 5).div_ceil(FIVE_ROWS);
    let rows: Vec<&[(String, Option<String>)]> = match sheet.pupils {
        [] => vec![&[]],
        pupils => pupils.chunks(ROWS.saturating_sub(fewer).max(1)).collect(),
    };
    let pages = rows.len() * columns.len();
    let mut html = String::from("<main>\n");
    let columns = || columns.iter().zip(&keys);
    let each = rows.iter().flat_map(|rows| columns().map(move |columns| (rows, columns)));
    for (n, (pupils, ((before, items), key))) in each.enumerate() {
        html.push_str("<section class=\"page\">\n");
        html.push_str(&head(sheet));
        if !key.is_empty() {
            let _ = writeln!(html, "<p>{}</p>", escaped(key));
        }
        html.push_str(&table(sheet.kind, pupils, *before, items));
        html.push_str(&numbered(
            n + 1,
            pages,
            "Names of pupils: keep it with you, and destroy it once it is entered.",
        ));
        html.push_str("</section>\n");
    }
    html.push_str("</main>\n");
    document("Log sheet", &html)
}

fn head(sheet: &LogSheet<'_>) -> String {
    let (first, last) = sheet.days;
    let version = if sheet.version > 1 { format!(", version {}", sheet.version) } else { String::new() };
    format!(
        "<p>{} · {}, {} to {}</p>\n<h1>{}{version}: {}</h1>\n<p>{}{}</p>\n",
        escaped(sheet.school),
        escaped(sheet.round),
        day(first),
        day(last),
        escaped(sheet.check),
        name(sheet.of),
        escaped(&codes(sheet.cells)),
        escaped(&left_out(sheet.left_out)),
    )
}

/// Who is not on the sheet, counted.
fn left_out((exempt, not_accessible): (usize, usize)) -> String {
    let said = [(exempt, "exempt"), (not_accessible, "to whom it is not accessible")];
    let said: Vec<String> =
        said.iter().filter(|(n, _)| *n > 0).map(|(n, why)| format!("{n} {why}")).collect();
    if said.is_empty() { String::new() } else { format!(" Not on this sheet: {}.", said.join(", ")) }
}

/// What the columns are where their heads do not say it: long texts, the word a sound is told by, and which words are
/// made up.
fn key(kind: CheckKind, before: usize, items: &[CheckItem]) -> String {
    let said = |(n, item): (usize, &CheckItem)| {
        let (number, prompt) = (before + n + 1, item.prompt.as_str());
        match (&item.keyword, prompt.chars().count() > ABOVE) {
            (Some(keyword), _) => Some(format!("{number} {prompt} as in {keyword}")),
            (None, true) => Some(format!("{number} {prompt}")),
            (None, false) => None,
        }
    };
    let mut key: Vec<String> = items.iter().enumerate().filter_map(said).collect();
    if items.iter().any(|item| kind.is_made_up(item.pseudo)) {
        key.push(format!("{MADE_UP} a made-up word"));
    }
    key.join(APART)
}

/// What stands beside the number of a made-up word.
const MADE_UP: char = '*';

/// What stands above an item's box: its letters, and of a GPC its sound.
fn above(kind: CheckKind, number: usize, item: &CheckItem) -> String {
    let (prompt, letters) = (escaped(item.prompt.as_str()), item.prompt.as_str().chars().count());
    let mut html = format!("<th scope=\"col\" class=\"box\">{number}");
    if kind.is_made_up(item.pseudo) {
        html.push(MADE_UP);
    }
    // Writing to a string cannot fail.
    let _ = match letters {
        0..=UPRIGHT => write!(html, "<span>{prompt}</span>"),
        _ if letters <= ABOVE => write!(html, "<span class=\"side\">{prompt}</span>"),
        _ => Ok(()),
    };
    if let (CheckKind::GpcRecognition, [sound, ..]) = (kind, item.accept.as_slice()) {
        let _ = write!(html, "<span class=\"sound\">/{}/</span>", escaped(sound));
    }
    html.push_str("</th>");
    html
}

/// How each outcome is written in a box: as tables carried in have it.
fn codes(cells: &CarriedCells) -> String {
    let written = |outcome| cells.written(outcome).unwrap_or_default().to_owned();
    format!(
        "In each box: {} right, {} wrong, {} no response, {} not asked. Accept the pupil's usual accent and speech.",
        written(Outcome::Right),
        written(Outcome::Wrong),
        written(Outcome::NoResponse),
        written(Outcome::NotOffered)
    )
}

fn table(kind: CheckKind, pupils: &[(String, Option<String>)], before: usize, items: &[CheckItem]) -> String {
    let mut html =
        String::from("<table class=\"log\">\n<thead><tr><th scope=\"col\" class=\"who\">Pupil</th>");
    for (n, item) in items.iter().enumerate() {
        html.push_str(&above(kind, before + n + 1, item));
    }
    html.push_str("<th scope=\"col\" class=\"day\">Day</th><th scope=\"col\" class=\"day\">Adult</th></tr></thead>\n<tbody>\n");
    for (pupil, apart) in pupils {
        let shown = match apart {
            Some(apart) => format!("{pupil} ({apart})"),
            None => pupil.clone(),
        };
        let _ = write!(html, "<tr><th scope=\"row\">{}</th>", name(&shown));
        html.push_str(&"<td></td>".repeat(items.len() + 2));
        html.push_str("</tr>\n");
    }
    html.push_str("</tbody>\n</table>\n");
    if pupils.is_empty() {
        html.push_str("<p>No pupil to check.</p>\n");
    }
    html
}

#[cfg(test)]
mod tests {
    use plumbline_core::{id::CheckItemId, rules::pack, text::Title};
    use uuid::Uuid;

    use super::*;

    fn item(n: usize, prompt: &str) -> CheckItem {
        let id = CheckItemId::from_uuid(Uuid::from_u128(n as u128));
        CheckItem::new(id, Title::new(prompt).unwrap())
    }

    fn sheet_of(kind: CheckKind, items: &[CheckItem], pupils: usize, left_out: (usize, usize)) -> String {
        let pupils: Vec<_> =
            (0..pupils).map(|n| (format!("Pupil {n}"), (n == 1).then(|| "class Alder".to_owned()))).collect();
        page(&LogSheet {
            school: "Farholt <Infants>",
            round: "Autumn 2",
            days: (Date::from_ymd_opt(2026, 11, 16).unwrap(), Date::from_ymd_opt(2026, 11, 27).unwrap()),
            check: "Words",
            kind,
            version: 2,
            of: "Alder",
            items,
            pupils: &pupils,
            left_out,
            cells: &pack("england").unwrap().carried_cells,
        })
    }

    fn sheet(items: usize, pupils: usize) -> String {
        let items: Vec<CheckItem> = (1..=items).map(|n| item(n, &format!("word{n}"))).collect();
        sheet_of(CheckKind::WordReading, &items, pupils, (0, 0))
    }

    #[test]
    fn every_pupil_has_a_box_for_every_item_and_pages_are_counted() {
        // 30 pupils on two sheets, 25 items on two: four pages.
        let html = sheet(25, 30);
        assert_eq!(html.matches("<section class=\"page\">").count(), 4);
        assert!(html.contains("Page 4 of 4") && html.contains("16 November 2026 to 27 November 2026"));
        // A box for each item, and two more for day and adult on each sheet.
        assert_eq!(html.matches("<td></td>").count(), 30 * (25 + 2 * 2));
        assert!(html.contains("Pupil 1 (class Alder)"));
        assert!(
            html.contains("Words, version 2: <bdi>Alder</bdi>") && html.contains("Farholt &lt;Infants&gt;")
        );
        assert!(html.contains("In each box: 1 right, 0 wrong, nr no response, - not asked."), "{html}");
        assert!(
            html.contains(">25<span class=\"side\">word25</span>") && !html.contains("Not on this sheet")
        );
    }

    #[test]
    fn two_sounds_of_one_grapheme_are_told_apart_and_short_ones_stand_upright() {
        let th = |n: usize, sound: &str, keyword: &str| CheckItem {
            accept: vec![sound.to_owned()],
            keyword: Some(keyword.to_owned()),
            ..item(n, "th")
        };
        let items = [th(1, "θ", "thin"), th(2, "ð", "this")];
        let html = sheet_of(CheckKind::GpcRecognition, &items, 3, (2, 1));
        assert!(html.contains(">1<span>th</span><span class=\"sound\">/θ/</span></th>"), "{html}");
        assert!(html.contains("<p>1 th as in thin · 2 th as in this</p>"), "{html}");
        assert!(html.contains(" Not on this sheet: 2 exempt, 1 to whom it is not accessible."), "{html}");
    }

    #[test]
    fn long_texts_are_told_by_their_numbers_and_made_up_words_are_marked() {
        let sentences: Vec<CheckItem> =
            (1..=15).map(|n| item(n, &format!("The cat {n} sat on the long red mat by the door."))).collect();
        let html = sheet_of(CheckKind::SentenceReading, &sentences, 26, (0, 0));
        assert!(html.contains("15 The cat 15 sat on the long red mat by the door.</p>"), "{html}");
        // What the key takes is taken from the rows.
        assert_eq!(html.matches("<section class=\"page\">").count(), 2);
        let mut practice = vec![item(1, "bamp"), item(2, "cat")];
        practice[0].pseudo = true;
        let html = sheet_of(CheckKind::PracticeCheck, &practice, 1, (0, 0));
        assert!(html.contains(">1*<span class=\"side\">bamp</span>"), "{html}");
        assert!(html.contains(">2<span>cat</span>") && html.contains("* a made-up word"), "{html}");
    }

    #[test]
    fn a_sheet_without_pupils_says_so() {
        let html = sheet(3, 0);
        assert!(html.contains("No pupil to check.") && html.contains("Page 1 of 1"));
    }
}
