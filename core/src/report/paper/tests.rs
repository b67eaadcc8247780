//! A release in words, against what is read by hand.

use super::*;
use crate::{attainment::SecureBasis, report::Basis, rules::SymbolLabel};

fn release(audience: Audience, rows: Vec<Row>) -> Release {
    let table = Table {
        measure: "words".into(),
        name: "Words are read".into(),
        means: "M.".into(),
        check: None,
        others_now: false,
        notes: vec!["As they were.".into()],
        published: None,
        rows,
    };
    Release {
        audience,
        as_of: "2026-12-18".parse().unwrap(),
        basis: Basis {
            school: "Farholt Infant School".into(),
            half_term: "Autumn 2".into(),
            secure_means: SecureBasis { right_on_days: 3, days_after_teaching: 7, carried_in_days: 1 },
            versions: Vec::new(),
            cautions: vec!["Adults decide.".into()],
        },
        tables: vec![table],
        symbols: vec![SymbolLabel { code: "c".into(), label: "confidential".into() }],
    }
}

fn row(by: Option<By>, name: Option<&str>, figure: Figure) -> Row {
    Row { by, name: name.map(str::to_owned), figure }
}

fn percent(percent: u8, is: PercentIs) -> Figure {
    Figure { percent: Some(Percent { percent, is }), ..Figure::default() }
}

fn left_out() -> Figure {
    Figure { symbol: Some(Symbol::Confidential), ..Figure::default() }
}

fn cells(line: &Line) -> Vec<&str> {
    match &line.said {
        Said::Figure { cells, .. } => cells.iter().map(String::as_str).collect(),
        Said::Instead(symbol, word) => vec![symbol.as_str(), word],
    }
}

#[test]
fn governors_read_numbers_a_range_and_what_is_left_out() {
    let figure = Figure {
        pupils: Some(50),
        met: Some(35),
        interval: Some((562, 809)),
        ..percent(70, PercentIs::About)
    };
    let rows = vec![
        row(None, None, figure),
        row(Some(By::Class), Some("Elm"), left_out()),
        row(Some(By::Class), None, figure),
        row(Some(By::Field("sen".into())), None, left_out()),
    ];
    let paper = Paper::of(&release(Audience::Closed, rows), |code| {
        (code == "sen").then(|| "SEN provision".to_owned())
    });
    let measure = &paper.measures[0];
    assert_eq!(measure.columns, ["Pupils", "Met it", "Per cent", "Likely range"]);
    assert_eq!(measure.notes, ["As they were."]);
    let parts: Vec<_> = measure.parts.iter().map(|part| (part.by.as_deref(), part.lines.len())).collect();
    assert_eq!(parts, [(None, 1), (Some("Class"), 2), (Some("SEN provision"), 1)]);
    let lines: Vec<&Line> = measure.parts.iter().flat_map(|part| &part.lines).collect();
    let names: Vec<&str> = lines.iter().map(|line| line.name.as_str()).collect();
    assert_eq!(names, ["Whole school", "Elm", "In no class", "Not recorded"]);
    // 56.2 and 80.9, half up.
    assert_eq!(cells(lines[0]), ["50", "35", "70%", "56 to 81%"]);
    assert_eq!(cells(lines[1]), ["c", "left out"]);
    let bar = Bar { to: 700, somewhere: None, interval: Some((562, 809)) };
    assert!(matches!(&lines[0].said, Said::Figure { bar: drawn, .. } if *drawn == bar));
    assert_eq!(
        (paper.title.as_str(), paper.as_of.as_str()),
        ("Farholt Infant School: phonics, Autumn 2", "As of 18 December 2026.")
    );
    assert_eq!(paper.basis.len(), 2, "{:?}", paper.basis);
    let says = paper.says.join(" ");
    assert!(says.contains("Wilson") && says.contains("left out") && !says.contains("dashed"), "{says}");
}

