//! Whatever pupils are called: their export, read as a file, says exactly what the school holds, and
//! no cell of it is a formula.
#![allow(clippy::unwrap_used)]

use plumbline_api::files::{csv_text, roster_file};
use plumbline_core::{
    id::PupilId,
    roster::{
        Decisions, Existing, Row,
        file::{Answers, Cell, Context, export, headings, read},
        plan,
    },
    rules::{RulePack, pack},
    text::Name,
    time::Date,
};
use proptest::prelude::*;

/// Names that a file can say: of anything, and of what files and spreadsheets trip over.
fn name() -> impl Strategy<Value = Name> {
    let hard = "[=+\\-@'\"＝,;|\t \u{a0}\u{ad}\u{200b}\u{200c}\u{200d}0-9eéE\u{301}لא🙂\u{1f468}O•]{1,12}";
    let named = |text: String| {
        let name = Name::new(&text).ok();
        name.filter(|name| !Cell::cleaned(name.as_str()).is_empty())
    };
    prop_oneof![hard, "\\PC{1,30}"].prop_filter_map("no name", named)
}

fn pupil() -> impl Strategy<Value = Row> {
    let born = (1i64..1500).prop_map(|days| day("2023-12-31") - chrono::Duration::days(days));
    let year = prop_oneof![Just("reception"), Just("year_1")].prop_map(str::to_owned);
    let option = proptest::option::of::<BoxedStrategy<Name>>;
    let values = prop_oneof![Just(vec![]), Just(vec![("sex", "F")]), Just(vec![("sex", "U"), ("sen", "K")])];
    let optional = values.prop_map(|values| {
        values.into_iter().map(|(field, value)| (field.to_owned(), value.to_owned())).collect()
    });
    let names = (name(), option(name().boxed()), option(name().boxed()));
    (names, born, year, option(name().boxed()), optional).prop_map(
        |((given, family, preferred), born, year, class, optional)| Row {
            line: 0,
            record: 0,
            pupil_ref: None,
            upn: None,
            given_name: Some(given),
            family_name: family,
            preferred_name: preferred,
            date_of_birth: Some(born),
            year_group: Some(year),
            cohort: None,
            class_name: class,
            optional,
            beside: Default::default(),
        },
    )
}

fn day(text: &str) -> Date {
    text.parse().unwrap()
}

fn rules() -> &'static RulePack {
    pack("england").unwrap()
}

proptest! {
    #[test]
    fn an_export_says_what_the_school_holds(rows in prop::collection::vec(pupil(), 1..30), refs in name()) {
        let mut rows = rows;
        for (n, row) in rows.iter_mut().enumerate() {
            // The number at the end keeps references apart, and from being those of a spreadsheet.
            row.pupil_ref = Name::new(&format!("{refs} {n}")).ok().map(String::from);
        }
        let rules = rules();
        let fields = ["sex", "sen"].map(str::to_owned);
        let on = fields.clone().into();
        let text = csv_text::write(export(&rows, true, &fields, rules)).unwrap();
        let records = csv::ReaderBuilder::new().from_reader(text.trim_start_matches('\u{feff}').as_bytes());
        for record in records.into_records() {
            for cell in &record.unwrap() {
                prop_assert!(!cell.starts_with(['=', '+', '-', '@', '\t', '\r', '＝']), "{cell}");
            }
        }
        let sheet = roster_file::read(text.as_bytes(), day("2026-03-10")).unwrap();
        let headings = headings(rules, &Default::default());
        let context = Context { rules, headings: &headings, today: day("2026-03-10"), year: 2025, on: &on };
        let reading = read(&sheet, &Answers::default(), context);
        prop_assert_eq!(&reading.rejected, &[]);
        prop_assert_eq!(&reading.questions, &[]);
        prop_assert_eq!(reading.rows.len(), rows.len());
        for (read, held) in reading.rows.iter().zip(&rows) {
            let mut held = held.clone();
            held.clean();
            prop_assert_eq!(&read.given_name, &held.given_name);
            prop_assert_eq!(&read.family_name, &held.family_name);
            prop_assert_eq!(&read.preferred_name, &held.preferred_name);
            prop_assert_eq!(&read.pupil_ref, &held.pupil_ref);
            prop_assert_eq!(read.date_of_birth, held.date_of_birth);
            prop_assert_eq!(&read.optional, &held.optional);
        }
        let mut classes = Vec::new();
        let existing: Vec<Existing> = rows.iter().map(|row| {
            let mut row = row.clone();
            row.clean();
            classes.extend(row.class_name.clone().map(String::from));
            Existing { id: PupilId::from_uuid(uuid::Uuid::now_v7()), row, left: false, once: Vec::new() }
        }).collect();
        let plan = plan(&reading, &Answers::default(), (&existing, &Decisions::default()), &classes, rules);
        prop_assert_eq!((plan.unchanged, &plan.new_classes[..]), (rows.len(), &[][..]));
    }
}
