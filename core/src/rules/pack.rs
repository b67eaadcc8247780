//! The part of a rule pack that is in use. The files hold more; later work reads it.

use std::collections::BTreeMap;

use chrono::Datelike as _;
use serde::{Deserialize, Serialize};

use super::attainment::{AskingRule, EstimateRule};
use super::teaching_year::{CatchUpRule, GroupingRule, PaceRule, SchoolDayRule};
use super::{
    CheckRule, Coded, CoverRule, DisclosureRule, HandingOnRule, MarkingRule, OptionalFields, PlacementRule,
    ReportRule, RoundRule, TabletRule, TrustRule,
};
use crate::{
    roster::{
        Field,
        file::{DateOrder, age_on},
    },
    statutory::StatutoryRule,
    time::Date,
};

/// A jurisdiction's local rules.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct RulePack {
    /// As named in the configuration and in each school.
    pub id: String,
    /// As shown.
    pub name: String,
    /// Year groups, youngest first.
    pub year_groups: Vec<YearGroup>,
    /// When a school year starts.
    pub school_year: SchoolYearRule,
    /// Ages between which a date of birth in a pupil file is believed.
    pub pupil_ages: Ages,
    /// How large a class is expected to be; none where the jurisdiction says nothing.
    #[serde(default)]
    pub class_size: Option<ClassSizeRule>,
    /// When the halves of a day are.
    pub school_day: SchoolDayRule,
    /// Which comes first in a day written with slashes, unless the file shows otherwise.
    pub date_order: DateOrder,
    /// Headings of pupil files by what they are taken for.
    pub file_headings: BTreeMap<Field, Vec<String>>,
    /// What a school may record of pupils beyond the roster.
    pub optional_fields: OptionalFields,
    /// How long the rows of a pupil file are kept.
    pub pupil_files: PupilFileRule,
    /// How long what an undo puts back is kept.
    pub undo: UndoRule,
    /// Year groups by the grade codes of rostering files (Common Education Data Standards), by age.
    pub grade_codes: BTreeMap<String, String>,
    /// What is still taken from an adult whose days with a group are over.
    pub handover: HandoverRule,
    /// What is handed on of a pupil.
    pub handing_on: HandingOnRule,
    /// What lessons are made of.
    pub lesson: LessonRule,
    /// When a book can be read.
    pub books: BookRule,
    /// What practice for one pupil is made of.
    pub practice: PracticeRule,
    /// How far ahead of a group is told.
    pub pace: PaceRule,
    /// What a cover teacher is given.
    pub cover: CoverRule,
    /// How the placement check of a new pupil is walked.
    pub placement: PlacementRule,
    /// How pupils answer, and how marks are looked at a second time.
    pub marking: MarkingRule,
    /// How rounds of checks are kept to their days.
    pub rounds: RoundRule,
    /// How long what came from tablets is kept.
    pub tablets: TabletRule,
    /// How checks are built and compared.
    pub checks: CheckRule,
    /// How pupils are put in groups.
    pub grouping: GroupingRule,
    /// How catch-up is cut into sets.
    pub catch_up: CatchUpRule,
    /// Attainment rules.
    pub attainment: AttainmentRule,
    /// How a table of answers carried in is read.
    pub carried_cells: CarriedCells,
    /// The statutory check.
    pub statutory_check: StatutoryRule,
    /// Groups smaller than this carry a caution.
    pub read_with_care_below: u64,
    /// What reports say of pupils.
    pub reports: ReportRule,
    /// How figures may leave the school.
    pub disclosure: DisclosureRule,
    /// What is said beside figures of several schools.
    pub trust: TrustRule,
    /// Why a lesson was not taught.
    pub not_taught_reasons: Vec<Coded>,
    /// Why a day is closed.
    pub closure_reasons: Vec<Coded>,
    /// What the product says where it matters.
    pub cautions: Vec<Caution>,
}

/// A year group.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct YearGroup {
    /// As stored.
    pub code: String,
    /// As shown.
    pub name: String,
    /// Age in years at the start of the school year.
    pub min_age: u8,
    /// Completed years on the day before the cohort cut-off.
    pub cohort_age: i32,
    /// Spellings seen in files, in lower case.
    pub labels: Vec<String>,
}

/// When a school year starts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub struct SchoolYearRule {
    /// Month, 1 to 12.
    pub starts_month: u32,
    /// Day of the month.
    pub starts_day: u32,
    /// Month of the cohort cut-off: who is born before that day belongs to the older cohort.
    pub cohort_cut_off_month: u32,
    /// Its day.
    pub cohort_cut_off_day: u32,
}

