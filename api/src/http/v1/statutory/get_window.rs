//! GET /statutory-windows/{id}

use actix_web::{get, web};
use plumbline_core::{
    access::{act::Read, resource::StatutoryWindow},
    id::{PupilId, StaffId, StatutoryWindowId},
    statutory::{Reason, Standing},
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::ToSchema;

use super::{StatutoryWindowBody, named};
use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply, v1::pupils::PupilLine},
    store::{StatutoryPupil, StatutoryResultRow, StatutoryView},
};

/// What is entered for a pupil.
#[derive(Serialize, ToSchema)]
pub struct StatutoryEntryBody {
    /// The mark.
    pub mark: Option<i16>,
    /// The code in its place.
    pub code: Option<String>,
    /// The day of the check.
    pub on: Option<Date>,
    /// Who gave it.
    pub taken_by: Option<StaffId>,
    /// Who entered it.
    pub entered_by: StaffId,
    /// When.
    pub entered_at: Instant,
    /// Its version: what `replaces` is to say if it is changed, and `If-Match` if it is taken back.
    pub version: i64,
}

impl From<StatutoryResultRow> for StatutoryEntryBody {
    fn from(row: StatutoryResultRow) -> Self {
        Self {
            mark: row.mark,
            code: row.code,
            on: row.on_date,
            taken_by: row.taken_by,
            entered_by: row.entered_by,
            entered_at: row.at,
            version: row.v,
        }
    }
}

/// A pupil of a window.
#[derive(Serialize, ToSchema)]
pub struct StatutoryPupilBody {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// What tells namesakes apart.
    pub apart: Option<String>,
    /// The class.
    pub class: Option<String>,
    /// Code of the year group taught; null where it is not recorded.
    pub year_group: Option<String>,
    /// Whether to be checked.
    pub standing: Standing,
    /// Why, or why not.
    pub reason: Reason,
    /// What is entered; null while nothing is. Never filled in beforehand.
    pub entered: Option<StatutoryEntryBody>,
}

impl StatutoryPupilBody {
    fn new(line: PupilLine, pupil: StatutoryPupil) -> Self {
        Self {
            pupil_id: line.id,
            name: line.name,
            apart: line.apart,
            class: pupil.class,
            year_group: pupil.year_group,
            standing: pupil.reason.standing(),
            reason: pupil.reason,
            entered: pupil.result.map(StatutoryEntryBody::from),
        }
    }
}

/// A window with its pupils.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "window": {"id": "0199f2c4-0000-7000-8000-000000000041", "year": 2026, "term": "summer", "term_name": "Summer term",
        "opens_on": "2026-06-08", "closes_on": "2026-06-12", "absentees_until": "2026-06-19",
        "year_groups": [{"code": "year_1", "name": "Year 1"}], "submitted_by": null, "submitted_at": null},
    "entered": 0, "left": 1,
    "pupils": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null, "class": "Alder",
        "year_group": "year_1", "standing": "to_check", "reason": "year_group", "entered": null}]
}))]
pub struct StatutoryWindowPage {
    /// The window.
    pub window: StatutoryWindowBody,
    /// Of the pupils shown, those with something entered.
    pub entered: usize,
    /// Of the pupils shown, those with nothing entered who are to be checked or of whom that is open.
    pub left: usize,
    /// The pupils the reader may see, by year group, class and name.
    pub pupils: Vec<StatutoryPupilBody>,
}

/// A window with who is to be checked, why, and what is entered
///
/// A class teacher sees pupils of her own. It shows neither what has to be reached nor what a mark comes to.
#[utoipa::path(
    tag = "statutory check", operation_id = "get_statutory_window",
    params(("id" = StatutoryWindowId, Path, description = "The window")),
    responses((status = 200, description = "The window; ETag", body = StatutoryWindowPage), ReadProblems)
)]
#[get("/statutory-windows/{id}")]
pub async fn get_statutory_window(
    caller: Caller,
    id: web::Path<StatutoryWindowId>,
) -> Result<Reply, Problem> {
    caller
        .read_logged("statutory_window.read", move |tx| {
            let permit = tx.permit::<Read, _>(StatutoryWindow(*id))?;
            let StatutoryView { window: row, pupils } = tx.statutory_view(&permit)?;
            let page = StatutoryWindowPage {
                window: StatutoryWindowBody::new(&row, tx.rules()?)?,
                entered: pupils.iter().filter(|pupil| pupil.result.is_some()).count(),
                left: pupils.iter().filter(|pupil| pupil.left()).count(),
                pupils: named(pupils)
                    .into_iter()
                    .map(|(line, pupil)| StatutoryPupilBody::new(line, pupil))
                    .collect(),
            };
            Ok(Reply::ok(&page)?.version(row.v))
        })
        .await
}
