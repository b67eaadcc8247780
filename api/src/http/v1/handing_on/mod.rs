//! What is handed on of pupils: to next year's adults, and to the school a child goes to.

pub mod class;
pub mod group;
pub mod pupil;
pub mod receive;
pub mod transfer;
pub mod write_what_helped;

use plumbline_core::{
    access::{act::Read, resource::SchoolProfile},
    attainment::{CheckAge, Estimator, Fitted, ItemStanding, SecureBasis, Standing, back_on, handed_on},
    calendar::OwnCalendar,
    catch_up::{OpenItem, Stage},
    check::ResponseMode,
    id::{ItemId, PupilId, StaffId},
    rules::RulePack,
    sequence::{Item, ItemKind},
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::{
    answering::{UsualSound, usual_sounds},
    attainment::{EstimateBasis, Standings, estimated_percent, standings_of},
    catch_ups::NamedItem,
    pupils::{PupilLine, lines},
};
use crate::{
    http::{
        problem::Problem,
        reply::Reply,
        sheets::{self, PageFormat},
    },
    store::{AnswersThere, HandingOn, Permit, Tx, WhatHelpedRow},
};

/// As what it comes.
#[derive(Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct HandoverQuery {
    /// `json` unless told; `html` to print, a page a pupil.
    #[serde(default)]
    #[param(inline)]
    pub format: PageFormat,
}

/// A GPC of a pupil, as it is handed on.
#[derive(Serialize, ToSchema)]
pub struct HandedItem {
    /// The GPC.
    pub item_id: ItemId,
    /// As shown.
    pub label: String,
    /// How it stands, by the rule.
    pub standing: Standing,
    /// The first day it was taught to the pupil.
    pub taught_on: Option<Date>,
    /// The last day it was asked.
    pub last_asked_on: Option<Date>,
    /// How likely the pupil knows it, in per cent: an estimate, which changes no state.
    pub estimated_percent: Option<u8>,
}

/// Something a pupil missed that is still open.
#[derive(Serialize, ToSchema)]
pub struct HandedOpen {
    /// The item.
    pub item_id: ItemId,
    /// What it is.
    pub kind: ItemKind,
    /// As shown.
    pub label: String,
    /// What it waits for.
    pub stage: Stage,
    /// The first day it was taught without this pupil.
    pub missed_on: Date,
}

/// The line on what helped a pupil.
#[derive(Serialize, ToSchema)]
pub struct WhatHelped {
    /// The line.
    pub text: String,
    /// The day it was written.
    pub on: Date,
    /// Who wrote it.
    pub written_by: StaffId,
}

impl From<WhatHelpedRow> for WhatHelped {
    fn from(row: WhatHelpedRow) -> Self {
        Self { text: row.text, on: row.on_date, written_by: row.written_by }
    }
}

/// What is handed on of one pupil.
#[derive(Serialize, ToSchema)]
pub struct PupilHandover {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// What tells it apart from the same name in this list.
    pub apart: Option<String>,
    /// The class.
    pub class: Option<String>,
    /// The last day on which a check here asked the pupil a GPC; null where none has.
    pub last_check_on: Option<Date>,
    /// How many days ago that is.
    pub days: Option<i64>,
    /// Whether no check asked since the latest holiday, or none ever: a short re-check comes first.
    pub re_check: bool,
    /// How the pupil usually answers.
    pub mode: ResponseMode,
    /// Sounds as the pupil usually says them; null for a reader who is not to know: it is for the pupil's own adults.
    pub speech: Option<Vec<UsualSound>>,
    /// The line on what helped.
    pub what_helped: Option<WhatHelped>,
    /// GPCs taught to the pupil.
    pub taught: usize,
    /// GPCs that are secure, in teaching order like the lists below.
    pub secure: Vec<HandedItem>,
    /// GPCs to revisit, missed, or not yet secure and not right every time.
    pub gaps: Vec<HandedItem>,
    /// GPCs right every time, on too few days or too soon after teaching.
    pub right_so_far: Vec<HandedItem>,
    /// GPCs taught that no check asked.
    pub not_asked: Vec<HandedItem>,
    /// GPCs taught to the pupil's groups and neither to the pupil nor missed nor asked: nothing is known of them.
    pub unknown: usize,
    /// What else was taught to the pupil, such as exception words.
    pub others: Vec<NamedItem>,
    /// What the pupil missed and is still open, longest first.
    pub open: Vec<HandedOpen>,
}

/// A handover: of one pupil, of a group or of a class.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "school": "Farholt Infant School", "on": "2027-07-12", "back_on": "2027-06-07", "re_check": 0, "re_check_minutes": 3,
    "secure_means": {"right_on_days": 3, "days_after_teaching": 7, "carried_in_days": 1},
    "estimate": {"fitted": false, "answers": 120, "pupils": 24, "caution": "An estimate, for planning what to ask and to teach."},
    "cautions": ["Taught is never known."], "what_helped_caution": "One line. No diagnosis.",
    "pupils": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null, "class": "Alder",
        "last_check_on": "2027-07-05", "days": 7, "re_check": false, "mode": "spoken", "speech": [{"sound": "θ", "said": "f"}],
        "what_helped": {"text": "Reads best with a card under the line.", "on": "2027-07-09",
                        "written_by": "0199f2c4-0000-7000-8000-000000000002"},
        "taught": 1, "secure": [], "gaps": [{"item_id": "c090554b-55fd-56e2-92da-2bfe29aa5983", "label": "igh /aɪ/",
            "standing": "not_yet_secure", "taught_on": "2026-11-10", "last_asked_on": "2027-07-05", "estimated_percent": 40}],
        "right_so_far": [], "not_asked": [], "unknown": 0, "others": [], "open": []}]
}))]
pub struct Handover {
    /// The school.
    pub school: String,
    /// The day.
    pub on: Date,
    /// The first day taught after the latest holiday.
    pub back_on: Option<Date>,
    /// How many of the pupils no check asked since then.
    pub re_check: usize,
    /// Minutes a pupil that a re-check takes: `GET /groups/{id}/re-check`, or the pupil's `next-items`.
    pub re_check_minutes: u16,
    /// What "secure" means here.
    pub secure_means: SecureBasis,
    /// Where the values of the estimate are from.
    pub estimate: EstimateBasis,
    /// To be shown with it.
    pub cautions: Vec<&'static str>,
    /// To be shown where the line on what helped is written.
    pub what_helped_caution: &'static str,
    /// The pupils, by name.
    pub pupils: Vec<PupilHandover>,
}

