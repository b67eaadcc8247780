//! GET /not-accessible-reviews

use std::collections::BTreeMap;

use actix_web::get;
use chrono::Days;
use plumbline_core::{
    access::{act::Read, resource::NotAccessibleReviews},
    id::PupilId,
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::NotAccessibleBody;
use crate::{
    http::{
        caller::Caller, page::Page, problem::Problem, problems::ReadProblems, query::Query, reply::Reply,
        v1::pupils::lines,
    },
    store::{NotAccessibleRow, PupilRow},
};

/// By when.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ReviewsQuery {
    /// Due by this day; unless told, by as many days ahead as the rule pack says.
    pub until: Option<Date>,
}

/// Something to look at again.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "name": "Zo Bell", "apart": null, "overdue": false,
    "entry": {"id": "0199f2c4-0000-7000-8000-000000000031", "pupil_id": "0199f2c4-0000-7000-8000-000000000007",
        "kind": "word_reading", "mode": null, "reason": "aid_not_ready",
        "reason_label": "What the pupil answers with is not here or not ready", "from": "2026-11-02",
        "review_on": "2026-12-01", "said_by": "0199f2c4-0000-7000-8000-000000000002",
        "said_at": "2026-11-02T10:00:00.000000Z", "ended_on": null, "ended_by": null, "holds": true}
}))]
pub struct ReviewLine {
    /// The name the pupil is called by.
    pub name: String,
    /// What tells it apart from the same name in this list.
    pub apart: Option<String>,
    /// Whether its day has passed: it holds no longer, and the pupil is asked like everybody.
    pub overdue: bool,
    /// What was said.
    pub entry: NotAccessibleBody,
}

/// List what is not accessible to pupils and is to be looked at again
///
/// Of pupils who are here, the longest due first. What was ended or said anew since is left out. The reading is
/// written to the audit log before the answer is sent.
#[utoipa::path(
    tag = "answering", operation_id = "list_not_accessible_reviews", params(ReviewsQuery),
    responses((status = 200, description = "The longest due first", body = Page<ReviewLine>), ReadProblems)
)]
#[get("/not-accessible-reviews")]
pub async fn list_not_accessible_reviews(
    caller: Caller,
    query: Query<ReviewsQuery>,
) -> Result<Reply, Problem> {
    let until = query.until;
    caller
        .read_logged("pupil.not_accessible_reviews", move |tx| {
            let permit = tx.permit::<Read, _>(NotAccessibleReviews)?;
            let (rule, today) = (&tx.rules()?.marking.not_accessible, tx.today());
            let ahead = today.checked_add_days(Days::new(rule.due_within_days.into())).unwrap_or(today);
            let rows = tx.not_accessible_reviews(&permit, until.unwrap_or(ahead))?;
            // A pupil named twice is one pupil, and no namesake.
            let once: BTreeMap<PupilId, _> =
                rows.iter().map(|(pupil, class, _)| (pupil.id, (pupil.clone(), class.clone()))).collect();
            let named = lines(once.into_values().collect());
            let line = |(pupil, _, row): &(PupilRow, Option<String>, NotAccessibleRow)| {
                let line = named.iter().find(|line| line.id == pupil.id)?;
                let entry = NotAccessibleBody::new(row.clone(), rule, today);
                let (name, apart) = (line.name.clone(), line.apart.clone());
                Some(ReviewLine { name, apart, overdue: !entry.holds, entry })
            };
            Reply::ok(&Page::whole(rows.iter().filter_map(line).collect::<Vec<_>>()))
        })
        .await
}
