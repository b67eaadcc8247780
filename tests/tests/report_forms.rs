//! The forms of a release: each says what the release says, and nothing that it leaves out.
#![allow(clippy::unwrap_used)]

use std::{collections::BTreeMap, io::Read as _};

use plumbline_tests::{Answer, ClassTold, Client, School, Value, json, text};

const ARABIC: &str = "فصل الزيتون";
/// Sixty letters.
const LONG: &str = "Willow and Elder together on mornings in the old schoolhouse";
const FORMULA: &str = "=1+Elm";

/// Two of the third class did not read the word: it is left out, and with it the fourth, or Year 1 less that is the third.
const CLASSES: [ClassTold<'_>; 4] = [
    ClassTold { name: ARABIC, year: "Reception", asked: 12, right: 8, not_asked: 0 },
    ClassTold { name: LONG, year: "Reception", asked: 12, right: 7, not_asked: 1 },
    ClassTold { name: FORMULA, year: "Year 1", asked: 14, right: 12, not_asked: 0 },
    ClassTold { name: "Fir", year: "Year 1", asked: 12, right: 8, not_asked: 0 },
];

/// What governors are told, worked by hand: name, pupils, how many met it, per cent, the Wilson interval.
const TOLD: [(&str, u32, u32, u32, &str, &str); 5] = [
    ("Whole school", 50, 35, 70, "56.2", "80.9"),
    ("Reception", 24, 15, 63, "42.7", "78.8"),
    ("Year 1", 26, 20, 77, "57.9", "89"),
    (LONG, 12, 7, 58, "32", "80.7"),
    (ARABIC, 12, 8, 67, "39.1", "86.2"),
];

/// The school, which lasts as long as it is held, its lead and where the release is.
fn released(asked: Value) -> (School, Client, String) {
    let school = School::told_of(&CLASSES);
    let lead = school.lead();
    let snapshot = text(&lead.post("/report-snapshots", json!({})).expect(201)["id"]);
    let made = lead.post(&format!("/report-snapshots/{snapshot}/releases"), asked);
    assert_eq!(made.status, 201, "{}", made.text);
    let path = made.header("Location");
    (school, lead, path)
}

fn to_governors() -> (School, Client, String) {
    released(json!({"audience": "closed", "measures": ["words"], "by": ["year_group", "class"]}))
}

/// The form, asked for twice.
fn form(lead: &Client, path: &str, media_type: &str) -> Answer {
    let [first, second] = [(); 2].map(|()| lead.get(path));
    assert_eq!((first.status, first.header("Content-Type").as_str()), (200, media_type), "{}", first.text);
    assert!(first.bytes == second.bytes, "{path}: not the same bytes each time");
    first
}

/// The files in a workbook, as text.
fn parts(workbook: &[u8]) -> BTreeMap<String, String> {
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(workbook)).unwrap();
    (0..archive.len())
        .map(|place| {
            let mut part = archive.by_index(place).unwrap();
            let mut text = String::new();
            part.read_to_string(&mut text).unwrap();
            (part.name().unwrap().into_owned(), text)
        })
        .collect()
}

/// The values of a sheet by their cells, texts in quotes. Every cell that has a value is one of these two kinds.
fn cells(parts: &BTreeMap<String, String>, sheet: &str) -> BTreeMap<String, String> {
    let shared = &parts["xl/sharedStrings.xml"];
    let texts: Vec<&str> = shared
        .split("<si><t")
        .skip(1)
        .map(|rest| rest.split_once('>').unwrap().1.split("</t>").next().unwrap())
        .collect();
    let cell = |cell: &str| {
        let (attributes, value) = cell.split_once("><v>")?;
        let (name, value) = (attributes.split('"').next().unwrap(), value.split("</v>").next().unwrap());
        let value = match attributes.contains("t=\"s\"") {
            true => format!("\"{}\"", texts[value.parse::<usize>().unwrap()]),
            false => value.to_owned(),
        };
        Some((name.to_owned(), value))
    };
    parts[sheet].split("<c r=\"").skip(1).filter_map(cell).collect()
}

#[test]
fn a_workbook_has_the_figures_as_numbers_and_nothing_in_the_place_of_one() {
    let (_school, lead, path) = to_governors();
    let media_type = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
    let parts = parts(&form(&lead, &format!("{path}/table.xlsx"), media_type).bytes);
    let found = cells(&parts, "xl/worksheets/sheet1.xml");
    let mut expected: BTreeMap<String, String> = BTreeMap::new();
    let headings = ["Measure", "By", "Group", "Symbol", "Pupils", "Not known", "Met it", "Per cent"];
    let headings = headings.into_iter().chain(["Range from, per cent", "Range to, per cent"]);
    expected.extend(
        ('A'..='J').zip(headings).map(|(column, text)| (format!("{column}1"), format!("\"{text}\""))),
    );
    // The school, two year groups, then classes by name.
    let rows = [("", 2, TOLD[0]), ("Year group", 3, TOLD[1]), ("Year group", 4, TOLD[2])];
    for (by, row, (name, pupils, met, percent, low, high)) in
        rows.into_iter().chain([("Class", 7, TOLD[3]), ("Class", 8, TOLD[4])])
    {
        for (column, value) in [('A', "Words are read"), ('B', by), ('C', name)] {
            expected.insert(format!("{column}{row}"), format!("\"{value}\""));
        }
        let numbers = [pupils.to_string(), met.to_string(), percent.to_string(), low.into(), high.into()];
        expected
            .extend("EGHIJ".chars().zip(numbers).map(|(column, value)| (format!("{column}{row}"), value)));
    }
    for (row, name) in [(5, FORMULA), (6, "Fir")] {
        for (column, value) in [('A', "Words are read"), ('B', "Class"), ('C', name), ('D', "c")] {
            expected.insert(format!("{column}{row}"), format!("\"{value}\""));
        }
    }
    // A text of nothing is no value.
    expected.retain(|_, value| value != "\"\"");
    assert_eq!(found, expected);
    let sheet = &parts["xl/worksheets/sheet1.xml"];
    assert!(sheet.contains("<pane ySplit=\"1\"") && sheet.contains("state=\"frozen\""), "{sheet}");
    for (name, part) in &parts {
        assert!(!part.contains("<f>") && !part.contains("hidden"), "{name}: {part}");
    }
    let core = &parts["docProps/core.xml"];
    assert_eq!(core.matches("2026-11-25T00:00:00Z").count(), 2, "the release's day, not the clock's: {core}");
    assert!(
        core.contains("<dc:creator></dc:creator>")
            && core.contains("<cp:lastModifiedBy></cp:lastModifiedBy>")
    );
    let words = cells(&parts, "xl/worksheets/sheet2.xml");
    assert!(words.values().any(|said| said.starts_with("\"left out: ")), "{words:?}");
    assert!(words.values().any(|said| said.starts_with("\"At least 80 in 100 of the words")), "{words:?}");
    assert!(words.values().all(|said| said.starts_with('"')), "words alone: {words:?}");
}

