//! GET /roster-imports

use actix_web::get;
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::{RosterImportId, StaffId},
    roster::Summary,
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
        v1::pupils::Named,
    },
    store::{ImportLine, ImportStatus},
};

/// An import without its rows.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000009", "status": "confirmed",
    "sent_by": {"id": "0199f2c4-0000-7000-8000-000000000002", "name": "Ola Office"},
    "sent_at": "2026-11-25T10:00:00.000000Z", "confirmed_at": "2026-11-25T10:05:00.000000Z",
    "kept_until": "2026-12-23T10:05:00.000000Z",
    "summary": {"format": "text", "created": 200, "updated": 0, "completed": 0, "unchanged": 0, "held": 0,
                "repeats": 0, "left_out": 0, "rejected": 1, "new_classes": 7, "leavers": 0}
}))]
pub struct ImportLineBody {
    /// Its id.
    pub id: RosterImportId,
    /// How far it is.
    pub status: ImportStatus,
    /// Who sent the file.
    pub sent_by: Named<StaffId>,
    /// When.
    pub sent_at: Instant,
    /// When it was carried out.
    pub confirmed_at: Option<Instant>,
    /// Until when the rows of the file are kept: until then it can be answered and confirmed, or taken
    /// back. They are gone where null.
    pub kept_until: Option<Instant>,
    /// What the file was and came to, as last shown.
    pub summary: Summary,
}

impl From<ImportLine> for ImportLineBody {
    fn from(line: ImportLine) -> Self {
        let ImportLine { id, status, sent_by: (staff, name), sent_at, confirmed_at, kept_until, summary } =
            line;
        let sent_by = Named { id: staff, name };
        Self { id, status, sent_by, sent_at, confirmed_at, kept_until, summary }
    }
}

/// List roster imports, latest first
///
/// Who sent a file when, what it was and what came of it, in numbers: no pupils. The rows of a file are
/// kept only as long as something can be done with them; the rule pack says how many days.
#[utoipa::path(
    tag = "roster imports", operation_id = "list_roster_imports", params(PageQuery),
    responses((status = 200, description = "A page of imports", body = Page<ImportLineBody>), ReadProblems)
)]
#[get("/roster-imports")]
pub async fn list_roster_imports(caller: Caller, query: Query<PageQuery>) -> Result<Reply, Problem> {
    let (limit, before) = (query.limit()?, query.after::<RosterImportId>()?);
    caller
        .read(move |tx| {
            let permit = tx.permit::<Manage, _>(Roster)?;
            let mut lines = tx.imports(&permit, before, one_more(limit))?;
            let next = cut(&mut lines, limit, |last| last.id);
            let items = lines.into_iter().map(ImportLineBody::from).collect();
            Reply::ok(&Page { items, next })
        })
        .await
}
