use uuid::Uuid;

use super::*;
use crate::{
    id::{CheckId, PupilId, StaffId},
    text::Title,
};

fn day(day: u32) -> Date {
    Date::from_ymd_opt(2026, 11, day).unwrap()
}

fn item(n: u128) -> CheckItemId {
    CheckItemId::from_uuid(Uuid::from_u128(n))
}

fn answer_id(n: u128) -> ResponseId {
    ResponseId::from_uuid(Uuid::from_u128(n))
}

fn response(id: u128, of: u128, corrects: Option<u128>, outcome: Outcome) -> Response {
    Response {
        id: answer_id(id),
        check: CheckId::from_uuid(Uuid::nil()),
        item: item(of),
        pupil: PupilId::from_uuid(Uuid::nil()),
        on: day(24),
        outcome,
        heard: None,
        mode: ResponseMode::Spoken,
        taken_by: StaffId::from_uuid(Uuid::nil()),
        entered_by: StaffId::from_uuid(Uuid::nil()),
        corrects: corrects.map(answer_id),
    }
}

fn items() -> Vec<CheckItem> {
    (1..=3).map(|n| CheckItem::new(item(n), Title::new("m").unwrap())).collect()
}

fn sent(id: u128, of: u128, outcome: Outcome) -> Sent {
    Sent { id: answer_id(id), item: item(of), outcome, heard: None, mode: ResponseMode::Spoken }
}

#[test]
fn each_answer_sent_stands_for_itself() {
    use Outcome::{NotOffered, Right, Wrong};
    let items = items();
    let there = [response(10, 1, None, Right)];
    let existing = [(item(1), answer_id(10))].into();
    let facts = Facts {
        items: &items,
        existing: &existing,
        opens_on: day(23),
        closes_on: day(27),
        taken_until: day(30),
        left_on: None,
        today: day(25),
    };
    let elsewhere = [answer_id(99)].into();
    let out = |on: u32, sent: &[Sent]| sort_out(&facts, day(on), &there, &elsewhere, sent);
    let run = [
        sent(10, 1, Right),
        sent(10, 1, Wrong),
        sent(11, 1, Right),
        sent(12, 2, NotOffered),
        sent(13, 2, Right),
        sent(14, 2, Right),
        sent(13, 2, Right),
        sent(13, 3, Right),
        sent(99, 3, Right),
        sent(15, 8, Right),
        sent(16, 3, Wrong),
    ];
    let expected = [
        Taken::Known,
        Taken::Refused(AnswerError::OtherAnswer(1)),
        Taken::Refused(AnswerError::AlreadyAnswered(0, answer_id(10))),
        Taken::New,
        Taken::New,
        Taken::Refused(AnswerError::AlreadyAnswered(0, answer_id(13))),
        Taken::Known,
        Taken::Refused(AnswerError::OtherAnswer(7)),
        Taken::Refused(AnswerError::OtherAnswer(8)),
        Taken::Refused(AnswerError::UnknownItem(0)),
        Taken::New,
    ];
    assert_eq!(out(24, &run), expected);
    // The same answer of another day is another answer.
    assert_eq!(out(25, &run[..1]), [Taken::Refused(AnswerError::OtherAnswer(0))]);
    assert_eq!(out(22, &run[10..]), [Taken::Refused(AnswerError::OutsideRound(day(22), day(23), day(27)))]);
    assert_eq!(out(26, &run[10..]), [Taken::Refused(AnswerError::Future(day(26)))]);
}

