use crate::rules::{ids, pack};

fn year_groups() -> [&'static str; 4] {
    ["nursery", "reception", "year_1", "year_2"]
}

#[test]
fn every_pack_was_checked_and_a_wrong_one_is_refused() {
    assert!(ids().all(|id| pack(id).is_ok()));
    let rule = &pack("england").unwrap().statutory_check;
    assert_eq!(rule.check(&year_groups()), Ok(()));
    let refused = |change: fn(&mut super::StatutoryRule)| {
        let mut wrong = rule.clone();
        change(&mut wrong);
        wrong.check(&year_groups()).unwrap_err()
    };
    assert!(refused(|r| r.thresholds[0].threshold = Some(41)).contains("above the maximum"));
    assert!(refused(|r| r.thresholds[1].year = 2012).contains("two thresholds"));
    assert!(refused(|r| r.codes[0].code = "d".into()).contains("stands twice"));
    assert!(refused(|r| r.derived_codes[0].code = "A".into()).contains("stands twice"));
    assert!(refused(|r| r.codes[0].code = "1".into()).contains("must be letters"));
    assert!(refused(|r| r.codes[0].excludes_mark = false).contains("beside a mark"));
    assert!(refused(|r| r.eligible[0].year_group = "year_9".into()).contains("unknown"));
    assert!(refused(|r| r.windows[2].closes_on = r.windows[2].absentees_until).contains("in order"));
    assert!(refused(|r| r.windows[0].closes_on = r.windows[2].closes_on).contains("in order"));
    assert!(refused(|r| r.windows[0].term = "spring".into()).contains("term is unknown"));
    assert!(
        refused(|r| r.windows[0].year_groups = vec!["reception".into()]).contains("nobody is checked in")
    );
    assert!(refused(|r| r.letter.met = "It was so.".into()).contains("what the threshold was"));
    assert!(refused(|r| r.national[0].points[0].year = 2020).contains("stands twice"));
    assert!(refused(|r| r.not_appropriate[0].code = "other".into()).contains("reason stands twice"));
}

#[test]
fn the_published_series_are_those_on_record() {
    let rule = &pack("england").unwrap().statutory_check;
    let series = |id: &str| {
        let found = rule.national.iter().find(|one| one.id == id).unwrap();
        found.points.iter().map(|point| (point.year, point.value)).collect::<Vec<_>>()
    };
    let year_1 =
        "2012 58, 2013 69, 2015 77, 2016 81, 2017 81, 2018 82, 2019 82, 2022 75, 2023 79, 2024 80, 2025 80";
    let year_2 = "2013 85, 2017 92, 2018 92, 2019 91, 2022 87, 2023 89, 2024 89, 2025 89";
    let of = |text: &str| {
        let pairs = text.split(", ").map(|pair| pair.split_once(' ').unwrap());
        pairs.map(|(year, value)| (year.parse().unwrap(), value.parse().unwrap())).collect::<Vec<_>>()
    };
    assert_eq!(series("year_1_met"), of(year_1));
    assert_eq!(series("end_of_year_2_met"), of(year_2));
    for one in &rule.national {
        assert_eq!(one.no_check, [2020, 2021]);
    }
    assert_eq!(rule.national[1].method_breaks[0].year, 2024);
    assert!(rule.national[0].method_breaks.is_empty());
}

#[test]
fn it_is_taken_again_in_the_year_after_where_that_year_is_checked() {
    let of = |id: &str, code: &str| {
        let pack = pack(id).unwrap();
        pack.statutory_check.again_after(code, &pack.year_groups)
    };
    assert!(of("england", "year_1"));
    assert!(!of("england", "year_2") && !of("england", "reception") && !of("england", "year_9"));
    assert!(!of("south-australia", "year_1"));
}

#[test]
fn a_threshold_is_published_no_earlier_than_it_can_be() {
    let day = |text: &str| text.parse().unwrap();
    let rule = &pack("england").unwrap().statutory_check;
    assert!(rule.published_in(2027, day("2027-06-21")) && rule.published_in(2027, day("2028-01-10")));
    assert!(!rule.published_in(2027, day("2026-12-31")) && !rule.published_in(2027, day("1900-01-01")));
    // There it is known before the check.
    let other = &pack("south-australia").unwrap().statutory_check;
    assert!(other.published_in(2027, day("2026-11-02")) && !other.published_in(2027, day("2025-12-31")));
}

#[test]
fn codes_and_reasons_are_those_on_record() {
    let rule = &pack("england").unwrap().statutory_check;
    let codes: Vec<(&str, bool)> =
        rule.codes.iter().map(|one| (one.code.as_str(), one.in_denominator)).collect();
    assert_eq!(codes, [("A", true), ("D", true), ("L", false), ("Q", true)]);
    let open: Vec<&str> = ["A", "D", "L", "Q"].into_iter().filter(|code| rule.can_still_come(code)).collect();
    assert_eq!(open, ["A"]);
    assert_eq!(rule.not_appropriate.len(), 4);
    assert_eq!(rule.maximum, 40);
    let other = &pack("south-australia").unwrap().statutory_check;
    assert!(other.codes.is_empty() && other.derived_codes.is_empty() && other.national.is_empty());
    assert_eq!((other.maximum, other.eligible.len()), (40, 1));
}
