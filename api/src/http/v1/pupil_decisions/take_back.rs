//! DELETE /pupil-decisions/{id}

use actix_web::{delete, web};
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::PupilDecisionId,
    roster::Verdict,
};

use crate::{
    http::{
        caller::{Caller, same_version},
        problem::{Code, Problem},
        problems::{ActProblems, GoneProblems},
        reply::Reply,
        v1::no_undo,
    },
    store::{DecisionRow, Error},
};

/// Take back what was decided about two records
///
/// Of one child: the two records are as they were, each under its own address, with what each had; what was
/// recorded since stays with the one that was kept, also what was sent late about the one that was gone. It is
/// refused once other work depends on their being one: the pupil, its classes or groups changed since, a
/// register that holds it, an answer of it corrected; and after the last day of `undo_until`, which the rule
/// pack's days make: what each record had is kept no longer, but for what the one that is gone was known by. Of
/// two children: they may be asked about again.
#[utoipa::path(
    tag = "pupils", operation_id = "take_back_pupil_decision",
    params(("id" = PupilDecisionId, Path, description = "The decision"),
           ("If-Match" = String, Header, description = "The ETag read")),
    responses((status = 204, description = "Taken back"), ActProblems, GoneProblems)
)]
#[delete("/pupil-decisions/{id}")]
pub async fn take_back_pupil_decision(
    caller: Caller,
    id: web::Path<PupilDecisionId>,
) -> Result<Reply, Problem> {
    let base = caller.base_version();
    caller
        .write("pupil_decision.take_back", move |tx| {
            let permit = tx.permit::<Manage, _>(Roster)?;
            let row = tx.pupil_decision(&permit, *id)?;
            same_version(row.v, base)?;
            match row.verdict {
                Verdict::Different => tx.forget_decision(&permit, &row)?,
                Verdict::Same => {
                    tx.part_pupils(&permit, &row).map_err(|e| taken(e, &row))?.map_err(|depends| {
                        let message = format!("other work depends on it: {}", depends.join("; "));
                        Problem::saying(Code::Conflict, message)
                    })?
                }
            }
            Ok(Reply::nothing())
        })
        .await
}

/// Its time is over, or what the record that is gone was known by belongs to somebody else by now.
fn taken(error: Error, row: &DecisionRow) -> Problem {
    let message = match error {
        Error::NotKept => return no_undo(row.undo_until),
        Error::Conflict => "the reference it had belongs to another pupil now",
        Error::Taken(_) => "the UPN it had belongs to another pupil now",
        other => return other.into(),
    };
    Problem::saying(Code::Conflict, message)
}
