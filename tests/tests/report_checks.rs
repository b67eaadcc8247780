//! The statutory check in reports: of which year group and year it is, who was due, what was published beside it, and the
//! checks of several years together; in every form, against figures worked by hand.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Client, School, Server, Value, json, text};

const MAY: &str = "Summer (May to August)";
const OCTOBER: &str = "Autumn (September to December)";

/// The check of a year: its class, the pupils' results in order, of whom every third was born in May.
const CHECKS: [(i32, &str, &[&str]); 3] = [
    // Of 32: six met it; who was away counts as not meeting it.
    (2024, "Ash", &["32", "40", "33", "36", "39", "32", "31", "12", "20", "A"]),
    // Of 32: eight met it.
    (2025, "Beech", &["32", "32", "32", "35", "40", "40", "33", "34", "31", "Q", "8", "0"]),
    // Of 31: five met it; of the last nothing is entered.
    (2026, "Elm", &["31", "31", "40", "35", "33", "30", "12", "20", "A", "7", "5", ""]),
];

/// The school, which lasts as long as it is held, its lead and a snapshot of 1 July 2026.
struct Told {
    school: School,
    lead: Client,
    snapshot: String,
}

fn given(year: i32, n: usize) -> String {
    let letter = char::from(b'a' + u8::try_from(n).unwrap());
    format!("{}{letter}", ["Ada", "Bea", "Cleo"][usize::try_from(year - 2024).unwrap()])
}

impl Told {
    fn new() -> Self {
        let school = School::on(Server::start("2026-07-01"));
        let lead = school.lead();
        for year in 2023..2026 {
            let end = year + 1;
            let body = json!({"starts_on": format!("{year}-09-01"), "ends_on": format!("{end}-08-31"), "half_terms": [
                {"name": "Summer 2", "starts_on": format!("{end}-06-01"), "ends_on": format!("{end}-07-20")}]});
            lead.call("PUT", &format!("/school-years/{year}"), Some(&body)).expect(200);
        }
        for (year, class, results) in CHECKS {
            let born = year - 6;
            let mut rows = String::new();
            for n in 0..results.len() {
                // A cohort runs from one September to the next August.
                let day = if n % 3 == 0 {
                    format!("{born}-05-{:02}", n + 1)
                } else {
                    format!("{}-10-{:02}", born - 1, n + 1)
                };
                rows.push_str(&format!("{},Bell,{day},Year 1,{class}\n", given(year, n)));
            }
            if year == 2026 {
                rows.push_str("Dora,Bell,2020-12-01,Reception,Oak\nDot,Bell,2020-12-02,Reception,Oak\n");
            }
            let csv = format!("given_name,family_name,date_of_birth,year_group,class_name\n{rows}");
            let shown = lead.post_csv("/roster-imports", csv.as_bytes()).expect(201);
            let path = format!("/roster-imports/{}", text(&shown["id"]));
            let of_then = json!({"year": year - 1});
            lead.put(&format!("{path}/answers"), &text(&shown["etag"]), of_then).expect(200);
            lead.post(&format!("{path}/confirm"), json!({"from": format!("{}-09-01", year - 1)})).expect(200);
        }
        let told = Self { school, lead, snapshot: String::new() };
        for (year, _, results) in CHECKS {
            told.check(year, results);
        }
        // Those of 2024 have left.
        for n in 0..CHECKS[0].2.len() {
            let path = format!("/pupils/{}", told.pupil(&given(2024, n)));
            told.lead
                .patch(&path, &told.lead.get(&path).etag(), json!({"left_on": "2025-07-18"}))
                .expect(200);
        }
        let taken = told.lead.post("/report-snapshots", json!({})).expect(201);
        Self { snapshot: text(&taken["id"]), ..told }
    }

    fn pupil(&self, given: &str) -> String {
        let listed = self.lead.get("/pupils?limit=200").expect(200)["items"].clone();
        let name = format!("{given} Bell");
        let found = listed.as_array().unwrap().iter().find(|line| line["name"] == name.as_str()).cloned();
        text(&found.unwrap_or_else(|| panic!("{name}: {listed}"))["id"])
    }

