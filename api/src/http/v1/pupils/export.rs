//! GET /pupils/export

use actix_web::get;
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    roster::{Row, file::export},
};
use serde::Deserialize;
use utoipa::IntoParams;

use crate::{
    files::csv_text,
    http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply},
};

/// What of the pupils.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct PupilsExportQuery {
    /// Unique pupil numbers too, whole; the audit log says so.
    #[serde(default)]
    pub upn: bool,
    /// Optional fields too, by their keys, separated by commas; the audit log says so. As of today.
    pub fields: Option<String>,
}

/// Export the pupils of the school
///
/// Those here today, in the columns an import takes and in UTF-8 with a byte-order mark. A cell that a
/// spreadsheet could take for a formula stands behind an apostrophe, and `guarded`, the last column, names
/// these fields: importing the file takes off what was put on, and changes nothing. Unique pupil numbers and
/// optional fields are left out unless asked for. The reading is written to the audit log before the answer is
/// sent.
#[utoipa::path(
    tag = "pupils", operation_id = "export_pupils", params(PupilsExportQuery),
    responses((status = 200, description = "The file", content_type = "text/csv", body = String,
        example = "pupil_ref,given_name,family_name,preferred_name,date_of_birth,year_group,class_name,guarded\r\nA1043,Zoë,Bell,,2020-05-31,Year 1,Alder,\r\n"), ReadProblems)
)]
#[get("/pupils/export")]
pub async fn export_pupils(caller: Caller, query: Query<PupilsExportQuery>) -> Result<Reply, Problem> {
    let upns = query.upn;
    let fields = query.fields.as_deref().unwrap_or_default().split(',').map(str::trim);
    let fields: Vec<String> = fields.filter(|field| !field.is_empty()).map(str::to_owned).collect();
    let operation = match (upns, fields.is_empty()) {
        (false, true) => "pupil.export",
        (true, true) => "pupil.export_with_upn",
        (false, false) => "pupil.export_with_fields",
        (true, false) => "pupil.export_with_upn_and_fields",
    };
    let table = caller
        .read_logged(operation, move |tx| {
            let permit = tx.permit::<Manage, _>(Roster)?;
            let on = tx.optional_keys(&permit)?;
            if let Some(off) = fields.iter().find(|field| !on.contains(*field)) {
                let on = on.into_iter().collect::<Vec<_>>().join(", ");
                return Err(Problem::field("fields", format!("{off} is not on; on are: {on}")));
            }
            let year = tx.school_year_of(tx.today())?;
            let (pupils, _) = tx.roster_rows(&permit, year)?;
            let here: Vec<Row> = pupils.into_iter().filter(|one| !one.left).map(|one| one.row).collect();
            Ok(export(&here, upns, &fields, tx.rules()?))
        })
        .await?;
    Reply::csv(csv_text::write(table))
}
