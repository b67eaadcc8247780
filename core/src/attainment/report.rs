//! The attainment report of a half term: by class, by year group, for the school.
//!
//! A pair is one pupil and one GPC taught to a group of that pupil. Each pair is secure,
//! not yet secure, or unknown because no check tells; percentages leave the unknown out
//! and stand beside the counts. Every pupil is counted once, in the class of the as-of date.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::{
    mastery::{Answer, State, state},
    percent,
};
use crate::{
    check::Outcome,
    disclosure::Unreleased,
    id::{ItemId, PupilId, VersionId},
    rules::SecureRule,
    time::Date,
};

/// What is known of one pupil on the as-of date.
#[derive(Clone, Debug, Default)]
pub struct PupilFacts {
    /// The class's name.
    pub class: Option<String>,
    /// The year group's name.
    pub year_group: Option<String>,
    /// GPCs taught to this pupil's groups, with the day they were taught to this pupil.
    pub expected: BTreeMap<ItemId, Option<Date>>,
    /// GPCs carried in for this pupil and taught by no lesson recorded here, with the day as of which
    /// they count as taught to this pupil.
    pub carried_in: BTreeMap<ItemId, Option<Date>>,
    /// Answers to GPC items in force, those carried in too.
    pub gpc_answers: BTreeMap<ItemId, Vec<Answer>>,
    /// Words of the half term's checks read right.
    pub words_right: u64,
    /// Words of the half term's checks offered.
    pub words_offered: u64,
    /// The latest day within the half term on which this pupil was checked.
    pub checked_on: Option<Date>,
}

/// Pupil-GPC pairs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Pairs {
    /// Taught to a group of the pupil.
    pub taught: u64,
    /// The rule for secure is met and the latest answer was right.
    pub secure: u64,
    /// Checked, and not secure.
    pub not_yet_secure: u64,
    /// Of these, right every time but asked on too few days, or too soon after teaching, for
    /// the rule to be met.
    pub right_so_far: u64,
    /// No check tells.
    pub unknown: u64,
    /// Secure among those a check tells about; none where there are none.
    pub secure_percent: Option<u8>,
}

/// Words read in the half term's checks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Words {
    /// Asked.
    pub offered: u64,
    /// Read right.
    pub right: u64,
    /// Right among those asked; none where none was.
    pub right_percent: Option<u8>,
}

/// One line of the report.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Row {
    /// The class, year group or school; none for pupils without one.
    pub name: Option<String>,
    /// Pupils on roll on the as-of date.
    pub pupils: u64,
    /// Of these, pupils checked within the half term.
    pub checked: u64,
    /// Middle age of those pupils' latest checks on the as-of date, in days.
    pub median_check_age_days: Option<i64>,
    /// GPC pairs with a lesson recorded.
    pub gpcs: Pairs,
    /// GPC pairs carried in, with no lesson recorded since; in none of the figures above.
    pub carried_in: Pairs,
    /// Answers carried in, about pairs of either sort. They are no check of the half term.
    pub carried_in_answers: u64,
    /// Words.
    pub words: Words,
    /// So few pupils that one of them moves the percentages: read with care.
    pub read_with_care: bool,
}

/// What "secure" means in this report.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SecureBasis {
    /// Right on this many separate days,
    pub right_on_days: u8,
    /// one of them at least this many days after it was taught.
    pub days_after_teaching: u16,
    /// Days among them, at most, on which only answers carried in were right.
    pub carried_in_days: u8,
}

impl SecureBasis {
    /// As told beside figures.
    #[must_use]
    pub fn in_words(&self) -> String {
        format!(
            "Secure: right on {} separate days, one of them {} days or more after it was taught, and right the last time.",
            self.right_on_days, self.days_after_teaching
        )
    }
}

impl From<&SecureRule> for SecureBasis {
    fn from(rule: &SecureRule) -> Self {
        let SecureRule { right_on_days, days_after_teaching, carried_in_days } = *rule;
        Self { right_on_days, days_after_teaching, carried_in_days }
    }
}

/// A sequence version the groups were taught from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct VersionUsed {
    /// The version.
    pub version_id: VersionId,
    /// Its sequence.
    pub sequence: String,
    /// Its number.
    pub number: i32,
    /// Whether lessons of the school year of the report's day were taught from it; of reports made before this was told,
    /// as if.
    #[serde(default = "as_if")]
    pub this_year: bool,
}

const fn as_if() -> bool {
    true
}

/// The figures of a report.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Figures {
    /// The whole school.
    pub school: Row,
    /// By year group.
    pub year_groups: Vec<Row>,
    /// By class.
    pub classes: Vec<Row>,
}

