//! The change to a school year: planned, looked at, applied, taken back.

pub mod apply;
pub mod get;
pub mod save;
pub mod undo;

use std::collections::{BTreeMap, BTreeSet};

use plumbline_core::{
    access::{act::Read, resource::Rollovers, resource::Roster},
    id::{ClassId, GroupId, PupilId, StaffId},
    roster::rollover::{Choices, ClassNext, Moved, Rollover, Warning},
    rules::RulePack,
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::pupils::{Named, PupilLine, lines};
use crate::{
    http::{
        problem::Problem,
        reply::{Reply, etag},
    },
    store::{Permit, RolloverNames, RolloverRow, RolloverStatus, Tx},
};

/// The first day of a coming or running school year.
fn first_day(tx: &mut Tx<'_>, year: i32) -> Result<Date, Problem> {
    let calendar = tx.calendar()?;
    let known =
        calendar.years.iter().find(|known| known.year == year).ok_or_else(|| {
            Problem::field("year", "is no school year of the calendar; save the year first")
        })?;
    if known.ends_on < tx.today() {
        return Err(Problem::field("year", "is over"));
    }
    Ok(known.starts_on)
}

/// Whether the roster, or the calendar, is no longer what a plan was made for.
fn is_stale<'tx, A>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, Rollovers>,
    row: &RolloverRow,
) -> Result<bool, Problem> {
    let first = tx.calendar()?.years.iter().find(|year| year.year == row.year).map(|year| year.starts_on);
    let Some(first) = first else { return Ok(true) };
    let now = tx.rollover_plan(permit, (row.year, first), &row.choices)?;
    Ok(now.ok().as_ref() != Some(&row.shown))
}

/// A rollover as answered.
fn shown<'tx, A>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, Rollovers>,
    row: RolloverRow,
    stale: bool,
) -> Result<Reply, Problem> {
    let roster = tx.permit::<Read, _>(Roster)?;
    let ids: Vec<PupilId> = row.shown.pupils.iter().map(|moved| moved.pupil).collect();
    let pupils = lines(tx.pupils_by_id(&roster, &ids)?).into_iter().map(|line| (line.id, line)).collect();
    let (names, rules, v) = (tx.rollover_names(permit)?, tx.rules()?, row.v);
    Ok(Reply::ok(&RolloverBody::new(row, stale, &names, pupils, rules))?.version(v))
}

/// What becomes of one pupil.
#[derive(Serialize, ToSchema)]
pub struct RolloverMove {
    /// The pupil.
    #[serde(flatten)]
    pub pupil: PupilLine,
    /// Names of the classes the day before.
    pub from: Vec<String>,
    /// Names of the classes from the first day on.
    pub to: Vec<String>,
    /// Whether those were said before, by an import or by hand, and stay.
    pub placed_before: bool,
    /// Leaves the school with the day before.
    pub leaves: bool,
    /// Code of the year group before.
    pub year_group_before: Option<String>,
    /// Code of the year group from the first day on; null where the last one goes on being shown.
    pub year_group: Option<String>,
}

/// A class of the school year.
#[derive(Serialize, ToSchema)]
pub struct RolloverClassLine {
    /// Its name.
    pub name: String,
    /// Which class it is; null for one to be added.
    pub id: Option<ClassId>,
    /// Pupils in it the day before.
    pub pupils_before: usize,
    /// Pupils in it on the first day.
    pub pupils: usize,
    /// Adults on the first day.
    pub adults: Vec<Named<StaffId>>,
    /// Whether the rollover sets them.
    pub adults_change: bool,
}

/// A year group with its pupils on the first day.
#[derive(Serialize, ToSchema)]
pub struct RolloverYearGroup {
    /// A code of the rule pack.
    pub code: String,
    /// As shown.
    pub name: String,
    /// Pupils in it.
    pub pupils: usize,
}

/// A teaching group.
#[derive(Serialize, ToSchema)]
pub struct RolloverGroupLine {
    /// Its id.
    pub id: GroupId,
    /// Its name.
    pub name: String,
    /// Whether the day before is its last; otherwise it goes on as it is.
    pub ends: bool,
}

/// A class of which must be said where its pupils go.
#[derive(Serialize, ToSchema)]
pub struct RolloverQuestion {
    /// The class.
    pub id: ClassId,
    /// Its name.
    pub name: String,
    /// Of how many of its pupils nobody said it.
    pub pupils: usize,
}