/// How long the rows of a pupil file are kept: as long as something can be done with them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub struct PupilFileRule {
    /// Days from the upload on in which an import can be answered and confirmed.
    pub preview_days: u32,
    /// Days from its confirmation on in which it can be taken back.
    pub undo_days: u32,
}

/// How long what an undo puts back is kept: pupils' data a second time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub struct UndoRule {
    /// Days from the first day of a school year on, or from the day it was applied where that is later, in
    /// which its rollover can be taken back.
    pub rollover_days: u32,
    /// Days in which two records that became one can be taken apart.
    pub merge_days: u32,
}

/// Completed years, both included.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub struct Ages {
    /// At least.
    pub min: i32,
    /// At most.
    pub max: i32,
}

/// How large a class is expected to be.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct ClassSizeRule {
    /// Pupils, at most.
    pub expected_max: usize,
}

/// What is still taken from an adult whose days with a group are over.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub struct HandoverRule {
    /// Days after the last one with the group on which records of the days before are taken.
    pub late_records_days: u32,
}

/// What lessons are made of, where a school has not chosen otherwise.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct LessonRule {
    /// Teaching days after which a GPC comes back: the day itself, then the first time, the
    /// second, and so on.
    pub review_gaps_days: Vec<u32>,
    /// New GPCs in one lesson, beyond which it is worth a look.
    pub new_items_max: usize,
    /// GPCs to go back to in one lesson, at most.
    pub review_items_max: usize,
    /// Days back from the lesson whose check answers weigh what to go back to.
    pub recent_answers_days: u32,
    /// From which part on, in per cent, answers count as often wrong, and a group as having missed
    /// something.
    pub often_percent: u8,
    /// Of the GPCs to go back to, places kept for those often wrong or missed, beside those due.
    pub review_struggled_max: usize,
    /// How those often wrong and those missed weigh against each other.
    pub struggled_weights: StruggledWeights,
    /// By how much of its gap, in per cent, what is easily confused with something new waits.
    pub confusable_waits_percent: u16,
    /// Words to read.
    pub read_words: usize,
    /// Words to spell.
    pub spell_words: usize,
    /// Made-up words to read.
    pub pseudo_words: usize,
    /// Exception words.
    pub exception_words: usize,
    /// Sentences; a lesson with more new exception words has as many as these.
    pub sentences: usize,
}

/// What a part of wrong answers weighs, and what a part of the group that missed something does:
/// only their ratio counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct StruggledWeights {
    /// Wrong answers.
    pub wrong: u8,
    /// Missed by part of the group.
    pub missed: u8,
}

/// When a book can be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub struct BookRule {
    /// The part of its running words, in per cent, that must be decodable or taught.
    pub readable_percent: u8,
}

/// What practice for one pupil is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub struct PracticeRule {
    /// GPCs taught last and not yet secure that practice is about, at most.
    pub current_gpcs_max: usize,
    /// Words to read, unless told.
    pub words: usize,
    /// Sentences to read.
    pub sentences: usize,
}

/// Attainment rules.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct AttainmentRule {
    /// When a GPC counts as secure.
    pub secure: SecureRule,
    /// How the estimate beside it is worked out.
    pub estimate: EstimateRule,
    /// What is asked next, and how long that takes.
    pub asking: AskingRule,
    /// To be shown with a state.
    pub caution: String,
}

/// When a GPC counts as secure for a pupil. No validated threshold exists; a lead may
/// choose others.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub struct SecureRule {
    /// Right on this many separate days,
    pub right_on_days: u8,
    /// one of them at least this many days after it was taught.
    pub days_after_teaching: u16,
    /// Days among them, at most, on which only answers carried in from before the records here
    /// were right.
    pub carried_in_days: u8,
}

/// How a table of answers carried in is read: spellings of a cell, in lower case.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct CarriedCells {
    /// Right.
    pub right: Vec<String>,
    /// Wrong.
    pub wrong: Vec<String>,
    /// Asked, and no answer came.
    pub no_response: Vec<String>,
    /// Not asked: takes back what was carried in. An empty cell says nothing.
    pub not_offered: Vec<String>,
}

/// A caution.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub struct Caution {
    /// Its code.
    pub code: String,
    /// As shown.
    pub text: String,
    /// Whether it is for those who see single pupils, and goes with nothing that leaves.
    #[serde(default)]
    pub internal: bool,
}

impl RulePack {
    /// The year group a file means by a label.
    pub fn year_group_by_label(&self, label: &str) -> Option<&YearGroup> {
        let label = label.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
        self.year_groups.iter().find(|year| {
            year.code == label || year.name.to_lowercase() == label || year.labels.contains(&label)
        })
    }

