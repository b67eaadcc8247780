//! What devices are told of backups: up to where they need not keep what they sent, and that one was restored.

use std::collections::BTreeMap;

use diesel::prelude::*;
use plumbline_core::id::{ReplicaId, SchoolId};

use crate::store::{
    Error, Store, audit,
    change::{AnyId, AnyKind},
    conn::db,
    schema::{replica, school},
    tx::new_id,
};

/// What a store has of devices' operations: by school, its epoch and the last operation of each replica.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Reached(BTreeMap<SchoolId, (AnyId, Vec<(ReplicaId, i64)>)>);

impl Store {
    /// How far devices' operations had come in when this store was copied.
    ///
    /// # Errors
    /// If the store fails.
    pub fn reached(&self) -> Result<Reached, Error> {
        self.snapshot(|mut conn| {
            let schools: Vec<(SchoolId, AnyId)> =
                db!(conn, c => school::table.select((school::id, school::epoch)).load(c))?;
            let mut found = BTreeMap::new();
            for (id, epoch) in schools {
                let replicas: Vec<(ReplicaId, i64)> = db!(conn, c => replica::table
                    .filter(replica::school_id.eq(id))
                    .select((replica::id, replica::last_n))
                    .load(c))?;
                found.insert(id, (epoch, replicas));
            }
            Ok(Reached(found))
        })
    }

    /// Tells devices that a backup has what they sent up to there: they need not keep it. Of schools alone whose history
    /// the backup is of; how many these are.
    ///
    /// # Errors
    /// If the store fails; what was noted before stays.
    pub fn note_backup(&self, has: Reached) -> Result<usize, Error> {
        let mut noted = 0;
        for (id, (epoch, replicas)) in has.0 {
            let clock = self.clock();
            let same = self.transact(move |mut conn| -> Result<_, Error> {
                let now: Option<AnyId> =
                    db!(conn, c => school::table.find(id).select(school::epoch).first(c).optional())?;
                if now != Some(epoch) {
                    return Ok(false);
                }
                for (replica, n) in &replicas {
                    db!(conn, c => diesel::update(replica::table.find((id, *replica))
                        .filter(replica::safe_n.lt(*n).and(replica::last_n.ge(*n))))
                        .set(replica::safe_n.eq(*n))
                        .execute(c))?;
                }
                audit::note(&mut conn, id, clock.now(), "backup.note", None, None)?;
                Ok(true)
            })?;
            noted += usize::from(same);
        }
        Ok(noted)
    }

    /// Begins another history of every school, because a backup was restored: devices read everything anew, and send
    /// again what the backup does not have. How many schools these are.
    ///
    /// # Errors
    /// If the store fails; what was begun before stays.
    pub fn begin_epochs(&self) -> Result<usize, Error> {
        let schools = self.schools()?;
        let many = schools.len();
        for (id, _) in schools {
            let clock = self.clock();
            self.transact(move |mut conn| -> Result<_, Error> {
                let now = clock.now();
                let epoch = new_id::<AnyKind>(now);
                db!(conn, c => diesel::update(school::table.find(id)).set(school::epoch.eq(epoch)).execute(c))?;
                audit::note(&mut conn, id, now, "backup.restored", None, None)
            })?;
        }
        Ok(many)
    }
}
