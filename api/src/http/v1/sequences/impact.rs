//! GET /sequences/{id}/draft/impact

use std::{collections::BTreeMap, sync::Arc};

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::Read,
        resource::{Sequence, SequenceDraft},
    },
    id::{GroupId, ItemId, SequenceId, VersionId},
    lesson::impact,
    sequence::{Content, ItemKind},
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::{LessonLine, not_before_another};
use crate::{
    http::{caller::Caller, problem::Problem, problems::ReadProblems, query::Query, reply::Reply},
    store::{Revision, RevisionGroup},
};

/// From when.
#[derive(Clone, Copy, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ImpactQuery {
    /// First day the draft would be taught from; today unless told.
    #[serde(default)]
    pub effective_on: Option<Date>,
}

/// An item of a version.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct ItemLine {
    /// Its id.
    pub id: ItemId,
    /// What it is.
    pub kind: ItemKind,
    /// As shown.
    pub label: String,
}

/// A version by its number.
#[derive(Clone, Copy, Debug, Serialize, ToSchema)]
pub struct NumberedVersion {
    /// Its id.
    pub id: VersionId,
    /// 1, 2, 3 ...
    pub number: i32,
}

/// Records made under one version.
#[derive(Serialize, ToSchema)]
pub struct VersionRecords {
    /// The version they name, and go on naming.
    #[serde(flatten)]
    pub version: NumberedVersion,
    /// How many.
    pub records: usize,
}

/// Records made under another version on a day on which the draft would be in force.
#[derive(Serialize, ToSchema)]
pub struct RecordsInTheWay {
    /// How many.
    pub records: usize,
    /// The latest day of one.
    pub latest_on: Date,
}

/// What the draft would change for a group.
#[derive(Serialize, ToSchema)]
pub struct GroupImpact {
    /// The group.
    pub group_id: GroupId,
    /// Its name.
    pub name: String,
    /// The version it would change over from; none where it has none.
    pub version: Option<NumberedVersion>,
    /// The lesson taught next as it is; none at the end.
    pub next_before: Option<LessonLine>,
    /// The lesson taught next by the draft.
    pub next_after: Option<LessonLine>,
    /// Items the draft has before the group's place that it was not taught.
    pub gaps_created: Vec<ItemLine>,
    /// Items left out as it is that the draft does not have before the group's place.
    pub gaps_closed: Vec<ItemLine>,
    /// Items it was taught that the draft does not have. They stay taught.
    pub taught_and_withdrawn: Vec<ItemLine>,
    /// Lessons it was taught that the draft has neither by id nor by what they teach. Their records stay.
    pub lessons_withdrawn: Vec<LessonLine>,
    /// What stands in the way of that day: choose a later one, or let the group stay.
    pub in_the_way: Option<RecordsInTheWay>,
}

/// A group that would not change over.
#[derive(Serialize, ToSchema)]
pub struct StayingGroup {
    /// The group.
    pub group_id: GroupId,
    /// Its name.
    pub name: String,
    /// The version it stays with.
    pub version: NumberedVersion,
    /// The last day it does; none where no end is known.
    pub until: Option<Date>,
}

/// Over all groups.
#[derive(Serialize, ToSchema)]
pub struct ImpactTotals {
    /// Groups that would change over.
    pub groups: usize,
    /// Gaps created in them.
    pub gaps_created: usize,
    /// Gaps closed.
    pub gaps_closed: usize,
    /// Lesson records of the sequence's groups that keep their version and what they say.
    pub records_kept: usize,
    /// Those whose lesson their version does not have: there are none, as a version never changes.
    pub records_lost: usize,
}

/// What publishing the draft would change.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "effective_on": "2027-01-04",
    "totals": {"groups": 1, "gaps_created": 1, "gaps_closed": 0, "records_kept": 41, "records_lost": 0},
    "groups": [{"group_id": "0199f2c4-0000-7000-8000-000000000008", "name": "Alder",
        "version": {"id": "0199f2c4-0000-7000-8000-00000000000d", "number": 1},
        "next_before": {"id": "0199f2c4-0000-7000-8000-00000000000c", "title": "Lesson 9", "step_title": "Step 3", "place": {"step": 3, "lesson": 1}},
        "next_after": {"id": "0199f2c4-0000-7000-8000-00000000000e", "title": "Lesson 4", "step_title": "Step 2", "place": {"step": 2, "lesson": 1}},
        "gaps_created": [{"id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "kind": "gpc", "label": "igh /aɪ/"}],
        "gaps_closed": [], "taught_and_withdrawn": [], "lessons_withdrawn": [], "in_the_way": null}],
    "staying": [], "records": [{"id": "0199f2c4-0000-7000-8000-00000000000d", "number": 1, "records": 41}]
}))]
pub struct ImpactBody {
    /// First day the draft would be taught from.
    pub effective_on: Date,
    /// Over all groups.
    pub totals: ImpactTotals,
    /// The groups that would change over, by name.
    pub groups: Vec<GroupImpact>,
    /// The groups that keep another version on that day.
    pub staying: Vec<StayingGroup>,
    /// The records of the sequence's groups by the version they were made under.
    pub records: Vec<VersionRecords>,
}