/// What a handover is made of.
struct Loaded {
    of: HandingOn,
    calendar: OwnCalendar,
    there: AnswersThere,
    rules: &'static RulePack,
    on: Date,
    school: String,
}

/// Reads what goes with what is handed on.
fn load<'tx, R>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Read, R>,
    of: HandingOn,
    calendar: OwnCalendar,
) -> Result<Loaded, Problem> {
    let profile = tx.permit::<Read, _>(SchoolProfile)?;
    let school = tx.school_profile(&profile)?.name;
    Ok(Loaded { of, calendar, there: tx.answers_there(permit)?, rules: tx.rules()?, on: tx.today(), school })
}

fn make(loaded: Loaded, fitted: &Fitted) -> Handover {
    let Loaded { mut of, calendar, rules, on, school, .. } = loaded;
    let rule = &rules.attainment;
    let back_on = back_on(&calendar, on, rule.asking.holiday_days);
    let standings = standings_of(&of.attainment, rule, &Estimator::new(fitted.parameters), on);
    let rows = std::mem::take(&mut of.attainment.pupils);
    let classes: Vec<Option<String>> = rows.iter().map(|(_, class)| class.clone()).collect();
    let pupils: Vec<PupilHandover> = lines(rows)
        .into_iter()
        .zip(classes)
        .map(|(line, class)| {
            let age = CheckAge::of(of.attainment.learning.get(&line.id), on, back_on);
            of_pupil(line, class, age, &mut of, &standings)
        })
        .collect();
    Handover {
        school,
        on,
        back_on,
        re_check: pupils.iter().filter(|pupil| pupil.re_check).count(),
        re_check_minutes: rule.asking.re_check_minutes,
        secure_means: (&rule.secure).into(),
        estimate: EstimateBasis::new(fitted, rule),
        cautions: vec![rules.handing_on.caution.as_str(), rule.caution.as_str()],
        what_helped_caution: &rules.handing_on.what_helped_caution,
        pupils,
    }
}

fn of_pupil(
    line: PupilLine,
    class: Option<String>,
    age: CheckAge,
    of: &mut HandingOn,
    standings: &Standings,
) -> PupilHandover {
    let items = &of.attainment.items;
    let order: Vec<ItemId> = items.iter().map(|item| item.id).collect();
    let found = standings.get(&line.id).map(|theirs| handed_on(&order, theirs)).unwrap_or_default();
    let label = |id: ItemId| items.iter().find(|item| item.id == id).map(|item| item.label.to_string());
    let handed = |one: ItemStanding| {
        Some(HandedItem {
            item_id: one.item_id,
            label: label(one.item_id)?,
            standing: one.standing,
            taught_on: one.taught.taught_on,
            last_asked_on: one.progress.last_asked,
            estimated_percent: estimated_percent(&one),
        })
    };
    let list = |items: Vec<ItemStanding>| items.into_iter().filter_map(handed).collect();
    let open = |one: &OpenItem| {
        let item = items.iter().chain(&of.others).find(|item| item.id == one.item_id)?;
        let (kind, label) = (item.kind, item.label.to_string());
        Some(HandedOpen { item_id: item.id, kind, label, stage: one.stage, missed_on: one.missed_on })
    };
    let covered = of.attainment.learning.get(&line.id).map(|records| &records.covered);
    let taught = |item: &&Item| {
        covered.and_then(|covered| covered.get(&item.id)).is_some_and(|line| line.taught_on.is_some())
    };
    PupilHandover {
        pupil_id: line.id,
        name: line.name,
        apart: line.apart,
        class,
        last_check_on: age.last_check_on,
        days: age.days,
        re_check: age.re_check,
        mode: of.modes.get(&line.id).copied().unwrap_or(ResponseMode::Spoken),
        speech: of.speech.get(&line.id).map(usual_sounds),
        taught: found.taught,
        secure: list(found.secure),
        gaps: list(found.gaps),
        right_so_far: list(found.right_so_far),
        not_asked: list(found.not_asked),
        unknown: found.unknown,
        others: of.others.iter().filter(taught).map(NamedItem::from).collect(),
        open: of.open.get(&line.id).into_iter().flatten().filter_map(open).collect(),
        what_helped: of.what_helped.remove(&line.id).map(WhatHelped::from),
    }
}

fn answer(handover: &Handover, format: PageFormat) -> Result<Reply, Problem> {
    match format {
        PageFormat::Json => Reply::ok(handover),
        PageFormat::Html => Ok(Reply::sheet(sheets::handover::page(handover))),
    }
}
