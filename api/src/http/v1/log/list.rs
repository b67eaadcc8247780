//! GET /audit-entries

use actix_web::get;
use plumbline_core::{
    access::{act::Read, resource::AuditLog},
    id::{PupilId, StaffId},
    time::{Date, Instant},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::{
    http::{
        caller::Caller,
        page::{Page, PageQuery, cut, one_more},
        problem::Problem,
        problems::ReadProblems,
        query::Query,
        reply::Reply,
    },
    store::AuditSearch,
};

/// Which entries; all unless told.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct LogQuery {
    /// Those of this day at the school.
    pub on: Option<Date>,
    /// Those of this member of staff.
    pub staff_id: Option<StaffId>,
    /// Those of this operation, such as `pupil.read`.
    pub operation: Option<String>,
    /// Those about this kind of thing, such as `lesson_record`.
    pub subject_kind: Option<String>,
    /// Those about this pupil: who looked, who changed. Looking for them is an entry about the pupil too.
    pub pupil_id: Option<PupilId>,
    /// Where to go on: `next` of the page before.
    pub cursor: Option<String>,
    /// How many, 1 to 500; 100 unless told.
    #[param(minimum = 1, maximum = 500)]
    pub limit: Option<u16>,
}

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

/// List or find audit entries, latest first
#[utoipa::path(
    tag = "audit", operation_id = "list_audit_entries", params(LogQuery),
    responses((status = 200, description = "A page of entries", body = Page<AuditEntry>), ReadProblems)
)]
#[get("/audit-entries")]
pub async fn list_audit_entries(caller: Caller, query: Query<LogQuery>) -> Result<Reply, Problem> {
    let LogQuery { on, staff_id: staff, operation, subject_kind, pupil_id: pupil, cursor, limit } =
        query.into_inner();
    for (field, text) in [("operation", &operation), ("subject_kind", &subject_kind)] {
        if text.as_deref().is_some_and(|text| text.chars().any(char::is_control)) {
            return Err(Problem::field(field, "must not contain control characters"));
        }
    }
    let search = AuditSearch { on, staff, operation, subject_kind, pupil };
    let page = PageQuery { cursor, limit };
    let (limit, before) = (page.limit()?, page.after::<i64>()?);
    caller
        .read_logged_if_about("audit_log.read", move |tx| {
            let permit = tx.permit::<Read, _>(AuditLog)?;
            let mut lines = tx.audit_lines(&permit, &search, before, one_more(limit))?;
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
