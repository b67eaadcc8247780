//! From the rows of a pupil file to what they would change. Nothing here writes: the plan
//! is shown, and only a confirmed plan is carried out. A pupil missing from the file is
//! never touched, an empty cell never blanks what is known, and who a row is about is asked
//! where the file does not tell.

mod outcome;

use std::collections::{BTreeMap, BTreeSet};

pub use outcome::{Absent, Apart, Change, Existing, Gone, Held, Plan, Repeat};

use super::{
    Decisions, Field, Finding, Row,
    file::{Answers, Cell, Reading, Whose},
    matching::{Index, Match, Why},
};
use crate::{id::PupilId, rules::RulePack, text::Name};

/// Matches rows to pupils: by UPN, by the school's reference, by name and date of birth.
/// `classes` are the names of the school's classes. Who was said to be the same child or two
/// children is not asked again.
#[must_use]
pub fn plan(
    reading: &Reading,
    answers: &Answers,
    (pupils, decisions): (&[Existing], &Decisions),
    classes: &[String],
    rules: &RulePack,
) -> Plan {
    let known = || {
        let rows = pupils.iter().map(|pupil| std::iter::once(&pupil.row).chain(&pupil.once));
        (0..).zip(rows).flat_map(|(n, rows)| rows.map(move |row| (n, row)))
    };
    let mut planning = Planning {
        plan: Plan {
            year: reading.year,
            rejected: reading.rejected.clone(),
            attention: reading.attention.clone(),
            ..Plan::default()
        },
        answers,
        pupils,
        rules,
        carries_classes: !reading.not_carried.contains(&Field::ClassName),
        decisions,
        known: known().map(|(_, row)| row).collect(),
        known_of: known().map(|(n, _)| n).collect(),
        rows_of: BTreeMap::new(),
        seen: Index::default(),
        rows: Vec::new(),
    };
    planning.classes(&reading.rows, classes);
    for row in &reading.rows {
        planning.row(row);
    }
    planning.leave(reading.changes_only);
    planning.plan.rejected.sort_by_key(|finding| finding.line);
    planning.plan
}

struct Planning<'a> {
    plan: Plan,
    answers: &'a Answers,
    pupils: &'a [Existing],
    rules: &'a RulePack,
    carries_classes: bool,
    decisions: &'a Decisions,
    known: Index,
    /// The pupil, by place, each known row is of.
    known_of: Vec<usize>,
    rows_of: BTreeMap<PupilId, u64>,
    seen: Index,
    rows: Vec<&'a Row>,
}

impl<'a> Planning<'a> {
    fn classes(&mut self, rows: &[Row], known: &[String]) {
        let mut keys: BTreeSet<String> = known.iter().map(|name| class_key(name)).collect();
        for name in rows.iter().filter_map(|row| row.class_name.as_ref()) {
            if keys.insert(class_key(name.as_str())) {
                self.plan.new_classes.push(name.clone());
            }
        }
    }

    fn reject(&mut self, row: &Row, field: Option<Field>, message: String) {
        self.plan.rejected.push(finding(row, field, message));
    }

    fn row(&mut self, row: &'a Row) {
        let whose = self.answers.whose(row.line);
        if whose == Some(Whose::Nobody) {
            return self.plan.left_out.push(row.line);
        }
        if whose.is_none() && self.stands_before(row) {
            return;
        }
        for note in &row.beside.notes {
            self.plan.attention.push(finding(row, note.field, note.message.clone()));
        }
        self.seen.add(row);
        self.rows.push(row);
        match whose {
            Some(Whose::Somebody) if row.beside.left => self.plan.left_out.push(row.line),
            Some(Whose::Somebody) if row.is_named() => {
                let apart = self.candidates(row).into_iter();
                let apart = apart.map(|one| Apart { line: row.line, pupil: self.pupils[one.whom].id });
                self.plan.apart.extend(apart);
                self.create(row);
            }
            Some(Whose::Somebody) => self.unknown(row),
            Some(Whose::Pupil(id)) => match self.pupils.iter().find(|pupil| pupil.id == id) {
                Some(pupil) => self.change(pupil, Why::Person, row),
                None => self.reject(row, None, "the pupil chosen for this row is not of this school".into()),
            },
            _ => self.matched(row),
        }
    }

    /// Whether an earlier row is about the same pupil.
    fn stands_before(&mut self, row: &Row) -> bool {
        let Some(earlier) = self.seen.matches(row).into_iter().find(|found| found.why.is_sure()) else {
            return false;
        };
        let first = self.rows[earlier.whom];
        if first.says_the_same(row) {
            self.plan.repeats.push(Repeat { line: row.line, of: first.line });
        } else {
            let message = format!("line {} is about the same pupil and says something else", first.line);
            self.reject(row, None, message);
        }
        true
    }

