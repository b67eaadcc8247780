//! Second marking of a sample of a round's check.

pub mod agreement;
pub mod ask;
pub mod get_marks;
pub mod give;
pub mod list;

use std::collections::BTreeMap;

use plumbline_core::{
    check::{CheckItem, HeardIs, Outcome, second::Basis},
    id::{CheckId, CheckItemId, PupilId, RoundId, SecondMarkingId, StaffId},
    time::Instant,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    http::v1::pupils::lines,
    store::{MarkedTwice, SecondMarkingRow, SecondSampleRow, SecondSampleView},
};

/// A pupil of a sample.
#[derive(Serialize, ToSchema)]
pub struct SamplePupil {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// What tells it apart from the same name in this list.
    pub apart: Option<String>,
    /// Who marks a second time.
    pub staff_id: StaffId,
    /// Whether the second marks are given.
    pub given: bool,
}

/// Second marking of a sample. No marks.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000041", "round_id": "0199f2c4-0000-7000-8000-000000000010",
    "check_id": "0199f2c4-0000-7000-8000-00000000000e", "seed": 11, "drawn_from": 28, "without_adult": 2,
    "asked_by": "0199f2c4-0000-7000-8000-000000000002", "asked_at": "2026-11-25T10:00:00.000000Z",
    "pupils": [{"pupil_id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "apart": null,
                "staff_id": "0199f2c4-0000-7000-8000-000000000003", "given": false}]
}))]
pub struct SecondMarkingBody {
    /// Its id.
    pub id: SecondMarkingId,
    /// The round.
    pub round_id: RoundId,
    /// The check.
    pub check_id: CheckId,
    /// What it was drawn by: the same seed gives the same sample of the same pupils and adults.
    pub seed: i64,
    /// How many pupils it was drawn from.
    pub drawn_from: i32,
    /// Pupils it was not drawn from: none of the adults named may mark them a second time.
    pub without_adult: i32,
    /// Who asked for it.
    pub asked_by: StaffId,
    /// When.
    pub asked_at: Instant,
    /// The sample in the order drawn; to others than the lead, those they are to mark.
    pub pupils: Vec<SamplePupil>,
}

impl SecondMarkingBody {
    fn new(row: SecondMarkingRow, sample: Vec<SecondSampleView>) -> Self {
        // Two records that became one child's may both have been drawn.
        let once: BTreeMap<PupilId, _> =
            sample.iter().map(|one| (one.pupil.id, (one.pupil.clone(), one.class.clone()))).collect();
        let named = lines(once.into_values().collect());
        let pupil = |one: &SecondSampleView| {
            let line = named.iter().find(|line| line.id == one.pupil.id)?;
            Some(SamplePupil {
                pupil_id: line.id,
                name: line.name.clone(),
                apart: line.apart.clone(),
                staff_id: one.row.staff_id,
                given: one.row.given_at.is_some(),
            })
        };
        Self {
            id: row.id,
            round_id: row.round_id,
            check_id: row.check_id,
            seed: row.seed,
            drawn_from: row.drawn_from,
            without_adult: row.without_adult,
            asked_by: row.asked_by,
            asked_at: row.at,
            pupils: sample.iter().filter_map(pupil).collect(),
        }
    }
}

/// An item marked twice.
#[derive(Serialize, ToSchema)]
pub struct ItemMarkedTwice {
    /// The item.
    pub item_id: CheckItemId,
    /// What the pupil was shown.
    pub prompt: String,
    /// The first mark as it stood then; null where none is given yet.
    pub first: Option<Outcome>,
    /// What the first adult heard instead, in sounds.
    pub first_heard: Option<String>,
    /// Who asked first.
    pub first_by: Option<StaffId>,
    /// The second mark.
    pub second: Outcome,
    /// What the second adult heard instead, in sounds.
    pub second_heard: Option<String>,
    /// How that stands to what is expected of the item.
    pub second_heard_is: Option<HeardIs>,
    /// Whether a difference was talked about and corrected.
    pub settled: bool,
}

/// A pupil's second marks, with the first ones beside them once they are given.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "check_id": "0199f2c4-0000-7000-8000-00000000000e", "pupil_id": "0199f2c4-0000-7000-8000-000000000007",
    "staff_id": "0199f2c4-0000-7000-8000-000000000003", "given": true, "basis": "beside",
    "items": [{"item_id": "0199f2c4-0000-7000-8000-00000000000f", "prompt": "mop", "first": "wrong", "first_heard": "m.ɒ.b",
               "first_by": "0199f2c4-0000-7000-8000-000000000002", "second": "right", "second_heard": null,
               "second_heard_is": null, "settled": false}]
}))]
pub struct SecondMarksBody {
    /// The check.
    pub check_id: CheckId,
    /// The pupil.
    pub pupil_id: PupilId,
    /// Who marks a second time.
    pub staff_id: StaffId,
    /// Whether the second marks are given. Until then nothing of either is told here.
    pub given: bool,
    /// What they rest on.
    pub basis: Option<Basis>,
    /// The items in the check's order.
    pub items: Vec<ItemMarkedTwice>,
}

impl SecondMarksBody {
    fn waiting(check: CheckId, place: &SecondSampleRow) -> Self {
        let (pupil_id, staff_id) = (place.pupil_id, place.staff_id);
        Self { check_id: check, pupil_id, staff_id, given: false, basis: None, items: Vec::new() }
    }

    fn given(
        check: CheckId,
        items: &[CheckItem],
        twice: &MarkedTwice,
        told: &BTreeMap<CheckItemId, HeardIs>,
    ) -> Self {
        let item = |item: &CheckItem| {
            let second = twice.second.iter().find(|mark| mark.item_id == item.id)?;
            let first = twice.first_mark(item.id);
            Some(ItemMarkedTwice {
                item_id: item.id,
                prompt: item.prompt.to_string(),
                first: first.map(|row| row.outcome),
                first_heard: first.and_then(|row| row.heard.clone()),
                first_by: first.map(|row| row.taken_by),
                second: second.outcome,
                second_heard: second.heard.clone(),
                second_heard_is: told.get(&item.id).copied(),
                settled: twice.is_settled(item.id),
            })
        };
        Self {
            check_id: check,
            pupil_id: twice.row.pupil_id,
            staff_id: twice.row.staff_id,
            given: true,
            basis: twice.row.basis,
            items: items.iter().filter_map(item).collect(),
        }
    }
}