/// A report before anybody may see it.
pub type Report = Unreleased<Figures>;

/// Counts the report. `order` gives the year groups' names in their order; classes come by name.
pub fn attainment_report(
    pupils: &BTreeMap<PupilId, PupilFacts>,
    year_group_order: &[String],
    rule: &SecureRule,
    read_with_care_below: u64,
    as_of: Date,
) -> Report {
    let row = |name: Option<String>, pupils: &[&PupilFacts]| {
        let mut row = count(pupils, rule, as_of);
        row.name = name;
        row.read_with_care = row.pupils < read_with_care_below;
        row
    };
    let everyone: Vec<&PupilFacts> = pupils.values().collect();
    let by = |key: fn(&PupilFacts) -> &Option<String>| {
        let mut parts: BTreeMap<&Option<String>, Vec<&PupilFacts>> = BTreeMap::new();
        for pupil in &everyone {
            parts.entry(key(pupil)).or_default().push(pupil);
        }
        parts.into_iter().map(|(name, pupils)| row(name.clone(), &pupils)).collect::<Vec<_>>()
    };
    let place = |row: &Row| {
        let name = row.name.as_ref();
        name.and_then(|name| year_group_order.iter().position(|known| known == name)).unwrap_or(usize::MAX)
    };
    let mut year_groups = by(|pupil| &pupil.year_group);
    year_groups.sort_by_key(place);
    let mut classes = by(|pupil| &pupil.class);
    classes.sort_by_key(|row| row.name.is_none());
    Unreleased::new(Figures { school: row(None, &everyone), year_groups, classes })
}

/// Whether every answer that tells something was right.
fn always_right(answers: &[Answer]) -> bool {
    answers.iter().all(|answer| matches!(answer.outcome, Outcome::Right | Outcome::NotOffered))
}

fn count(pupils: &[&PupilFacts], rule: &SecureRule, as_of: Date) -> Row {
    let mut row = Row::default();
    let mut ages: Vec<i64> = Vec::new();
    for pupil in pupils {
        row.pupils += 1;
        if let Some(on) = pupil.checked_on {
            row.checked += 1;
            ages.push(as_of.signed_duration_since(on).num_days());
        }
        row.words.offered += pupil.words_offered;
        row.words.right += pupil.words_right;
        pairs(&mut row.gpcs, &pupil.expected, pupil, rule);
        pairs(&mut row.carried_in, &pupil.carried_in, pupil, rule);
        let answers = pupil.expected.keys().chain(pupil.carried_in.keys());
        let answers = answers.filter_map(|item| pupil.gpc_answers.get(item)).flatten();
        row.carried_in_answers += answers.map(|answer| u64::from(answer.carried_in)).sum::<u64>();
    }
    ages.sort_unstable();
    row.median_check_age_days = ages.get(ages.len() / 2).copied();
    for pairs in [&mut row.gpcs, &mut row.carried_in] {
        pairs.secure_percent = percent(pairs.secure, pairs.secure + pairs.not_yet_secure);
    }
    row.words.right_percent = percent(row.words.right, row.words.offered);
    row
}

