//! What the attainment report counts, gathered in one snapshot.

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

use diesel::prelude::*;
use plumbline_core::{
    access::resource::SchoolReport,
    attainment::{PupilFacts, VersionUsed},
    calendar::{Half, HalfTerm, half_of_slot},
    check::{CheckKind, Outcome, in_force},
    id::{CheckItemId, ClassId, GroupId, ItemId, PupilId, VersionId},
    lesson::coverage,
    report::{LessonDays, LessonsHad, lessons_had},
    sequence::{Content, ItemKind},
    time::Date,
};

use super::{
    Error, Permit, SavedCarriedIn, SavedCatchUp, Tx,
    conn::{db, held_on},
    learning::{answer_of, carried_answer},
    lesson::{SavedRecord, by_pupil},
    schema::{class, class_member, group_member, pupil, pupil_year, sequence},
};

/// What a report is counted from.
#[derive(Debug)]
pub struct ReportFacts {
    /// Every pupil on roll on the as-of date.
    pub pupils: BTreeMap<PupilId, PupilFacts>,
    /// The versions the lessons up to then were taught from.
    pub versions: Vec<VersionUsed>,
    pub(super) records: Vec<SavedRecord>,
    pasts: Vec<SavedCarriedIn>,
    catch_ups: Vec<SavedCatchUp>,
    /// What is new in any lesson.
    new: BTreeSet<ItemId>,
    days: LessonDays,
}

impl ReportFacts {
    /// The lessons that were for each pupil on roll. It takes its time.
    pub(super) fn lessons(&self) -> BTreeMap<PupilId, LessonsHad> {
        let of_pupil = by_pupil(&self.records);
        let had = |pupil: &PupilId| {
            let records = || of_pupil.get(pupil).into_iter().flatten().copied();
            let carried = self.pasts.iter().map(|past| &past.carried);
            let caught_up = self.catch_ups.iter().map(|saved| &saved.catch_up);
            let covered = coverage(*pupil, carried, records(), caught_up);
            lessons_had(*pupil, records(), &covered, &self.new, self.days)
        };
        self.pupils.keys().map(|pupil| (*pupil, had(pupil))).collect()
    }
}

impl<'tx> Tx<'tx> {
    /// Gathers the facts of a half term as of a day.
    ///
    /// # Errors
    /// If the store fails.
    pub fn report_facts<A>(
        &mut self,
        _permit: &Permit<'tx, A, SchoolReport>,
        half_term: &HalfTerm,
        as_of: Date,
    ) -> Result<ReportFacts, Error> {
        self.about("half_term", half_term.id.uuid());
        let mut pupils = self.pupils_on_roll(as_of)?;
        let records = self.all_records(as_of)?;
        let catch_ups = self.all_catch_ups(as_of)?;
        let contents = self.contents_of(records.iter().map(|saved| saved.record.version))?;
        let pasts = self.all_pasts(as_of)?;
        let carried_from = self.contents_of(pasts.iter().map(|past| past.version))?;
        let gpcs = items_of(contents.values().chain(carried_from.values()), |kind| kind == ItemKind::Gpc);
        self.add_teaching(&mut pupils, (&records, &pasts, &catch_ups), &gpcs, as_of)?;
        let begun = self.calendar()?.years.into_iter().map(|year| year.starts_on);
        let year_from = begun.filter(|from| *from <= as_of).max().unwrap_or(half_term.starts_on);
        let days = LessonDays { year_from, half_term_from: half_term.starts_on };
        let new = items_of(contents.values(), |kind| kind != ItemKind::Review);
        self.add_answers(&mut pupils, half_term, as_of)?;
        let this_year = records.iter().map(|saved| &saved.record).filter(|record| record.on >= year_from);
        let this_year = this_year.map(|record| record.version).collect();
        let versions = self.versions_used(&contents, &this_year)?;
        Ok(ReportFacts { pupils, versions, records, pasts, catch_ups, new, days })
    }