#[test]
fn of_two_answers_to_one_item_the_one_made_first_is_taken() {
    use Outcome::{NotOffered, Right, Wrong};
    let (items, nothing) = (items(), BTreeMap::new());
    let facts = Facts {
        items: &items,
        existing: &nothing,
        opens_on: day(23),
        closes_on: day(27),
        taken_until: day(30),
        left_on: None,
        today: day(25),
    };
    let out = |sent: &[Sent]| sort_out(&facts, day(25), &[], &BTreeSet::new(), sent);
    let second = Taken::Refused(AnswerError::AlreadyAnswered(0, answer_id(11)));
    assert_eq!(out(&[sent(11, 1, Right), sent(12, 1, Wrong)]), [Taken::New, second.clone()]);
    assert_eq!(out(&[sent(12, 1, Wrong), sent(11, 1, Right)]), [second, Taken::New]);
    // What was left out first can be answered after, not the other way round.
    assert_eq!(out(&[sent(12, 1, Wrong), sent(11, 1, NotOffered)]), [Taken::New, Taken::New]);
    let left_out_after = Taken::Refused(AnswerError::AlreadyAnswered(0, answer_id(11)));
    assert_eq!(out(&[sent(11, 1, Right), sent(12, 1, NotOffered)]), [Taken::New, left_out_after]);
}

#[test]
fn what_was_heard_is_judged_answer_by_answer() {
    use Outcome::{Right, Wrong};
    let (items, nothing) = (items(), BTreeMap::new());
    let facts = Facts {
        items: &items,
        existing: &nothing,
        opens_on: day(23),
        closes_on: day(27),
        taken_until: day(30),
        left_on: None,
        today: day(25),
    };
    let heard = |id: u128, of: u128, outcome: Outcome, text: &str| Sent {
        heard: Some(Heard::new(text)),
        ..sent(id, of, outcome)
    };
    let run = [heard(11, 1, Wrong, "m.ɒ.b"), heard(12, 2, Wrong, "?"), heard(13, 3, Right, "m.ɒ.b")];
    let fates = sort_out(&facts, day(25), &[], &BTreeSet::new(), &run);
    let refusal = |fate: &Taken| match fate {
        Taken::Refused(error) => Some((error.refusal(), error.field())),
        _ => None,
    };
    let refusals: Vec<_> = fates.iter().map(refusal).collect();
    let refused = |n: usize| Some((super::super::Refusal::Heard, format!("answers[{n}].heard")));
    assert_eq!(refusals, [None, refused(1), refused(2)]);
}

#[test]
fn what_was_taken_back_is_asked_again_and_what_was_left_out_is_not() {
    use Outcome::{NotOffered, Right, Wrong};
    let items = items();
    let stands = |responses: &[Response], here: &[u128]| {
        let here = here.iter().map(|n| answer_id(*n)).collect();
        let standing = as_answered(&items, responses, &here);
        let shown: Vec<_> = standing.iter().map(|one| one.map(|one| one.outcome)).collect();
        (shown, next(&items, &standing))
    };
    let mut given = vec![response(1, 1, None, Right), response(2, 2, None, NotOffered)];
    assert_eq!(stands(&given, &[1, 2]), (vec![Some(Right), Some(NotOffered), None], Some(item(3))));
    // Left out in another sitting, it is still to be asked in this one.
    assert_eq!(stands(&given, &[1]), (vec![Some(Right), None, None], Some(item(2))));
    given.push(response(3, 3, None, Wrong));
    assert_eq!(last(&given).map(|one| one.response), Some(answer_id(3)));
    given.push(response(4, 3, Some(3), NotOffered));
    assert_eq!(stands(&given, &[1, 2, 3, 4]).1, Some(item(3)));
    // The next undo takes back what was given before, and asks it again.
    assert_eq!(last(&given).map(|one| one.response), Some(answer_id(2)));
    given.push(response(5, 2, Some(2), NotOffered));
    assert_eq!(stands(&given, &[1, 2, 3, 4, 5]), (vec![Some(Right), None, None], Some(item(2))));
    assert_eq!(last(&given).map(|one| one.item), Some(item(1)));
    // What was left out and then answered has an answer.
    let later = [response(1, 1, None, NotOffered), response(2, 1, None, Right)];
    assert_eq!(stands(&later, &[1, 2]).0[0], Some(Right));
    assert_eq!(last(&[]), None);
}
