//! POST /sync/push

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

use actix_web::post;
use plumbline_core::{
    access::{act::Record, resource::Replica},
    id::{ReplicaId, of_device},
    sync::{Receipt, receive},
};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use sha2::{Digest as _, Sha256};
use utoipa::ToSchema;

use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::{CreateProblems, SyncProblems},
        reply::Reply,
        sync::{Op, OpOutcome, answered, same_schema},
    },
    store::{AnsweredOp, Arrival, Held, NewOp, Permit, Sent, Tx},
};

/// The most operations of one push.
const MOST: usize = 500;

/// What a replica sends.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "replica": "0199f2c4-0000-7000-8000-000000000041", "epoch": "0199f2c4-0000-7000-8000-000000000042",
    "schema": 1, "ack_n": 0, "ops": []
}))]
pub struct PushRequest {
    /// The replica: one's own.
    #[serde(deserialize_with = "of_device")]
    pub replica: ReplicaId,
    /// The epoch it last heard of.
    pub epoch: String,
    /// The form of operations it speaks: 1.
    pub schema: u32,
    /// The last operation whose answer it has kept: answers up to there are forgotten here.
    #[schema(minimum = 0)]
    pub ack_n: i64,
    /// Up to 500 operations, numbered one after the other.
    #[schema(max_items = 500)]
    pub ops: Vec<Op>,
}

/// What became of each operation.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "epoch": "0199f2c4-0000-7000-8000-000000000042", "last_n": 1,
    "outcomes": [{"n": 1, "op_id": "0199f2c4-0000-7000-8000-000000000043", "outcome": "applied", "v": "17",
                  "code": null, "field": null, "detail": null, "current": null}]
}))]
pub struct PushReply {
    /// The epoch.
    pub epoch: String,
    /// Number of the last operation that was answered.
    pub last_n: i64,
    /// In the order sent.
    #[schema(value_type = Vec<OpOutcome>)]
    pub outcomes: Vec<Value>,
}

/// Send operations that were made offline
///
/// Each number has one effect, however often it is sent: an operation that was answered is answered the same again.
/// One that is refused holds back no other. Who may do it is asked by the day of the lesson or check.
#[utoipa::path(
    tag = "sync", operation_id = "push_operations", request_body = PushRequest,
    responses((status = 200, description = "What became of each", body = PushReply), CreateProblems, SyncProblems)
)]
#[post("/sync/push")]
pub async fn push_operations(caller: Caller, body: Body<PushRequest>) -> Result<Reply, Problem> {
    let asked = body.value;
    same_schema(asked.schema)?;
    in_order(&asked)?;
    let asked = Arc::new(asked);
    let sent = asked.clone();
    match caller.write("sync.push", move |tx| push(tx, &sent)).await {
        Err(problem) if problem.code() == Code::TabletRevoked => {
            let sent = |op: &Op| Sent { id: op.op_id, n: op.n, body: whole(op) };
            match caller.hold_ops(asked.replica, asked.ops.iter().map(sent).collect()).await? {
                Held::All => Err(problem),
                Held::Some => Err(Problem::new(Code::HoldsNoMore)),
                Held::Reused => Err(Problem::new(Code::OpReused)),
            }
        }
        done => done,
    }
}

/// The largest number every reader of JSON keeps whole.
const LARGEST: i64 = (1 << 53) - 1;

fn in_order(asked: &PushRequest) -> Result<(), Problem> {
    if asked.ops.len() > MOST {
        let detail =
            format!("at most {MOST} operations are taken at once: send the first {MOST}, then the rest");
        return Err(Problem::saying(Code::TooLarge, detail));
    }
    let mut ids = BTreeSet::new();
    if asked.ack_n < 0 {
        return Err(Problem::field("ack_n", "must be 0 or more"));
    }
    for (place, op) in asked.ops.iter().enumerate() {
        if !ids.insert(op.op_id) {
            return Err(Problem::field(format!("ops[{place}].op_id"), "is the id of another operation"));
        }
        let before = place.checked_sub(1).map(|before| asked.ops[before].n);
        let follows = before.is_none_or(|before| op.n == before + 1);
        if !follows || !(1..=LARGEST).contains(&op.n) {
            return Err(Problem::field(format!("ops[{place}].n"), "numbers follow one another, from 1 on"));
        }
    }
    Ok(())
}

/// Answers each operation.
fn push(tx: &mut Tx<'_>, asked: &PushRequest) -> Result<Reply, Problem> {
    let permit = tx.permit::<Record, _>(Replica(asked.replica))?;
    let Arrival { replica, epoch, revoked, .. } = tx.arrival(&permit)?;
    if revoked {
        return Err(Problem::new(Code::TabletRevoked));
    }
    let epoch = epoch.to_string();
    if epoch != asked.epoch {
        return Err(Problem::new(Code::EpochChanged));
    }
    let known = tx.answered_ops(&permit, asked.ops.first().map_or(i64::MAX, |op| op.n))?;
    let known: BTreeMap<i64, AnsweredOp> = known.into_iter().map(|op| (op.n, op)).collect();
    // What was read counts before what was made after reading it.
    tx.forget_ops(&permit, asked.ack_n)?;
    let (mut last_n, mut outcomes) = (replica.last_n, Vec::new());
    for op in &asked.ops {
        let digest: [u8; 32] = Sha256::digest(whole(op).to_string()).into();
        let before = known.get(&op.n);
        let same = before.map(|known| known.op_id == op.op_id && known.sha256 == digest);
        outcomes.push(match (receive(last_n, op.n, same), before) {
            (Receipt::Known, Some(known)) => known.outcome.clone(),
            (Receipt::Next, _) => {
                last_n = op.n;
                next(tx, &permit, op, digest)?
            }
            (Receipt::Gap { expected }, _) => return Err(Problem::new(Code::OpGap).expecting(expected)),
            (Receipt::Reused | Receipt::Known, _) => return Err(Problem::new(Code::OpReused)),
        });
    }
    if last_n > replica.last_n {
        tx.answered_up_to(&permit, last_n)?;
    }
    Reply::ok(&PushReply { epoch, last_n, outcomes })
}

/// Does the next operation and writes down what became of it.
fn next<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Record, Replica>,
    op: &Op,
    sha256: [u8; 32],
) -> Result<Value, Problem> {
    let done = answered(tx, permit, op)?;
    let outcome = serde_json::to_value(&done)?;
    let new = NewOp { n: op.n, op_id: op.op_id, sha256, outcome: &outcome, v: done.made };
    tx.keep_op(permit, &new)?;
    Ok(outcome)
}

/// An operation as it was sent, its fields in one order.
fn whole(op: &Op) -> Value {
    serde_json::json!({"op_id": op.op_id, "type": op.kind, "base_v": op.base_v, "at": op.at, "tz": op.tz,
        "set": op.set})
}
