//! GET /statutory-windows/{id}/results.csv

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::Read,
        resource::{StatutoryFigures, StatutoryWindow},
    },
    id::StatutoryWindowId,
    roster::Upn,
    rules::RulePack,
    spreadsheet::guarded,
};

use crate::{
    files::csv_text,
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply},
    store::{StatutoryPupil, StatutoryView},
};

const HEADER: [&str; 10] = [
    "upn",
    "family_name",
    "given_name",
    "date_of_birth",
    "year_group",
    "class_name",
    "mark",
    "code",
    "outcome_code",
    "missing",
];

/// Export the results of a window
///
/// For the school's own return: a row for each pupil who is to be checked, in UTF-8 with a byte-order mark. `missing`
/// names what a row lacks; `outcome_code` is empty while what has to be reached is not known. A cell that a
/// spreadsheet could take for a formula stands behind an apostrophe. It holds unique pupil numbers: the reading is
/// written to the audit log, which says so, before the answer is sent.
#[utoipa::path(
    tag = "statutory check", operation_id = "export_statutory_results",
    params(("id" = StatutoryWindowId, Path, description = "The window")),
    responses((status = 200, description = "The file", content_type = "text/csv", body = String,
        example = "upn,family_name,given_name,date_of_birth,year_group,class_name,mark,code,outcome_code,missing\r\n,Bell,Zoë,2020-05-31,Year 1,Alder,27,,Wt,upn\r\n"), ReadProblems)
)]
#[get("/statutory-windows/{id}/results.csv")]
pub async fn export_statutory_results(
    caller: Caller,
    id: web::Path<StatutoryWindowId>,
) -> Result<Reply, Problem> {
    let rows = caller
        .read_logged("statutory_window.export_with_upn", move |tx| {
            let permit = tx.permit::<Read, _>(StatutoryWindow(*id))?;
            let whole = tx.permit::<Read, _>(StatutoryFigures)?;
            let (StatutoryView { window, pupils }, rules) = (tx.statutory_view(&permit)?, tx.rules()?);
            let (threshold, upns) = (tx.threshold_of(&permit, &window)?, tx.statutory_upns(&whole)?);
            let mut rows = vec![HEADER.map(str::to_owned)];
            for pupil in pupils.iter().filter(|pupil| pupil.counts()) {
                rows.push(row(pupil, upns.get(&pupil.row.id), threshold, rules)?);
            }
            Ok(rows)
        })
        .await?;
    Reply::csv(csv_text::write(rows))
}

fn row(
    pupil: &StatutoryPupil,
    upn: Option<&Upn>,
    threshold: Option<u8>,
    rules: &RulePack,
) -> Result<[String; 10], Problem> {
    let result = pupil.result.as_ref().map(|row| row.result()).transpose()?.flatten();
    let outcome = result.as_ref().and_then(|result| result.outcome(threshold));
    let derived = outcome.and_then(|outcome| rules.statutory_check.derived(outcome));
    let year_group = pupil.year_group.as_ref();
    let missing: Vec<&str> = [
        ("upn", upn.is_none()),
        ("date_of_birth", pupil.row.date_of_birth.is_none()),
        ("year_group", year_group.is_none()),
        ("result", result.is_none()),
    ]
    .into_iter()
    .filter_map(|(what, is_missing)| is_missing.then_some(what))
    .collect();
    let named = year_group.map(|code| rules.year_group(code).map_or(code.as_str(), |year| &year.name));
    let text = |text: Option<&str>| guarded(text.unwrap_or_default());
    Ok([
        upn.map(|upn| upn.as_str().to_owned()).unwrap_or_default(),
        text(pupil.row.family_name.as_deref()),
        text(Some(&pupil.row.given_name)),
        pupil.row.date_of_birth.map(|born| born.to_string()).unwrap_or_default(),
        text(named),
        text(pupil.class.as_deref()),
        result.as_ref().and_then(|one| one.mark()).map(|mark| mark.to_string()).unwrap_or_default(),
        result.as_ref().and_then(|one| one.code()).unwrap_or_default().to_owned(),
        derived.map(|one| one.code.clone()).unwrap_or_default(),
        missing.join(" "),
    ])
}
