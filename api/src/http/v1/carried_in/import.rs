//! POST /groups/{id}/carried-in/answers/imports

use std::collections::BTreeMap;

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Record, resource::GroupPast},
    check::{SheetContext, read_carried},
    id::GroupId,
    roster::file::headings,
    time::Date,
};
use serde::Deserialize;
use utoipa::IntoParams;

use super::{CarriedChanges, been, carry, content_today};
use crate::{
    files::delimited,
    http::{
        body::Raw,
        caller::{Caller, blocking},
        problem::{Code, Problem},
        problems::CreateProblems,
        query::Query,
        reply::Reply,
    },
    store::Tx,
};

/// The day, and whether to look only.
#[derive(Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct CarriedImportQuery {
    /// The day of the answers.
    pub on: Date,
    /// Only say what the file would change.
    #[serde(default)]
    pub dry_run: bool,
}

/// Carry in what a group's pupils were checked on before, from a file
///
/// A header row, then a row a pupil: whose it is in the columns `pupil_ref`, `upn`, or `given_name`,
/// `family_name` and `date_of_birth` (under any heading pupil files have), and a column a GPC,
/// headed as the sequence shows it (`oo /uː/`), as `oo:uː`, or by its grapheme where only one GPC
/// has it. A cell says 1 or 0, or is empty and says nothing; the rule pack lists further spellings.
/// All a row says of whose it is must agree with one pupil of the group and no other: otherwise the
/// row is refused by its line, and with it the file. Every faulty line and cell is named. The same
/// file again changes nothing.
#[utoipa::path(
    tag = "carried in", operation_id = "import_carried_answers",
    params(("id" = GroupId, Path, description = "The group"), CarriedImportQuery),
    request_body(content = String, content_type = "text/csv", description = "The file",
        example = "pupil_ref,m,o /ɒ/,d\nA12,1,0,\n"),
    responses((status = 200, description = "What it changed, or would change", body = CarriedChanges), CreateProblems)
)]
#[post("/groups/{id}/carried-in/answers/imports")]
pub async fn import_carried_answers(
    caller: Caller,
    id: web::Path<GroupId>,
    query: Query<CarriedImportQuery>,
    file: Raw,
) -> Result<Reply, Problem> {
    if file.media_type != "text/csv" {
        return Err(Problem::saying(Code::UnsupportedMediaType, "send the file as text/csv"));
    }
    let sheet =
        blocking(move || delimited::read(&file.bytes).map_err(|error| Problem::field("file", error))).await?;
    let CarriedImportQuery { on, dry_run } = query.into_inner();
    let work = move |tx: &mut Tx<'_>| {
        let permit = tx.permit::<Record, _>(GroupPast(*id))?;
        been(on, tx.today())?;
        let (_, content) = content_today(tx, &permit)?;
        let rules = tx.rules()?;
        let context = SheetContext {
            content: &content,
            members: &tx.known_members(&permit)?,
            headings: &headings(rules, &BTreeMap::new()),
            cells: &rules.carried_cells,
            today: tx.today(),
        };
        let rows = read_carried(&sheet, context)?;
        carry(tx, &permit, on, &rows, dry_run)
    };
    if dry_run {
        return caller.read_logged("group.preview_carried_answers", work).await;
    }
    caller.write("group.import_carried_answers", work).await
}
