//! Who may do what. The policy is a table ([`policy`]); everything else carries its answers.
//!
//! A [`Grant`] is the proof that the policy allowed one action on one resource. Its fields
//! are private and only [`authorise`] makes one, so holding a grant means having asked.

pub mod act;
pub mod policy;
mod renewal;
pub mod resource;

use std::{collections::BTreeSet, marker::PhantomData};

use crate::id::{SchoolId, SessionId, StaffId};
use policy::Permits;
pub use renewal::may_renew;
use resource::Resource;

crate::vocabulary! {
    /// What a member of staff is trusted with in one school. One person may hold several.
    pub enum Role {
        /// Leads phonics: sequence, calendar, groups, checks, reports.
        Lead = "lead",
        /// Teaches the classes and groups assigned.
        Teacher = "teacher",
        /// Supports the groups assigned.
        Assistant = "assistant",
        /// Teaches for a day or a few; always ends on a date.
        Cover = "cover",
        /// Sees how the school stands.
        Head = "head",
        /// Keeps the roster and the calendar.
        Office = "office",
        /// Keeps staff accounts and the installation; sees no pupils.
        Administrator = "administrator",
        /// Compares schools; sees no pupils.
        TrustLead = "trust_lead",
    }
}

/// Someone signed in to one school, with the roles held today.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Actor {
    /// The school this sign-in is for.
    pub school: SchoolId,
    /// The member of staff.
    pub staff: StaffId,
    /// The sign-in, absent where the server acts by the operator's command.
    pub session: Option<SessionId>,
    /// Roles in force today.
    pub roles: BTreeSet<Role>,
}

impl Actor {
    fn holds_any(&self, roles: &[Role]) -> bool {
        roles.iter().any(|role| self.roles.contains(role))
    }
}

/// What the store knows about a resource and this actor before anything is decided.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Facts {
    /// The resource exists in the actor's school.
    pub exists: bool,
    /// The actor is assigned to it on the day that matters.
    pub assigned: bool,
}

impl Facts {
    /// For what every school has exactly once.
    pub const OF_THE_SCHOOL: Self = Self { exists: true, assigned: false };
    /// For what is not there, or not this school's.
    pub const NONE: Self = Self { exists: false, assigned: false };
}

/// A refusal by the policy.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Refused {
    /// The actor may know the resource exists but may not do this.
    #[error("your role does not allow this")]
    Forbidden,
    /// The actor may not learn whether the resource exists.
    #[error("there is no such resource")]
    Hidden,
}

/// Proof that the policy allowed action `A` on resource `R`.
#[derive(Debug)]
pub struct Grant<A, R> {
    resource: R,
    action: PhantomData<fn() -> A>,
}

impl<A, R> Grant<A, R> {
    /// What was granted. Queries take their ids from here and from nowhere else.
    pub const fn resource(&self) -> &R {
        &self.resource
    }
}

/// Said of an adult named for what none of their roles allows.
pub const NO_ROLE_FOR_IT: &str = "holds no role then that may teach or check pupils: name somebody else";

/// Whether somebody with some roles may do `A` to such a resource, were they assigned to it.
pub fn could<A, R>(roles: &BTreeSet<Role>) -> bool
where
    R: Permits<A>,
{
    let rule = <R as Permits<A>>::RULE;
    rule.anywhere.iter().chain(rule.assigned).any(|role| roles.contains(role))
}

/// Asks the policy. The only maker of grants.
///
/// # Errors
/// [`Refused::Hidden`] where the resource is not there, or where the actor may not even
/// read it; [`Refused::Forbidden`] where the actor may read it but not do `A`.
pub fn authorise<A, R>(actor: &Actor, resource: R, facts: Facts) -> Result<Grant<A, R>, Refused>
where
    R: Resource + Permits<A>,
{
    if !facts.exists {
        return Err(Refused::Hidden);
    }
    let passes = |rule: policy::Rule| {
        let owner = R::ITS_OWNER_PASSES || actor.holds_any(rule.assigned);
        actor.holds_any(rule.anywhere) || (facts.assigned && owner)
    };
    if passes(<R as Permits<A>>::RULE) {
        Ok(Grant { resource, action: PhantomData })
    } else if R::EVERYONE_KNOWS_IT_EXISTS || passes(R::SEEN_BY) {
        Err(Refused::Forbidden)
    } else {
        Err(Refused::Hidden)
    }
}

/// Whether the actor passes for every `R` of the school, not only for those assigned. For
/// lists: what a single one is allowed still asks [`authorise`].
pub fn reaches_all<A, R: Permits<A>>(actor: &Actor) -> bool {
    actor.holds_any(<R as Permits<A>>::RULE.anywhere)
}

