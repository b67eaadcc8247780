//! The policy: one table, read by people as `policy.txt` and by the compiler as trait
//! implementations. A pair that is not here cannot be asked for at all.

use super::{
    Role::{self, Administrator, Assistant, Cover, Head, Lead, Office, Teacher, TrustLead},
    act::{Action, Manage, Publish, Read, Record},
    resource::{
        AuditLog, Book, Books, Calendar, CatchUpPlans, Checks, Class, ClassChecks, CoverLinks,
        EarlierResults, Group, GroupChecks, GroupDay, GroupPace, GroupPast, GroupProposals, Groups, HeldOps,
        NotAccessibleReviews, OptionalFields, OwnSessions, Passwords, Pupil, PupilAnswering, PupilChecks,
        PupilExemptions, PupilFields, PupilIdentity, PupilLearning, PupilPlacements, PupilSittings,
        PupilTransfer, Replica, Replicas, Resource, Rollovers, Roster, Round, RoundAgreement, SchoolProfile,
        SchoolReport, SchoolWords, Sequence, SequenceDraft, SequenceProposals, Sequences, StaffList,
        StatutoryChecks, StatutoryFigures, StatutoryMarks, StatutoryResult, StatutoryWindow, Tablets,
        TrustReports, TrustShares, WeeklyOverview, Words,
    },
};

/// Who passes: any holder of a role `anywhere` in the school, and holders of a role in
/// `assigned` for what they are assigned to.
#[derive(Clone, Copy, Debug)]
pub struct Rule {
    /// Roles that pass for any such resource of their school.
    pub anywhere: &'static [Role],
    /// Roles that pass where the actor is assigned.
    pub assigned: &'static [Role],
}

/// The policy's answer to "who may do `A` to this?".
pub trait Permits<A> {
    /// Who passes.
    const RULE: Rule;
}

/// A line of the policy, for review.
#[derive(Clone, Copy, Debug)]
pub struct Row {
    /// The resource's name.
    pub resource: &'static str,
    /// The action's name.
    pub action: &'static str,
    /// Who may do it.
    pub rule: Rule,
    /// Whether its owner may, with a role or without.
    pub owner: bool,
    /// Who may know that the resource exists.
    pub seen_by: Rule,
    /// Whether everybody may know.
    pub everyone_knows: bool,
}

impl std::fmt::Display for Row {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let list = |roles: &[Role], owner: bool| {
            if owner {
                "owner".to_owned()
            } else if roles.is_empty() {
                "-".to_owned()
            } else {
                roles.iter().map(|role| role.as_str()).collect::<Vec<_>>().join(",")
            }
        };
        write!(
            f,
            "{} {}: anywhere {}; assigned {}",
            self.resource,
            self.action,
            list(self.rule.anywhere, false),
            list(self.rule.assigned, self.owner)
        )
    }
}

const ALL: &[Role] = Role::ALL;
const NONE: &[Role] = &[];
const TEACHING: &[Role] = &[Lead, Teacher, Assistant, Cover, Head];
const NEAR: &[Role] = &[Teacher, Assistant, Cover];

macro_rules! policy {
    ($($resource:ident $name:literal $(($knows:ident))? { $first:ident $first_any:expr, $first_near:expr; $($action:ident $any:expr, $near:expr;)* })+) => {
        $(
            impl Resource for $resource {
                const NAME: &'static str = $name;
                const SEEN_BY: Rule = Rule { anywhere: $first_any, assigned: $first_near };
                const EVERYONE_KNOWS_IT_EXISTS: bool = policy!(@knows $($knows)?);
                const ITS_OWNER_PASSES: bool = policy!(@owner $($knows)?);
            }
            impl Permits<$first> for $resource {
                const RULE: Rule = Rule { anywhere: $first_any, assigned: $first_near };
            }
            $(impl Permits<$action> for $resource {
                const RULE: Rule = Rule { anywhere: $any, assigned: $near };
            })*
        )+
        /// Every line of the policy, in order.
        pub const TABLE: &[Row] = &[
            $(
                policy!(@row $resource $first),
                $(policy!(@row $resource $action),)*
            )+
        ];
    };
    (@knows) => { false };
    (@knows owner) => { false };
    (@knows everyone) => { true };
    (@owner) => { false };
    (@owner everyone) => { false };
    (@owner owner) => { true };
    (@row $resource:ident $action:ident) => {
        Row {
            resource: <$resource as Resource>::NAME,
            action: <$action as Action>::NAME,
            rule: <$resource as Permits<$action>>::RULE,
            owner: <$resource as Resource>::ITS_OWNER_PASSES,
            seen_by: <$resource as Resource>::SEEN_BY,
            everyone_knows: <$resource as Resource>::EVERYONE_KNOWS_IT_EXISTS,
        }
    };
}

