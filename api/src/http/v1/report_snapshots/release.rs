//! POST /report-snapshots/{id}/releases

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Publish, resource::SchoolReport},
    disclosure::Audience,
    id::ReportSnapshotId,
    report::{By, Choice, Made, Release, release},
    rules::RulePack,
};
use serde::Deserialize;
use utoipa::ToSchema;

use crate::{
    http::{body::Body, caller::Caller, problem::Problem, problems::CreateProblems, reply::Reply},
    store::{NewRelease, Permit, Tx},
};

/// What to release, and to whom.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"audience": "closed", "measures": ["gpcs", "words"], "by": ["year_group", "disadvantage"]}))]
pub struct NewReleaseBody {
    /// `closed` for governors and staff, `published` for everybody.
    pub audience: Audience,
    /// Measures of the rule pack, by their code; all of them unless told.
    #[serde(default)]
    pub measures: Vec<String>,
    /// By what pupils are told apart, one thing at a time: `year_group`, `class`, `term_of_birth` or the code of an
    /// optional field. The whole school is always told.
    #[serde(default)]
    #[schema(value_type = Vec<String>)]
    pub by: Vec<By>,
    /// Whether the smaller of the rule pack's two smallest groups is enough.
    #[serde(default)]
    pub smaller_groups: bool,
}

/// Release figures of a snapshot
///
/// What would tell of too few pupils is left out, and with it whatever would let that be worked out from this or any
/// earlier release to the same readers or to more: a `c` stands there, and no number. What is released stays released,
/// byte for byte, and counts against later ones: look at a preview first.
#[utoipa::path(
    tag = "reports", operation_id = "release_report", request_body = NewReleaseBody,
    params(("id" = ReportSnapshotId, Path, description = "The snapshot"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Released", body = Release), CreateProblems)
)]
#[post("/report-snapshots/{id}/releases")]
pub async fn release_report(
    caller: Caller,
    id: web::Path<ReportSnapshotId>,
    body: Body<NewReleaseBody>,
) -> Result<Reply, Problem> {
    let (id, asked) = (*id, body.value);
    caller
        .create("report_release.release", body.hash, move |tx| {
            let permit = tx.permit::<Publish, _>(SchoolReport)?;
            let made = made(tx, &permit, id, &asked)?;
            let new = NewRelease { snapshot: id, made };
            let kept = tx.add_release(&permit, &new)?;
            Reply::created(format!("/api/v1/report-releases/{}", kept.id), &new.made.release)
        })
        .await
}

/// The release of a snapshot as asked, judged by what is out at this moment.
pub(super) fn made<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Publish, SchoolReport>,
    id: ReportSnapshotId,
    asked: &NewReleaseBody,
) -> Result<Made, Problem> {
    let (found, rules) = (tx.report_snapshot(permit, id)?, tx.rules()?);
    let past = tx.past_tables(permit, asked.audience)?;
    Ok(release(&found.cohort, &choice(asked, rules)?, rules, &past))
}

fn choice<'r>(asked: &NewReleaseBody, rules: &'r RulePack) -> Result<Choice<'r>, Problem> {
    let published = match asked.audience {
        Audience::Closed => false,
        Audience::Published => true,
        Audience::Internal => {
            return Err(Problem::field(
                "audience",
                "must be closed or published: read the snapshot for every figure",
            ));
        }
    };
    let known = &rules.reports;
    let codes = || known.measures.iter().map(|one| one.code.as_str()).collect::<Vec<_>>().join(", ");
    let measure = |(place, code): (usize, &String)| {
        known.measure(code).ok_or_else(|| {
            Problem::field(format!("measures[{place}]"), format!("must be one of {}", codes()))
        })
    };
    let measures = match asked.measures.as_slice() {
        [] => known.measures.iter().collect(),
        some => some.iter().enumerate().map(measure).collect::<Result<_, _>>()?,
    };
    for (place, by) in asked.by.iter().enumerate() {
        let wrong = |why: String| Err(Problem::field(format!("by[{place}]"), why));
        if asked.by[..place].contains(by) {
            return wrong("stands there twice".to_owned());
        }
        match by {
            By::Class if published && !rules.disclosure.published.class_level => {
                return wrong("classes are not told of to everybody".to_owned());
            }
            By::Field(code) if rules.optional_fields.fields.iter().all(|field| field.field != *code) => {
                let fields: Vec<&str> =
                    rules.optional_fields.fields.iter().map(|field| field.field.as_str()).collect();
                return wrong(format!(
                    "must be one of year_group, class, term_of_birth, {}",
                    fields.join(", ")
                ));
            }
            _ => {}
        }
    }
    Ok(Choice { measures, by: asked.by.clone(), published, smaller_groups: asked.smaller_groups })
}
