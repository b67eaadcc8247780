use super::*;
use crate::roster::file::Beside;
use crate::text::Name;

fn pupil(n: u128) -> PupilId {
    PupilId::from_uuid(uuid::Uuid::from_u128(n))
}

fn at(n: i64) -> Instant {
    Instant::from_micros(n)
}

fn upn(text: &str) -> Upn {
    Upn::new(text).unwrap()
}

fn record(
    n: u128,
    reference: Option<&str>,
    upns: &[(&str, i64, Option<i64>)],
    left: Option<&str>,
) -> Merging {
    let upns: Vec<_> =
        upns.iter().map(|(text, since, until)| (upn(text), at(*since), until.map(at))).collect();
    let now = upns.iter().find(|(.., until)| until.is_none()).map(|(upn, ..)| upn.clone());
    let row = Row {
        line: 0,
        record: 0,
        pupil_ref: reference.map(str::to_owned),
        upn: now,
        given_name: Some(Name::new("Rory").unwrap()),
        family_name: None,
        preferred_name: None,
        date_of_birth: None,
        year_group: None,
        cohort: None,
        class_name: None,
        optional: Default::default(),
        beside: Beside::default(),
    };
    Merging { id: pupil(n), row, left_on: left.map(|day| day.parse().unwrap()), upns }
}

const FIRST: &str = "K999000124301";
const SECOND: &str = "Z999000124302";

fn merged(kept: &Merging, other: &Merging, upn_of: Option<PupilId>) -> Result<Merging, MergeError> {
    merge(kept, other, upn_of, &Decisions::default(), at(90))
}

#[test]
fn what_one_does_not_say_the_other_does() {
    let mut other = record(2, Some("R02"), &[], None);
    other.row.family_name = Some(Name::new("Hale").unwrap());
    other.row.date_of_birth = "2019-05-31".parse().ok();
    let out = merged(&record(1, Some("R01"), &[], None), &other, None).unwrap();
    assert_eq!((out.id, out.row.pupil_ref.as_deref()), (pupil(1), Some("R01")));
    assert_eq!(
        (out.row.family_name, out.row.date_of_birth),
        (other.row.family_name.clone(), other.row.date_of_birth)
    );
    let out = merged(&record(1, None, &[], None), &other, None).unwrap();
    assert_eq!(out.row.pupil_ref.as_deref(), Some("R02"));
}

#[test]
fn a_child_is_here_if_either_record_says_so() {
    let (gone, later) = (Some("2026-02-13"), Some("2026-07-17"));
    let left =
        |one, other| merged(&record(1, None, &[], one), &record(2, None, &[], other), None).unwrap().left_on;
    assert_eq!((left(gone, None), left(None, gone)), (None, None));
    assert_eq!(left(gone, later), later.and_then(|day| day.parse().ok()));
}

#[test]
fn numbers_stay_and_one_is_in_use() {
    // Kept has FIRST since 5; the other had it from 3 to 8 and has SECOND since 8.
    let kept = record(1, None, &[(FIRST, 5, None)], None);
    let other = record(2, None, &[(FIRST, 3, Some(8)), (SECOND, 8, None)], None);
    assert_eq!(merged(&kept, &other, None).unwrap_err(), MergeError::TwoUpns);
    assert_eq!(merged(&kept, &other, Some(pupil(3))).unwrap_err(), MergeError::Neither);
    let out = merged(&kept, &other, Some(pupil(1))).unwrap();
    assert_eq!(out.row.upn, Some(upn(FIRST)));
    assert_eq!(out.upns, [(upn(FIRST), at(3), None), (upn(SECOND), at(8), Some(at(90)))]);
    let out = merged(&kept, &other, Some(pupil(2))).unwrap();
    // FIRST was in use until now, in the record kept.
    assert_eq!(out.upns, [(upn(FIRST), at(3), Some(at(90))), (upn(SECOND), at(8), None)]);
    let none = record(1, None, &[], None);
    assert_eq!(merged(&none, &other, None).unwrap().row.upn, Some(upn(SECOND)));
    assert_eq!(merged(&none, &other, Some(pupil(1))).unwrap_err(), MergeError::NoUpn);
}

#[test]
fn decisions_follow_the_child() {
    let mut decisions = Decisions::default();
    // 2 and 3 are two children; 3 turned out to be 4, and 4 to be 5.
    decisions.add(Verdict::Different, pupil(2), pupil(3));
    decisions.add(Verdict::Same, pupil(4), pupil(3));
    decisions.add(Verdict::Same, pupil(5), pupil(4));
    assert_eq!(decisions.now(pupil(3)), pupil(5));
    assert!(decisions.are_apart(pupil(5), pupil(2)) && decisions.are_apart(pupil(2), pupil(3)));
    assert!(!decisions.are_apart(pupil(5), pupil(1)));
    let (one, two) = (record(2, None, &[], None), record(5, None, &[], None));
    assert_eq!(merge(&one, &two, None, &decisions, at(90)).unwrap_err(), MergeError::Apart);
    assert_eq!(merge(&one, &one, None, &decisions, at(90)).unwrap_err(), MergeError::Itself);
}