/// What a rollover would change, and what was said for it.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "year": 2027, "status": "draft", "etag": "\"v40\"", "starts_on": "2027-09-01", "stale": false, "undo_until": null,
    "choices": {"classes": [{"class_id": "0199f2c4-0000-7000-8000-000000000006", "year_group": null, "to": "Rowan", "leaves": false}],
                "pupils": [], "groups_ending": [], "adults": []},
    "questions": [],
    "warnings": [{"what": "no_adult", "pupil_id": null, "class": "Rowan", "group_id": null}],
    "leaving": 0, "staying": 1,
    "year_groups": [{"code": "year_2", "name": "Year 2", "pupils": 1}],
    "classes": [{"name": "Rowan", "id": null, "pupils_before": 0, "pupils": 1, "adults": [], "adults_change": false}],
    "groups": [{"id": "0199f2c4-0000-7000-8000-000000000008", "name": "Alder", "ends": false}],
    "pupils": [{"id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null, "from": ["Alder"],
                "to": ["Rowan"], "placed_before": false, "leaves": false, "year_group_before": "year_1", "year_group": "year_2"}]
}))]
pub struct RolloverBody {
    /// The school year, by the calendar year it starts in.
    pub year: i32,
    /// How far it is.
    pub status: RolloverStatus,
    /// To send as If-Match.
    pub etag: String,
    /// The first day of the school year: all of it takes effect then.
    pub starts_on: Date,
    /// Whether the roster has changed since this was worked out; save the choices again to see it anew.
    pub stale: bool,
    /// Once it is applied, the last day on which it can be taken back.
    pub undo_until: Option<Date>,
    /// What was said.
    pub choices: Choices,
    /// What must be said before it can be applied.
    pub questions: Vec<RolloverQuestion>,
    /// What to look at; it stands in no way.
    pub warnings: Vec<Warning>,
    /// Pupils who leave.
    pub leaving: usize,
    /// Pupils who stay or come.
    pub staying: usize,
    /// Year groups, in the rule pack's order.
    pub year_groups: Vec<RolloverYearGroup>,
    /// Classes of the school year, by name.
    pub classes: Vec<RolloverClassLine>,
    /// Teaching groups.
    pub groups: Vec<RolloverGroupLine>,
    /// Pupils, by name.
    pub pupils: Vec<RolloverMove>,
}

impl RolloverBody {
    fn new(
        row: RolloverRow,
        stale: bool,
        names: &RolloverNames,
        mut pupils: BTreeMap<PupilId, PupilLine>,
        rules: &RulePack,
    ) -> Self {
        let RolloverRow { year, status, choices, shown, undo_until, v } = row;
        let class = |id: &ClassId| names.classes.get(id).cloned().unwrap_or_default();
        let question =
            |(id, pupils): (&ClassId, &usize)| RolloverQuestion { id: *id, name: class(id), pupils: *pupils };
        let leaving = shown.pupils.iter().filter(|moved| moved.leaves).count();
        let staying = shown.pupils.len() - leaving;
        Self {
            year,
            status,
            etag: etag(v),
            starts_on: shown.first,
            stale,
            undo_until,
            choices,
            questions: shown.unsaid.iter().map(question).collect(),
            leaving,
            staying,
            year_groups: year_groups(&shown, rules),
            groups: groups(&shown, names),
            classes: shown.classes.into_iter().map(|next| class_line(next, names)).collect(),
            warnings: shown.warnings,
            pupils: shown
                .pupils
                .into_iter()
                // A record merged into another since is shown no more.
                .filter_map(|moved| Some(move_line(pupils.remove(&moved.pupil)?, moved, &class)))
                .collect(),
        }
    }
}

fn move_line(pupil: PupilLine, moved: Moved, class: &impl Fn(&ClassId) -> String) -> RolloverMove {
    let from: BTreeSet<String> = moved.from.iter().map(class).collect();
    RolloverMove {
        pupil,
        from: from.into_iter().collect(),
        to: moved.to.into_iter().collect(),
        placed_before: moved.ahead,
        leaves: moved.leaves,
        year_group_before: moved.year_group_before,
        year_group: moved.year_group,
    }
}

fn class_line(next: ClassNext, names: &RolloverNames) -> RolloverClassLine {
    let adult = |id: StaffId| Named { id, name: names.staff.get(&id).cloned().unwrap_or_default() };
    RolloverClassLine {
        name: next.name,
        id: next.id,
        pupils_before: next.pupils_before,
        pupils: next.pupils,
        adults: next.adults.into_iter().map(adult).collect(),
        adults_change: next.adults_change,
    }
}

fn year_groups(shown: &Rollover, rules: &RulePack) -> Vec<RolloverYearGroup> {
    let of =
        |code: &str| shown.pupils.iter().filter(|moved| moved.year_group.as_deref() == Some(code)).count();
    let groups = rules.year_groups.iter();
    groups
        .map(|year| RolloverYearGroup {
            code: year.code.clone(),
            name: year.name.clone(),
            pupils: of(&year.code),
        })
        .collect()
}

fn groups(shown: &Rollover, names: &RolloverNames) -> Vec<RolloverGroupLine> {
    let line = |id: GroupId, ends| RolloverGroupLine {
        id,
        name: names.groups.get(&id).cloned().unwrap_or_default(),
        ends,
    };
    let mut lines: Vec<_> = shown.ends.iter().map(|id| line(*id, true)).collect();
    lines.extend(shown.goes_on.iter().map(|id| line(*id, false)));
    lines.sort_by(|one, other| (&one.name, one.id).cmp(&(&other.name, other.id)));
    lines
}