    /// Holds a check, enters its results and submits them.
    fn check(&self, year: i32, results: &[&str]) {
        let mut window = json!({"year": year, "term": "summer"});
        if year != 2026 {
            window["opens_on"] = json!(format!("{year}-06-10"));
            window["closes_on"] = json!(format!("{year}-06-14"));
        }
        let opened = self.lead.post("/statutory-windows", window).expect(201);
        let path = format!("/statutory-windows/{}", text(&opened["id"]));
        let line = |(n, result): (usize, &&str)| {
            let mut line = json!({"pupil_id": self.pupil(&given(year, n)), "result": result});
            if result.parse::<u8>().is_ok() {
                line["on"] = opened["opens_on"].clone();
            }
            line
        };
        let lines: Vec<Value> =
            results.iter().enumerate().filter(|(_, one)| !one.is_empty()).map(line).collect();
        self.lead.post(&format!("{path}/results"), json!({"results": lines})).expect(200);
        let seen = self.lead.get(&path);
        let body = json!({"go_on_without": seen.json()["left"]});
        self.lead.with("If-Match", &seen.etag()).post(&format!("{path}/submission"), body).expect(200);
    }

    fn releases(&self) -> String {
        format!("/report-snapshots/{}/releases", self.snapshot)
    }

    fn released(&self, pooled_years: Option<u32>) -> Value {
        let body = json!({"audience": "closed", "measures": ["statutory"],
                          "by": ["year_group", "class", "term_of_birth"], "pooled_years": pooled_years});
        self.lead.post(&self.releases(), body).expect(201)
    }
}

/// Rows of a table as text: what it is by, name, and pupils, met and percentage, or the symbol.
fn rows(table: &Value) -> Vec<String> {
    let row = |row: &Value| {
        let head = format!("{} {}", row["by"].as_str().unwrap_or("all"), row["name"].as_str().unwrap());
        match row["symbol"].as_str() {
            Some(symbol) => format!("{head}: {symbol}"),
            None => format!("{head}: {}/{} {}", row["met"], row["pupils"], row["percent"]["percent"]),
        }
    };
    table["rows"].as_array().unwrap().iter().map(row).collect()
}

