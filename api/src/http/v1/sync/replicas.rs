//! POST /sync/replicas

use actix_web::post;
use plumbline_core::{
    access::{
        act::Record,
        resource::{Replica, Replicas, Tablets},
    },
    id::{ReplicaId, SchoolId, StaffId, TabletId, of_device},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::{Error, Permit, ReplicaRow, Tx},
};

/// A replica to add.
#[derive(Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"id": "0199f2c4-0000-7000-8000-000000000041", "tablet_id": "0199f2c4-0000-7000-8000-000000000040"}))]
pub struct NewReplica {
    /// Made by the tablet, a UUID of version 7.
    #[serde(deserialize_with = "of_device")]
    pub id: ReplicaId,
    /// The tablet.
    pub tablet_id: TabletId,
}

/// One person on one tablet.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000041", "tablet_id": "0199f2c4-0000-7000-8000-000000000040",
    "staff_id": "0199f2c4-0000-7000-8000-000000000002", "last_n": 0, "safe_n": 0,
    "epoch": "0199f2c4-0000-7000-8000-000000000042", "school_id": "0199f2c4-0000-7000-8000-000000000001"
}))]
pub struct AddedReplica {
    /// Its id.
    pub id: ReplicaId,
    /// The tablet.
    pub tablet_id: TabletId,
    /// The person.
    pub staff_id: StaffId,
    /// Number of the last operation that was answered.
    pub last_n: i64,
    /// Operations up to this number are in a verified backup: they need not be kept to be sent again.
    pub safe_n: i64,
    /// To be sent with every push and pull. Another after a backup was restored.
    pub epoch: String,
    /// The school.
    pub school_id: SchoolId,
}

/// Add one's replica on a tablet
///
/// The same again answers the one there is, also where its owner has no role any more. From now on the sign-in is the
/// tablet's, and no other's: send this after every sign-in.
#[utoipa::path(
    tag = "sync", operation_id = "add_replica", request_body = NewReplica,
    responses((status = 201, description = "Added, or there already", body = AddedReplica), CreateProblems)
)]
#[post("/sync/replicas")]
pub async fn add_replica(caller: Caller, body: Body<NewReplica>) -> Result<Reply, Problem> {
    let new = body.value;
    caller
        .write("replica.add", move |tx| {
            let row = match tx.permit_if_allowed::<Record, _>(Replica(new.id))? {
                Some(own) => again(tx, &own, new.tablet_id)?,
                None => added(tx, new)?,
            };
            let own = tx.permit::<Record, _>(Replica(row.id))?;
            let epoch = tx.arrival(&own)?.epoch.to_string();
            let body = AddedReplica {
                id: row.id,
                tablet_id: row.tablet_id,
                staff_id: row.staff_id,
                last_n: row.last_n,
                safe_n: row.safe_n,
                epoch,
                school_id: tx.school(),
            };
            Reply::created("/api/v1/sync/replicas", &body)
        })
        .await
}

/// One's own that is there already.
fn again<'tx>(
    tx: &mut Tx<'tx>,
    own: &Permit<'tx, Record, Replica>,
    tablet: TabletId,
) -> Result<ReplicaRow, Problem> {
    let row = tx.arrival(own)?.replica;
    if row.tablet_id != tablet {
        return Err(taken());
    }
    tx.bind_session_of(own, &row).map_err(elsewhere)?;
    Ok(row)
}

/// A new one.
fn added(tx: &mut Tx<'_>, new: NewReplica) -> Result<ReplicaRow, Problem> {
    let permit = tx.permit::<Record, _>(Replicas)?;
    let on = tx.permit::<Record, _>(Tablets)?;
    tx.bind_session(&on, new.tablet_id).map_err(elsewhere)?;
    tx.add_replica(&permit, new.id, new.tablet_id).map_err(|error| match error {
        Error::Conflict => taken(),
        other => other.into(),
    })
}

fn taken() -> Problem {
    Problem::field("id", "is another replica's").with_code(Code::Conflict)
}

fn elsewhere(error: Error) -> Problem {
    match error {
        Error::Conflict => {
            Problem::field("tablet_id", "this sign-in is another tablet's: sign in on this one")
                .with_code(Code::Conflict)
        }
        other => other.into(),
    }
}
