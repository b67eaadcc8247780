//! The log sheet of a check: pupils and a box for each item, to be filled in by hand and entered afterwards.

use std::fmt::Write as _;

use plumbline_core::{
    check::{CheckItem, Outcome},
    rules::CarriedCells,
    time::Date,
};

use super::{document, escaped, name, numbered};

/// Boxes side by side on an upright sheet, and pupils below each other: with margins of 12 mm, 7 mm a box and a row.
const BOXES: usize = 15;
const ROWS: usize = 26;
/// Letters of an item above its box; longer ones are told by their number.
const ABOVE: usize = 14;

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
    /// Which version of it.
    pub version: i32,
    /// Whom it is of: a group, or everybody the reader checks.
    pub of: &'a str,
    /// Its items.
    pub items: &'a [CheckItem],
    /// Names of pupils as shown, with what tells namesakes apart.
    pub pupils: &'a [(String, Option<String>)],
    /// How outcomes are written.
    pub cells: &'a CarriedCells,
}

/// The sheet. Items that do not fit side by side have sheets of their own with the same pupils.
pub fn page(sheet: &LogSheet<'_>) -> String {
    let rows: Vec<&[(String, Option<String>)]> = match sheet.pupils {
        [] => vec![&[]],
        pupils => pupils.chunks(ROWS).collect(),
    };
    let columns: Vec<(usize, &[CheckItem])> =
        sheet.items.chunks(BOXES).enumerate().map(|(n, items)| (n * BOXES, items)).collect();
    let pages = rows.len() * columns.len();
    let mut html = String::from("<main>\n");
    let each = rows.iter().flat_map(|rows| columns.iter().map(move |columns| (rows, columns)));
    for (n, (pupils, (before, items))) in each.enumerate() {
        html.push_str("<section class=\"page\">\n");
        html.push_str(&head(sheet));
        html.push_str(&table(pupils, *before, items));
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
    let day = |day: Date| day.format("%-d %B %Y").to_string();
    format!(
        "<p>{} · {}, {} to {}</p>\n<h1>{}{version}: {}</h1>\n<p>{}</p>\n",
        escaped(sheet.school),
        escaped(sheet.round),
        day(first),
        day(last),
        escaped(sheet.check),
        name(sheet.of),
        escaped(&codes(sheet.cells)),
    )
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

fn table(pupils: &[(String, Option<String>)], before: usize, items: &[CheckItem]) -> String {
    let mut html =
        String::from("<table class=\"log\">\n<thead><tr><th scope=\"col\" class=\"who\">Pupil</th>");
    for (n, item) in items.iter().enumerate() {
        let number = before + n + 1;
        let prompt = item.prompt.as_str();
        let above = if prompt.chars().count() <= ABOVE { escaped(prompt) } else { String::new() };
        let _ = write!(html, "<th scope=\"col\" class=\"box\">{number}<span>{above}</span></th>");
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

    fn sheet(items: usize, pupils: usize) -> String {
        let item = |n: usize| {
            let id = CheckItemId::from_uuid(Uuid::from_u128(n as u128));
            CheckItem::new(id, Title::new(&format!("word{n}")).unwrap())
        };
        let items: Vec<CheckItem> = (1..=items).map(item).collect();
        let pupils: Vec<_> =
            (0..pupils).map(|n| (format!("Pupil {n}"), (n == 1).then(|| "class Alder".to_owned()))).collect();
        page(&LogSheet {
            school: "Farholt <Infants>",
            round: "Autumn 2",
            days: (Date::from_ymd_opt(2026, 11, 16).unwrap(), Date::from_ymd_opt(2026, 11, 27).unwrap()),
            check: "Words",
            version: 2,
            of: "Alder",
            items: &items,
            pupils: &pupils,
            cells: &pack("england").unwrap().carried_cells,
        })
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
        assert!(html.contains(">25<span>word25</span>"));
    }

    #[test]
    fn a_sheet_without_pupils_says_so() {
        let html = sheet(3, 0);
        assert!(html.contains("No pupil to check.") && html.contains("Page 1 of 1"));
    }
}