    /// The calendar year in which the school year of a day starts.
    pub fn school_year_of(&self, day: Date) -> i32 {
        let rule = &self.school_year;
        let before = (day.month(), day.day()) < (rule.starts_month, rule.starts_day);
        day.year() - i32::from(before)
    }

    /// The year group a date of birth belongs to in the school year that starts in `year`; none
    /// for the younger and the older.
    pub fn cohort(&self, born: Date, year: i32) -> Option<&YearGroup> {
        let rule = &self.school_year;
        let cut_off = Date::from_ymd_opt(year, rule.cohort_cut_off_month, rule.cohort_cut_off_day)?;
        let age = age_on(born, cut_off.pred_opt()?);
        self.year_groups.iter().find(|group| group.cohort_age == age)
    }

    /// The year group with this code.
    pub fn year_group(&self, code: &str) -> Option<&YearGroup> {
        self.year_groups.iter().find(|year| year.code == code)
    }
}

#[cfg(test)]
mod tests {
    use crate::rules::{RulesError, ids, pack};

    #[test]
    fn a_day_before_the_start_belongs_to_the_year_before() {
        let england = pack("england").unwrap();
        let year = |day: &str| england.school_year_of(day.parse().unwrap());
        assert_eq!([year("2025-07-16"), year("2025-08-31"), year("2025-09-01")], [2024, 2024, 2025]);
    }

    #[test]
    fn every_pack_is_sound() {
        for id in ids() {
            let pack = pack(id).unwrap();
            assert_eq!(pack.id, id);
            assert!(
                !pack.year_groups.is_empty()
                    && !pack.not_taught_reasons.is_empty()
                    && !pack.cautions.is_empty()
            );
            assert!((1..=100).contains(&pack.books.readable_percent));
            assert!((1..=12).contains(&pack.practice.current_gpcs_max));
            assert!((1..=40).contains(&pack.practice.words));
            let sets = pack.catch_up;
            assert!((1..=sets.minutes).contains(&sets.minutes_per_item) && sets.pupils_most > 0, "{id}");
            let (files, undo) = (pack.pupil_files, pack.undo);
            let days = [files.preview_days, files.undo_days, undo.rollover_days, undo.merge_days];
            assert!(days.iter().all(|days| *days > 0));
            let cells = &pack.carried_cells;
            let lists = [&cells.right, &cells.wrong, &cells.no_response, &cells.not_offered];
            let spellings: Vec<&String> = lists.into_iter().flatten().collect();
            let once: std::collections::BTreeSet<_> = spellings.iter().collect();
            assert_eq!(once.len(), spellings.len(), "{id}: a cell means two things");
            assert!(lists.iter().all(|list| !list.is_empty()));
            assert!(pack.grade_codes.values().all(|code| pack.year_group(code).is_some()), "{id}");
            assert!(!pack.grade_codes.is_empty());
            let lesson = &pack.lesson;
            assert!(lesson.review_struggled_max < lesson.review_items_max);
            let sizes = [lesson.read_words, lesson.spell_words, lesson.sentences, pack.practice.sentences];
            assert!(sizes.iter().all(|size| (1..=40).contains(size)), "{id}");
            assert!(pack.year_groups.is_sorted_by_key(|year| year.min_age));
            let mut labels: Vec<&String> = pack.year_groups.iter().flat_map(|year| &year.labels).collect();
            let count = labels.len();
            labels.sort();
            labels.dedup();
            assert_eq!(labels.len(), count, "{id}: a label means two year groups");
        }
    }

    #[test]
    fn year_groups_are_found_by_any_usual_spelling() {
        let england = pack("england").unwrap();
        for (label, code) in [
            ("R", "reception"),
            (" year  1", "year_1"),
            ("Y2", "year_2"),
            ("1.0", "year_1"),
            ("N", "nursery"),
            ("YR", "reception"),
        ] {
            assert_eq!(england.year_group_by_label(label).map(|y| y.code.as_str()), Some(code), "{label}");
        }
        assert_eq!(england.year_group_by_label("9"), None);
    }

    #[test]
    fn the_default_rule_for_secure_is_the_documented_one() {
        let secure = pack("england").unwrap().attainment.secure;
        assert_eq!((secure.right_on_days, secure.days_after_teaching, secure.carried_in_days), (3, 7, 1));
    }

    #[test]
    fn an_unknown_pack_names_the_known() {
        let Err(RulesError::Unknown { known, .. }) = pack("atlantis") else { panic!("found") };
        assert_eq!(known, "england, south-australia");
    }
}
