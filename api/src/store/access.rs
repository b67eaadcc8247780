//! What the policy needs to know about each resource. Assignments count by their dates.

mod checks;

use std::collections::BTreeSet;

use diesel::{dsl::exists, prelude::*, select};
use plumbline_core::{
    access::{
        Facts, authorise,
        policy::Permits,
        reaches_all,
        resource::{
            AuditLog, Book, Books, Calendar, CatchUpPlans, Checks, Class, ClassChecks, CoverLinks,
            EarlierResults, Group, GroupChecks, GroupDay, GroupPace, GroupPast, GroupProposals, Groups,
            HeldOps, NotAccessibleReviews, OptionalFields, OwnSessions, Passwords, Pupil, PupilAnswering,
            PupilFields, PupilIdentity, PupilLearning, PupilTransfer, Replica, Replicas, Rollovers, Roster,
            Round, RoundAgreement, SchoolProfile, SchoolReport, SchoolWords, Sequence, SequenceDraft,
            SequenceProposals, Sequences, StaffList, StatutoryChecks, StatutoryFigures, StatutoryMarks,
            StatutoryResult, StatutoryWindow, Tablets, TrustReports, TrustShares, WeeklyOverview, Words,
        },
    },
    id::{ClassId, GroupId, PupilId, RoundId, SequenceId, StatutoryWindowId},
    roster::still_taken,
    time::{Date, Span},
};

use super::{
    Error, Locate, Tx,
    conn::{db, held_on},
    schema::{
        book, check_round, class, class_member, class_staff, group_member, group_staff, placement, pupil,
        sequence, statutory_window, teaching_group,
    },
};

macro_rules! of_the_school {
    ($($resource:ty),+ $(,)?) => {
        $(impl Locate for $resource {
            fn facts(&self, _tx: &mut Tx<'_>) -> Result<Facts, Error> {
                Ok(Facts::OF_THE_SCHOOL)
            }
        })+
    };
}

of_the_school!(
    SchoolProfile,
    OwnSessions,
    StaffList,
    Passwords,
    Roster,
    Rollovers,
    OptionalFields,
    Calendar,
    Sequences,
    SequenceProposals,
    Groups,
    Replicas,
    GroupProposals,
    Checks,
    NotAccessibleReviews,
    StatutoryChecks,
    StatutoryFigures,
    StatutoryMarks,
    CatchUpPlans,
    WeeklyOverview,
    SchoolReport,
    TrustShares,
    TrustReports,
    Tablets,
    HeldOps,
    AuditLog,
    Words,
    SchoolWords,
    Books
);

