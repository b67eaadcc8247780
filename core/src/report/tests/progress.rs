//! How pupils moved, worked by hand.

use super::*;
use crate::disclosure::Unreleased;

fn line(pupil: u64, year: &str, words: Option<bool>, secure: u32) -> Line {
    Line {
        pupil,
        year_group: Some(year.into()),
        met: words.map(|met| ("words".to_owned(), met)).into_iter().collect(),
        secure: Some(secure),
        ..Line::default()
    }
}

fn seen(progress: Unreleased<Progress>) -> Progress {
    progress.for_internal_reader(&lead_may_read(), &england().disclosure.internal).figures
}

/// Six are in both; the seventh left and the eighth came. In Reception one met it in both, one came to and one is unknown
/// later; in Year 1 one no more, one in neither and one came to.
#[test]
fn only_who_is_in_both_is_counted() {
    let (yes, no) = (Some(true), Some(false));
    let december = cohort(vec![
        line(1, "Reception", yes, 10),
        line(2, "Reception", no, 4),
        line(3, "Reception", yes, 7),
        line(4, "Year 1", yes, 30),
        line(5, "Year 1", no, 20),
        line(6, "Year 1", no, 25),
        line(7, "Year 1", yes, 40),
    ]);
    let april = Cohort {
        as_of: day("2027-04-01"),
        half_term_from: day("2027-02-22"),
        lines: vec![
            line(1, "Reception", yes, 15),
            line(2, "Reception", yes, 8),
            line(3, "Reception", None, 12),
            line(4, "Year 1", no, 29),
            line(5, "Year 1", no, 20),
            line(6, "Year 1", yes, 27),
            line(8, "Year 1", yes, 1),
        ],
        ..december.clone()
    };
    let moved = seen(progress(&december, &april).unwrap());
    assert_eq!(moved.pupils, 6);
    let words = moved.tables.iter().find(|table| table.measure == "words").unwrap();
    let counts: Vec<_> = (words.rows.iter())
        .filter(|row| row.by.is_none() || row.by == Some(By::YearGroup))
        .map(|row| {
            let Moved { met_in_both, met_since, met_no_more, met_in_neither, not_known } = row.moved;
            (row.name.as_deref(), [met_in_both, met_since, met_no_more, met_in_neither, not_known])
        })
        .collect();
    let by_hand =
        [(None, [1, 2, 1, 1, 1]), (Some("Reception"), [1, 1, 0, 0, 1]), (Some("Year 1"), [0, 1, 1, 1, 0])];
    assert_eq!(counts, by_hand);
    // 5 + 4 + 5 - 1 + 0 + 2 are 15 of six: 2.5; Reception 14 of three: 4.67; Year 1 one of three: 0.33.
    let secure: Vec<_> = moved.secure.iter().take(3).map(|one| (one.pupils, one.mean_tenths)).collect();
    assert_eq!(secure, [(6, Some(25)), (3, Some(47)), (3, Some(3))]);
    assert!(moved.tables.iter().all(|table| !table.measure.starts_with("statutory")));
    assert_eq!(progress(&april, &december).unwrap_err(), ProgressError::Order(april.as_of));
}

#[test]
fn what_means_another_thing_is_not_counted() {
    let december = cohort(vec![line(1, "Reception", Some(true), 10)]);
    let mut april = Cohort { as_of: day("2027-04-01"), ..december.clone() };
    april.basis.secure_means.right_on_days = 2;
    april.definitions.measures.iter_mut().for_each(|one| {
        if one.code == "words" {
            one.percent = Some(90);
        }
    });
    april
        .definitions
        .measures
        .push(crate::rules::MeasureRule { code: "new".into(), ..april.definitions.measures[0].clone() });
    let moved = seen(progress(&december, &april).unwrap());
    let differs: BTreeMap<&str, Option<Differs>> =
        moved.tables.iter().map(|table| (table.measure.as_str(), table.differs)).collect();
    let found = ["words", "gpcs", "expected", "attendance", "new"].map(|code| differs[code]);
    let secure = Some(Differs::Secure);
    assert_eq!(found, [Some(Differs::Meaning), secure, secure, None, Some(Differs::Missing)]);
    assert!(moved.tables.iter().all(|table| table.rows.is_empty() == table.differs.is_some()));
}
