//! What is handed on of pupils: to next year's adults, and with one who leaves.

use std::collections::{BTreeMap, BTreeSet};

use plumbline_core::{
    access::{
        act::Read,
        resource::{ClassChecks, GroupChecks, PupilAnswering, PupilLearning, PupilTransfer},
    },
    catch_up::{Listed, OpenItem},
    check::{ResponseMode, SpeechNote},
    id::{ItemId, PupilId},
    sequence::Item,
};

use super::{
    AttainmentFacts, Error, Permit, PupilRow, PupilView, Tx, WhatHelpedRow, attainment::LessonsBehind,
};

/// What is handed on of some pupils.
#[derive(Debug, Default)]
pub struct HandingOn {
    /// What their attainment is told from.
    pub attainment: AttainmentFacts,
    /// What else than GPCs one of them was taught or missed, reviews left out, in teaching order.
    pub others: Vec<Item>,
    /// What each missed and is still open, longest first.
    pub open: BTreeMap<PupilId, Vec<OpenItem>>,
    /// How they usually answer; who is left out speaks.
    pub modes: BTreeMap<PupilId, ResponseMode>,
    /// How they usually say sounds: of those alone whose note the actor may read.
    pub speech: BTreeMap<PupilId, SpeechNote>,
    /// The line on what helped.
    pub what_helped: BTreeMap<PupilId, WhatHelpedRow>,
}

impl<'tx> Tx<'tx> {
    /// What is handed on of one pupil, who is the subject.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pupil_handing_on(
        &mut self,
        permit: &Permit<'tx, Read, PupilLearning>,
    ) -> Result<HandingOn, Error> {
        let pupil = permit.resource().0;
        self.about("pupil", pupil.uuid());
        let class = self.class_names(self.today())?.remove(&pupil);
        let row = self.pupil_row(pupil)?;
        self.handing_on(vec![(row, class)])
    }

    /// The same of a group's pupils of today. The group is the subject.
    ///
    /// # Errors
    /// If the store fails.
    pub fn group_handing_on(&mut self, permit: &Permit<'tx, Read, GroupChecks>) -> Result<HandingOn, Error> {
        let (group, today) = (permit.resource().0, self.today());
        self.about("group", group.uuid());
        let members = self.members_of(group, today)?;
        self.handing_on(members.into_iter().map(|row| (row.pupil, row.class)).collect())
    }

    /// The same of a class's pupils of today. The class is the subject.
    ///
    /// # Errors
    /// If the store fails.
    pub fn class_handing_on(&mut self, permit: &Permit<'tx, Read, ClassChecks>) -> Result<HandingOn, Error> {
        let (class, today) = (permit.resource().0, self.today());
        self.about("class", class.uuid());
        let classes = self.class_names(today)?;
        let with_class = |row: PupilRow| {
            let class = classes.get(&row.id).cloned();
            (row, class)
        };
        let pupils = self.pupils_of_class(class)?.into_iter().map(with_class).collect();
        self.handing_on(pupils)
    }

    /// What goes to another school with a pupil, who is the subject, and the pupil's page.
    ///
    /// # Errors
    /// If the store fails.
    pub fn pupil_transfer(
        &mut self,
        permit: &Permit<'tx, Read, PupilTransfer>,
    ) -> Result<(HandingOn, PupilView), Error> {
        let pupil = permit.resource().0;
        self.about("pupil", pupil.uuid());
        let page = self.views_of(&[pupil])?.remove(&pupil).ok_or(Error::Missing)?;
        let (of, _) = self.handed_to_anybody(vec![(page.row.clone(), None)])?;
        Ok((of, page))
    }

    fn handing_on(&mut self, pupils: Vec<(PupilRow, Option<String>)>) -> Result<HandingOn, Error> {
        let ids: Vec<PupilId> = pupils.iter().map(|(row, _)| row.id).collect();
        let (of, behind) = self.handed_to_anybody(pupils)?;
        let open = self.open_of(&ids, &behind)?;
        let readable: Vec<PupilId> = self.allowed_of::<Read, _>(&ids, PupilAnswering)?.into_iter().collect();
        let mut notes = self.speech_notes(&readable, self.today())?;
        let note = |pupil: PupilId| (pupil, notes.remove(&pupil).unwrap_or_default());
        let speech = readable.into_iter().map(note).collect();
        Ok(HandingOn { open, speech, ..of })
    }

    /// What goes to colleagues and to another school: all but what is open here, and how a pupil says sounds.
    fn handed_to_anybody(
        &mut self,
        pupils: Vec<(PupilRow, Option<String>)>,
    ) -> Result<(HandingOn, LessonsBehind), Error> {
        let ids: Vec<PupilId> = pupils.iter().map(|(row, _)| row.id).collect();
        let (attainment, behind) = self.attainment_and_lessons(pupils)?;
        let covered: BTreeSet<ItemId> =
            attainment.learning.values().flat_map(|records| records.covered.keys()).copied().collect();
        let listed = listed(&behind);
        let others = listed.items().iter().filter(|item| item.gpc.is_none() && covered.contains(&item.id));
        let others = others.map(|item| (*item).clone()).collect();
        let what_helped = self.what_helped_of(&ids)?;
        let of = HandingOn {
            attainment,
            others,
            modes: self.usual_modes(&ids, self.today())?,
            what_helped: what_helped.into_iter().map(|row| (row.pupil_id, row)).collect(),
            ..HandingOn::default()
        };
        Ok((of, behind))
    }

    /// What each pupil missed and is still open today.
    fn open_of(
        &mut self,
        pupils: &[PupilId],
        behind: &LessonsBehind,
    ) -> Result<BTreeMap<PupilId, Vec<OpenItem>>, Error> {
        let listed = listed(behind);
        let answers = self.answers_of(pupils, listed.items(), self.today(), &behind.blind)?;
        let none = BTreeMap::new();
        let open = |pupil: &PupilId| {
            let open = listed.open(
                *pupil,
                behind.pasts.iter().map(|past| &past.carried),
                behind.records.iter().map(|saved| &saved.record),
                behind.catch_ups.iter().map(|saved| &saved.catch_up),
                Some(answers.get(pupil).unwrap_or(&none)),
            );
            (*pupil, open)
        };
        Ok(pupils.iter().map(open).collect())
    }
}

fn listed(behind: &LessonsBehind) -> Listed<'_> {
    Listed::of(behind.contents.iter().map(|content| &**content))
}