    /// Whom of the school a row may be about: each pupil once, by what is surest.
    fn candidates(&self, row: &Row) -> Vec<Match<usize>> {
        let mut found: BTreeMap<usize, Why> = BTreeMap::new();
        for Match { whom, why } in self.known.matches(row) {
            let surest = found.entry(self.known_of[whom]).or_insert(why);
            *surest = why.min(*surest);
        }
        // A number that leads to one pupil, beside the name of somebody else, or of another pupil of the
        // school: given anew, or twins with each other's.
        if let Some((whom, why)) = found.first_key_value().map(|(whom, why)| (*whom, *why))
            && found.len() == 1
            && matches!(why, Why::Upn | Why::Reference)
        {
            let Existing { row: own, once, .. } = &self.pupils[whom];
            let mut named: BTreeSet<usize> = self.known.named(row).map(|n| self.known_of[n]).collect();
            let is_other = !named.remove(&whom) && !named.is_empty();
            if is_other || std::iter::once(own).chain(once).all(|known| known.is_somebody_else(row)) {
                found.insert(whom, Why::Contradiction);
                found.extend(named.into_iter().map(|other| (other, Why::NameOnly)));
            }
        }
        found.into_iter().map(|(whom, why)| Match { whom, why }).collect()
    }

    /// Of several pupils who were said to be different children, the one whom the school knows by
    /// exactly what the row is known by.
    fn told_apart(&self, several: &[Match<usize>], row: &Row) -> Option<&'a Existing> {
        let pupils: Vec<&Existing> = several.iter().map(|one| &self.pupils[one.whom]).collect();
        let decided = |one: &Existing, other: &Existing| self.decisions.are_apart(one.id, other.id);
        if !pupils.iter().enumerate().all(|(n, one)| pupils[..n].iter().all(|other| decided(one, other))) {
            return None;
        }
        let mut alike = pupils.into_iter().filter(|pupil| pupil.row.is_known_as(row));
        alike.next().filter(|_| alike.next().is_none())
    }

    fn matched(&mut self, row: &'a Row) {
        let found = self.candidates(row);
        if let Some(pupil) =
            Some(&found).filter(|found| found.len() > 1).and_then(|f| self.told_apart(f, row))
        {
            return self.change(pupil, Why::Person, row);
        }
        match found.as_slice() {
            [] if row.beside.left || row.beside.known_only => self.unknown(row),
            [] => self.create(row),
            [one] if one.why.is_sure() => self.change(&self.pupils[one.whom], one.why, row),
            several => {
                let candidates =
                    several.iter().map(|one| Match { whom: self.pupils[one.whom].id, why: one.why });
                let old = several.iter().map(|one| self.pupils[one.whom].row.clone()).collect();
                let held = Held { row: row.clone(), candidates: candidates.collect(), old };
                self.plan.held.push(held);
            }
        }
    }

    /// A row that adds nobody and fits nobody.
    fn unknown(&mut self, row: &Row) {
        if row.beside.left {
            let message = "is said to have left, and no pupil of the school is this one: nothing to do";
            return self.plan.attention.push(finding(row, None, message.into()));
        }
        let message = "no pupil of the school is this one, and the file does not say enough to add a pupil";
        self.reject(row, None, message.into());
    }

    fn create(&mut self, row: &Row) {
        if self.carries_classes && row.class_name.is_none() {
            let message = "no class is given; the pupil is in none until somebody says".to_owned();
            self.plan.attention.push(finding(row, Some(Field::ClassName), message));
        }
        self.out_of_cohort(row);
        self.plan.created.push(row.clone());
    }

    /// A pupil taught outside the year of birth is said once, when that is new.
    fn out_of_cohort(&mut self, row: &Row) {
        if let (Some(given), Some(cohort)) = (&row.year_group, &row.cohort)
            && given != cohort
        {
            let name =
                |code: &str| self.rules.year_group(code).map_or(code.to_owned(), |year| year.name.clone());
            let message = format!(
                "outside year of birth: {} is given, the date of birth belongs to {}",
                name(given),
                name(cohort)
            );
            self.plan.attention.push(finding(row, Some(Field::YearGroup), message));
        }
    }

    fn change(&mut self, pupil: &Existing, why: Why, row: &Row) {
        if let Some(earlier) = self.rows_of.insert(pupil.id, row.line) {
            let message = format!("line {earlier} is about the same pupil; this row is left out");
            return self.reject(row, None, message);
        }
        if row.beside.left && pupil.left {
            self.plan.unchanged += 1;
            return;
        }
        // An old export must not put a leaver back into a class.
        if pupil.left {
            let message = "this pupil has left; if the pupil is back, clear the last day first".to_owned();
            return self.reject(row, None, message);
        }
        if row.beside.left {
            return self.gone(pupil, why, row, None);
        }
        let left = row.beside.left_classes.iter().find(|class| pupil.row.is_in(class));
        if let Some(class) = left.filter(|_| row.class_name.is_none()) {
            self.gone(pupil, why, row, Some(class.clone()));
        }
        let mut fields = pupil.row.differing(row);
        // What the child was known by under another record is no news.
        fields.retain(|field| match field {
            Field::PupilRef => !pupil.once.iter().any(|once| once.pupil_ref == row.pupil_ref),
            Field::Upn => !pupil.once.iter().any(|once| once.upn == row.upn),
            _ => true,
        });
        let optional = pupil.row.differing_optional(row);
        if fields.is_empty() && optional.is_empty() {
            self.plan.unchanged += usize::from(left.is_none());
            return;
        }
        if fields.contains(&Field::YearGroup) {
            self.out_of_cohort(row);
        }
        let more = fields.iter().all(|field| pupil.row.cell(*field).is_none())
            && optional.iter().all(|field| !pupil.row.optional.contains_key(field));
        let change =
            Change { pupil: pupil.id, why, fields, optional, row: row.clone(), old: pupil.row.clone() };
        if more { self.plan.completed.push(change) } else { self.plan.updated.push(change) }
    }

    fn gone(&mut self, pupil: &Existing, why: Why, row: &Row, class: Option<Name>) {
        let name = pupil.row.shown_name();
        self.plan.gone.push(Gone { line: row.line, pupil: pupil.id, why, name, class });
    }

    /// Who is missing or said to be gone leaves only if their number is given.
    fn leave(&mut self, changes_only: bool) {
        if !changes_only {
            self.absent();
        }
        if self.answers.leavers != Some(self.plan.may_leave()) {
            return;
        }
        self.plan.leavers = self.plan.absent.iter().map(|absent| absent.pupil).collect();
        for gone in &self.plan.gone {
            match &gone.class {
                Some(class) => self.plan.class_leavers.push((gone.pupil, class.clone())),
                None => self.plan.leavers.push(gone.pupil),
            }
        }
    }

    fn absent(&mut self) {
        let held: BTreeSet<PupilId> =
            self.plan.held.iter().flat_map(|held| &held.candidates).map(|one| one.whom).collect();
        let here = self.pupils.iter().filter(|pupil| !pupil.left);
        let absent = here.filter(|pupil| !self.rows_of.contains_key(&pupil.id) && !held.contains(&pupil.id));
        let absent = absent.map(|pupil| Absent {
            pupil: pupil.id,
            name: pupil.row.shown_name(),
            class: pupil.row.class_name.clone(),
        });
        self.plan.absent = absent.collect();
    }
}

