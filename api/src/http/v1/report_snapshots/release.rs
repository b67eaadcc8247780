//! POST /report-snapshots/{id}/releases

use actix_web::{post, web};
use plumbline_core::{
    access::{act::Publish, resource::SchoolReport},
    disclosure::{Audience, Released},
    id::{ReportReleaseId, ReportSnapshotId},
    report::{By, CheckTold, Choice, Cohort, Made, PastTable, Release, release},
    rules::{MeasureOf, MeasureRule, RulePack},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    http::{
        body::Body,
        caller::Caller,
        problem::{Code, FieldError, Problem},
        problems::CreateProblems,
        reply::Reply,
    },
    store::{Snapshot, Tx},
};

/// What to release, and to whom.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"audience": "closed", "measures": ["gpcs", "words"], "by": ["year_group", "disadvantage"]}))]
pub struct NewReleaseBody {
    /// `closed` for governors and staff, `published` for everybody.
    pub audience: Audience,
    /// Measures of the snapshot, by their code; all that may be released unless told.
    #[serde(default)]
    pub measures: Vec<String>,
    /// By what pupils are told apart, one thing at a time: `year_group`, `class`, `term_of_birth` or the code of an
    /// optional field. The whole school is always told.
    #[serde(default)]
    #[schema(value_type = Vec<String>)]
    pub by: Vec<By>,
    /// Whether the smaller of the rule pack's two smallest groups is enough, where it has two for these readers.
    #[serde(default)]
    pub smaller_groups: bool,
    /// How many years' statutory checks are taken together, each pupil counted once, where one has too few pupils; one unless
    /// told. How many may be is the rule pack's.
    #[serde(default)]
    pub pooled_years: Option<usize>,
}

/// A release with its id.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000033", "audience": "closed", "as_of": "2026-12-18",
    "school": "Farholt Infant School", "half_term": "Autumn 2",
    "secure_means": {"right_on_days": 3, "days_after_teaching": 7, "carried_in_days": 1}, "versions": [], "cautions": [],
    "tables": [{"measure": "statutory", "name": "Phonics screening check met in Year 1", "means": "The mark is at or above the threshold.",
        "check": {"year_group": "Year 1", "years": [2026]}, "notes": ["Year groups are as they were when the check was held."],
        "published": {"name": "Met the expected standard in Year 1", "figures": [{"year": 2025, "percent": 80}], "breaks": [],
            "source": "Department for Education", "caution": "It is no target and no rank."},
        "rows": [{"by": null, "name": "Year 1, check of 2026", "symbol": null, "pupils": 50, "not_known": null, "met": 38,
            "percent": {"percent": 76, "is": "about"}, "interval": [626, 857]}]}],
    "symbols": []
}))]
pub struct ReleasedBody {
    /// Its id.
    pub id: ReportReleaseId,
    /// As it was released.
    #[serde(flatten)]
    #[schema(value_type = Release)]
    release: Released<Release>,
}

/// Release figures of a snapshot
///
/// What would tell of too few pupils is left out, and with it whatever would let that be worked out from this or any
/// earlier release to the same readers or to more: a `c` stands there, and no number. What is released stays released,
/// byte for byte, and counts against later ones: look at a preview first. A half term is released from one snapshot.
#[utoipa::path(
    tag = "reports", operation_id = "release_report", request_body = NewReleaseBody,
    params(("id" = ReportSnapshotId, Path, description = "The snapshot"),
           ("Idempotency-Key" = Option<String>, Header, description = "Repeats of the same request are answered, not done again")),
    responses((status = 201, description = "Released", body = ReleasedBody), CreateProblems)
)]
#[post("/report-snapshots/{id}/releases")]
pub async fn release_report(
    caller: Caller,
    id: web::Path<ReportSnapshotId>,
    body: Body<NewReleaseBody>,
) -> Result<Reply, Problem> {
    let (id, asked) = (*id, body.value);
    let standing = caller.read(move |tx| standing(tx, id, &asked)).await?;
    let (seen, cohort) = (standing.latest, standing.snapshot.cohort.clone());
    let made = caller.compute(move || standing.release()).await?;
    caller
        .create("report_release.release", body.hash, move |tx| {
            let permit = tx.permit::<Publish, _>(SchoolReport)?;
            // A field that was switched off meanwhile is out of the snapshot.
            let as_it_was = tx.report_snapshot(&permit, id)?.cohort == cohort;
            if !as_it_was || tx.latest_release(&permit, Audience::Closed)? != seen {
                let meanwhile = "something was released or switched off meanwhile: look again";
                return Err(Problem::saying(Code::Conflict, meanwhile));
            }
            let kept = tx.add_release(&permit, id, &made)?;
            let body = ReleasedBody { id: kept.id, release: made.release.clone() };
            Reply::created(format!("/api/v1/report-releases/{}", kept.id), &body)
        })
        .await
}

