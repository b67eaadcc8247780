//! POST /sync/pull

use std::{collections::BTreeMap, sync::Arc};

use actix_web::post;
use plumbline_core::{
    access::{
        act::{Read, Record},
        resource::Replica,
    },
    id::ReplicaId,
    sync::Cursor,
};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;

use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::{CreateProblems, SyncProblems},
        reply::Reply,
        sync::{bodies::bodies, same_schema},
    },
    store::{Arrival, ChangeKind, PulledRow, Tx},
};

/// What a replica has, and how much it takes.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "replica": "0199f2c4-0000-7000-8000-000000000041", "epoch": "0199f2c4-0000-7000-8000-000000000042",
    "schema": 1, "cursors": {}, "limit": 500
}))]
pub struct PullRequest {
    /// The replica: one's own.
    pub replica: ReplicaId,
    /// The epoch it last heard of.
    pub epoch: String,
    /// The form of records it knows: 1.
    pub schema: u32,
    /// The cursor of each scope it holds, as answered. Nothing inside is meant to be read.
    pub cursors: BTreeMap<String, String>,
    /// How many changes, 1 to 500; 500 unless told.
    #[serde(default)]
    #[schema(minimum = 1, maximum = 500)]
    pub limit: Option<u16>,
}

/// A change of a record in a scope.
#[derive(Debug, Serialize, ToSchema)]
pub struct PulledChange {
    /// The scope.
    pub scope: String,
    /// The kind of record.
    pub kind: &'static str,
    /// The record.
    pub id: String,
    /// The version of the change, as digits.
    pub v: String,
    /// `put`: it is in the scope, and stands as `body` says. `leave`: it is not, or not for this reader. `del`: it is
    /// gone.
    pub is: &'static str,
    /// What it says, as `BodyByKind` describes each kind; null unless `put`.
    #[schema(value_type = Option<Object>)]
    pub body: Option<Value>,
}

/// A page of changes, all of one moment.
#[derive(Debug, Serialize, ToSchema)]
#[schema(example = json!({
    "epoch": "0199f2c4-0000-7000-8000-000000000042", "scopes": ["school:0199f2c4-0000-7000-8000-000000000001"],
    "drop": [], "reset": [], "rows": [], "cursors": {"school:0199f2c4-0000-7000-8000-000000000001": "12...12.7f"},
    "more": false, "last_n": 0, "safe_n": 0
}))]
pub struct PullReply {
    /// The epoch. Another than sent: forget every cursor and record, keep what is to be sent, and pull again.
    pub epoch: String,
    /// Every scope the reader holds.
    pub scopes: Vec<String>,
    /// Scopes to forget.
    pub drop: Vec<String>,
    /// Scopes to forget what is held of before these rows are taken.
    pub reset: Vec<String>,
    /// The changes.
    pub rows: Vec<PulledChange>,
    /// The cursor of each scope, to be kept together with the rows.
    pub cursors: BTreeMap<String, String>,
    /// Whether there are more: pull again. Records no scope holds are removed once there are not.
    pub more: bool,
    /// Number of the last operation that was answered.
    pub last_n: i64,
    /// Operations up to this number are in a verified backup.
    pub safe_n: i64,
}

/// Get what changed in the scopes one holds
///
/// Which scopes these are the server says: the school's, and the classes and groups one is assigned to today. What
/// concerns pupils is read under the same rules as everywhere; the reading is in the audit log before it is answered.
#[utoipa::path(
    tag = "sync", operation_id = "pull_changes", request_body = PullRequest,
    responses((status = 200, description = "A page of changes", body = PullReply), CreateProblems, SyncProblems)
)]
#[post("/sync/pull")]
pub async fn pull_changes(caller: Caller, body: Body<PullRequest>) -> Result<Reply, Problem> {
    let asked = Arc::new(body.value);
    same_schema(asked.schema)?;
    let limit = match asked.limit.unwrap_or(500) {
        limit @ 1..=500 => usize::from(limit),
        _ => return Err(Problem::field("limit", "must be 1 to 500")),
    };
    let told = Arc::new(cursors(&asked.cursors)?);
    let first = {
        let (asked, told) = (asked.clone(), told.clone());
        move |tx: &mut Tx<'_>| page(tx, &asked, &told, limit, true)
    };
    if let Some(reply) = caller.read_logged_if_about("sync.pull", first).await? {
        return Ok(reply);
    }
    let replica = asked.replica;
    caller
        .write("sync.arrive", move |tx| {
            let permit = tx.permit::<Record, _>(Replica(replica))?;
            Ok(tx.arrive(&permit)?)
        })
        .await?;
    let again = move |tx: &mut Tx<'_>| page(tx, &asked, &told, limit, false);
    let reply = caller.read_logged_if_about("sync.pull", again).await?;
    reply.ok_or_else(|| Problem::new(Code::Internal))
}

fn cursors(sent: &BTreeMap<String, String>) -> Result<BTreeMap<String, Cursor>, Problem> {
    let one = |(scope, text): (&String, &String)| {
        let cursor = text.parse().map_err(|error| Problem::field(format!("cursors.{scope}"), error));
        cursor.map(|cursor| (scope.clone(), cursor))
    };
    sent.iter().map(one).collect()
}

/// A page; none where something is to be written first.
fn page(
    tx: &mut Tx<'_>,
    asked: &PullRequest,
    told: &BTreeMap<String, Cursor>,
    limit: usize,
    may_be_due: bool,
) -> Result<Option<Reply>, Problem> {
    let permit = tx.permit::<Read, _>(Replica(asked.replica))?;
    let Arrival { replica, epoch, revoked, due } = tx.arrival(&permit)?;
    if revoked {
        return Err(Problem::new(Code::TabletRevoked));
    }
    if due && may_be_due {
        return Ok(None);
    }
    let epoch = epoch.to_string();
    if epoch != asked.epoch {
        return Reply::ok(&PullReply {
            epoch,
            scopes: Vec::new(),
            drop: Vec::new(),
            reset: told.keys().cloned().collect(),
            rows: Vec::new(),
            cursors: BTreeMap::new(),
            more: true,
            last_n: replica.last_n,
            safe_n: replica.safe_n,
        })
        .map(Some);
    }
    let pulled = tx.pull(&permit, told, limit)?;
    let found = bodies(tx, &pulled)?;
    let change = |row: &PulledRow| {
        let body = match row.is {
            ChangeKind::Put => found.get(&(row.kind, row.id)).cloned(),
            ChangeKind::Leave | ChangeKind::Del => None,
        };
        let is = if row.is == ChangeKind::Put && body.is_none() { ChangeKind::Leave } else { row.is };
        PulledChange {
            scope: row.scope.clone(),
            kind: row.kind.as_str(),
            id: row.id.to_string(),
            v: row.v.to_string(),
            is: is.as_str(),
            body,
        }
    };
    let rows = pulled.rows().iter().map(change).collect();
    Reply::ok(&PullReply {
        epoch,
        scopes: pulled.scopes,
        drop: pulled.drop,
        reset: pulled.reset,
        rows,
        cursors: pulled.cursors,
        more: pulled.more,
        last_n: replica.last_n,
        safe_n: replica.safe_n,
    })
    .map(Some)
}