fn finding(row: &Row, field: Option<Field>, message: String) -> Finding {
    Finding { line: row.line, record: row.record, cell: None, field, message, suggest: None }
}

impl Row {
    /// What another row says otherwise. What it leaves empty it does not say.
    fn differing(&self, new: &Self) -> Vec<Field> {
        fn says<T: PartialEq>(old: &Option<T>, new: &Option<T>) -> bool {
            new.is_some() && new != old
        }
        let key = |name: &Option<Name>| name.as_ref().map(|name| class_key(name.as_str()));
        let differs = [
            (Field::PupilRef, says(&self.pupil_ref, &new.pupil_ref)),
            (Field::Upn, says(&self.upn, &new.upn)),
            (Field::GivenName, says(&self.given_name, &new.given_name)),
            (Field::FamilyName, says(&self.family_name, &new.family_name)),
            (Field::PreferredName, says(&self.preferred_name, &new.preferred_name)),
            (Field::DateOfBirth, says(&self.date_of_birth, &new.date_of_birth)),
            (Field::YearGroup, says(&self.year_group, &new.year_group)),
            (Field::ClassName, says(&key(&self.class_name), &key(&new.class_name))),
        ];
        differs.into_iter().filter(|(_, differs)| *differs).map(|(field, _)| field).collect()
    }

    /// The same of optional fields, by key.
    fn differing_optional(&self, new: &Self) -> Vec<String> {
        let differs = |(field, value): &(&String, &String)| self.optional.get(*field) != Some(*value);
        new.optional.iter().filter(differs).map(|(field, _)| field.clone()).collect()
    }

    /// Whether both are known by the same, and by no more.
    fn is_known_as(&self, other: &Self) -> bool {
        (&self.pupil_ref, &self.upn, self.date_of_birth)
            == (&other.pupil_ref, &other.upn, other.date_of_birth)
    }

    const fn is_named(&self) -> bool {
        self.given_name.is_some() || self.family_name.is_some()
    }

    fn is_in(&self, class: &Name) -> bool {
        self.class_name.as_ref().is_some_and(|own| class_key(own.as_str()) == class_key(class.as_str()))
    }

    fn says_the_same(&self, other: &Self) -> bool {
        self.beside == other.beside
            && self.name_key() == other.name_key()
            && self.optional == other.optional
            && self.differing(other).iter().all(|f| matches!(f, Field::GivenName | Field::FamilyName))
            && other.differing(self).iter().all(|f| matches!(f, Field::GivenName | Field::FamilyName))
    }
}

/// "Oak", "oak " and "OAK" are one class; "Oak 2" is another. Letters of other scripts that
/// look alike stay different and show up as a class to be created.
pub fn class_key(name: &str) -> String {
    Cell::cleaned(name).to_lowercase()
}

#[cfg(test)]
mod tests;