#[cfg(test)]
mod tests {
    use super::{act::Read, act::Record, resource::GroupDay, *};
    use uuid::Uuid;

    fn actor(roles: &[Role]) -> Actor {
        Actor {
            school: SchoolId::from_uuid(Uuid::nil()),
            staff: StaffId::from_uuid(Uuid::nil()),
            session: None,
            roles: roles.iter().copied().collect(),
        }
    }

    fn ask(roles: &[Role], facts: Facts) -> Result<(), Refused> {
        let day = GroupDay { group: crate::id::GroupId::from_uuid(Uuid::nil()), on: Default::default() };
        authorise::<Record, _>(&actor(roles), day, facts).map(|_| ())
    }

    const ASSIGNED: Facts = Facts { exists: true, assigned: true };
    const ELSEWHERE: Facts = Facts { exists: true, assigned: false };

    #[test]
    fn lessons_are_logged_by_the_assigned_and_the_lead() {
        for role in [Role::Teacher, Role::Assistant, Role::Cover] {
            assert_eq!(ask(&[role], ASSIGNED), Ok(()));
            assert_eq!(ask(&[role], ELSEWHERE), Err(Refused::Hidden));
        }
        assert_eq!(ask(&[Role::Lead], ELSEWHERE), Ok(()));
    }

    #[test]
    fn a_reader_is_told_forbidden_and_a_stranger_nothing() {
        assert_eq!(ask(&[Role::Head], ELSEWHERE), Err(Refused::Forbidden));
        assert_eq!(ask(&[Role::Administrator], ASSIGNED), Err(Refused::Hidden));
        assert_eq!(ask(&[], ASSIGNED), Err(Refused::Hidden));
    }

    #[test]
    fn a_replica_is_its_owners_with_a_role_or_without() {
        let ask = |roles: &[Role], facts: Facts| {
            let replica = resource::Replica(crate::id::ReplicaId::from_uuid(Uuid::nil()));
            authorise::<Record, _>(&actor(roles), replica, facts).map(|_| ())
        };
        assert_eq!(ask(&[], ASSIGNED), Ok(()));
        assert_eq!(ask(Role::ALL, ELSEWHERE), Err(Refused::Hidden));
        let owned = policy::TABLE.iter().filter(|row| row.owner).map(|row| row.resource);
        assert_eq!(owned.collect::<BTreeSet<_>>(), ["replica"].into());
    }

    #[test]
    fn what_is_not_there_is_hidden_even_from_the_lead() {
        assert_eq!(ask(&[Role::Lead], Facts::NONE), Err(Refused::Hidden));
    }

    #[test]
    fn everyone_who_may_act_on_a_resource_may_know_it_exists() {
        for row in policy::TABLE {
            for role in row.rule.anywhere {
                assert!(
                    row.everyone_knows || row.seen_by.anywhere.contains(role),
                    "{} {}: {role} may act but not see",
                    row.resource,
                    row.action
                );
            }
            for role in row.rule.assigned {
                assert!(
                    row.everyone_knows
                        || row.seen_by.anywhere.contains(role)
                        || row.seen_by.assigned.contains(role),
                    "{} {}: {role} may act when assigned but not see",
                    row.resource,
                    row.action
                );
            }
        }
    }

    #[test]
    fn administrators_and_trust_leads_never_reach_a_pupil() {
        let pupils = [
            "pupil",
            "pupil_fields",
            "pupil_identity",
            "pupil_learning",
            "roster",
            "class",
            "group",
            "pupil_placements",
            "pupil_sittings",
            "pupil_exemptions",
            "group_day",
            "cover_links",
            "group_checks",
            "group_past",
        ];
        for row in policy::TABLE.iter().filter(|row| pupils.contains(&row.resource)) {
            for role in [Role::Administrator, Role::TrustLead] {
                assert!(!row.rule.anywhere.contains(&role) && !row.rule.assigned.contains(&role));
            }
        }
    }

    #[test]
    fn the_policy_is_the_reviewed_file() {
        let listed: String = policy::TABLE.iter().map(|row| format!("{row}\n")).collect();
        let reviewed = include_str!("policy.txt");
        assert_eq!(
            listed, reviewed,
            "review the change, then write it to core/src/access/policy.txt:\n{listed}"
        );
    }

    #[test]
    fn grants_name_what_was_granted() {
        let group = resource::Group(crate::id::GroupId::from_uuid(Uuid::nil()));
        let grant = authorise::<Read, _>(&actor(&[Role::Lead]), group, ELSEWHERE).unwrap();
        assert_eq!(grant.resource().0.uuid(), Uuid::nil());
    }
}
