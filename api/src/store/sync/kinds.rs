//! Which kinds of record a scope shows to whom: the policy's answers, put together.

use plumbline_core::{
    access::{
        Actor, Facts,
        act::Read,
        authorise,
        policy::Permits,
        resource::{
            Calendar, Checks, Class, ClassChecks, Group, GroupChecks, GroupPast, Groups, PupilAnswering,
            Resource, SchoolProfile, Sequences,
        },
    },
    id::PupilId,
};
use uuid::Uuid;

use crate::store::{Tx, change::Scope};

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

/// Any of the actor's own places: the policy says the same of each.
const MINE: Facts = Facts { exists: true, assigned: true };

/// Whether the actor may read what every scope of its kind has, or what the school has once.
fn reads<R: Resource + Permits<Read>>(actor: &Actor, any: R, facts: Facts) -> bool {
    authorise::<Read, _>(actor, any, facts).is_ok()
}

impl Tx<'_> {
    /// The kinds of record that scopes show to the actor, by the kind of scope: the school, and the classes and groups
    /// the actor is assigned to today. No statement: the policy knows no more of scopes of one kind.
    pub(super) fn shown(&self, scope: Scope) -> Vec<RecordKind> {
        match scope {
            Scope::School => self.shown_of_school(),
            Scope::Class(any) => {
                let mut kinds = Vec::new();
                if reads(self.actor(), Class(any), MINE) {
                    kinds.extend([RecordKind::Class, RecordKind::Pupil]);
                    let checks = reads(self.actor(), ClassChecks(any), MINE);
                    kinds.extend(CHECKS.into_iter().filter(|_| checks));
                    kinds.extend(self.shows_answering().then_some(RecordKind::PupilAnswering));
                }
                kinds
            }
            Scope::Group(any) => {
                let mut kinds = Vec::new();
                if reads(self.actor(), Group(any), MINE) {
                    use RecordKind::{CatchUp, GroupMember, LessonRecord, Pupil, Timetable};
                    kinds.extend([RecordKind::Group, GroupMember, Timetable, Pupil, LessonRecord, CatchUp]);
                    let past = reads(self.actor(), GroupPast(any), MINE);
                    kinds.extend(past.then_some(RecordKind::CarriedIn));
                    let checks = reads(self.actor(), GroupChecks(any), MINE);
                    kinds.extend(CHECKS.into_iter().filter(|_| checks));
                    kinds.extend(self.shows_answering().then_some(RecordKind::PupilAnswering));
                }
                kinds
            }
        }
    }

    fn shown_of_school(&self) -> Vec<RecordKind> {
        let (actor, once) = (self.actor(), Facts::OF_THE_SCHOOL);
        let shown: [(bool, &[RecordKind]); 5] = [
            (reads(actor, SchoolProfile, once), &[RecordKind::School]),
            (reads(actor, Groups, once), &[RecordKind::StaffName]),
            (reads(actor, Calendar, once), &[RecordKind::SchoolYear, RecordKind::Closure]),
            (reads(actor, Sequences, once), &[RecordKind::SequenceVersion]),
            (reads(actor, Checks, once), &[RecordKind::Check, RecordKind::CheckRound]),
        ];
        shown.into_iter().filter(|(shown, _)| *shown).flat_map(|(_, kinds)| kinds).copied().collect()
    }

    /// Whether how pupils answer is shown to the actor where they are in a scope that the actor is assigned to.
    fn shows_answering(&self) -> bool {
        reads(self.actor(), PupilAnswering(PupilId::from_uuid(Uuid::nil())), MINE)
    }
}