/// Of 2026: 11 with a result, 5 of whom met it. Every third was born in May: at places 0, 3, 6 and 9, which are too few.
#[test]
fn one_check_says_which_it_is_and_every_form_says_so() {
    let t = Told::new();
    let released = t.released(None);
    let table = &released["tables"][0];
    assert_eq!(table["check"], json!({"year_group": "Year 1", "years": [2026]}));
    let by_hand = [
        "all Year 1, check of 2026: 5/11 45".to_owned(),
        "year_group Year 1: 5/11 45".into(),
        "year_group Reception: z".into(),
        "class Elm: 5/11 45".into(),
        "class Beech: z".into(),
        "class Oak: z".into(),
        format!("term_of_birth {OCTOBER}: c"),
        format!("term_of_birth {MAY}: c"),
    ];
    assert_eq!(rows(table), by_hand);
    let notes = table["notes"].to_string();
    assert!(notes.contains("Nothing can be told by term of birth: too few pupils are in it"), "{notes}");
    assert!(notes.contains("The checks of 3 years together may be enough"), "{notes}");
    let published = &table["published"];
    let last = published["figures"].as_array().unwrap().last().unwrap();
    assert_eq!(last, &json!({"year": 2025, "percent": 80}));
    assert!(text(&published["caution"]).contains("no target and no rank"), "{published}");
    let symbols = released["symbols"].to_string();
    assert!(symbols.contains("nobody due: ") && symbols.contains("left out: "), "{symbols}");

    let path = format!("/report-releases/{}", text(&released["id"]));
    let file = t.lead.get(&format!("{path}/table.csv"));
    assert_eq!(
        file.header("Content-Disposition"),
        "attachment; filename=\"farholt-infant-school-phonics-summer-2-closed-2026-07-01.csv\""
    );
    let lines: Vec<&str> = file.text.trim_start_matches('\u{feff}').lines().collect();
    assert!(
        lines[0].ends_with(",check_year_group,check_years,published_year,published_percent"),
        "{}",
        lines[0]
    );
    assert_eq!(
        lines[1],
        "closed,2026-07-01,statutory,,\"Year 1, check of 2026\",,11,,5,45,21.3,72.0,Year 1,2026,2025,80"
    );
    assert_eq!(lines[3], "closed,2026-07-01,statutory,year_group,Reception,z,,,,,,,Year 1,2026,,");
    let html = t.lead.get(&format!("{path}/page")).text;
    for said in [
        "<bdi>Year 1, check of 2026</bdi>",
        "2024 80%, 2025 80%. Source: Department for Education",
        "no target and no rank",
        "Nothing can be told by term of birth",
        "who was away, did not take it",
    ] {
        assert!(html.contains(said), "{said}: {html}");
    }
    // Year 1 is all of the check, and in Reception and Oak nobody was due.
    for not_said in ["<bdi>Year 1</bdi>", "Reception", "Oak", "nobody due"] {
        assert!(!html.contains(not_said), "{not_said}: {html}");
    }
    let report = t.lead.get(&format!("{path}/report.pdf"));
    assert_eq!(
        report.header("Content-Disposition"),
        "attachment; filename=\"farholt-infant-school-phonics-summer-2-closed-2026-07-01.pdf\""
    );
    let pdf = lopdf::Document::load_mem(&report.bytes).unwrap();
    let pages: Vec<u32> = pdf.get_pages().into_keys().collect();
    let said: String = pdf.extract_text(&pages).unwrap().split_whitespace().collect();
    for part in ["Year1,checkof2026", "11545%21to72%", "notargetandnorank"] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let workbook = t.lead.get(&format!("{path}/table.xlsx"));
    let disposition = workbook.header("Content-Disposition");
    assert_eq!(
        disposition,
        "attachment; filename=\"farholt-infant-school-phonics-summer-2-closed-2026-07-01.xlsx\""
    );
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(workbook.bytes)).unwrap();
    let texts = std::io::read_to_string(archive.by_name("xl/sharedStrings.xml").unwrap()).unwrap();
    assert!(texts.contains("Year 1, check of 2026") && texts.contains("no target and no rank"), "{texts}");

    // The list says what each was of.
    let listed = t.lead.get("/report-releases").expect(200)["items"][0].clone();
    assert_eq!(
        (&listed["id"], &listed["half_term"], &listed["audience"], &listed["measures"]),
        (&released["id"], &json!("Summer 2"), &json!("closed"), &json!(["statutory"]))
    );
}

/// 6 of 10, 8 of 12 and 5 of 11 are 19 of 33; those born in May, at places 0, 3, 6 and 9 of each, are 2, 3 and 2 of 4 each.
#[test]
fn three_years_together_tell_what_one_could_not() {
    let t = Told::new();
    let released = t.released(Some(3));
    let table = &released["tables"][0];
    assert_eq!(table["check"], json!({"year_group": "Year 1", "years": [2024, 2025, 2026]}));
    let by_hand = [
        "all Year 1, checks of 2024, 2025 and 2026 together: 19/33 58".to_owned(),
        "year_group Year 1: 19/33 58".into(),
        "year_group Reception: z".into(),
        "class Ash: 6/10 60".into(),
        "class Beech: 8/12 67".into(),
        "class Elm: 5/11 45".into(),
        "class Oak: z".into(),
        format!("term_of_birth {OCTOBER}: 12/21 57"),
        format!("term_of_birth {MAY}: 7/12 58"),
    ];
    assert_eq!(rows(table), by_hand);
    let notes = table["notes"].to_string();
    assert!(notes.contains("each counted once") && !notes.contains("Nothing can be told"), "{notes}");
    // By itself one of them is told of no more, to nobody: three years less two would be the third.
    for audience in ["closed", "published"] {
        let alone = json!({"audience": audience, "measures": ["statutory"], "by": []});
        for path in [t.releases(), t.releases().replace("releases", "release-previews")] {
            let refused = t.lead.post(&path, alone.clone()).problem(409, "conflict");
            let said =
                "pooled_years: was released before as Year 1, checks of 2024, 2025 and 2026 together: ";
            assert!(refused[0].starts_with(said), "{refused:?}");
        }
    }
    assert_eq!(t.released(Some(3))["tables"][0]["rows"], table["rows"], "the same again");
    assert_eq!(
        t.school.staff("teacher").get(&format!("/report-releases/{}", text(&released["id"]))).status,
        403
    );
}
