use super::*;
use crate::roster::file::ColumnAnswer;

fn read_lines(lines: &[(&str, bool)], answers: &Answers, today: &str) -> Reading {
    let line = |(n, (text, hidden)): (u64, &(&str, bool))| Line {
        line: n,
        cells: text.split(',').map(|cell| Cell::Text(cell.to_owned())).collect(),
        hidden: *hidden,
        ..Line::default()
    };
    let sheet = Sheet { lines: (1..).zip(lines).map(line).collect(), ..Sheet::default() };
    let rules = crate::rules::pack("england").unwrap();
    let headings = headings(rules, &BTreeMap::new());
    let context = Context {
        rules,
        headings: &headings,
        today: today.parse().unwrap(),
        year: 2025,
        on: &Default::default(),
    };
    read(&sheet, answers, context)
}

fn plain<'a>(lines: &[&'a str]) -> Vec<(&'a str, bool)> {
    lines.iter().map(|line| (*line, false)).collect()
}

#[test]
fn the_order_of_days_is_asked_where_nothing_decides_it() {
    let lines = plain(&["given_name,dob", "Ada,03/02/2019", "Bo,04/07/2019", "Cy,11/12/2018"]);
    let asked = read_lines(&lines, &Answers::default(), "2025-03-10");
    let question = Question::DateOrder {
        usual: DateOrder::DayFirst,
        cell: "03/02/2019".into(),
        day_first: "3 February 2019".into(),
        month_first: "2 March 2019".into(),
    };
    assert_eq!(asked.questions, [question]);
    let born = |order| {
        let answers = Answers { date_order: Some(order), ..Answers::default() };
        let read = read_lines(&lines, &answers, "2025-03-10");
        assert!(read.questions.is_empty());
        read.rows.iter().map(|row| row.date_of_birth.unwrap().to_string()).collect::<Vec<_>>()
    };
    assert_eq!(born(DateOrder::DayFirst), ["2019-02-03", "2019-07-04", "2018-12-11"]);
    assert_eq!(born(DateOrder::MonthFirst), ["2019-03-02", "2019-04-07", "2018-11-12"]);
}

#[test]
fn a_day_no_pupil_was_born_on_is_refused() {
    let lines = plain(&[
        "given_name,dob",
        "Ada,03/02/71",
        "Bo,43499",
        "Cy,2021-02-29",
        "Di,2026-01-01",
        "Ed,03/02/19",
    ]);
    let read = read_lines(
        &lines,
        &Answers { date_order: Some(DateOrder::DayFirst), ..Answers::default() },
        "2025-03-10",
    );
    let refused: Vec<_> = read.rejected.iter().map(|f| (f.line, f.suggest.as_deref())).collect();
    assert_eq!(refused, [(2, None), (3, Some("2019-02-03")), (4, None), (5, None)]);
    assert_eq!(read.rows.len(), 1);
}

#[test]
fn year_groups_follow_the_year_the_file_is_for() {
    let lines = plain(&["given_name,dob", "Ada,2020-08-31", "Bo,2020-09-01"]);
    let read = read_lines(&lines, &Answers::default(), "2025-07-16");
    let cohorts: Vec<_> = read.rows.iter().map(|row| row.cohort.as_deref()).collect();
    assert_eq!(cohorts, [Some("year_1"), Some("reception")]);
}

#[test]
fn hidden_rows_are_asked_about() {
    let lines = [("given_name", false), ("Ada", false), ("Bo", true), ("Cy", false)];
    let read = |hidden| read_lines(&lines, &Answers { hidden, ..Answers::default() }, "2025-03-10");
    let asked = read(None);
    assert_eq!(asked.questions, [Question::Hidden { rows: vec![3], columns: vec![] }]);
    assert_eq!(read(Some(Hidden::Include)).rows.len(), 3);
    let left_out = read(Some(Hidden::LeaveOut));
    assert_eq!((left_out.rows.len(), left_out.questions.len(), left_out.rows[1].line), (2, 0, 4));
}

#[test]
fn columns_can_be_given_another_meaning() {
    let lines = plain(&["Moniker,Shoe size,Surname,Family name", "Ada,31,Swift,Swift-Bell"]);
    let asked = read_lines(&lines, &Answers::default(), "2025-03-10");
    assert_eq!(
        asked.questions,
        [Question::Columns { why: "family_name stands twice: columns C and D; say which one counts".into() }]
    );
    let answer = |column: &str, field| ColumnAnswer { column: column.into(), field };
    let columns = vec![answer("A", Some(Field::GivenName)), answer("c", None)];
    let read = read_lines(&lines, &Answers { columns, ..Answers::default() }, "2025-03-10");
    assert_eq!((read.questions.len(), read.rows[0].shown_name()), (0, "Ada Swift-Bell".into()));
    assert!(read.not_carried.contains(&Field::Upn));
    let none = read_lines(&plain(&["Ada,Swift"]), &Answers::default(), "2025-03-10");
    assert!(matches!(none.questions.as_slice(), [Question::Columns { .. }]) && none.rows.is_empty());
}

#[test]
fn text_beyond_the_last_column_rejects_its_row() {
    let read = read_lines(
        &plain(&["given_name,family_name", "Ada,Swift,,", "Bo,Reyes,,x", "Cy"]),
        &Answers::default(),
        "2025-03-10",
    );
    assert_eq!(
        read.rejected.iter().map(|f| (f.line, f.cell.as_deref())).collect::<Vec<_>>(),
        [(3, Some("D3"))]
    );
    assert_eq!(read.rows.len(), 2);
}

fn graded(lines: &[&str]) -> Reading {
    let cells = |text: &&str| text.split(',').map(|cell| Cell::Text(cell.to_owned())).collect();
    let lines = (1..).zip(lines).map(|(line, text)| Line { line, cells: cells(text), ..Line::default() });
    let sheet = Sheet { format: Format::OneRoster, lines: lines.collect(), ..Sheet::default() };
    let rules = crate::rules::pack("england").unwrap();
    let headings = headings(rules, &BTreeMap::new());
    let today = "2026-11-25".parse().unwrap();
    read(
        &sheet,
        &Answers::default(),
        Context { rules, headings: &headings, today, year: 2026, on: &Default::default() },
    )
}

#[test]
fn grade_codes_are_the_rule_packs_and_not_year_numbers() {
    // Five on 31 August 2026, the age of KG and Year 1; four, of PK and Reception.
    let header = "sourcedId,givenName,birthDate,grades";
    let reading = graded(&[header, "a,Zoe,2020-09-01,KG", "b,Max,2021-09-01,pk", "c,Ida,2020-09-02,1"]);
    let years: Vec<_> = reading.rows.iter().map(|row| row.year_group.as_deref()).collect();
    assert_eq!(years, [Some("year_1"), Some("reception")]);
    assert_eq!((reading.rejected[0].line, reading.rejected[0].cell.as_deref()), (4, Some("D4")));
    assert_eq!(reading.questions, []);
    // One outside the year of birth is that pupil's matter; most of them are the file's.
    let one = ["a,Zoe,2020-09-01,KG", "b,Max,2020-09-01,01"];
    assert_eq!(graded(&[header, one[0], one[1]]).questions, []);
    let asked = graded(&[header, one[0], one[1], "c,Ida,2021-09-01,KG"]).questions;
    assert_eq!(asked, [Question::YearGroups { column: "D".into(), outside: 2, of: 3 }]);
}
