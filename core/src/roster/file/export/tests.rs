use super::*;
use crate::{
    roster::file::{Answers, Cell, Context, Line, Reading, Sheet, headings, read},
    text::Name,
    time::Date,
};

fn pupil(given: &str, family: &str) -> Row {
    Row {
        line: 0,
        record: 0,
        pupil_ref: Some("+7".into()),
        upn: Upn::new("B801200005001").ok(),
        given_name: Name::new(given).ok(),
        family_name: Name::new(family).ok(),
        preferred_name: None,
        date_of_birth: Date::from_ymd_opt(2019, 5, 31),
        year_group: Some("year_2".into()),
        cohort: None,
        class_name: Name::new("Oak").ok(),
        optional: Default::default(),
        beside: crate::roster::file::Beside::default(),
    }
}

fn rules() -> &'static RulePack {
    crate::rules::pack("england").unwrap()
}

fn read_back(table: &[Vec<String>]) -> Reading {
    let line = |(n, cells): (u64, &Vec<String>)| Line {
        line: n,
        cells: cells.iter().cloned().map(Cell::Text).collect(),
        ..Line::default()
    };
    let sheet = Sheet { lines: (1..).zip(table).map(line).collect(), ..Sheet::default() };
    let (rules, headings) = (rules(), headings(rules(), &Default::default()));
    let today = Date::from_ymd_opt(2026, 3, 10).unwrap();
    read(
        &sheet,
        &Answers::default(),
        Context { rules, headings: &headings, today, year: 2025, on: &Default::default() },
    )
}

#[test]
fn the_columns_are_those_of_an_import_and_numbers_only_on_request() {
    let table = export(&[pupil("=1+1", "Reed")], false, &[], rules());
    let header =
        "pupil_ref,given_name,family_name,preferred_name,date_of_birth,year_group,class_name,guarded";
    assert_eq!(table[0].join(","), header);
    assert_eq!(table[1].join(","), "'+7,'=1+1,Reed,,2019-05-31,Year 2,Oak,pupil_ref given_name");
    let table = export(&[pupil("Ida", "Reed")], true, &[], rules());
    assert_eq!((table[0][1].as_str(), table[1][1].as_str()), ("upn", "B801200005001"));
}

#[test]
fn only_what_was_put_on_comes_off() {
    for (given, family) in [("=1+1", "'Iolana"), ("'-Jay", "-Jay"), ("''", "O'Neill"), ("'Iolana", "@da")] {
        let reading = read_back(&export(&[pupil(given, family)], true, &[], rules()));
        let row = &reading.rows[0];
        let text = |name: &Option<Name>| name.as_ref().map(ToString::to_string).unwrap();
        assert_eq!((text(&row.given_name), text(&row.family_name)), (given.into(), family.into()));
        assert_eq!((row.pupil_ref.as_deref(), &row.upn), (Some("+7"), &Upn::new("B801200005001").ok()));
    }
    // A file of somebody else's, where an apostrophe before a sign is part of the text.
    let cells = |cells: [&str; 2]| cells.map(str::to_owned).to_vec();
    let reading = read_back(&[cells(["given_name", "family_name"]), cells(["'-Jay", "''x"])]);
    let row = &reading.rows[0];
    assert_eq!(row.given_name, Name::new("'-Jay").ok());
    assert_eq!(row.family_name, Name::new("''x").ok());
    // Marked, and the apostrophe taken off by hand meanwhile.
    let mut table = export(&[pupil("-Jay", "Reed")], false, &[], rules());
    table[1][1] = "Jay".into();
    assert_eq!(read_back(&table).rows[0].given_name, Name::new("Jay").ok());
}