impl Tx<'_> {
    fn is_on_group(&mut self, group: GroupId, on: Date) -> Result<bool, Error> {
        let (school, staff) = (self.school(), self.actor.staff);
        Ok(db!(self.conn, c => select(exists(group_staff::table
            .filter(group_staff::school_id.eq(school))
            .filter(group_staff::group_id.eq(group))
            .filter(group_staff::staff_id.eq(staff))
            .filter(held_on!(group_staff, on))))
            .get_result(c))?)
    }

    /// Whether records of the day are the actor's to read and enter, by the actor's days with the group.
    fn was_on_group(&mut self, group: GroupId, on: Date) -> Result<bool, Error> {
        let (school, staff) = (self.school(), self.actor.staff);
        let days: Vec<(Date, Option<Date>)> = db!(self.conn, c => group_staff::table
            .filter(group_staff::school_id.eq(school))
            .filter(group_staff::group_id.eq(group))
            .filter(group_staff::staff_id.eq(staff))
            .select((group_staff::from_on, group_staff::until_on))
            .load(c))?;
        let days: Vec<Span> = days.into_iter().map(|(from, until)| Span { from, until }).collect();
        Ok(still_taken(&days, on, self.today(), self.rules()?.handover.late_records_days))
    }

    fn is_on_class(&mut self, class: ClassId, on: Date) -> Result<bool, Error> {
        let (school, staff) = (self.school(), self.actor.staff);
        Ok(db!(self.conn, c => select(exists(class_staff::table
            .filter(class_staff::school_id.eq(school))
            .filter(class_staff::class_id.eq(class))
            .filter(class_staff::staff_id.eq(staff))
            .filter(held_on!(class_staff, on))))
            .get_result(c))?)
    }

    /// Whether the pupil is today in a class or group the actor is assigned to today.
    fn is_near_pupil(&mut self, pupil: PupilId) -> Result<bool, Error> {
        let (school, staff, on) = (self.school(), self.actor.staff, self.today());
        let by_group: bool = db!(self.conn, c => select(exists(group_member::table
            .inner_join(group_staff::table.on(group_staff::school_id.eq(group_member::school_id)
                .and(group_staff::group_id.eq(group_member::group_id))))
            .filter(group_member::school_id.eq(school))
            .filter(group_member::pupil_id.eq(pupil))
            .filter(held_on!(group_member, on))
            .filter(group_staff::staff_id.eq(staff))
            .filter(held_on!(group_staff, on))))
            .get_result(c))?;
        if by_group {
            return Ok(true);
        }
        Ok(db!(self.conn, c => select(exists(class_member::table
            .inner_join(class_staff::table.on(class_staff::school_id.eq(class_member::school_id)
                .and(class_staff::class_id.eq(class_member::class_id))))
            .filter(class_member::school_id.eq(school))
            .filter(class_member::pupil_id.eq(pupil))
            .filter(held_on!(class_member, on))
            .filter(class_staff::staff_id.eq(staff))
            .filter(held_on!(class_staff, on))))
            .get_result(c))?)
    }

    /// Whether the pupil was on a day in a class or group the actor was assigned to then, and late records of
    /// that day are still the actor's to enter.
    fn was_near_pupil(&mut self, pupil: PupilId, on: Date) -> Result<bool, Error> {
        let (school, staff) = (self.school(), self.actor.staff);
        type Days = (Date, Option<Date>, Date, Option<Date>);
        let by_group: Vec<Days> = db!(self.conn, c => group_member::table
            .inner_join(group_staff::table.on(group_staff::school_id.eq(group_member::school_id)
                .and(group_staff::group_id.eq(group_member::group_id))))
            .filter(group_member::school_id.eq(school))
            .filter(group_member::pupil_id.eq(pupil))
            .filter(group_staff::staff_id.eq(staff))
            .select((group_member::from_on, group_member::until_on, group_staff::from_on, group_staff::until_on))
            .load(c))?;
        let by_class: Vec<Days> = db!(self.conn, c => class_member::table
            .inner_join(class_staff::table.on(class_staff::school_id.eq(class_member::school_id)
                .and(class_staff::class_id.eq(class_member::class_id))))
            .filter(class_member::school_id.eq(school))
            .filter(class_member::pupil_id.eq(pupil))
            .filter(class_staff::staff_id.eq(staff))
            .select((class_member::from_on, class_member::until_on, class_staff::from_on, class_staff::until_on))
            .load(c))?;
        // Days on which both were there.
        let both = |(from, until, since, last): Days| Span { from: from.max(since), until }.up_to(last);
        let days: Vec<Span> = by_group.into_iter().chain(by_class).filter_map(both).collect();
        Ok(still_taken(&days, on, self.today(), self.rules()?.handover.late_records_days))
    }

    /// The same where what is written down is not of today.
    fn was_near_then(&mut self, pupil: PupilId, on: Option<Date>) -> Result<bool, Error> {
        on.map_or(Ok(false), |on| self.was_near_pupil(pupil, on))
    }

    /// Of some pupils those of whom the policy allows the actor something; asked at once, without statements a pupil.
    pub(super) fn allowed_of<A, R: Locate + Permits<A>>(
        &mut self,
        pupils: &[PupilId],
        resource: impl Fn(PupilId) -> R,
    ) -> Result<BTreeSet<PupilId>, Error> {
        let near = self.near_if_it_counts::<A, R>()?;
        let allowed = |pupil: &&PupilId| {
            let facts = Facts { exists: true, assigned: near.contains(pupil) };
            authorise::<A, R>(&self.actor, resource(**pupil), facts).is_ok()
        };
        Ok(pupils.iter().filter(allowed).copied().collect())
    }

    /// The pupils near the actor; none are looked for where the policy does not ask who is near.
    pub(super) fn near_if_it_counts<A, R: Permits<A>>(&mut self) -> Result<BTreeSet<PupilId>, Error> {
        if reaches_all::<A, R>(&self.actor) {
            Ok(BTreeSet::new())
        } else {
            self.pupils_near(self.actor.staff)
        }
    }

    fn group_exists(&mut self, group: GroupId) -> Result<bool, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => select(exists(teaching_group::table.find((school, group)))).get_result(c))?)
    }

    fn sequence_exists(&mut self, sequence: SequenceId) -> Result<bool, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => select(exists(sequence::table.find((school, sequence)))).get_result(c))?)
    }

    fn round_exists(&mut self, round: RoundId) -> Result<bool, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => select(exists(check_round::table.find((school, round)))).get_result(c))?)
    }

    /// The pupil a round is the placement of; none for a round of the school.
    fn placed_in(&mut self, round: RoundId) -> Result<Option<PupilId>, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => placement::table
            .find((school, round))
            .select(placement::pupil_id)
            .first(c)
            .optional())?)
    }

    fn statutory_window_exists(&mut self, id: StatutoryWindowId) -> Result<bool, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => select(exists(statutory_window::table.find((school, id)))).get_result(c))?)
    }

    fn pupil_exists(&mut self, pupil: PupilId) -> Result<bool, Error> {
        let school = self.school();
        Ok(db!(self.conn, c => select(exists(pupil::table.find((school, pupil)))).get_result(c))?)
    }
}

