//! POST /pupils

use actix_web::post;
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::ClassId,
    roster::Upn,
    text::{Name, Title},
    time::Date,
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::PupilBody;
use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::{Error, NewPupil, Tx},
};

/// A pupil to add.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "given_name": "Zoë", "family_name": "Bell", "date_of_birth": "2020-05-31", "year_group": "Year 1",
    "class_id": "0199f2c4-0000-7000-8000-000000000006"
}))]
pub struct NewPupilBody {
    /// First name. One of the two names is needed, either may be the one.
    #[serde(default)]
    pub given_name: Option<Name>,
    /// Family name.
    #[serde(default)]
    pub family_name: Option<Name>,
    /// Name the pupil is called by.
    #[serde(default)]
    pub preferred_name: Option<Name>,
    /// What tells namesakes apart.
    #[serde(default)]
    pub label: Option<Title>,
    /// Unique pupil number, check letter included.
    #[serde(default)]
    pub upn: Option<String>,
    /// The school's reference.
    #[serde(default)]
    pub pupil_ref: Option<Name>,
    /// Date of birth.
    #[serde(default)]
    pub date_of_birth: Option<Date>,
    /// Year group in the school year of `from`, in any of the rule pack's spellings.
    #[serde(default)]
    pub year_group: Option<String>,
    /// Class.
    #[serde(default)]
    pub class_id: Option<ClassId>,
    /// First day in the class; today unless told.
    #[serde(default)]
    pub from: Option<Date>,
}

/// Add a pupil
#[utoipa::path(
    tag = "pupils", operation_id = "create_pupil", request_body = NewPupilBody,
    params(("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Added; ETag", body = PupilBody), CreateProblems)
)]
#[post("/pupils")]
pub async fn create_pupil(caller: Caller, body: Body<NewPupilBody>) -> Result<Reply, Problem> {
    let new = body.value;
    caller
        .create("pupil.create", body.hash, move |tx| {
            let permit = tx.permit::<Manage, _>(Roster)?;
            if new.given_name.is_none() && new.family_name.is_none() {
                return Err(Problem::field("given_name", "a pupil needs a name"));
            }
            check_birth(new.date_of_birth, tx.today())?;
            let from = new.from.unwrap_or(tx.today());
            let pupil = NewPupil {
                pupil_ref: new.pupil_ref.clone().map(String::from),
                upn: new.upn.as_deref().map(Upn::new).transpose().map_err(|e| Problem::field("upn", e))?,
                given_name: new.given_name.clone().map(String::from).unwrap_or_default(),
                family_name: new.family_name.clone().map(String::from),
                preferred_name: new.preferred_name.clone().map(String::from),
                label: new.label.clone().map(String::from),
                date_of_birth: new.date_of_birth,
                year_group: year_group(tx, new.year_group.as_deref(), from)?,
                class: new.class_id,
                from,
            };
            let view = tx.add_pupil(&permit, &pupil).map_err(taken)?;
            let v = view.row.v;
            Ok(Reply::created(format!("/api/v1/pupils/{}", view.row.id), &PupilBody::from(view))?.version(v))
        })
        .await
}

/// The code a label means, with the school year that holds the day.
pub fn year_group(tx: &mut Tx<'_>, label: Option<&str>, on: Date) -> Result<Option<(i32, String)>, Problem> {
    let Some(label) = label else { return Ok(None) };
    let rules = tx.rules()?;
    let Some(found) = rules.year_group_by_label(label) else {
        let known: Vec<_> = rules.year_groups.iter().map(|year| year.name.as_str()).collect();
        return Err(Problem::field("year_group", format!("give one of: {}", known.join(", "))));
    };
    let year =
        tx.calendar()?.year_of(on).map(|year| year.year).ok_or_else(|| {
            Problem::field("year_group", "the calendar has no school year for that day yet")
        })?;
    Ok(Some((year, found.code.clone())))
}

/// A date of birth lies in the past, and not a lifetime ago.
pub fn check_birth(born: Option<Date>, today: Date) -> Result<(), Problem> {
    match born {
        Some(born) if born > today => Err(Problem::field("date_of_birth", "is in the future")),
        Some(born) if today.signed_duration_since(born).num_days() > 20 * 366 => {
            Err(Problem::field("date_of_birth", "is more than 20 years ago"))
        }
        _ => Ok(()),
    }
}

/// A conflict of pupils is about the reference, something missing about the class.
pub fn taken(error: Error) -> Problem {
    match error {
        Error::Conflict => Problem::field("pupil_ref", "belongs to another pupil").with_code(Code::Conflict),
        Error::Missing => Problem::field("class_id", "is not a class of this school"),
        other => other.into(),
    }
}
