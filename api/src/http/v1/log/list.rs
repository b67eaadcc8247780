//! GET /audit-entries

use actix_web::get;
use plumbline_core::{
    access::{act::Read, resource::AuditLog},
    id::StaffId,
    time::Instant,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::http::{
    caller::Caller,
    page::{Page, PageQuery, cut, one_more},
    problem::Problem,
    problems::ReadProblems,
    query::Query,
    reply::Reply,
};

/// An entry of the audit log. Says who did what to what sort of thing; never which pupil
/// and never what it said.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "seq": 812, "at": "2026-11-25T09:12:31.004210Z", "operation": "lesson.record", "subject_kind": "lesson_record",
    "staff_id": "0199f2c4-0000-7000-8000-000000000002"
}))]
pub struct AuditEntry {
    /// Place in the school's chain.
    pub seq: i64,
    /// When.
    pub at: Instant,
    /// The operation's name.
    pub operation: String,
    /// The kind of thing acted on.
    pub subject_kind: String,
    /// Who; none once erased, and where whoever held a link opened it.
    pub staff_id: Option<StaffId>,
}

/// List audit entries, latest first
#[utoipa::path(
    tag = "audit", operation_id = "list_audit_entries", params(PageQuery),
    responses((status = 200, description = "A page of entries", body = Page<AuditEntry>), ReadProblems)
)]
#[get("/audit-entries")]
pub async fn list_audit_entries(caller: Caller, page: Query<PageQuery>) -> Result<Reply, Problem> {
    let (limit, before) = (page.limit()?, page.after::<i64>()?);
    caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(AuditLog)?;
            let mut lines = tx.audit_lines(&permit, before, one_more(limit))?;
            let next = cut(&mut lines, limit, |last| last.seq);
            let items = lines
                .into_iter()
                .map(|line| AuditEntry {
                    seq: line.seq,
                    at: line.at,
                    operation: line.operation,
                    subject_kind: line.subject_kind,
                    staff_id: line.staff_id,
                })
                .collect();
            Reply::ok(&Page { items, next })
        })
        .await
}
