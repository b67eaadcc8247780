//! What the week's list of what wants doing is made from.

use std::collections::BTreeMap;

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Read, resource::WeeklyOverview},
    catch_up::{Stage, open_items},
    id::{GroupId, PupilId},
    lesson::Record,
    time::Date,
};

use super::{
    Error, PaceFacts, Permit, PupilRow, Tx,
    conn::{db, held_on},
    schema::{class, class_member, group_member, pupil, teaching_group},
};

/// A pupil with items missed and not taught since.
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
    /// How many items.
    pub items: u32,
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
        let pace = self.all_pace_facts(on, &records)?;
        let records: Vec<Record> = records.into_iter().map(|saved| saved.record).collect();
        Ok((pace, self.pupils_with_missed(on, &records)?))
    }

    fn pupils_with_missed(&mut self, on: Date, records: &[Record]) -> Result<Vec<OpenPupil>, Error> {
        let school = self.school();
        let rows: Vec<(PupilRow, GroupId, String)> = db!(self.conn, c => group_member::table
            .inner_join(pupil::table.on(pupil::school_id.eq(group_member::school_id).and(pupil::id.eq(group_member::pupil_id))))
            .inner_join(teaching_group::table.on(teaching_group::school_id.eq(group_member::school_id)
                .and(teaching_group::id.eq(group_member::group_id))))
            .filter(group_member::school_id.eq(school))
            .filter(held_on!(group_member, on))
            .order((pupil::search_key, pupil::id, teaching_group::name, teaching_group::id))
            .select((PupilRow::as_select(), teaching_group::id, teaching_group::name))
            .load(c))?;
        let classes: Vec<(PupilId, String)> = db!(self.conn, c => class_member::table
            .inner_join(class::table.on(class::school_id.eq(class_member::school_id).and(class::id.eq(class_member::class_id))))
            .filter(class_member::school_id.eq(school))
            .filter(held_on!(class_member, on))
            .select((class_member::pupil_id, class::name))
            .load(c))?;
        let mut classes: BTreeMap<PupilId, String> = classes.into_iter().collect();
        let (pasts, catch_ups) = (self.all_pasts(on)?, self.all_catch_ups(on)?);
        let mut of_pupil: BTreeMap<PupilId, Vec<&Record>> = BTreeMap::new();
        for record in records {
            for entry in &record.register {
                of_pupil.entry(entry.pupil_id).or_default().push(record);
            }
        }
        let mut found: Vec<OpenPupil> = Vec::new();
        for (pupil, group, group_name) in rows {
            if found.last().is_some_and(|last| last.pupil.id == pupil.id) {
                continue;
            }
            let theirs = of_pupil.get(&pupil.id).map_or(&[][..], Vec::as_slice);
            let open = open_items(
                pupil.id,
                pasts.iter().map(|past| &past.carried),
                theirs.iter().copied(),
                catch_ups.iter().map(|saved| &saved.catch_up),
                None,
            );
            let open: Vec<_> = open.into_iter().filter(|item| item.stage == Stage::ToTeach).collect();
            let Some(since) = open.iter().map(|item| item.missed_on).min() else { continue };
            found.push(OpenPupil {
                class: classes.remove(&pupil.id),
                items: u32::try_from(open.len()).unwrap_or(u32::MAX),
                pupil,
                group,
                group_name,
                since,
            });
        }
        Ok(found)
    }
}
