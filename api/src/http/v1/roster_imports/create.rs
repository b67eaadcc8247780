//! POST /roster-imports

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    roster::file::{Answers, Reading},
};
use sha2::{Digest as _, Sha256};

use super::{ImportBody, keep_out, preview, reading};
use crate::{
    files::roster_file,
    http::{
        body::Raw,
        caller::{Caller, blocking},
        problem::{Code, Problem},
        problems::{CreateProblems, GoneProblems},
        reply::Reply,
    },
    store::{ImportRow, Tx},
};

/// What a pupil file may be sent as.
const MEDIA_TYPES: [&str; 5] = [
    "text/csv",
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "application/zip",
    "application/xml",
    "text/xml",
];

/// Read a pupil file and show what it would change
///
/// A text file of cells, a workbook, a OneRoster archive (CSV binding 1.1 and 1.2, bulk or delta) or a
/// Common Transfer File. Which it is, its content says, whatever it is sent as; `format` repeats it.
/// Encoding, separator and header are found out and stated, the columns proposed. Formulas are never
/// worked out. Nothing is written to the roster before it is confirmed. Pupils missing from the file
/// are never touched, pupils it says have left (`tobedeleted`) are listed as `gone` and leave only
/// when their number is given, empty cells never blank what is known, and what nobody can know from
/// the file is asked. A column of an optional field that is off is listed as `withheld` and not kept; one
/// that is on is read by the rule pack's spellings, and a cell that says none of them says nothing. A repeat
/// with the same Idempotency-Key shows the import as it is by then, and is answered `gone` once its rows
/// are. An archive that holds a password or pupils of several schools is refused.
#[utoipa::path(
    tag = "roster imports", operation_id = "create_roster_import",
    request_body(content(
        (String = "text/csv", example = "pupil_ref,given_name,family_name,date_of_birth,year_group,class_name\nA1043,Zoë,Bell,2020-05-31,Year 1,Alder\n"),
        (String = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", example = "the bytes of the workbook"),
        (String = "application/zip", example = "the bytes of a OneRoster archive"),
        (String = "application/xml", example = "<CTfile><CTFpupilData><Pupil><Surname>Bell</Surname><Forename>Zoë</Forename><DOB>2020-05-31</DOB></Pupil></CTFpupilData></CTfile>"),
        (String = "text/xml", example = "<CTfile><CTFpupilData><Pupil><Surname>Bell</Surname><Forename>Zoë</Forename><DOB>2020-05-31</DOB></Pupil></CTFpupilData></CTfile>")), description = "The file"),
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "The preview; ETag", body = ImportBody), CreateProblems, GoneProblems)
)]
#[post("/roster-imports")]
pub async fn create_roster_import(caller: Caller, file: Raw) -> Result<Reply, Problem> {
    if !MEDIA_TYPES.contains(&file.media_type.as_str()) {
        let message = format!("send the file as {}", MEDIA_TYPES.join(" or "));
        return Err(Problem::saying(Code::UnsupportedMediaType, message));
    }
    let bytes = file.bytes;
    let hash = Sha256::digest(&bytes).into();
    let may = |tx: &mut Tx<'_>| {
        tx.permit::<Manage, _>(Roster)?;
        Ok(tx.today())
    };
    let today = caller.read(may).await?;
    let read = move || roster_file::read(&bytes, today).map_err(|error| Problem::field("file", error));
    let sheet = blocking(read).await?;
    caller
        .create_of_pupils(
            "roster_import.create",
            hash,
            move |tx| {
                let permit = tx.permit::<Manage, _>(Roster)?;
                let (mut sheet, answers) = (sheet.clone(), Answers::default());
                keep_out(tx, &permit, &mut sheet, &answers)?;
                let (reading, plan) = preview(tx, &permit, &sheet, &answers)?;
                let row = tx.add_import(&permit, sheet, plan)?;
                created(row, reading)
            },
            |tx, reply| {
                let permit = tx.permit::<Manage, _>(Roster)?;
                let row = tx.import(&permit, reply.made()?)?;
                let reading = reading(tx, &permit, &row.sheet, &row.answers)?;
                created(row, reading)
            },
        )
        .await
}

fn created(row: ImportRow, reading: Reading) -> Result<Reply, Problem> {
    let (at, v) = (format!("/api/v1/roster-imports/{}", row.id), row.v);
    Ok(Reply::created(at, &ImportBody::new(row, reading))?.version(v))
}
