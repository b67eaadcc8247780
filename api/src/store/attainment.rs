//! What attainment of pupils is told from, and what the values of the estimate are fitted to.

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

use diesel::{
    dsl::{count_star, max},
    prelude::*,
};
use plumbline_core::{
    access::{
        act::Read,
        resource::{ClassChecks, GroupChecks, PupilLearning},
    },
    attainment::{Answer, History, PupilRecords},
    check::Outcome,
    id::{CheckId, GroupId, ItemId, PupilId},
    lesson::items_taught,
    sequence::{Content, Item},
};

use super::{
    Error, Permit, PupilRow, SavedCarriedIn, SavedCatchUp, SavedRecord, Tx,
    conn::{db, held_on},
    learning::records_of,
    lesson::{MarkRow, RecordRow, by_pupil, join},
    pupils::BATCH,
    response::Blind,
    schema::{group_member, lesson_mark, lesson_record, response},
};

/// What attainment of some pupils is told from.
#[derive(Debug, Default)]
pub struct AttainmentFacts {
    /// The pupils with their class, to tell namesakes apart; by name.
    pub pupils: Vec<(PupilRow, Option<String>)>,
    /// What is on record of each.
    pub learning: BTreeMap<PupilId, PupilRecords>,
    /// The GPCs that concern one of them, in teaching order.
    pub items: Vec<Item>,
    /// Those that concern each: taught to a group the pupil is in, taught to the pupil or missed, or answered.
    pub concern: BTreeMap<PupilId, BTreeSet<ItemId>>,
}

/// The lessons that attainment of some pupils rests on.
pub(super) struct LessonsBehind {
    /// Records with one of them in the register, with their lines only.
    pub(super) records: Vec<SavedRecord>,
    /// What was carried in for one of them.
    pub(super) pasts: Vec<SavedCarriedIn>,
    /// Catch-up with one of them.
    pub(super) catch_ups: Vec<SavedCatchUp>,
    /// The versions their groups are taught from, and those the others name.
    pub(super) contents: Vec<Arc<Content>>,
    /// What the actor is blind to of their answers.
    pub(super) blind: Blind,
}

/// The answers of a school up to a day that the values of the estimate would be fitted to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct AnswersThere {
    /// Responses, corrected ones too.
    pub answers: usize,
    /// Pupils who gave them.
    pub pupils: usize,
    /// The version of the school at the latest.
    pub version: i64,
}

