//! How forms went once they were used: counts, and a share where enough answers stand.

use std::collections::{BTreeMap, BTreeSet};

use crate::{
    check::{Outcome, Response},
    id::{CheckId, CheckItemId, PupilId},
    rules::CheckRule,
};

/// How one form went.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FormUse {
    /// Pupils who were asked.
    pub pupils: usize,
    /// Answers: what was not offered is none.
    pub answers: usize,
    /// Right ones.
    pub right: usize,
    /// Right ones in per cent, rounded to a whole one; none before enough answers stand.
    pub right_percent: Option<u32>,
}

/// How forms went, by check, from the responses that count. Answers by choosing among several are left out: luck has
/// a part in them.
#[must_use]
pub fn form_use(responses: &[Response], checks: &[CheckId], rule: &CheckRule) -> BTreeMap<CheckId, FormUse> {
    let mut pupils: BTreeMap<CheckId, BTreeSet<PupilId>> = BTreeMap::new();
    let mut met: BTreeSet<(PupilId, CheckId, CheckItemId)> = BTreeSet::new();
    let mut used: BTreeMap<CheckId, FormUse> =
        checks.iter().map(|check| (*check, FormUse::default())).collect();
    for one in responses.iter().filter(|one| one.outcome != Outcome::NotOffered && !one.mode.is_choice()) {
        let Some(form) = used.get_mut(&one.check) else { continue };
        // An item answered in two rounds counts as it went first.
        if !met.insert((one.pupil, one.check, one.item)) {
            continue;
        }
        pupils.entry(one.check).or_default().insert(one.pupil);
        form.answers += 1;
        form.right += usize::from(one.outcome == Outcome::Right);
    }
    for (check, form) in &mut used {
        form.pupils = pupils.get(check).map_or(0, BTreeSet::len);
        let enough = form.answers >= rule.answers_enough as usize;
        let percent = (form.right * 200 + form.answers).checked_div(form.answers * 2);
        form.right_percent = percent.filter(|_| enough).and_then(|percent| u32::try_from(percent).ok());
    }
    used
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        check::ResponseMode,
        id::{ResponseId, StaffId},
        time::Date,
    };
    use uuid::Uuid;

    fn response(pupil: u128, check: u128, item: u128, outcome: Outcome) -> Response {
        Response {
            id: ResponseId::from_uuid(Uuid::from_u128(pupil << 64 | check << 32 | item)),
            check: CheckId::from_uuid(Uuid::from_u128(check)),
            item: CheckItemId::from_uuid(Uuid::from_u128(item)),
            pupil: PupilId::from_uuid(Uuid::from_u128(pupil)),
            on: Date::default(),
            outcome,
            heard: None,
            mode: ResponseMode::Spoken,
            taken_by: StaffId::from_uuid(Uuid::nil()),
            entered_by: StaffId::from_uuid(Uuid::nil()),
            corrects: None,
        }
    }

    #[test]
    fn counts_come_always_and_shares_from_enough_answers_on() {
        use Outcome::{NoResponse, NotOffered, Right, Wrong};
        let rule = CheckRule {
            items_most: 40,
            forms_most: 4,
            recent_lessons: 20,
            answers_enough: 3,
            caution: String::new(),
        };
        let checks = [1, 2, 3].map(|n| CheckId::from_uuid(Uuid::from_u128(n)));
        let mut chosen = response(9, 1, 1, Right);
        chosen.mode = ResponseMode::Choosing;
        let responses = [
            response(1, 1, 1, Right),
            response(1, 1, 2, Wrong),
            response(2, 1, 1, Right),
            response(2, 1, 2, NotOffered),
            response(2, 1, 1, Wrong),
            chosen,
            response(1, 2, 5, Right),
            response(1, 2, 6, NoResponse),
        ];
        let used = form_use(&responses, &checks, &rule);
        // Two of three right: 66.7.
        let first = FormUse { pupils: 2, answers: 3, right: 2, right_percent: Some(67) };
        assert_eq!(used[&checks[0]], first);
        assert_eq!(used[&checks[1]], FormUse { pupils: 1, answers: 2, right: 1, right_percent: None });
        assert_eq!(used[&checks[2]], FormUse::default());
    }
}