impl Locate for Replica {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        let (found, me) = (tx.replica_found(self.0)?, tx.actor.staff);
        Ok(Facts { exists: found.is_some(), assigned: found.is_some_and(|row| row.staff_id == me) })
    }
}

impl Locate for Class {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        let (school, today) = (tx.school(), tx.today());
        let exists = db!(tx.conn, c => select(exists(class::table.find((school, self.0)))).get_result(c))?;
        Ok(Facts { exists, assigned: tx.is_on_class(self.0, today)? })
    }
}

impl Locate for ClassChecks {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        Class(self.0).facts(tx)
    }
}

impl Locate for Group {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        let today = tx.today();
        Ok(Facts { exists: tx.group_exists(self.0)?, assigned: tx.is_on_group(self.0, today)? })
    }
}

impl Locate for GroupChecks {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        Group(self.0).facts(tx)
    }
}

impl Locate for GroupPace {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        Group(self.0).facts(tx)
    }
}

impl Locate for GroupPast {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        Group(self.0).facts(tx)
    }
}

impl Locate for CoverLinks {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        Group(self.0).facts(tx)
    }
}

impl Locate for GroupDay {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        Ok(Facts { exists: tx.group_exists(self.group)?, assigned: tx.was_on_group(self.group, self.on)? })
    }

    fn day(&self) -> Option<Date> {
        Some(self.on)
    }
}

impl Locate for Sequence {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        Ok(Facts { exists: tx.sequence_exists(self.0)?, assigned: false })
    }
}

impl Locate for SequenceDraft {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        Ok(Facts { exists: tx.sequence_exists(self.0)?, assigned: false })
    }
}

impl Locate for Pupil {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        Ok(Facts { exists: tx.pupil_exists(self.0)?, assigned: tx.is_near_pupil(self.0)? })
    }
}

impl Locate for PupilIdentity {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        Pupil(self.0).facts(tx)
    }
}

impl Locate for PupilFields {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        Ok(Facts { exists: tx.pupil_exists(self.0)?, assigned: false })
    }
}

impl Locate for PupilLearning {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        Pupil(self.0).facts(tx)
    }
}

impl Locate for PupilTransfer {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        Ok(Facts { exists: tx.pupil_exists(self.0)?, assigned: false })
    }
}

impl Locate for PupilAnswering {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        Pupil(self.0).facts(tx)
    }
}

impl Locate for EarlierResults {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        Pupil(self.0).facts(tx)
    }
}

impl Locate for StatutoryWindow {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        Ok(Facts { exists: tx.statutory_window_exists(self.0)?, assigned: false })
    }
}

impl Locate for StatutoryResult {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        let window = tx.statutory_window_exists(self.window)?;
        let pupil = Pupil(self.pupil).facts(tx)?;
        Ok(Facts { exists: window && pupil.exists, assigned: pupil.assigned })
    }
}

impl Locate for Round {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        // A placement is a round of one pupil, and none of the school's.
        let exists = tx.round_exists(self.0)? && tx.placed_in(self.0)?.is_none();
        Ok(Facts { exists, assigned: false })
    }
}

impl Locate for RoundAgreement {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        Round(self.0).facts(tx)
    }
}

impl Locate for Book {
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error> {
        let school = tx.school();
        let exists = db!(tx.conn, c => select(exists(book::table.find((school, self.0)))).get_result(c))?;
        Ok(Facts { exists, assigned: false })
    }
}