    /// Who is in a class or a group that day. A pupil counts once: where two classes
    /// overlap, in the one that comes first by name.
    fn pupils_on_roll(&mut self, on: Date) -> Result<BTreeMap<PupilId, PupilFacts>, Error> {
        let school = self.school();
        let rows: Vec<(PupilId, ClassId, String)> = db!(self.conn, c => class_member::table
            .inner_join(class::table.on(class::school_id.eq(class_member::school_id).and(class::id.eq(class_member::class_id))))
            .inner_join(pupil::table.on(pupil::school_id.eq(class_member::school_id).and(pupil::id.eq(class_member::pupil_id))))
            .filter(class_member::school_id.eq(school))
            .filter(held_on!(class_member, on))
            .filter(pupil::left_on.is_null().or(pupil::left_on.ge(on)))
            .order((class::name.desc(), class::id))
            .select((pupil::id, class::id, class::name))
            .load(c))?;
        let mut pupils: BTreeMap<PupilId, PupilFacts> = BTreeMap::new();
        for (id, _, name) in rows {
            pupils.entry(id).or_default().class = Some(name);
        }
        let in_groups: Vec<PupilId> = db!(self.conn, c => group_member::table
            .inner_join(pupil::table.on(pupil::school_id.eq(group_member::school_id).and(pupil::id.eq(group_member::pupil_id))))
            .filter(group_member::school_id.eq(school))
            .filter(held_on!(group_member, on))
            .filter(pupil::left_on.is_null().or(pupil::left_on.ge(on)))
            .select(pupil::id)
            .load(c))?;
        for id in in_groups {
            pupils.entry(id).or_default();
        }
        let rules = self.rules()?;
        let year = self.school_year_of(on)?;
        let years: Vec<(PupilId, String)> = db!(self.conn, c => pupil_year::table
            .filter(pupil_year::school_id.eq(school))
            .filter(pupil_year::year.le(year))
            .order((pupil_year::pupil_id, pupil_year::year))
            .select((pupil_year::pupil_id, pupil_year::year_group))
            .load(c))?;
        for (id, code) in years {
            if let Some(facts) = pupils.get_mut(&id) {
                facts.year_group = Some(rules.year_group(&code).map_or(code, |year| year.name.clone()));
            }
        }
        Ok(pupils)
    }

    /// The contents of some versions, each read once.
    pub(super) fn contents_of(
        &mut self,
        versions: impl Iterator<Item = VersionId>,
    ) -> Result<BTreeMap<VersionId, Arc<Content>>, Error> {
        let ids: BTreeSet<VersionId> = versions.collect();
        ids.into_iter().map(|id| Ok((id, self.version_row(id)?.content))).collect()
    }

    /// The contents that records, what was carried in and catch-up pin.
    pub(super) fn contents_pinned(
        &mut self,
        records: &[super::SavedRecord],
        pasts: &[super::SavedCarriedIn],
        catch_ups: &[super::SavedCatchUp],
    ) -> Result<Vec<Arc<Content>>, Error> {
        let pinned = records.iter().map(|saved| saved.record.version);
        let caught_up = catch_ups.iter().flat_map(|saved| &saved.catch_up.versions).copied();
        let ids = pinned.chain(pasts.iter().map(|past| past.version)).chain(caught_up);
        Ok(self.contents_of(ids)?.into_values().collect())
    }