impl<'tx> Tx<'tx> {
    /// What one pupil's attainment is told from. The pupil is the subject.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pupil_attainment(
        &mut self,
        permit: &Permit<'tx, Read, PupilLearning>,
    ) -> Result<AttainmentFacts, Error> {
        let pupil = permit.resource().0;
        self.about("pupil", pupil.uuid());
        let rows = self.pupil_rows(&[pupil])?;
        self.attainment_of(rows.into_iter().map(|row| (row, None)).collect())
    }

    /// The same of a group's pupils of today. The group is the subject.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_attainment(
        &mut self,
        permit: &Permit<'tx, Read, GroupChecks>,
    ) -> Result<AttainmentFacts, Error> {
        let (group, today) = (permit.resource().0, self.today());
        self.about("group", group.uuid());
        let members = self.members_of(group, today)?;
        self.attainment_of(members.into_iter().map(|row| (row.pupil, row.class)).collect())
    }

    /// The same of a class's pupils of today. The class is the subject.
    ///
    /// # Errors
    /// If the store fails.
    pub fn class_attainment(
        &mut self,
        permit: &Permit<'tx, Read, ClassChecks>,
    ) -> Result<AttainmentFacts, Error> {
        self.about("class", permit.resource().0.uuid());
        let pupils = self.pupils_of_class(permit.resource().0)?;
        self.attainment_of(pupils.into_iter().map(|row| (row, None)).collect())
    }

    fn attainment_of(&mut self, pupils: Vec<(PupilRow, Option<String>)>) -> Result<AttainmentFacts, Error> {
        Ok(self.attainment_and_lessons(pupils)?.0)
    }

    /// What attainment of some pupils is told from, and the lessons behind it.
    pub(super) fn attainment_and_lessons(
        &mut self,
        pupils: Vec<(PupilRow, Option<String>)>,
    ) -> Result<(AttainmentFacts, LessonsBehind), Error> {
        let ids: Vec<PupilId> = pupils.iter().map(|(row, _)| row.id).collect();
        let mut facts = AttainmentFacts { pupils, ..AttainmentFacts::default() };
        let mut behind = LessonsBehind {
            records: self.records_of_pupils(&ids)?,
            pasts: self.pasts_of_pupils(&ids)?,
            catch_ups: self.catch_ups_of(&ids)?,
            contents: Vec::new(),
            blind: self.blind_places(&ids)?,
        };
        let mut answers = self.gpc_answers(&ids, None, &behind.blind)?;
        let of_pupil = by_pupil(&behind.records);
        for id in &ids {
            let theirs = of_pupil.get(id).map_or(&[][..], Vec::as_slice);
            let answers = answers.remove(id).unwrap_or_default();
            let learning = records_of(*id, &behind.pasts, theirs, &behind.catch_ups, answers);
            let asked = |(_, answers): &(&ItemId, &Vec<Answer>)| {
                answers.iter().any(|answer| answer.outcome != Outcome::NotOffered)
            };
            let met =
                learning.covered.keys().chain(learning.answers.iter().filter(asked).map(|(item, _)| item));
            facts.concern.insert(*id, met.copied().collect());
            facts.learning.insert(*id, learning);
        }
        behind.contents = self.contents_behind(&ids, &behind, &mut facts.concern)?;
        let mut seen = BTreeSet::new();
        let items = behind.contents.iter().flat_map(|content| content.items());
        let concerned = |id: &ItemId| facts.concern.values().any(|items| items.contains(id));
        let gpcs = items.filter(|item| item.gpc.is_some());
        facts.items = gpcs.filter(|item| seen.insert(item.id) && concerned(&item.id)).cloned().collect();
        let known: BTreeSet<ItemId> = facts.items.iter().map(|item| item.id).collect();
        facts.concern.values_mut().for_each(|items| items.retain(|item| known.contains(item)));
        Ok((facts, behind))
    }

    /// The versions that pupils' groups of today are taught from, and those their lessons name. What was taught to a
    /// group concerns each of its members.
    fn contents_behind(
        &mut self,
        pupils: &[PupilId],
        behind: &LessonsBehind,
        concern: &mut BTreeMap<PupilId, BTreeSet<ItemId>>,
    ) -> Result<Vec<Arc<Content>>, Error> {
        let today = self.today();
        let mut groups: BTreeMap<GroupId, Vec<PupilId>> = BTreeMap::new();
        for (pupil, group) in self.groups_of_pupils(pupils)? {
            groups.entry(group).or_default().push(pupil);
        }
        let mut contents = Vec::new();
        for (group, members) in groups {
            let lessons = self.lessons_of(group, today)?;
            let given: Vec<_> = lessons.records.into_iter().map(|saved| saved.record).collect();
            let taught = items_taught(lessons.past.as_ref().map(|past| &past.carried), &given);
            for pupil in members {
                concern.entry(pupil).or_default().extend(&taught);
            }
            contents.extend(lessons.version.map(|version| version.content));
        }
        contents.extend(self.contents_pinned(&behind.records, &behind.pasts, &behind.catch_ups)?);
        Ok(contents)
    }

    /// Every record with one of these pupils in its register, with their lines only.
    fn records_of_pupils(&mut self, pupils: &[PupilId]) -> Result<Vec<SavedRecord>, Error> {
        let school = self.school();
        let rows: Vec<(RecordRow, MarkRow)> = db!(self.conn, c => lesson_mark::table
            .inner_join(lesson_record::table.on(lesson_record::school_id.eq(lesson_mark::school_id)
                .and(lesson_record::id.eq(lesson_mark::record_id))))
            .filter(lesson_mark::school_id.eq(school))
            .filter(lesson_mark::pupil_id.eq_any(pupils))
            .filter(lesson_record::deleted_at.is_null())
            .order((lesson_record::on_date, lesson_record::slot, lesson_record::id))
            .select((RecordRow::as_select(), MarkRow::as_select()))
            .load(c))?;
        let (mut records, marks): (Vec<RecordRow>, Vec<MarkRow>) = rows.into_iter().unzip();
        records.dedup_by_key(|row| row.id);
        let records = join(records, marks)?;
        self.of_the_expected(records)
    }

    /// The groups some pupils are in today.
    fn groups_of_pupils(&mut self, pupils: &[PupilId]) -> Result<Vec<(PupilId, GroupId)>, Error> {
        let (school, today) = (self.school(), self.today());
        Ok(db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::pupil_id.eq_any(pupils))
            .filter(held_on!(group_member, today))
            .order((group_member::group_id, group_member::pupil_id))
            .select((group_member::pupil_id, group_member::group_id))
            .load(c))?)
    }

    /// How many answers of days before today the school has that ask for a GPC.
    ///
    /// # Errors
    /// If the store fails.
    pub fn answers_there<A, R>(&mut self, _permit: &Permit<'tx, A, R>) -> Result<AnswersThere, Error> {
        let (school, today) = (self.school(), self.today());
        let asks = self.all_checks()?.into_iter();
        let asks: Vec<CheckId> = asks
            .filter(|check| check.items.iter().any(|item| item.gpc_id.is_some()))
            .map(|check| check.id)
            .collect();
        let mut there = AnswersThere::default();
        let mut pupils: BTreeSet<PupilId> = BTreeSet::new();
        for asks in asks.chunks(BATCH) {
            let rows: Vec<(PupilId, i64, Option<i64>)> = db!(self.conn, c => response::table
                .filter(response::school_id.eq(school))
                .filter(response::check_id.eq_any(asks))
                .filter(response::on_date.lt(today))
                .group_by(response::pupil_id)
                .select((response::pupil_id, count_star(), max(response::v)))
                .load(c))?;
            for (pupil, answers, version) in rows {
                pupils.insert(pupil);
                there.answers += usize::try_from(answers).unwrap_or(0);
                there.version = there.version.max(version.unwrap_or(0));
            }
        }
        there.pupils = pupils.len();
        Ok(there)
    }

    /// What happened about every GPC and pupil of the school before today, without what was carried in as an
    /// answer: one list a pupil. Nothing of it leaves but the values fitted to it.
    ///
    /// # Errors
    /// If the store fails.
    pub fn histories<A, R>(&mut self, _permit: &Permit<'tx, A, R>) -> Result<Vec<Vec<History>>, Error> {
        let (school, today) = (self.school(), self.today());
        let Some(until) = today.pred_opt() else { return Ok(Vec::new()) };
        let pupils: Vec<PupilId> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::on_date.le(until))
            .select(response::pupil_id)
            .distinct()
            .order(response::pupil_id)
            .load(c))?;
        let records = self.all_records(until)?;
        let (pasts, catch_ups) = (self.all_pasts(until)?, self.all_catch_ups(until)?);
        let rule = self.rules()?.attainment.secure;
        let of_pupil = by_pupil(&records);
        let none = BTreeSet::new();
        let mut all = Vec::with_capacity(pupils.len());
        for some in pupils.chunks(BATCH) {
            let mut answers = self.gpc_answers(some, Some(until), &Blind::new())?;
            for pupil in some {
                let theirs = of_pupil.get(pupil).map_or(&[][..], Vec::as_slice);
                let answers = answers.remove(pupil).unwrap_or_default();
                let learning = records_of(*pupil, &pasts, theirs, &catch_ups, answers);
                let history = |(item, answers): (&ItemId, &Vec<Answer>)| {
                    let here: Vec<Answer> =
                        answers.iter().filter(|answer| !answer.carried_in).copied().collect();
                    History::new(learning.days.get(item).unwrap_or(&none), &here, &rule, until)
                };
                all.push(learning.answers.iter().map(history).collect());
            }
        }
        Ok(all)
    }
}
