//! POST /roster-imports

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    roster::plan,
};
use sha2::{Digest as _, Sha256};

use super::ImportBody;
use crate::{
    files::roster_csv,
    http::{
        body::Raw,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
};

/// Read a pupil file and show what it would change
///
/// A CSV file with a header row of `pupil_ref`, `given_name`, `family_name`,
/// `preferred_name`, `date_of_birth`, `year_group`, `class_name`; only `given_name` is
/// required. Nothing is written to the roster before it is confirmed. Pupils missing from
/// the file are never touched, empty cells never blank what is known.
#[utoipa::path(
    tag = "roster imports", operation_id = "create_roster_import",
    request_body(content = String, content_type = "text/csv", description = "The file",
        example = "pupil_ref,given_name,family_name,date_of_birth,year_group,class_name\nA1043,Zoë,Bell,2020-05-31,Year 1,Alder\n"),
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "The preview", body = ImportBody), CreateProblems)
)]
#[post("/roster-imports")]
pub async fn create_roster_import(caller: Caller, file: Raw) -> Result<Reply, Problem> {
    if file.media_type != "text/csv" {
        return Err(Problem::saying(Code::UnsupportedMediaType, "send the file as text/csv"));
    }
    let bytes = file.bytes;
    let hash = Sha256::digest(&bytes).into();
    caller
        .create("roster_import.create", hash, move |tx| {
            let permit = tx.permit::<Manage, _>(Roster)?;
            let rules = tx.rules()?;
            let file =
                roster_csv::read(&bytes, &rules).map_err(|error| Problem::field(error.field(), error))?;
            let (pupils, classes) = tx.roster_rows(&permit)?;
            let plan = plan(file.reading.rows.clone(), file.reading.rejected.clone(), &pupils, &classes);
            let row = tx.add_import(&permit, file.encoding, file.reading, plan)?;
            Reply::created(format!("/api/v1/roster-imports/{}", row.id), &ImportBody::from(row))
        })
        .await
}
