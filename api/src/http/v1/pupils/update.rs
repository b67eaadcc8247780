//! PATCH /pupils/{id}

use actix_web::{patch, web};
use plumbline_core::{
    access::{
        act::{Manage, Read},
        resource::Pupil,
    },
    id::{ClassId, PupilId},
    roster::Upn,
    text::{Name, Title},
    time::Date,
};
use serde::{Deserialize, Deserializer};
use utoipa::ToSchema;

use super::{
    PupilBody,
    create::{check_birth, taken, year_group},
};
use crate::{
    http::{
        body::{Body, unless_null},
        caller::{Caller, same_version},
        problem::Problem,
        problems::EditProblems,
        reply::Reply,
    },
    store::{PupilChange, PupilRow},
};

/// What to change (JSON Merge Patch, RFC 7396): a field left out stays, null clears it.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"preferred_name": "Zo", "class_id": "0199f2c4-0000-7000-8000-000000000006", "from": "2026-11-30"}))]
pub struct PupilPatch {
    /// First or only name; null where only a family name is known.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>)]
    pub given_name: Option<Option<Name>>,
    /// Family name.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>)]
    pub family_name: Option<Option<Name>>,
    /// Name the pupil is called by.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>)]
    pub preferred_name: Option<Option<Name>>,
    /// What tells namesakes apart.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>)]
    pub label: Option<Option<Title>>,
    /// The school's reference.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>)]
    pub pupil_ref: Option<Option<Name>>,
    /// Unique pupil number, check letter included. The one before is kept with those of before.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>)]
    pub upn: Option<Option<String>>,
    /// Date of birth.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<Date>)]
    pub date_of_birth: Option<Option<Date>>,
    /// The last day here. Ends classes and groups; what was before stays. Null for one who comes back, or
    /// stays after all: say the class too, and put the pupil in groups anew.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<Date>)]
    pub left_on: Option<Option<Date>>,
    /// Year group in the school year of `from`, in any of the rule pack's spellings; never null.
    #[serde(default, deserialize_with = "unless_null")]
    #[schema(value_type = String)]
    pub year_group: Option<String>,
    /// The class from `from` on; null for none. A class that is said of a day ahead already, as by a
    /// rollover, stays: until then it is this one.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<ClassId>)]
    pub class_id: Option<Option<ClassId>>,
    /// First day in the class; today unless told.
    #[serde(default)]
    pub from: Option<Date>,
}

/// Tells null from nothing: a field that is there becomes `Some`, even if null.
pub fn given<'de, D: Deserializer<'de>, T: Deserialize<'de>>(
    field: D,
) -> Result<Option<Option<T>>, D::Error> {
    Option::deserialize(field).map(Some)
}

/// Change a pupil
///
/// A move between classes is dated: lessons count for the class of their day.
#[utoipa::path(
    tag = "pupils", operation_id = "update_pupil", request_body = PupilPatch,
    params(("id" = PupilId, Path, description = "The pupil"), ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 200, description = "As it is now; ETag", body = PupilBody), EditProblems)
)]
#[patch("/pupils/{id}")]
pub async fn update_pupil(
    caller: Caller,
    id: web::Path<PupilId>,
    body: Body<PupilPatch>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    let patch = body.value;
    caller
        .write("pupil.update", move |tx| {
            let permit = tx.permit::<Manage, _>(Pupil(*id))?;
            let reading = tx.permit::<Read, _>(Pupil(*id))?;
            let old = tx.pupil_view(&reading)?.row;
            let base = same_version(old.v, base)?;
            nameless(&patch, &old)?;
            check_birth(patch.date_of_birth.flatten(), tx.today())?;
            let from = patch.from.unwrap_or(tx.today());
            let left_on = patch.left_on.unwrap_or(old.left_on).filter(|last| *last < from);
            if let (Some(last), Some(Some(_))) = (left_on, patch.class_id) {
                return Err(Problem::field("class_id", format!("the last day here is {last}")));
            }
            let text = |field: &Option<Option<Name>>| field.clone().map(|name| name.map(String::from));
            let change = PupilChange {
                pupil_ref: text(&patch.pupil_ref),
                upn: upn(&patch.upn)?,
                given_name: text(&patch.given_name).map(Option::unwrap_or_default),
                family_name: text(&patch.family_name),
                preferred_name: text(&patch.preferred_name),
                label: patch.label.clone().map(|label| label.map(String::from)),
                date_of_birth: patch.date_of_birth,
                left_on: patch.left_on,
                year_group: year_group(tx, patch.year_group.as_deref(), from)?,
                classes: patch.class_id.map(|class| (class.into_iter().collect(), from)),
            };
            let view = tx.change_pupil(&permit, &change, base).map_err(taken)?;
            let v = view.row.v;
            Ok(Reply::ok(&PupilBody::from(view))?.version(v))
        })
        .await
}

/// Refuses to clear the only name.
fn nameless(patch: &PupilPatch, old: &PupilRow) -> Result<(), Problem> {
    let given = patch.given_name.as_ref().map_or(!old.given_name.is_empty(), Option::is_some);
    let family = patch.family_name.as_ref().map_or(old.family_name.is_some(), Option::is_some);
    let field = if patch.given_name == Some(None) { "given_name" } else { "family_name" };
    if given || family { Ok(()) } else { Err(Problem::field(field, "a pupil needs a name")) }
}

/// A number whose check letter is right, or what is wrong with it.
fn upn(field: &Option<Option<String>>) -> Result<Option<Option<Upn>>, Problem> {
    let Some(field) = field else { return Ok(None) };
    let upn = field.as_deref().map(Upn::new).transpose();
    upn.map(Some).map_err(|error| Problem::field("upn", error))
}