/// Look at what publishing the draft would change
///
/// Nothing is written. Group by group: what is taught next, and what the group has passed by without being
/// taught it. Records stay as they are under the version they were made under, whatever is published.
#[utoipa::path(
    tag = "sequences", operation_id = "get_draft_impact",
    params(("id" = SequenceId, Path, description = "The sequence"), ImpactQuery),
    responses((status = 200, description = "What would change; ETag, which is the draft's", body = ImpactBody), ReadProblems)
)]
#[get("/sequences/{id}/draft/impact")]
pub async fn get_draft_impact(
    caller: Caller,
    id: web::Path<SequenceId>,
    query: Query<ImpactQuery>,
) -> Result<Reply, Problem> {
    let day = query.effective_on;
    let (revision, on) = caller
        .read(move |tx| {
            let permit = tx.permit::<Read, _>(SequenceDraft(*id))?;
            let sequence = tx.permit::<Read, _>(Sequence(*id))?;
            let on = day.unwrap_or(tx.today());
            not_before_another(tx, &sequence, on)?;
            Ok((tx.revision(&permit, on)?, on))
        })
        .await?;
    caller.compute(move || Ok(Reply::ok(&preview(&revision, on))?.version(revision.draft.v))).await
}

fn preview(revision: &Revision, on: Date) -> ImpactBody {
    let numbered =
        |id: VersionId| revision.versions.get(&id).map(|(number, _)| NumberedVersion { id, number: *number });
    let (mut groups, mut staying) = (Vec::new(), Vec::new());
    for one in &revision.groups {
        if one.group.closed_on.is_some_and(|last| last < on) {
            continue;
        }
        let before = one.course.in_force(on);
        let after = one.course.clone().revised(on);
        let (group_id, name) = (one.group.id, one.group.name.clone());
        match before.and_then(numbered) {
            Some(version) if !after.is_revised(on) => {
                let until = one.course.keeps_until(on);
                staying.push(StayingGroup { group_id, name, version, until });
            }
            version => groups.push(changed(revision, one, version, on)),
        }
    }
    let records = || revision.groups.iter().flat_map(|one| &one.records);
    let has_lesson = |record: &&plumbline_core::lesson::Record| {
        let version = revision.versions.get(&record.version);
        version.is_some_and(|(_, content)| content.lesson(record.lesson).is_some())
    };
    let kept = records().filter(has_lesson).count();
    let mut by_version: BTreeMap<VersionId, usize> = BTreeMap::new();
    for record in records() {
        *by_version.entry(record.version).or_default() += 1;
    }
    let line = |(id, records): (VersionId, usize)| Some(VersionRecords { version: numbered(id)?, records });
    let mut by_version: Vec<VersionRecords> = by_version.into_iter().filter_map(line).collect();
    by_version.sort_by_key(|line| line.version.number);
    let sum = |of: fn(&GroupImpact) -> usize| groups.iter().map(of).sum();
    ImpactBody {
        effective_on: on,
        totals: ImpactTotals {
            groups: groups.len(),
            gaps_created: sum(|group| group.gaps_created.len()),
            gaps_closed: sum(|group| group.gaps_closed.len()),
            records_kept: kept,
            records_lost: records().count() - kept,
        },
        groups,
        staying,
        records: by_version,
    }
}

fn changed(
    revision: &Revision,
    one: &RevisionGroup,
    version: Option<NumberedVersion>,
    on: Date,
) -> GroupImpact {
    let nothing = Arc::default();
    let before: &Arc<Content> = version
        .and_then(|version| revision.versions.get(&version.id))
        .map_or(&nothing, |(_, content)| content);
    let draft = &revision.draft.content;
    let found = impact(before, draft, one.carried.as_ref(), &one.records);
    let lines = |content: &Content, ids: &[ItemId]| -> Vec<ItemLine> {
        let items = content.items_by_id();
        let line = |id: &ItemId| {
            items.get(id).map(|item| ItemLine { id: *id, kind: item.kind, label: item.label.to_string() })
        };
        ids.iter().filter_map(line).collect()
    };
    let days: Vec<_> = one.records.iter().map(|record| (record.on, record.version)).collect();
    let way = one.course.in_the_way(&one.course.clone().revised(on), &days);
    GroupImpact {
        group_id: one.group.id,
        name: one.group.name.clone(),
        version,
        next_before: found.next_before.and_then(|id| LessonLine::of(before, id)),
        next_after: found.next_after.and_then(|id| LessonLine::of(draft, id)),
        gaps_created: lines(draft, &found.gaps_created),
        gaps_closed: lines(before, &found.gaps_closed),
        taught_and_withdrawn: lines(before, &found.taught_and_withdrawn),
        lessons_withdrawn: found
            .lessons_withdrawn
            .iter()
            .filter_map(|id| LessonLine::of(before, *id))
            .collect(),
        in_the_way: way.map(|way| RecordsInTheWay { records: way.records, latest_on: way.latest }),
    }
}
