use super::*;
use crate::text::Title;
use uuid::Uuid;

fn response(id: u128, corrects: Option<u128>, outcome: Outcome) -> Response {
    Response {
        id: ResponseId::from_uuid(Uuid::from_u128(id)),
        check: CheckId::from_uuid(Uuid::nil()),
        item: CheckItemId::from_uuid(Uuid::nil()),
        pupil: PupilId::from_uuid(Uuid::nil()),
        on: Date::default(),
        outcome,
        heard: None,
        mode: ResponseMode::Spoken,
        taken_by: StaffId::from_uuid(Uuid::nil()),
        entered_by: StaffId::from_uuid(Uuid::nil()),
        corrects: corrects.map(|c| ResponseId::from_uuid(Uuid::from_u128(c))),
    }
}

#[test]
fn the_last_of_a_chain_of_corrections_counts() {
    let chain = vec![
        response(1, None, Outcome::Wrong),
        response(2, Some(1), Outcome::Right),
        response(3, Some(2), Outcome::NoResponse),
        response(9, None, Outcome::Right),
    ];
    let left: Vec<_> = in_force(chain).into_iter().map(|r| r.id.uuid().as_u128()).collect();
    assert_eq!(left, [3, 9]);
}

#[test]
fn what_was_heard_is_sounds_and_nothing_else() {
    for (typed, kept) in [("bɪn", "b.ɪ.n"), ("b ɪ n", "b.ɪ.n"), ("tʃ", "tʃ"), ("t.ʃ", "t.ʃ"), ("/aɪ/", "aɪ")]
    {
        assert_eq!(Heard::new(typed).map(|heard| heard.to_string()), Ok(kept.to_owned()), "{typed}");
    }
    for bad in ["", "-", "bin because she is tired", "dyslexia?"] {
        assert!(Heard::new(bad).is_err(), "{bad}");
    }
    assert!(Heard::new(&"b".repeat(24)).is_ok());
    assert!(Heard::new(&"b".repeat(25)).is_err());
}

#[test]
fn answers_are_checked_before_any_is_written() {
    let item = |n| CheckItemId::from_uuid(Uuid::from_u128(n));
    let day = |d| Date::from_ymd_opt(2025, 10, d).unwrap();
    let items: Vec<CheckItem> = (1..=3).map(|n| CheckItem::new(item(n), Title::new("m").unwrap())).collect();
    let old = ResponseId::from_uuid(Uuid::max());
    let existing = BTreeMap::from([(item(3), old)]);
    let facts = Facts {
        items: &items,
        existing: &existing,
        opens_on: day(6),
        closes_on: day(17),
        taken_until: day(31),
        left_on: Some(day(8)),
        today: day(10),
    };
    let check = |on, answers: &[u128]| {
        let answers: Vec<_> = answers.iter().map(|n| item(*n)).collect();
        check_answers(&facts, day(on), &answers)
    };
    assert_eq!(check(6, &[1, 2]), Ok(()));
    assert_eq!(check(5, &[1]), Err(vec![AnswerError::OutsideRound(day(5), day(6), day(17))]));
    assert_eq!(check(11, &[1]), Err(vec![AnswerError::Future(day(11))]));
    assert_eq!(check(6, &[]), Err(vec![AnswerError::Nothing]));
    assert_eq!(check(6, &[1, 4]), Err(vec![AnswerError::UnknownItem(1)]));
    assert_eq!(check(6, &[1, 1]), Err(vec![AnswerError::Twice(1)]));
    assert_eq!(check(6, &[1, 3]), Err(vec![AnswerError::AlreadyAnswered(1, old)]));
    // Everything that is wrong, at once.
    let all = [AnswerError::UnknownItem(0), AnswerError::AlreadyAnswered(1, old), AnswerError::Twice(3)];
    assert_eq!(check(6, &[4, 3, 2, 2]), Err(all.to_vec()));
    assert_eq!(check(8, &[1]), Ok(()), "the last day here");
    assert_eq!(check(9, &[1]), Err(vec![AnswerError::Left(day(9))]));
    let late = |today| check_day(&Facts { today: day(today), ..facts.clone() }, day(8));
    assert_eq!((late(31), late(18)), (Ok(()), Ok(())));
    let over = Facts { taken_until: day(20), today: day(21), ..facts.clone() };
    assert_eq!(check_day(&over, day(8)), Err(AnswerError::RoundClosed(day(20))));
    assert_eq!(
        [10, 17, 18].map(|today| Facts { today: day(today), ..facts.clone() }.late()),
        [false, false, true]
    );
}