    /// Expected of a pupil: the GPCs taught to the groups the pupil is in on the day, and those
    /// taught to any group while the pupil was in it, and those taught in catch-up; with the day each
    /// was taught to this very pupil. A new group takes nothing away. What was carried in for this pupil and taught by no
    /// lesson of those is kept apart.
    fn add_teaching(
        &mut self,
        pupils: &mut BTreeMap<PupilId, PupilFacts>,
        (records, pasts, catch_ups): (&[SavedRecord], &[SavedCarriedIn], &[SavedCatchUp]),
        gpcs: &BTreeSet<ItemId>,
        on: Date,
    ) -> Result<(), Error> {
        let of_pupil = by_pupil(records);
        let recorded: BTreeSet<GroupId> = records.iter().map(|saved| saved.record.group).collect();
        let school = self.school();
        let members: Vec<(PupilId, GroupId)> = db!(self.conn, c => group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(held_on!(group_member, on))
            .select((group_member::pupil_id, group_member::group_id))
            .load(c))?;
        // What was taught on a day, or in a half of it, on which a pupil does not come was not for this pupil.
        let mut of_group: BTreeMap<GroupId, Vec<PupilId>> = BTreeMap::new();
        for (pupil, group) in members.into_iter().filter(|(_, group)| recorded.contains(group)) {
            of_group.entry(group).or_default().push(pupil);
        }
        let calendars = self.calendars_of_groups(&of_group.keys().copied().collect())?;
        for (group, (own, lines)) in &calendars {
            let members = of_group.get(group).map_or(&[][..], Vec::as_slice);
            for SavedRecord { record, .. } in records.iter().filter(|saved| saved.record.group == *group) {
                let half: Option<Half> = half_of_slot(own, lines, record.on, record.slot);
                let items = || record.items.iter().filter(|item| gpcs.contains(item));
                for pupil in members.iter().filter(|pupil| own.comes(**pupil, record.on, half)) {
                    if let Some(facts) = pupils.get_mut(pupil) {
                        facts.expected.extend(items().map(|item| (*item, None)));
                    }
                }
            }
        }
        for (pupil, facts) in pupils.iter_mut() {
            let records = of_pupil.get(pupil).map_or(&[][..], Vec::as_slice);
            let here = records.iter().flat_map(|record| record.items.iter().copied());
            facts.expected.extend(here.filter(|item| gpcs.contains(item)).map(|item| (item, None)));
            let carried = pasts.iter().map(|past| &past.carried);
            let caught_up = catch_ups.iter().map(|saved| &saved.catch_up);
            let covered = coverage(*pupil, carried, records.iter().copied(), caught_up);
            for (item, line) in covered.into_iter().filter(|(item, _)| gpcs.contains(item)) {
                match facts.expected.get_mut(&item) {
                    Some(day) => *day = line.taught_on,
                    // Nobody's lesson here was about it, and an adult taught it here.
                    None if line.catch_ups > 0 => _ = facts.expected.insert(item, line.taught_on),
                    None => _ = facts.carried_in.insert(item, line.taught_on),
                }
            }
        }
        Ok(())
    }

    fn add_answers(
        &mut self,
        pupils: &mut BTreeMap<PupilId, PupilFacts>,
        half_term: &HalfTerm,
        as_of: Date,
    ) -> Result<(), Error> {
        let mut asks: BTreeMap<CheckItemId, (CheckKind, Option<ItemId>)> = BTreeMap::new();
        for check in self.all_checks()? {
            asks.extend(check.items.iter().map(|item| (item.id, (check.kind, item.gpc_id))));
        }
        let responses = self.all_responses(as_of)?.into_iter().map(|(_, response)| response).collect();
        for one in in_force(responses) {
            let (Some(facts), Some((kind, gpc))) = (pupils.get_mut(&one.pupil), asks.get(&one.item)) else {
                continue;
            };
            if one.outcome == Outcome::NotOffered {
                continue;
            }
            let within = half_term.starts_on <= one.on && one.on <= half_term.ends_on;
            if within {
                facts.checked_on = facts.checked_on.max(Some(one.on));
            }
            match (kind, gpc) {
                (CheckKind::GpcRecognition | CheckKind::Placement, Some(gpc)) => {
                    let answer = answer_of(&one);
                    facts.gpc_answers.entry(*gpc).or_default().push(answer);
                }
                (CheckKind::WordReading, _) if within => {
                    facts.words_offered += 1;
                    facts.words_right += u64::from(one.outcome == Outcome::Right);
                }
                _ => {}
            }
        }
        for row in self.all_carried(as_of)? {
            let Some(facts) = pupils.get_mut(&row.pupil_id) else { continue };
            for (gpc, outcome) in row.by_gpc()? {
                let answer = carried_answer(row.on_date, outcome);
                facts.gpc_answers.entry(gpc).or_default().push(answer);
            }
        }
        Ok(())
    }

    fn versions_used(
        &mut self,
        contents: &BTreeMap<VersionId, Arc<Content>>,
        this_year: &BTreeSet<VersionId>,
    ) -> Result<Vec<VersionUsed>, Error> {
        let school = self.school();
        contents
            .keys()
            .map(|id| {
                let head = self.version_row(*id)?.head;
                let name = db!(self.conn, c => sequence::table
                    .find((school, head.sequence_id))
                    .select(sequence::name)
                    .first(c))?;
                let this_year = this_year.contains(id);
                Ok(VersionUsed { version_id: *id, sequence: name, number: head.number, this_year })
            })
            .collect()
    }
}

fn items_of<'a>(
    contents: impl Iterator<Item = &'a Arc<Content>>,
    of_kind: impl Fn(ItemKind) -> bool,
) -> BTreeSet<ItemId> {
    let items = contents.flat_map(|content| content.items());
    items.filter(|item| of_kind(item.kind)).map(|item| item.id).collect()
}