// The first line of each resource also says who may know that one exists.
// "(everyone)": each school has exactly one, so its existence is no secret.
// "(owner)": whose it is passes, also without any role: what was done while a role lasted still comes in, and what is
// held is told to go.
policy! {
    SchoolProfile "school" (everyone) {
        Read ALL, NONE;
        Manage &[Administrator, Lead], NONE;
    }
    OwnSessions "own_sessions" (everyone) {
        Read ALL, NONE;
        Manage ALL, NONE;
    }
    Replicas "replicas" (everyone) {
        Record &[Lead, Teacher, Assistant, Cover, Head, Office], NONE;
    }
    Replica "replica" (owner) {
        Read NONE, NONE;
        Record NONE, NONE;
    }
    StaffList "staff" (everyone) {
        Read &[Lead, Head, Office, Administrator], NONE;
        Manage &[Administrator], NONE;
    }
    Passwords "passwords" (everyone) {
        Manage &[Lead, Office, Administrator], NONE;
    }
    Roster "roster" (everyone) {
        Read &[Lead, Head, Office], NONE;
        Manage &[Lead, Office], NONE;
    }
    Rollovers "rollovers" (everyone) {
        Read &[Lead, Head, Office], NONE;
        Manage &[Lead, Office], NONE;
        Publish &[Lead], NONE;
    }
    Class "class" {
        Read &[Lead, Head, Office], NEAR;
        Manage &[Lead, Office], NONE;
    }
    Pupil "pupil" {
        Read &[Lead, Head, Office], NEAR;
        Manage &[Lead, Office], NONE;
    }
    PupilIdentity "pupil_identity" {
        Read &[Lead, Head, Office], &[Teacher, Assistant];
    }
    OptionalFields "optional_fields" (everyone) {
        Read &[Lead, Head, Office], NONE;
        Manage &[Lead], NONE;
    }
    PupilFields "pupil_fields" {
        Read &[Lead, Head, Office], NONE;
        Manage &[Lead, Office], NONE;
    }
    PupilLearning "pupil_learning" {
        Read &[Lead, Head], &[Teacher, Assistant];
        Record &[Lead], &[Teacher, Assistant];
    }
    PupilTransfer "pupil_transfer" {
        Read &[Lead, Head], NONE;
        Manage &[Lead], NONE;
    }
    Calendar "calendar" (everyone) {
        Read ALL, NONE;
        Manage &[Lead, Head, Office], NONE;
    }
    Sequences "sequences" (everyone) {
        Read &[Lead, Teacher, Assistant, Cover, Head, TrustLead], NONE;
        Manage &[Lead], NONE;
    }
    Sequence "sequence" {
        Read &[Lead, Teacher, Assistant, Cover, Head, TrustLead], NONE;
        Publish &[Lead], NONE;
    }
    SequenceDraft "sequence_draft" {
        Read &[Lead], NONE;
        Manage &[Lead], NONE;
    }
    SequenceProposals "sequence_proposals" (everyone) {
        Read &[Lead], NONE;
        Manage &[Lead], NONE;
    }
    Groups "groups" (everyone) {
        Read TEACHING, NONE;
        Manage &[Lead], NONE;
    }
    GroupProposals "group_proposals" (everyone) {
        Read &[Lead], NONE;
        Manage &[Lead], NONE;
    }
    Group "group" {
        Read &[Lead, Head], NEAR;
        Manage &[Lead], NONE;
    }
    GroupDay "group_day" {
        Read &[Lead, Head], NEAR;
        Record &[Lead], NEAR;
    }
    CoverLinks "cover_links" {
        Read &[Lead, Head], &[Teacher];
        Manage &[Lead], &[Teacher];
    }
    Checks "checks" (everyone) {
        Read &[Lead, Teacher, Assistant, Head], NONE;
        Manage &[Lead], NONE;
    }
    Round "check_round" {
        Read &[Lead, Teacher, Assistant, Head], NONE;
        Manage &[Lead], NONE;
    }
    PupilChecks "pupil_checks" {
        Read &[Lead, Head], &[Teacher, Assistant];
        Record &[Lead], &[Teacher, Assistant];
    }
    RoundAgreement "round_agreement" {
        Read &[Lead], NONE;
    }
    PupilAnswering "pupil_answering" {
        Read &[Lead], &[Teacher, Assistant];
        Manage &[Lead], &[Teacher];
    }
    NotAccessibleReviews "not_accessible_reviews" (everyone) {
        Read &[Lead], NONE;
    }
    PupilSittings "pupil_sittings" {
        Read &[Lead, Head], &[Teacher, Assistant];
        Record &[Lead], &[Teacher, Assistant];
    }
    PupilExemptions "pupil_exemptions" {
        Read &[Lead, Head], &[Teacher, Assistant];
        Record &[Lead], &[Teacher];
    }
    PupilPlacements "pupil_placements" {
        Read &[Lead, Head], &[Teacher, Assistant];
        Record &[Lead], &[Teacher, Assistant];
    }
    StatutoryChecks "statutory_checks" (everyone) {
        Read &[Lead, Teacher, Head], NONE;
        Manage &[Lead], NONE;
    }
    StatutoryWindow "statutory_window" {
        Read &[Lead, Teacher, Head], NONE;
        Manage &[Lead], NONE;
        Publish &[Lead, Head], NONE;
    }
    StatutoryResult "statutory_result" {
        Read &[Lead, Head], &[Teacher];
        Record &[Lead, Head], &[Teacher];
        Manage &[Lead, Head], NONE;
    }
    StatutoryFigures "statutory_figures" (everyone) {
        Read &[Lead, Head], NONE;
    }
    StatutoryMarks "statutory_marks" (everyone) {
        Read &[Lead], NONE;
    }
    EarlierResults "earlier_results" {
        Read &[Lead, Head], &[Teacher];
        Manage &[Lead], NONE;
    }
    GroupChecks "group_checks" {
        Read &[Lead, Head], &[Teacher, Assistant];
    }
    ClassChecks "class_checks" {
        Read &[Lead, Head], &[Teacher, Assistant];
    }
    GroupPace "group_pace" {
        Read &[Lead, Head], &[Teacher, Assistant];
        Manage &[Lead], NONE;
    }
    CatchUpPlans "catch_up_plans" (everyone) {
        Read &[Lead, Teacher, Assistant], NONE;
        Record &[Lead, Teacher, Assistant, Cover], NONE;
    }
    GroupPast "group_past" {
        Read &[Lead, Head], &[Teacher, Assistant];
        Record &[Lead], &[Teacher];
    }
    WeeklyOverview "weekly_overview" (everyone) {
        Read &[Lead, Head], NONE;
    }
    SchoolReport "school_report" (everyone) {
        Read &[Lead, Head], NONE;
        Manage &[Lead, Head], NONE;
        Publish &[Lead, Head], NONE;
    }
    TrustShares "trust_shares" (everyone) {
        Read &[Lead, Head], NONE;
        Publish &[Lead, Head], NONE;
    }
    TrustReports "trust_reports" (everyone) {
        Read &[TrustLead], NONE;
        Manage &[TrustLead], NONE;
    }
    Words "words" (everyone) {
        Read ALL, NONE;
    }
    SchoolWords "school_words" (everyone) {
        Read ALL, NONE;
        Record &[Lead, Teacher, Assistant], NONE;
        Manage &[Lead], NONE;
    }
    Books "books" (everyone) {
        Read &[Lead, Teacher, Assistant, Cover, Head, Office], NONE;
        Manage &[Lead, Office], NONE;
    }
    Book "book" {
        Read &[Lead, Teacher, Assistant, Cover, Head, Office], NONE;
        Manage &[Lead, Office], NONE;
    }
    Tablets "tablets" (everyone) {
        Read &[Lead, Administrator], NONE;
        Record &[Lead, Teacher, Assistant, Cover, Head, Office], NONE;
        Manage &[Lead, Administrator], NONE;
    }
    HeldOps "held_ops" (everyone) {
        Read &[Lead], NONE;
        Manage &[Lead], NONE;
    }
    AuditLog "audit_log" (everyone) {
        Read &[Administrator, Lead], NONE;
    }
}
