//! GET /sync/held-ops

use actix_web::get;
use plumbline_core::{
    access::{act::Read, resource::HeldOps},
    id::{OpId, ReplicaId, StaffId, TabletId},
    time::Instant,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::{
        caller::Caller,
        page::{Page, PageQuery, cut, one_more},
        problem::Problem,
        problems::ReadProblems,
        query::Query,
        reply::Reply,
    },
    store::HeldOpRow,
};

/// An operation that is held.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000081", "replica": "0199f2c4-0000-7000-8000-000000000072", "n": 13,
    "tablet_id": "0199f2c4-0000-7000-8000-000000000071", "tablet_name": "Carpet tablet, Alder",
    "staff_id": "0199f2c4-0000-7000-8000-000000000002", "staff_name": "Amara Osei",
    "held_at": "2026-11-25T10:02:00.000000Z", "op": {"type": "lesson.record", "set": {"on": "2026-11-25"}}
}))]
pub struct HeldOpBody {
    /// The operation.
    pub id: OpId,
    /// The replica that sent it.
    pub replica: ReplicaId,
    /// Its number there.
    pub n: i64,
    /// The tablet.
    pub tablet_id: TabletId,
    /// What the tablet is called.
    pub tablet_name: String,
    /// Whose sign-in sent it.
    pub staff_id: StaffId,
    /// That person's name.
    pub staff_name: String,
    /// When it came.
    pub held_at: Instant,
    /// The operation as it was sent.
    pub op: serde_json::Value,
}

impl From<HeldOpRow> for HeldOpBody {
    fn from(row: HeldOpRow) -> Self {
        Self {
            id: row.id,
            replica: row.replica,
            n: row.n,
            tablet_id: row.tablet,
            tablet_name: row.tablet_name,
            staff_id: row.staff,
            staff_name: row.staff_name,
            held_at: row.held_at,
            op: row.body,
        }
    }
}

/// List what revoked tablets still sent
///
/// What came first stands first. Nothing of it is in the records: whoever had the tablet may have written it.
#[utoipa::path(
    tag = "sync", operation_id = "list_held_ops", params(PageQuery),
    responses((status = 200, description = "What is held", body = Page<HeldOpBody>), ReadProblems)
)]
#[get("/sync/held-ops")]
pub async fn list_held_ops(caller: Caller, query: Query<PageQuery>) -> Result<Reply, Problem> {
    let (limit, after) = (query.limit()?, query.after()?);
    caller
        .read_logged("held_op.list", move |tx| {
            let permit = tx.permit::<Read, _>(HeldOps)?;
            let mut rows = tx.held_ops(&permit, after, one_more(limit))?;
            let next = cut(&mut rows, limit, |row| (row.held_at, row.replica, row.n));
            Reply::ok(&Page { items: rows.into_iter().map(HeldOpBody::from).collect(), next })
        })
        .await
}
