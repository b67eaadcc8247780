//! Tablets that work with the school's records, and who works on them.

pub mod add;
pub mod get;
pub mod list;
pub mod rename;
pub mod revoke;

use plumbline_core::{
    id::{ReplicaId, StaffId, TabletId},
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::store::{ReplicaLine, TabletRow};

/// A tablet.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000071", "name": "Carpet tablet, Alder",
    "added_by": "0199f2c4-0000-7000-8000-000000000002", "added_at": "2026-11-24T08:40:00.000000Z", "revoked_at": null
}))]
pub struct TabletBody {
    /// The tablet: the browser made this id.
    pub id: TabletId,
    /// What staff call it.
    pub name: String,
    /// Who added it.
    pub added_by: StaffId,
    /// When.
    pub added_at: Instant,
    /// Since when nothing on it opens anything; none while it is in use.
    pub revoked_at: Option<Instant>,
}

impl From<TabletRow> for TabletBody {
    fn from(row: TabletRow) -> Self {
        let TabletRow { id, name, added_by, added_at, revoked_at, .. } = row;
        Self { id, name, added_by, added_at, revoked_at }
    }
}

/// One person on a tablet.
#[derive(Serialize, ToSchema)]
pub struct ReplicaBody {
    /// The replica.
    pub id: ReplicaId,
    /// The person.
    pub staff_id: StaffId,
    /// That person's name.
    pub name: String,
    /// How many operations it has sent that were answered.
    pub last_n: i64,
    /// The last day it was heard of.
    pub last_seen_on: Date,
}

impl From<ReplicaLine> for ReplicaBody {
    fn from(line: ReplicaLine) -> Self {
        let ReplicaLine { id, staff, name, last_n, last_seen_on, .. } = line;
        Self { id, staff_id: staff, name, last_n, last_seen_on }
    }
}

/// A tablet with who works on it.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000071", "name": "Carpet tablet, Alder",
    "added_by": "0199f2c4-0000-7000-8000-000000000002", "added_at": "2026-11-24T08:40:00.000000Z", "revoked_at": null,
    "last_seen_on": "2026-11-25", "replicas": [{
        "id": "0199f2c4-0000-7000-8000-000000000072", "staff_id": "0199f2c4-0000-7000-8000-000000000002",
        "name": "Amara Osei", "last_n": 12, "last_seen_on": "2026-11-25"}]
}))]
pub struct TabletLine {
    /// The tablet.
    pub id: TabletId,
    /// What staff call it.
    pub name: String,
    /// Who added it.
    pub added_by: StaffId,
    /// When.
    pub added_at: Instant,
    /// Since when nothing on it opens anything; none while it is in use.
    pub revoked_at: Option<Instant>,
    /// The last day anybody's work on it was heard of; none if never.
    pub last_seen_on: Option<Date>,
    /// Who works on it, the one heard of last first.
    pub replicas: Vec<ReplicaBody>,
}

impl TabletLine {
    fn of(row: TabletRow, replicas: &[ReplicaLine]) -> Self {
        let TabletBody { id, name, added_by, added_at, revoked_at } = row.into();
        let replicas: Vec<ReplicaBody> =
            replicas.iter().filter(|one| one.tablet == id).cloned().map(ReplicaBody::from).collect();
        let last_seen_on = replicas.iter().map(|one| one.last_seen_on).max();
        Self { id, name, added_by, added_at, revoked_at, last_seen_on, replicas }
    }
}