/// What a release is made of, as it stands.
pub(super) struct Standing {
    snapshot: Snapshot,
    past: Vec<PastTable>,
    /// Measures and checks that were released before, to whomever.
    told: Vec<(String, CheckTold)>,
    latest: Option<ReportReleaseId>,
    asked: NewReleaseBody,
    rules: &'static RulePack,
}

/// Reads what a release is made of, and refuses what cannot be asked.
pub(super) fn standing(
    tx: &mut Tx<'_>,
    id: ReportSnapshotId,
    asked: &NewReleaseBody,
) -> Result<Standing, Problem> {
    let permit = tx.permit::<Publish, _>(SchoolReport)?;
    let (snapshot, rules) = (tx.report_snapshot(&permit, id)?, tx.rules()?);
    let past = tx.past_tables(&permit, asked.audience)?;
    one_snapshot(id, &snapshot.cohort, &past)?;
    let mut past: Vec<PastTable> = past.into_iter().flat_map(|(_, tables)| tables).collect();
    check(asked, &snapshot.cohort, &past, rules)?;
    if asked.audience == Audience::Published {
        // Governors read what everybody is told beside what they were told themselves.
        let closed = tx.past_tables(&permit, Audience::Closed)?.into_iter().flat_map(|(_, tables)| tables);
        past.extend(closed.map(|table| PastTable { to_fewer: true, ..table }));
    }
    let latest = tx.latest_release(&permit, Audience::Closed)?;
    let told = tx.checks_told(&permit)?;
    Ok(Standing { snapshot, past, told, latest, asked: asked.clone(), rules })
}

impl Standing {
    /// Takes its time.
    pub(super) fn release(&self) -> Result<Made, Problem> {
        let cohort = &self.snapshot.cohort;
        let asked_for = |measure: &&MeasureRule| match self.asked.measures.as_slice() {
            [] => !measure.internal,
            some => some.contains(&measure.code),
        };
        let choice = Choice {
            measures: cohort.definitions.measures.iter().filter(asked_for).collect(),
            by: self.asked.by.clone(),
            published: self.asked.audience == Audience::Published,
            smaller_groups: self.asked.smaller_groups,
            pooled_years: self.asked.pooled_years,
        };
        let made = release(cohort, &choice, self.rules, &self.past);
        self.apart_or_together(&made)?;
        Ok(made)
    }

    /// A check is told of by itself or with others, and never both ways, to whomever: what of the others is known to
    /// somebody, whose ledgers may be gone, would tell of it.
    fn apart_or_together(&self, made: &Made) -> Result<(), Problem> {
        for table in &made.release.figures().tables {
            let Some(check) = &table.check else { continue };
            let other = self.told.iter().find(|(measure, told)| {
                *measure == table.measure
                    && told.years != check.years
                    && told.years.iter().any(|year| check.years.contains(year))
            });
            if let Some((_, told)) = other {
                let detail = format!(
                    "was released before as {}: by itself and with others, a check would tell of single pupils",
                    told.called()
                );
                return Err(Problem::field("pooled_years", detail).with_code(Code::Conflict));
            }
        }
        Ok(())
    }
}

