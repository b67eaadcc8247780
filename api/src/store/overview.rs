//! What the week's list of what wants doing is made from.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    access::{
        Facts,
        act::{Read, Record},
        authorise,
        resource::{GroupDay, WeeklyOverview},
    },
    catch_up::{Answers, Listed, Stage},
    id::{GroupId, PupilId},
    roster::still_taken,
    time::{Date, Span},
};

use super::{
    Error, PaceFacts, Permit, PupilRow, Tx,
    conn::{db, held_on},
    lesson::{SavedRecord, by_pupil},
    response::Blind,
    schema::{group_member, group_staff, pupil, teaching_group},
};

/// A pupil with items on the open list.
#[derive(Clone, Debug)]
pub struct OpenPupil {
    /// The pupil.
    pub pupil: PupilRow,
    /// The class that day, to tell namesakes apart.
    pub class: Option<String>,
    /// The pupil's group that day; the first by name where there are several.
    pub group: GroupId,
    /// Its name.
    pub group_name: String,
    /// How many items are to be taught, those answered wrong since they were caught up too.
    pub to_teach: u32,
    /// How many were taught since and wait for a check.
    pub to_check: u32,
    /// The day on which the first of them was missed.
    pub since: Date,
}

impl<'tx> Tx<'tx> {
    /// The groups taught on a day, and their pupils with something missed, by name. The school is the subject.
    ///
    /// # Errors
    /// If the store fails.
    pub fn overview_facts(
        &mut self,
        _permit: &Permit<'tx, Read, WeeklyOverview>,
        on: Date,
    ) -> Result<(Vec<PaceFacts>, Vec<OpenPupil>), Error> {
        self.about("school", self.school().uuid());
        let records = self.all_records(on)?;
        let members = self.members_on(on)?;
        let with_pupils: BTreeSet<GroupId> = members.iter().map(|(_, group, _)| *group).collect();
        let open = self.open_pupils(on, members, &records)?;
        Ok((self.all_pace_facts(on, &with_pupils, records)?, open))
    }

    /// Of some groups those of which the reader may record what was taught on a day; asked at once, without statements a
    /// group.
    ///
    /// # Errors
    /// If the store fails.
    pub fn groups_to_record(
        &mut self,
        _permit: &Permit<'tx, Read, WeeklyOverview>,
        groups: &BTreeSet<GroupId>,
        on: Date,
    ) -> Result<BTreeSet<GroupId>, Error> {
        let (school, staff, today) = (self.school(), self.actor.staff, self.today());
        let rows: Vec<(GroupId, Date, Option<Date>)> = db!(self.conn, c => group_staff::table
            .filter(group_staff::school_id.eq(school))
            .filter(group_staff::group_id.eq_any(groups))
            .filter(group_staff::staff_id.eq(staff))
            .select((group_staff::group_id, group_staff::from_on, group_staff::until_on))
            .load(c))?;
        let mut days: BTreeMap<GroupId, Vec<Span>> = BTreeMap::new();
        for (group, from, until) in rows {
            days.entry(group).or_default().push(Span { from, until });
        }
        let late = self.rules()?.handover.late_records_days;
        let allowed = |group: &&GroupId| {
            let with = days.get(group).map_or(&[][..], Vec::as_slice);
            let facts = Facts { exists: true, assigned: still_taken(with, on, today, late) };
            authorise::<Record, _>(&self.actor, GroupDay { group: **group, on }, facts).is_ok()
        };
        Ok(groups.iter().filter(allowed).copied().collect())
    }

    /// Who is in which group on a day, by name.
    fn members_on(&mut self, on: Date) -> Result<Vec<(PupilRow, GroupId, String)>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => group_member::table
            .inner_join(pupil::table.on(pupil::school_id.eq(group_member::school_id).and(pupil::id.eq(group_member::pupil_id))))
            .inner_join(teaching_group::table.on(teaching_group::school_id.eq(group_member::school_id)
                .and(teaching_group::id.eq(group_member::group_id))))
            .filter(group_member::school_id.eq(school))
            .filter(held_on!(group_member, on))
            .order((pupil::search_key, pupil::id, teaching_group::name, teaching_group::id))
            .select((PupilRow::as_select(), teaching_group::id, teaching_group::name))
            .load(c))?)
    }

    /// The open lists of all members, as each group's catch-up shows them to who reads checks.
    fn open_pupils(
        &mut self,
        on: Date,
        members: Vec<(PupilRow, GroupId, String)>,
        records: &[SavedRecord],
    ) -> Result<Vec<OpenPupil>, Error> {
        let mut classes = self.class_names(on)?;
        let (pasts, catch_ups) = (self.all_pasts(on)?, self.all_catch_ups(on)?);
        let contents = self.contents_pinned(records, &pasts, &catch_ups)?;
        let listed = Listed::of(contents.iter().map(|content| &**content));
        let of_pupil = by_pupil(records);
        let pupils: BTreeSet<PupilId> = members.iter().map(|(pupil, ..)| pupil.id).collect();
        let pupils: Vec<PupilId> = pupils.into_iter().collect();
        let (answers, none) = (self.answers_of(&pupils, listed.items(), on, &Blind::new())?, Answers::new());
        let mut found: Vec<OpenPupil> = Vec::new();
        let mut last = None;
        for (pupil, group, group_name) in members {
            if last.replace(pupil.id) == Some(pupil.id) {
                continue;
            }
            let theirs = of_pupil.get(&pupil.id).map_or(&[][..], Vec::as_slice);
            let open = listed.open(
                pupil.id,
                pasts.iter().map(|past| &past.carried),
                theirs.iter().copied(),
                catch_ups.iter().map(|saved| &saved.catch_up),
                Some(answers.get(&pupil.id).unwrap_or(&none)),
            );
            let Some(since) = open.iter().map(|item| item.missed_on).min() else { continue };
            let count = |stage: Stage| {
                u32::try_from(open.iter().filter(|item| item.stage == stage).count()).unwrap_or(u32::MAX)
            };
            found.push(OpenPupil {
                class: classes.remove(&pupil.id),
                to_teach: count(Stage::ToTeach),
                to_check: count(Stage::ToCheck),
                pupil,
                group,
                group_name,
                since,
            });
        }
        Ok(found)
    }
}