/// Counts one pupil's pairs into `counted`.
fn pairs(
    counted: &mut Pairs,
    taught: &BTreeMap<ItemId, Option<Date>>,
    pupil: &PupilFacts,
    rule: &SecureRule,
) {
    for (item, taught_on) in taught {
        let answers = pupil.gpc_answers.get(item).map_or(&[][..], Vec::as_slice);
        counted.taught += 1;
        match state(*taught_on, answers, rule) {
            State::Secure => counted.secure += 1,
            State::Practising | State::Revisit => {
                counted.not_yet_secure += 1;
                counted.right_so_far += u64::from(always_right(answers));
            }
            State::Taught | State::Unknown => counted.unknown += 1,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        access,
        id::{SchoolId, StaffId},
        rules::pack,
    };
    use uuid::Uuid;

    const RULE: SecureRule = SecureRule { right_on_days: 2, days_after_teaching: 7, carried_in_days: 1 };

    fn day(d: u32) -> Date {
        Date::from_ymd_opt(2025, 10, d).unwrap()
    }

    fn item(n: u128) -> ItemId {
        ItemId::from_uuid(Uuid::from_u128(n))
    }

    fn right_on(d: u32, carried_in: bool) -> Answer {
        Answer { on: day(d), outcome: Outcome::Right, carried_in, by_choice: false }
    }

    /// Right on the days given; taught on the 1st.
    fn pupil(class: &str, year: &str, gpcs: &[(u128, &[u32])], checked: Option<u32>) -> PupilFacts {
        PupilFacts {
            class: Some(class.into()),
            year_group: Some(year.into()),
            expected: gpcs.iter().map(|(n, _)| (item(*n), Some(day(1)))).collect(),
            gpc_answers: gpcs
                .iter()
                .map(|(n, right)| (item(*n), right.iter().map(|d| right_on(*d, false)).collect()))
                .collect(),
            words_right: 3,
            words_offered: 4,
            checked_on: checked.map(day),
            ..PupilFacts::default()
        }
    }

    fn figures(pupils: Vec<PupilFacts>) -> Figures {
        let pupils = pupils
            .into_iter()
            .enumerate()
            .map(|(n, p)| (PupilId::from_uuid(Uuid::from_u128(n as u128)), p))
            .collect();
        let order = ["Reception".to_owned(), "Year 1".to_owned()];
        let actor = access::Actor {
            school: SchoolId::from_uuid(Uuid::nil()),
            staff: StaffId::from_uuid(Uuid::nil()),
            session: None,
            roles: [access::Role::Lead].into(),
        };
        let proof =
            access::authorise(&actor, access::resource::SchoolReport, access::Facts::OF_THE_SCHOOL).unwrap();
        attainment_report(&pupils, &order, &RULE, 10, day(20))
            .for_internal_reader(&proof, &pack("england").unwrap().disclosure.internal)
            .figures
    }

    #[test]
    fn counts_are_worked_by_hand() {
        let f = figures(vec![
            pupil("Rowan", "Year 1", &[(1, &[2, 9]), (2, &[2])], Some(9)),
            pupil("Rowan", "Year 1", &[(1, &[]), (2, &[2, 8])], Some(11)),
            pupil("Alder", "Reception", &[(1, &[])], None),
        ]);
        assert_eq!(f.school.pupils, 3);
        assert_eq!(f.school.checked, 2);
        assert_eq!(
            f.school.gpcs,
            Pairs {
                taught: 5,
                secure: 2,
                not_yet_secure: 1,
                right_so_far: 1,
                unknown: 2,
                secure_percent: Some(67)
            }
        );
        assert_eq!(f.school.words, Words { offered: 12, right: 9, right_percent: Some(75) });
        assert_eq!(f.school.median_check_age_days, Some(11));
        let names =
            |rows: &[Row]| rows.iter().map(|row| row.name.clone().unwrap_or_default()).collect::<Vec<_>>();
        assert_eq!(names(&f.year_groups), ["Reception", "Year 1"]);
        assert_eq!(names(&f.classes), ["Alder", "Rowan"]);
        assert_eq!(f.classes[0].gpcs, Pairs { taught: 1, unknown: 1, ..Pairs::default() });
    }

    #[test]
    fn nobody_is_no_percentage() {
        let f = figures(vec![]);
        assert_eq!(
            (f.school.pupils, f.school.gpcs.secure_percent, f.school.words.right_percent),
            (0, None, None)
        );
        assert!(f.classes.is_empty());
    }

    #[test]
    fn new_arrivals_are_unknown_not_insecure() {
        let f = figures(vec![pupil("Rowan", "Year 1", &[(1, &[]), (2, &[])], None)]);
        assert_eq!(
            (f.school.gpcs.unknown, f.school.gpcs.not_yet_secure, f.school.gpcs.secure_percent),
            (2, 0, None)
        );
    }

    /// Carried in as of the 1st: 3 right on the 1st, which is carried in, and on the 8th: two days,
    /// the last the 7th day after; 4 right on the 1st alone; 5 missed and never asked. 1 was taught
    /// here and right on the 2nd, carried in, and on the 9th.
    #[test]
    fn what_was_carried_in_is_counted_apart() {
        let mut one = pupil("Rowan", "Year 1", &[(1, &[9])], Some(9));
        one.carried_in = [(item(3), Some(day(1))), (item(4), Some(day(1))), (item(5), None)].into();
        let answers = &mut one.gpc_answers;
        answers.entry(item(1)).or_default().push(right_on(2, true));
        answers.insert(item(3), vec![right_on(1, true), right_on(8, false)]);
        answers.insert(item(4), vec![right_on(1, true)]);
        // About nothing this pupil was taught.
        answers.insert(item(9), vec![right_on(1, true)]);
        let row = figures(vec![one]).school;
        let here = Pairs { taught: 1, secure: 1, secure_percent: Some(100), ..Pairs::default() };
        let carried = Pairs {
            taught: 3,
            secure: 1,
            not_yet_secure: 1,
            right_so_far: 1,
            unknown: 1,
            secure_percent: Some(50),
        };
        assert_eq!((row.gpcs, row.carried_in, row.carried_in_answers), (here, carried, 3));
    }
}
