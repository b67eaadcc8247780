//! Permits: what store functions demand before they touch a row.
//!
//! A permit wraps the policy's grant and is branded by its transaction: it cannot be made
//! by hand, kept for later, or used in another transaction. Store functions take the ids
//! for their SQL from the permit and from nowhere else.
//!
//! A permit cannot be made without asking the policy:
//! ```compile_fail,E0423
//! use plumbline_api::store::Permit;
//! use plumbline_core::access::{act::Read, resource::Roster};
//! let forged: Permit<'static, Read, Roster> = Permit(todo!());
//! ```
//! An action the policy has no line for cannot be asked for:
//! ```compile_fail,E0277
//! use plumbline_api::store::Tx;
//! use plumbline_core::access::{act::Publish, resource::Roster};
//! fn misuse(tx: &mut Tx<'_>) {
//!     let _ = tx.permit::<Publish, _>(Roster);
//! }
//! ```
//! A permit cannot leave its transaction:
//! ```compile_fail
//! use plumbline_api::store::{Error, Store, Who};
//! use plumbline_core::access::{act::Read, resource::Roster};
//! fn misuse(store: &Store, who: Who) {
//!     let kept = store.read(who, |tx| tx.permit::<Read, _>(Roster));
//! }
//! ```
//! A permit to read does not serve for a change:
//! ```compile_fail,E0308
//! use plumbline_api::store::Tx;
//! use plumbline_core::{access::{act::Read, resource::Group}, id::GroupId};
//! fn misuse(tx: &mut Tx<'_>, group: GroupId) {
//!     let permit = tx.permit::<Read, _>(Group(group)).unwrap();
//!     let _ = tx.close_group(&permit, Default::default(), 0);
//! }
//! ```
//! The same with the right action compiles, so that it is the misuse that fails above:
//! ```
//! use plumbline_api::store::{Error, Store, Tx, Who};
//! use plumbline_core::{access::{act::{Manage, Read}, resource::{Group, Roster}}, id::GroupId};
//! fn fine(tx: &mut Tx<'_>, group: GroupId) -> Result<(), Error> {
//!     let permit = tx.permit::<Manage, _>(Group(group))?;
//!     tx.close_group(&permit, Default::default(), 0)
//! }
//! fn also_fine(store: &Store, who: Who) -> Result<(), Error> {
//!     store.read(who, |tx| tx.permit::<Read, _>(Roster).map(|_| ()))
//! }
//! ```

use std::{cell::Cell, collections::BTreeMap, marker::PhantomData};

use diesel::prelude::*;
use plumbline_core::{
    access::{self, Actor, Facts, Grant, Role, act::Action, policy::Permits, resource::Resource},
    roster::still_taken,
    time::{Date, Span},
};

use super::{Error, Tx, conn::db, schema::staff_role};

/// The transaction's brand: invariant, so that no other lifetime will do.
pub(super) type Brand<'tx> = PhantomData<Cell<&'tx ()>>;

/// Proof, for this transaction, that the policy allows action `A` on resource `R`.
pub struct Permit<'tx, A, R> {
    grant: Grant<A, R>,
    brand: Brand<'tx>,
}

impl<A, R> Permit<'_, A, R> {
    /// What was permitted.
    pub const fn resource(&self) -> &R {
        self.grant.resource()
    }

    /// The policy's grant, for core functions that demand it.
    pub const fn grant(&self) -> &Grant<A, R> {
        &self.grant
    }
}

/// How the store finds out what the policy needs to know about a resource.
pub trait Locate: Resource {
    /// Whether it exists in the actor's school and whether the actor is assigned to it.
    fn facts(&self, tx: &mut Tx<'_>) -> Result<Facts, Error>;

    /// The day of what is written down under it, where that is of a day.
    fn day(&self) -> Option<Date> {
        None
    }
}

impl<'tx> Tx<'tx> {
    /// Asks the policy. Every store function on a resource starts here.
    ///
    /// # Errors
    /// [`Error::Refused`] when the policy says no.
    pub fn permit<A, R>(&mut self, resource: R) -> Result<Permit<'tx, A, R>, Error>
    where
        A: Action,
        R: Locate + Permits<A>,
    {
        let facts = resource.facts(self)?;
        let then = if A::OF_ITS_DAY { resource.day() } else { None };
        let grant = match then {
            Some(on) => access::authorise::<A, R>(&self.actor_of(on)?, resource, facts)?,
            None => access::authorise::<A, R>(self.actor(), resource, facts)?,
        };
        Ok(Permit { grant, brand: PhantomData })
    }

    /// The same of several resources of which the facts were found together, in their order.
    ///
    /// # Errors
    /// [`Error::Refused`] when the policy says no of one of them.
    pub(super) fn permits_by<A, R: Resource + Permits<A>>(
        &mut self,
        found: impl IntoIterator<Item = (R, Facts)>,
    ) -> Result<Vec<Permit<'tx, A, R>>, Error> {
        let permit = |(resource, facts): (R, Facts)| {
            let grant = access::authorise::<A, R>(self.actor(), resource, facts)?;
            Ok(Permit { grant, brand: PhantomData })
        };
        found.into_iter().map(permit).collect()
    }

    /// The actor with the roles of today, and those held on a day of which late records are still taken.
    fn actor_of(&mut self, on: Date) -> Result<Actor, Error> {
        let (mut actor, today) = (self.actor().clone(), self.today());
        if on < today {
            let late = self.rules()?.handover.late_records_days;
            for (role, days) in self.roles_ever()? {
                if still_taken(&days, on, today, late) {
                    actor.roles.insert(role);
                }
            }
        }
        Ok(actor)
    }

    /// The days of each role the actor ever held.
    fn roles_ever(&mut self) -> Result<BTreeMap<Role, Vec<Span>>, Error> {
        let (school, staff) = (self.school(), self.actor().staff);
        let rows: Vec<(Role, Date, Option<Date>)> = db!(self.conn, c => staff_role::table
            .filter(staff_role::school_id.eq(school))
            .filter(staff_role::staff_id.eq(staff))
            .select((staff_role::role, staff_role::from_on, staff_role::until_on))
            .load(c))?;
        let mut days: BTreeMap<Role, Vec<Span>> = BTreeMap::new();
        for (role, from, until) in rows {
            days.entry(role).or_default().push(Span { from, until });
        }
        Ok(days)
    }

    /// The same where more is told to those who may know it.
    ///
    /// # Errors
    /// If the store fails.
    pub fn permit_if_allowed<A, R>(&mut self, resource: R) -> Result<Option<Permit<'tx, A, R>>, Error>
    where
        A: Action,
        R: Locate + Permits<A>,
    {
        match self.permit(resource) {
            Ok(permit) => Ok(Some(permit)),
            Err(Error::Refused(_)) => Ok(None),
            Err(error) => Err(error),
        }
    }
}
