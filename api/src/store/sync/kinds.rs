//! Which kinds of record a scope shows to whom: the policy's answers, put together.

use plumbline_core::{
    access::{
        Facts,
        act::Read,
        authorise,
        resource::{
            Calendar, Checks, Class, ClassChecks, Group, GroupChecks, GroupPast, Groups, PupilAnswering,
            SchoolProfile, Sequences,
        },
    },
    id::PupilId,
};
use uuid::Uuid;

use crate::store::{Error, Tx, change::Scope};

plumbline_core::vocabulary! {
    /// A kind of record that devices hold.
    pub enum RecordKind {
        /// The school, with what forms need of its rule pack.
        School = "school",
        /// A member of staff, by name.
        StaffName = "staff_name",
        /// A school year with its half terms.
        SchoolYear = "school_year",
        /// Days without lessons.
        Closure = "closure",
        /// A published version of a sequence, with its content.
        SequenceVersion = "sequence_version",
        /// A check.
        Check = "check",
        /// A round of checks, without pupils.
        CheckRound = "check_round",
        /// A class with its adults.
        Class = "class",
        /// A pupil: name, class and year group.
        Pupil = "pupil",
        /// A group with its adults and the version it keeps.
        Group = "group",
        /// A pupil's days in a group.
        GroupMember = "group_member",
        /// A group's weekly lessons.
        Timetable = "timetable",
        /// What a group was taught before its records begin.
        CarriedIn = "carried_in",
        /// A lesson with its register.
        LessonRecord = "lesson_record",
        /// Catch-up given to some of a group.
        CatchUp = "catch_up",
        /// An answer to a check.
        Response = "response",
        /// A sitting: who asks.
        Sitting = "sitting",
        /// How a pupil answers checks, and what is not accessible.
        PupilAnswering = "pupil_answering",
        /// That a pupil is not asked.
        Exemption = "exemption",
    }
}

/// What is shown of pupils' checks.
const CHECKS: [RecordKind; 3] = [RecordKind::Response, RecordKind::Sitting, RecordKind::Exemption];

impl RecordKind {
    /// Whether records of this kind are about pupils, so that giving them out is a reading to be logged.
    pub fn is_of_pupils(self) -> bool {
        !matches!(
            self,
            Self::School
                | Self::StaffName
                | Self::SchoolYear
                | Self::Closure
                | Self::SequenceVersion
                | Self::Check
                | Self::CheckRound
                | Self::Class
                | Self::Group
                | Self::Timetable
        )
    }

    const fn bit(self) -> u32 {
        1 << self as u32
    }

    /// Kinds as bits, for a cursor.
    pub(super) fn bits(kinds: &[Self]) -> u32 {
        kinds.iter().fold(0, |bits, kind| bits | kind.bit())
    }
}

impl Tx<'_> {
    /// The kinds of record a scope shows to the actor today; none where the scope is not the actor's to hold.
    pub(super) fn shown(&mut self, scope: Scope) -> Result<Vec<RecordKind>, Error> {
        match scope {
            Scope::School => self.shown_of_school(),
            Scope::Class(id) => {
                let mut kinds = Vec::new();
                if self.permit_if_allowed::<Read, _>(Class(id))?.is_some() {
                    kinds.extend([RecordKind::Class, RecordKind::Pupil]);
                    let checks = self.permit_if_allowed::<Read, _>(ClassChecks(id))?.is_some();
                    kinds.extend(CHECKS.into_iter().filter(|_| checks));
                    kinds.extend(self.shows_answering().then_some(RecordKind::PupilAnswering));
                }
                Ok(kinds)
            }
            Scope::Group(id) => {
                let mut kinds = Vec::new();
                if self.permit_if_allowed::<Read, _>(Group(id))?.is_some() {
                    use RecordKind::{CatchUp, GroupMember, LessonRecord, Pupil, Timetable};
                    kinds.extend([RecordKind::Group, GroupMember, Timetable, Pupil, LessonRecord, CatchUp]);
                    let past = self.permit_if_allowed::<Read, _>(GroupPast(id))?.is_some();
                    kinds.extend(past.then_some(RecordKind::CarriedIn));
                    let checks = self.permit_if_allowed::<Read, _>(GroupChecks(id))?.is_some();
                    kinds.extend(CHECKS.into_iter().filter(|_| checks));
                    kinds.extend(self.shows_answering().then_some(RecordKind::PupilAnswering));
                }
                Ok(kinds)
            }
        }
    }

    fn shown_of_school(&mut self) -> Result<Vec<RecordKind>, Error> {
        let mut kinds = Vec::new();
        if self.permit_if_allowed::<Read, _>(SchoolProfile)?.is_some() {
            kinds.push(RecordKind::School);
        }
        if self.permit_if_allowed::<Read, _>(Groups)?.is_some() {
            kinds.push(RecordKind::StaffName);
        }
        if self.permit_if_allowed::<Read, _>(Calendar)?.is_some() {
            kinds.extend([RecordKind::SchoolYear, RecordKind::Closure]);
        }
        if self.permit_if_allowed::<Read, _>(Sequences)?.is_some() {
            kinds.push(RecordKind::SequenceVersion);
        }
        if self.permit_if_allowed::<Read, _>(Checks)?.is_some() {
            kinds.extend([RecordKind::Check, RecordKind::CheckRound]);
        }
        Ok(kinds)
    }

    /// Whether how pupils answer is shown to the actor where they are in a scope that the actor is assigned to: the
    /// same of each of them.
    fn shows_answering(&self) -> bool {
        let assigned = Facts { exists: true, assigned: true };
        let any = PupilAnswering(PupilId::from_uuid(Uuid::nil()));
        authorise::<Read, _>(self.actor(), any, assigned).is_ok()
    }
}