#[test]
fn everybody_reads_that_a_figure_is_above_a_limit_and_no_bar_tells_more() {
    let rows = vec![
        row(None, None, Figure { pupils: Some(50), ..percent(95, PercentIs::Above) }),
        row(Some(By::YearGroup), Some("Year 1"), Figure { pupils: Some(25), ..percent(5, PercentIs::Below) }),
    ];
    let paper = Paper::of(&release(Audience::Published, rows), |_| None);
    let measure = &paper.measures[0];
    assert_eq!(measure.columns, ["Pupils, about", "Per cent"]);
    let lines: Vec<&Line> = measure.parts.iter().flat_map(|part| &part.lines).collect();
    assert_eq!((cells(lines[0]), cells(lines[1])), (vec!["50", "above 95%"], vec!["25", "below 5%"]));
    let bars: Vec<Bar> = lines
        .iter()
        .filter_map(|line| match &line.said {
            Said::Figure { bar, .. } => Some(*bar),
            Said::Instead(..) => None,
        })
        .collect();
    let open = |to, from, until| Bar { to, somewhere: Some((from, until)), interval: None };
    assert_eq!(bars, [open(950, 950, 1000), open(0, 0, 50)]);
    let says = paper.says.join(" ");
    assert!(says.contains("rounded") && says.contains("dashed") && !says.contains("Wilson"), "{says}");
}

#[test]
fn what_has_a_symbol_or_no_percentage_shows_no_number_whatever_else_stands_there() {
    let full = Figure { pupils: Some(7), met: Some(4), interval: Some((250, 842)), ..Figure::default() };
    let rows = vec![
        row(None, None, percent(50, PercentIs::About)),
        row(None, None, Figure { symbol: Some(Symbol::NotApplicable), ..full }),
        row(None, None, full),
    ];
    let paper = Paper::of(&release(Audience::Closed, rows), |_| None);
    let lines = &paper.measures[0].parts[0].lines;
    assert_eq!(cells(&lines[1]), ["z", "nobody due"]);
    assert_eq!(cells(&lines[2]), ["x", "nothing known"]);
}

#[test]
fn a_measure_without_any_figure_is_one_line_at_the_end_that_says_why() {
    let mut release = release(Audience::Closed, vec![row(None, None, left_out())]);
    let with = |name: &str, symbol: Symbol| Table {
        name: name.into(),
        rows: vec![row(None, None, Figure { symbol: Some(symbol), ..Figure::default() })],
        ..release.tables[0].clone()
    };
    let told = Table {
        name: "GPCs".into(),
        rows: vec![row(None, None, percent(70, PercentIs::About))],
        ..release.tables[0].clone()
    };
    let more = [with("Lessons", Symbol::NotAvailable), with("Check", Symbol::NotApplicable), told];
    release.tables.extend(more);
    let paper = Paper::of(&release, |_| None);
    let names: Vec<&str> = paper.measures.iter().map(|measure| measure.name.as_str()).collect();
    assert_eq!(names, ["GPCs"]);
    assert_eq!(
        paper.nothing,
        [
            "Words are read: left out, as it would say too much about too few pupils. As they were.",
            "Lessons: nothing is known of the pupils it is about.",
            "Check: nobody was due.",
        ]
    );
    assert_eq!(paper.symbols, [], "none stands in a table");
}

#[test]
fn a_check_has_its_year_group_once_and_no_group_that_was_not_due() {
    let not_due = Figure { symbol: Some(Symbol::NotApplicable), ..Figure::default() };
    let rows = vec![
        row(None, Some("Year 1, check of 2026"), percent(76, PercentIs::About)),
        row(Some(By::YearGroup), Some("Year 1"), percent(76, PercentIs::About)),
        row(Some(By::YearGroup), Some("Reception"), not_due),
        row(Some(By::Class), Some("Elm"), percent(75, PercentIs::About)),
        row(Some(By::Class), Some("Birch"), not_due),
        row(Some(By::TermOfBirth), Some("Autumn"), left_out()),
    ];
    let mut release = release(Audience::Closed, rows);
    release.tables[0].check =
        Some(crate::report::CheckTold { year_group: "Year 1".into(), years: vec![2026] });
    let names = |release: &Release| -> Vec<String> {
        let measure = Paper::of(release, |_| None).measures.remove(0);
        measure.parts.into_iter().flat_map(|part| part.lines).map(|line| line.name).collect()
    };
    assert_eq!(names(&release), ["Year 1, check of 2026", "Elm", "Autumn"]);
    release.tables[0].others_now = true;
    assert_eq!(names(&release)[0], "Year 1, check of 2026 (other children than those in Year 1 now)");
}