/// Refuses to release a half term from a second snapshot: what some of its pupils did in between, or where they were put,
/// could be worked out of the two.
fn one_snapshot(
    id: ReportSnapshotId,
    cohort: &Cohort,
    past: &[(ReportSnapshotId, Vec<PastTable>)],
) -> Result<(), Problem> {
    let of_it =
        |tables: &[PastTable]| tables.iter().any(|table| table.half_term_from == cohort.half_term_from);
    let other = past.iter().find(|(snapshot, tables)| *snapshot != id && of_it(tables));
    match other {
        None => Ok(()),
        Some((snapshot, _)) => Err(Problem::saying(
            Code::Conflict,
            format!(
                "{} was released from the snapshot {snapshot}: release more of that one",
                cohort.basis.half_term
            ),
        )),
    }
}

/// Names all that cannot be asked of a snapshot.
fn check(
    asked: &NewReleaseBody,
    cohort: &Cohort,
    past: &[PastTable],
    rules: &RulePack,
) -> Result<(), Problem> {
    let mut wrong = Vec::new();
    let mut say = |field: String, message: String| wrong.push(FieldError { field, message });
    let rule = match asked.audience {
        Audience::Published => &rules.disclosure.published,
        Audience::Internal | Audience::Closed => &rules.disclosure.closed,
    };
    if asked.audience == Audience::Internal {
        say("audience".into(), "must be closed or published: read the snapshot for every figure".into());
    }
    if asked.smaller_groups && rule.minimum_group_option.is_none() {
        say("smaller_groups".into(), "there is one smallest group for these readers".into());
    }
    let released: Vec<&str> = (cohort.definitions.measures.iter())
        .filter(|measure| !measure.internal)
        .map(|measure| measure.code.as_str())
        .collect();
    for (place, code) in asked.measures.iter().enumerate() {
        let field = || format!("measures[{place}]");
        if asked.measures[..place].contains(code) {
            say(field(), "stands there twice".into());
        } else if !released.contains(&code.as_str()) {
            say(field(), format!("must be one of {}", released.join(", ")));
        }
    }
    if let Some(years) = asked.pooled_years {
        let problem = pooling(years, asked, cohort, rules);
        problem.into_iter().for_each(|message| say("pooled_years".into(), message));
    }
    let fields: Vec<String> = cohort.fields().collect();
    let known = ["year_group", "class", "term_of_birth"].map(str::to_owned);
    for (place, by) in asked.by.iter().enumerate() {
        let field = || format!("by[{place}]");
        match by {
            _ if asked.by[..place].contains(by) => say(field(), "stands there twice".into()),
            By::Class if !rule.class_level => say(field(), "classes are not told of to everybody".into()),
            By::Field(code) if !fields.contains(code) => {
                let all: Vec<String> = known.iter().chain(&fields).cloned().collect();
                say(
                    field(),
                    format!("must be one of {}: nothing else is recorded in the snapshot", all.join(", ")),
                );
            }
            By::Field(code) if past.iter().any(|table| table.forgotten.contains(code)) => say(
                field(),
                "was switched off after it was told of: what was told is not kept, and nothing can be judged by it".into(),
            ),
            _ => {}
        }
    }
    if wrong.is_empty() { Ok(()) } else { Err(Problem::fields(wrong)) }
}

/// Why so many years' checks cannot be taken together.
fn pooling(years: usize, asked: &NewReleaseBody, cohort: &Cohort, rules: &RulePack) -> Option<String> {
    let rule = &rules.reports.pooling;
    if !(rule.least..=rule.most).contains(&years) {
        return Some(format!("must be {} to {}", rule.least, rule.most));
    }
    let is_asked =
        |measure: &&MeasureRule| asked.measures.is_empty() || asked.measures.contains(&measure.code);
    let statutory = cohort.definitions.measures.iter().filter(|one| one.of == MeasureOf::Statutory);
    let there: Vec<usize> =
        statutory.filter(is_asked).map(|one| cohort.checks_of(&one.code).count()).collect();
    match there.iter().min() {
        None => Some("is of the statutory check, which is not asked for".into()),
        Some(held) if *held < years => {
            Some(format!("is more than the snapshot has: {held} of the checks asked for were held here"))
        }
        Some(_) => None,
    }
}