#[test]
fn a_page_has_a_bar_beside_each_figure_and_a_word_where_there_is_none() {
    let (_school, lead, path) = to_governors();
    let page = form(&lead, &format!("{path}/page"), "text/html; charset=utf-8");
    let policy = page.header("Content-Security-Policy");
    assert!(
        policy.starts_with("default-src 'none'; style-src 'sha256-") && !policy.contains("script-src"),
        "{policy}"
    );
    let html = page.text;
    assert_eq!((html.matches("<table ").count(), html.matches("<caption>").count()), (1, 1));
    let name = |name: &str| format!("<th scope=\"row\"><bdi>{name}</bdi></th>");
    for (group, pupils, met, percent, low, high) in TOLD {
        let whole = |tenths: &str| (tenths.parse::<f64>().unwrap() + 0.5).floor();
        let said = [pupils.to_string(), met.to_string(), format!("{percent}%")];
        let range = format!("{} to {}%", whole(low), whole(high));
        let told: String =
            said.iter().chain([&range]).map(|cell| format!("<td class=\"told\">{cell}</td>")).collect();
        let row = format!("{}{told}<td class=\"drawn\"><svg ", name(group));
        assert!(html.contains(&row), "{row}\n{html}");
    }
    for group in [FORMULA, "Fir"] {
        let instead = "<td class=\"told\" colspan=\"4\">c</td><td class=\"drawn\">left out</td></tr>";
        assert!(html.contains(&format!("{}{instead}", name(group))), "{group}: {html}");
    }
    // No more cells of figures, and no more bars, than those.
    assert_eq!((html.matches("class=\"told\">").count(), html.matches("<svg ").count()), (4 + 5 * 4, 5));
    assert_eq!(html.matches("colspan=\"4\"").count(), 2);
}

#[test]
fn a_report_says_on_paper_what_the_page_says() {
    let (_school, lead, path) = to_governors();
    let report = form(&lead, &format!("{path}/report.pdf"), "application/pdf");
    let file = lopdf::Document::load_mem(&report.bytes).unwrap();
    assert_eq!(file.get_pages().len(), 1);
    let said = file.extract_text(&[1]).unwrap();
    let together: String = said.split_whitespace().collect();
    for (name, pupils, met, percent, low, high) in TOLD.iter().take(4) {
        let whole = |tenths: &str| (tenths.parse::<f64>().unwrap() + 0.5).floor();
        let row = format!("{name}{pupils}{met}{percent}%{} to {}%", whole(low), whole(high));
        let row: String = row.split_whitespace().collect();
        assert!(together.contains(&row), "{row}: {said}");
    }
    // Arabic is read from right to left, and shaped: its letters are there, and its figures.
    assert!(
        ARABIC.chars().all(|letter| said.contains(letter)) && together.contains("12867%39to86%"),
        "{said}"
    );
    for name in [FORMULA, "Fir"] {
        assert!(together.contains(&format!("{name}cleftout")), "{name}: {said}");
    }
    assert!(together.contains("Page1of1"), "{said}");
}

#[test]
fn everybody_is_told_no_exact_number_in_any_form() {
    let (_school, lead, path) =
        released(json!({"audience": "published", "measures": ["words"], "by": ["year_group"]}));
    let media_type = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
    let found = cells(
        &parts(&form(&lead, &format!("{path}/table.xlsx"), media_type).bytes),
        "xl/worksheets/sheet1.xml",
    );
    let numbers: Vec<&str> =
        found.iter().filter(|(_, value)| !value.starts_with('"')).map(|(cell, _)| cell.as_str()).collect();
    assert_eq!(numbers, ["E2", "E3", "E4", "H2", "H3", "H4"], "pupils and per cent alone");
    assert_eq!((found["E3"].as_str(), found["E4"].as_str()), ("25", "25"), "of 24 and 26");
    let html = form(&lead, &format!("{path}/page"), "text/html; charset=utf-8").text;
    assert!(
        html.contains("Pupils, about") && !html.contains("Likely range") && !html.contains("Met it"),
        "{html}"
    );
    let file = form(&lead, &format!("{path}/report.pdf"), "application/pdf");
    let said = lopdf::Document::load_mem(&file.bytes).unwrap().extract_text(&[1]).unwrap();
    assert!(said.contains("For everybody") && !said.contains("Likely range"), "{said}");
}
