//! Operations on placement checks. Answers are only ever added, each under the id its device made.

use plumbline_core::{
    access::{act::Record, resource::Replica},
    id::{PlacementId, PupilId},
};

use super::{Effect, Op};
use crate::{
    http::{
        problem::Problem,
        v1::placements::{
            answer::{self, PlacementAnswers},
            create::{self, NewPlacement},
            end,
        },
    },
    store::{Permit, Tx},
};

type Own<'p, 'tx> = &'p Permit<'tx, Record, Replica>;

/// Begins a placement check.
pub fn begin<'tx>(tx: &mut Tx<'tx>, _permit: Own<'_, 'tx>, op: &Op) -> Result<Effect, Problem> {
    let mut said = op.said();
    let (pupil, id): (PupilId, PlacementId) = (said.take("pupil_id")?, said.take_made("placement_id")?);
    let new: NewPlacement = said.body()?;
    create::begin(tx, pupil, &new, Some(id))?;
    Ok(Effect::Applied(tx.version()))
}

/// Takes answers.
pub fn answer<'tx>(tx: &mut Tx<'tx>, _permit: Own<'_, 'tx>, op: &Op) -> Result<Effect, Problem> {
    let mut said = op.said();
    let place: (PupilId, PlacementId) = (said.take("pupil_id")?, said.take("placement_id")?);
    let answers: PlacementAnswers = said.body()?;
    answer::answer(tx, place, &answers)?;
    Ok(Effect::Applied(tx.version()))
}

/// Ends a placement check.
pub fn end<'tx>(tx: &mut Tx<'tx>, _permit: Own<'_, 'tx>, op: &Op) -> Result<Effect, Problem> {
    let mut said = op.said();
    let place: (PupilId, PlacementId) = (said.take("pupil_id")?, said.take("placement_id")?);
    let on = said.take_if_there("on")?;
    said.nothing_else()?;
    end::end(tx, place, on)?;
    Ok(Effect::Applied(tx.version()))
}
