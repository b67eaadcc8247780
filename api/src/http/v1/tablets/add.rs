//! POST /tablets

use actix_web::post;
use plumbline_core::{
    access::{act::Record, resource::Tablets},
    id::{TabletId, of_device},
    text::Name,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::TabletBody;
use crate::http::{body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply};

/// A browser on a device.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"id": "0199f2c4-0000-7000-8000-000000000071", "name": "Carpet tablet, Alder"}))]
pub struct NewTablet {
    /// An id the browser makes once, a UUIDv7, and keeps.
    #[serde(deserialize_with = "of_device")]
    pub id: TabletId,
    /// What staff call it.
    pub name: Name,
}

/// Add a tablet
///
/// One that is there is answered as it is, its name too: whoever works on it next finds it named.
#[utoipa::path(
    tag = "tablets", operation_id = "add_tablet", request_body = NewTablet,
    responses((status = 201, description = "The tablet; ETag", body = TabletBody), CreateProblems)
)]
#[post("/tablets")]
pub async fn add_tablet(caller: Caller, body: Body<NewTablet>) -> Result<Reply, Problem> {
    caller
        .write("tablet.add", move |tx| {
            let permit = tx.permit::<Record, _>(Tablets)?;
            let row = tx.add_tablet(&permit, body.value.id, &body.value.name)?;
            let (v, location) = (row.v, format!("/api/v1/tablets/{}", row.id));
            Ok(Reply::created(location, &TabletBody::from(row))?.version(v))
        })
        .await
}
