//! What pupils were checked on before the records here begin: answers carried in, a table of
//! pupils and GPCs of one day. What a table leaves out stays as it is.

use std::collections::{BTreeMap, BTreeSet};

use uuid::Uuid;

use super::Outcome;
use crate::{
    id::{CarriedCheckId, ItemId, PupilId},
    sequence::{Content, Fault, ItemKind},
    time::Date,
};

const NAMESPACE: Uuid = Uuid::from_u128(0x2b6e_93d1_5c0a_54f7_8e1d_f0a7_4c39_6b25);

/// Answers of one pupil on one day, by GPC.
pub type CarriedAnswers = BTreeMap<ItemId, Outcome>;

/// One row of a table: a pupil, and what the table says of each GPC.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CarriedRow {
    /// Its line in a file, or its place in a list counted from 0.
    pub place: u64,
    /// The pupil.
    pub pupil: PupilId,
    /// The answers; `NotOffered` takes back what was carried in.
    pub answers: Vec<(ItemId, Outcome)>,
}

/// What a row changes of the pupil's answers of that day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CarriedChange {
    /// The row's place.
    pub place: u64,
    /// The pupil.
    pub pupil: PupilId,
    /// Answers that were not there.
    pub added: usize,
    /// Answers that said something else.
    pub changed: usize,
    /// Answers taken back.
    pub removed: usize,
    /// Answers that are there already.
    pub unchanged: usize,
    /// All answers of that day as they are then.
    pub then: CarriedAnswers,
}

impl CarriedChange {
    /// Whether anything is to be written.
    pub const fn changes(&self) -> bool {
        self.added + self.changed + self.removed > 0
    }
}

/// The id of a pupil's answers carried in for a day.
pub fn carried_check_id(pupil: PupilId, on: Date) -> CarriedCheckId {
    CarriedCheckId::from_parts(NAMESPACE, &[&pupil.to_string(), &on.to_string()])
}

/// Checks the rows of a list as sent: each pupil once and in the group, each GPC once and one of
/// the sequence version, and the day not ahead.
///
/// # Errors
/// Every fault, as `rows[2].answers[0].item_id`.
pub fn check_rows(
    rows: &[CarriedRow],
    content: &Content,
    members: &BTreeSet<PupilId>,
) -> Result<(), Vec<Fault>> {
    let gpcs: BTreeSet<ItemId> =
        content.items().filter(|item| item.kind == ItemKind::Gpc).map(|item| item.id).collect();
    let mut faults = Vec::new();
    let mut fault = |field: String, message: &str| faults.push(Fault { field, message: message.into() });
    let mut pupils = BTreeSet::new();
    for (n, row) in rows.iter().enumerate() {
        if !members.contains(&row.pupil) {
            fault(format!("rows[{n}].pupil_id"), "this pupil is not in the group");
        }
        if !pupils.insert(row.pupil) {
            fault(format!("rows[{n}].pupil_id"), "this pupil stands twice");
        }
        let mut items = BTreeSet::new();
        for (at, (item, _)) in row.answers.iter().enumerate() {
            let field = || format!("rows[{n}].answers[{at}].item_id");
            if !gpcs.contains(item) {
                fault(field(), "is not a GPC of the group's sequence");
            }
            if !items.insert(*item) {
                fault(field(), "this GPC stands twice");
            }
        }
    }
    if faults.is_empty() { Ok(()) } else { Err(faults) }
}

/// What rows change, given each pupil's answers carried in for that day.
pub fn carried_changes(
    rows: &[CarriedRow],
    existing: &BTreeMap<PupilId, CarriedAnswers>,
) -> Vec<CarriedChange> {
    let change = |row: &CarriedRow| {
        let then = existing.get(&row.pupil).cloned().unwrap_or_default();
        let (place, pupil) = (row.place, row.pupil);
        let mut change = CarriedChange { place, pupil, added: 0, changed: 0, removed: 0, unchanged: 0, then };
        for (item, outcome) in &row.answers {
            let old = match outcome {
                Outcome::NotOffered => change.then.remove(item),
                said => change.then.insert(*item, *said),
            };
            match (old, outcome) {
                (None, Outcome::NotOffered) => change.unchanged += 1,
                (Some(_), Outcome::NotOffered) => change.removed += 1,
                (None, _) => change.added += 1,
                (Some(old), new) if old == *new => change.unchanged += 1,
                (Some(_), _) => change.changed += 1,
            }
        }
        change
    };
    rows.iter().map(change).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pupil(n: u128) -> PupilId {
        PupilId::from_uuid(Uuid::from_u128(n))
    }

    fn item(n: u128) -> ItemId {
        ItemId::from_uuid(Uuid::from_u128(n))
    }

    fn row(of: u128, answers: &[(u128, Outcome)]) -> CarriedRow {
        let answers = answers.iter().map(|(n, outcome)| (item(*n), *outcome)).collect();
        CarriedRow { place: 2, pupil: pupil(of), answers }
    }

    #[test]
    fn a_table_changes_what_it_says_and_nothing_else() {
        use Outcome::{NotOffered, Right, Wrong};
        // Pupil 1 has 1 right, 2 wrong, 3 right and 5 wrong.
        let there: CarriedAnswers =
            [(item(1), Right), (item(2), Wrong), (item(3), Right), (item(5), Wrong)].into();
        let existing = BTreeMap::from([(pupil(1), there)]);
        let rows = [
            row(1, &[(1, Right), (2, Right), (3, NotOffered), (4, Wrong), (6, NotOffered)]),
            row(2, &[(1, Wrong)]),
        ];
        let changes = carried_changes(&rows, &existing);
        let one = &changes[0];
        // 4 is new, 2 is another answer, 3 goes, 1 and 6 are as they were; 5 is not spoken of.
        assert_eq!((one.added, one.changed, one.removed, one.unchanged), (1, 1, 1, 2));
        let then = [(item(1), Right), (item(2), Right), (item(4), Wrong), (item(5), Wrong)];
        assert_eq!(one.then, then.into());
        assert_eq!((changes[1].added, changes[1].changes()), (1, true));
        // The same again changes nothing.
        let now = changes.iter().map(|change| (change.pupil, change.then.clone())).collect();
        let again = carried_changes(&rows, &now);
        assert!(again.iter().all(|change| !change.changes()));
        assert_eq!((again[0].unchanged, again[1].unchanged), (5, 1));
    }

    #[test]
    fn a_day_of_a_pupil_has_one_id() {
        let day = |d| Date::from_ymd_opt(2026, 12, d).unwrap();
        assert_eq!(carried_check_id(pupil(1), day(4)), carried_check_id(pupil(1), day(4)));
        assert_ne!(carried_check_id(pupil(1), day(4)), carried_check_id(pupil(1), day(5)));
        assert_ne!(carried_check_id(pupil(1), day(4)), carried_check_id(pupil(2), day(4)));
    }
}
