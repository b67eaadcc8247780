//! Operations on catch-up records. They are only ever added, each under the id its device made.

use plumbline_core::{
    access::{
        act::Record,
        resource::{GroupDay, Replica},
    },
    id::{CatchUpId, GroupId},
};

use super::{Effect, Op};
use crate::{
    http::{
        problem::{Code, Problem},
        v1::catch_ups::{
            CatchUpBody,
            record::{Part, save},
        },
    },
    store::{Permit, Tx},
};

/// Records catch-up. The same again, under the same id, is one record.
pub fn record<'tx>(
    tx: &mut Tx<'tx>,
    _permit: &Permit<'tx, Record, Replica>,
    op: &Op,
) -> Result<Effect, Problem> {
    let mut said = op.said();
    let (group, id): (GroupId, CatchUpId) = (said.take("group_id")?, said.take("id")?);
    let body: CatchUpBody = said.body()?;
    let diary = tx.permit::<Record, _>(GroupDay { group, on: body.on })?;
    if let Some(there) = tx.day_catch_ups(&diary)?.into_iter().find(|saved| saved.catch_up.id == id) {
        let (mut items, mut asked) = (there.catch_up.items.clone(), body.items.clone());
        items.sort_unstable();
        asked.sort_unstable();
        let other = || Problem::field("id", "is the id of another record").with_code(Code::Conflict);
        return (items == asked).then_some(Effect::Applied(there.v)).ok_or_else(other);
    }
    let (saved, _) = save(tx, &diary, &Part { id: Some(id), ..Part::of(&body) })?;
    Ok(Effect::Applied(saved.v))
}
