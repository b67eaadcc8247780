//! What the policy is asked about. Each carries the ids a query may use once granted.

use super::policy::Rule;
use crate::{
    id::{BookId, ClassId, GroupId, PupilId, ReplicaId, RoundId, SequenceId, SessionId, StatutoryWindowId},
    time::Date,
};

/// Something the policy can be asked about.
pub trait Resource {
    /// Name in the policy table.
    const NAME: &'static str;
    /// Who may know that one exists: decides between "forbidden" and "no such thing".
    const SEEN_BY: Rule;
    /// True for what every school has, whose existence tells nobody anything.
    const EVERYONE_KNOWS_IT_EXISTS: bool;
    /// True for what has an owner, who passes with a role or without.
    const ITS_OWNER_PASSES: bool;
}

/// The school's name, rule pack and settings.
#[derive(Clone, Copy, Debug)]
pub struct SchoolProfile;
/// One's own sign-ins.
#[derive(Clone, Copy, Debug)]
pub struct OwnSessions(pub Option<SessionId>);
/// Tablets' replicas: a person's own on a tablet.
#[derive(Clone, Copy, Debug)]
pub struct Replicas;
/// One person on one tablet: what is pulled to it and what it pushes.
#[derive(Clone, Copy, Debug)]
pub struct Replica(pub ReplicaId);
/// Staff, their roles and invitations.
#[derive(Clone, Copy, Debug)]
pub struct StaffList;
/// Colleagues' passwords, as far as one may have them made anew.
#[derive(Clone, Copy, Debug)]
pub struct Passwords;
/// The school's pupils and classes as a whole: lists, imports, corrections.
#[derive(Clone, Copy, Debug)]
pub struct Roster;
/// Changes from one school year to the next: who goes where, who leaves.
#[derive(Clone, Copy, Debug)]
pub struct Rollovers;
/// One class with its pupils.
#[derive(Clone, Copy, Debug)]
pub struct Class(pub ClassId);
/// One pupil's name, class and groups.
#[derive(Clone, Copy, Debug)]
pub struct Pupil(pub PupilId);
/// What identifies one pupil beyond the name: date of birth, references.
#[derive(Clone, Copy, Debug)]
pub struct PupilIdentity(pub PupilId);
/// Which optional fields the school records of its pupils, and what for.
#[derive(Clone, Copy, Debug)]
pub struct OptionalFields;
/// The optional fields of one pupil: what only those see who keep the roster or report on it.
#[derive(Clone, Copy, Debug)]
pub struct PupilFields(pub PupilId);
/// What one pupil was taught and how checks went.
#[derive(Clone, Copy, Debug)]
pub struct PupilLearning(pub PupilId);
/// What goes to another school with one pupil who leaves.
#[derive(Clone, Copy, Debug)]
pub struct PupilTransfer(pub PupilId);
/// Years, half terms, closures.
#[derive(Clone, Copy, Debug)]
pub struct Calendar;
/// The school's sequences and their published versions.
#[derive(Clone, Copy, Debug)]
pub struct Sequences;
/// One sequence.
#[derive(Clone, Copy, Debug)]
pub struct Sequence(pub SequenceId);
/// The unpublished draft of one sequence.
#[derive(Clone, Copy, Debug)]
pub struct SequenceDraft(pub SequenceId);
/// Proposals of sequences that the server was asked for.
#[derive(Clone, Copy, Debug)]
pub struct SequenceProposals;
/// The school's teaching groups as a whole.
#[derive(Clone, Copy, Debug)]
pub struct Groups;
/// Proposals of teaching groups: what pupils of the whole school have to learn, name by name.
#[derive(Clone, Copy, Debug)]
pub struct GroupProposals;
/// One teaching group: members, adults, lesson records, coverage.
#[derive(Clone, Copy, Debug)]
pub struct Group(pub GroupId);
/// One group on one date: the assignment that counts is that date's.
#[derive(Clone, Copy, Debug)]
pub struct GroupDay {
    /// The group.
    pub group: GroupId,
    /// The date of the lesson.
    pub on: Date,
}
/// Links that open a group's cover page without an account.
#[derive(Clone, Copy, Debug)]
pub struct CoverLinks(pub GroupId);
/// Definitions of checks and rounds of checks.
#[derive(Clone, Copy, Debug)]
pub struct Checks;
/// One round of checks.
#[derive(Clone, Copy, Debug)]
pub struct Round(pub RoundId);
/// The checks of one pupil within one round.
#[derive(Clone, Copy, Debug)]
pub struct PupilChecks {
    /// The round.
    pub round: RoundId,
    /// The pupil.
    pub pupil: PupilId,
    /// The day of what is written down, where that is not today: then who was the pupil's adult on it passes too.
    pub on: Option<Date>,
}
/// How one pupil answers checks: the usual speech and response mode, what is not accessible. Of that pupil's adults.
#[derive(Clone, Copy, Debug)]
pub struct PupilAnswering(pub PupilId);
/// What is not accessible to pupils and is to be looked at again.
#[derive(Clone, Copy, Debug)]
pub struct NotAccessibleReviews;
/// How far markers agree about the checks of one round, and where they differ.
#[derive(Clone, Copy, Debug)]
pub struct RoundAgreement(pub RoundId);
/// What one pupil is asked in one round on one day: by who is near the pupil today, or was on that day.
#[derive(Clone, Copy, Debug)]
pub struct PupilSittings {
    /// The round.
    pub round: RoundId,
    /// The pupil.
    pub pupil: PupilId,
    /// The day.
    pub on: Date,
}
/// That one pupil is not asked in one round, or not one of its checks.
#[derive(Clone, Copy, Debug)]
pub struct PupilExemptions {
    /// The round.
    pub round: RoundId,
    /// The pupil.
    pub pupil: PupilId,
}
/// The placement checks of one pupil.
#[derive(Clone, Copy, Debug)]
pub struct PupilPlacements {
    /// The pupil.
    pub pupil: PupilId,
    /// The day of what is written down, where that is not today: then who was the pupil's adult on it passes too.
    pub on: Option<Date>,
}
/// The statutory check at the school: its windows and thresholds.
#[derive(Clone, Copy, Debug)]
pub struct StatutoryChecks;
/// One window of the statutory check.
#[derive(Clone, Copy, Debug)]
pub struct StatutoryWindow(pub StatutoryWindowId);
/// The result of one pupil in one window of the statutory check.
#[derive(Clone, Copy, Debug)]
pub struct StatutoryResult {
    /// The window.
    pub window: StatutoryWindowId,
    /// The pupil.
    pub pupil: PupilId,
}
/// What results of the statutory check of the whole school come to, with what leaves the school.
#[derive(Clone, Copy, Debug)]
pub struct StatutoryFigures;
/// How marks of the statutory check lie about the threshold.
#[derive(Clone, Copy, Debug)]
pub struct StatutoryMarks;
/// Results of one pupil in the statutory check from another school, or from before the records here.
#[derive(Clone, Copy, Debug)]
pub struct EarlierResults(pub PupilId);
/// What checks of a group's pupils show of the group: whoever may read each pupil's.
#[derive(Clone, Copy, Debug)]
pub struct GroupChecks(pub GroupId);
/// What checks of a class's pupils show of the class: whoever may read each pupil's.
#[derive(Clone, Copy, Debug)]
pub struct ClassChecks(pub ClassId);
/// How fast one group goes: planned against taught, what is forecast, its plan.
#[derive(Clone, Copy, Debug)]
pub struct GroupPace(pub GroupId);
/// Sets of catch-up, made of what is open and kept nowhere.
#[derive(Clone, Copy, Debug)]
pub struct CatchUpPlans;
/// What was carried in for one group: taught and checked before the records here begin.
#[derive(Clone, Copy, Debug)]
pub struct GroupPast(pub GroupId);
/// The week's list of what wants doing: groups without records or short of their plan, what pupils missed.
#[derive(Clone, Copy, Debug)]
pub struct WeeklyOverview;
/// Attainment of the whole school, small groups included.
#[derive(Clone, Copy, Debug)]
pub struct SchoolReport;
/// What the school showed its trust of its own releases.
#[derive(Clone, Copy, Debug)]
pub struct TrustShares;
/// The schools of a trust, and what they showed it: figures of whole schools and year groups, of no pupil and no class.
#[derive(Clone, Copy, Debug)]
pub struct TrustReports;
/// The tablets that work with the school's records, and who works on them. They name no pupil.
#[derive(Clone, Copy, Debug)]
pub struct Tablets;
/// What revoked tablets still sent: unseen work about pupils of the whole school.
#[derive(Clone, Copy, Debug)]
pub struct HeldOps;
/// Who did and looked at what.
#[derive(Clone, Copy, Debug)]
pub struct AuditLog;
/// What the language does: words, their sounds and spellings. Nobody's data.
#[derive(Clone, Copy, Debug)]
pub struct Words;
/// What the school itself says about words: its own words, those it struck, its pseudo-word
/// sets, what it counts as taught.
#[derive(Clone, Copy, Debug)]
pub struct SchoolWords;
/// The school's reading books.
#[derive(Clone, Copy, Debug)]
pub struct Books;
/// One reading book.
#[derive(Clone, Copy, Debug)]
pub struct Book(pub BookId);
