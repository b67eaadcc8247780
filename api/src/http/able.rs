//! Adults who are named for teaching or checking.

use plumbline_core::{
    access::{NO_ROLE_FOR_IT, could, policy::Permits},
    id::StaffId,
    time::Span,
};

use crate::{
    http::problem::{Gathered, Problem},
    store::{Permit, Tx},
};

/// Refuses adults none of whose roles, on the days they are named for, lets them do `Done` to what is `Of` such a kind,
/// each by the field that names them. Who is not of this school's staff is for others to refuse.
///
/// # Errors
/// All of them.
pub fn able<'tx, Done, Of, A, R>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, A, R>,
    named: impl IntoIterator<Item = (String, StaffId, Span)>,
) -> Result<(), Problem>
where
    Of: Permits<Done>,
{
    let mut wrong = Gathered::default();
    for (field, adult, days) in named {
        let roles = tx.roles_of(permit, &[adult], days)?.remove(&adult);
        if roles.is_some_and(|roles| !could::<Done, Of>(&roles)) {
            wrong.add(field, NO_ROLE_FOR_IT);
        }
    }
    wrong.none()
}
