//! Staff, roles and invitations.

pub mod accept;
pub mod get;
pub mod invite;
pub mod list;
pub mod offer_password;
pub mod set_roles;
pub mod update;

use plumbline_core::{
    access::{Role, act::Manage, resource::StaffList},
    id::StaffId,
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::{
    http::problem::{Code, FieldError, Problem},
    store::{Permit, RoleSpan, StaffView, Tx},
};

/// A role with its days.
#[derive(Clone, Copy, Debug, Serialize, ToSchema)]
pub struct RoleView {
    /// The role.
    pub role: Role,
    /// First day.
    pub from: Date,
    /// Last day, or none while it goes on.
    pub until: Option<Date>,
}

impl From<RoleSpan> for RoleView {
    fn from(span: RoleSpan) -> Self {
        Self { role: span.role, from: span.from, until: span.until }
    }
}

/// A role to give.
#[derive(Clone, Copy, Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RoleBody {
    /// The role.
    pub role: Role,
    /// First day; today unless told.
    #[serde(default)]
    pub from: Option<Date>,
    /// Last day. Required for cover, which always ends.
    #[serde(default)]
    pub until: Option<Date>,
}

/// Refuses a change that would leave the school without an administrator who can sign in and
/// whose role has no end.
fn keep_an_administrator<'tx>(
    tx: &mut Tx<'tx>,
    permit: &Permit<'tx, Manage, StaffList>,
) -> Result<(), Problem> {
    if tx.has_lasting_administrator(permit)? {
        return Ok(());
    }
    let detail =
        "nobody would be left to administer the school: give the role to somebody else first, without an end";
    Err(Problem::saying(Code::Conflict, detail))
}

/// Checks roles: at least one, no reversed days, cover ends, nothing twice.
fn spans(roles: &[RoleBody], today: Date) -> Result<Vec<RoleSpan>, Problem> {
    let wrong = |n: usize, field: &str, message: &str| {
        let (field, message) = (format!("roles[{n}].{field}"), message.to_owned());
        Problem::fields([FieldError { field, message }])
    };
    if roles.is_empty() {
        return Err(Problem::field("roles", "give at least one role"));
    }
    let mut spans: Vec<RoleSpan> = Vec::new();
    for (n, body) in roles.iter().enumerate() {
        let from = body.from.unwrap_or(today);
        if body.role == Role::Cover && body.until.is_none() {
            return Err(wrong(n, "until", "cover always ends: give the last day"));
        }
        if body.until.is_some_and(|until| until < from) {
            return Err(wrong(n, "until", "lies before the first day"));
        }
        if spans.iter().any(|span| span.role == body.role && span.from == from) {
            return Err(wrong(n, "role", "stands twice with the same first day"));
        }
        spans.push(RoleSpan { role: body.role, from, until: body.until });
    }
    Ok(spans)
}

/// A member of staff.
#[derive(Debug, Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000002", "name": "Amara Osei", "email": "a.osei@school.example",
    "has_account": true, "disabled": false, "roles": [{"role": "teacher", "from": "2026-09-01", "until": null}]
}))]
pub struct StaffBody {
    /// The member of staff.
    pub id: StaffId,
    /// Name.
    pub name: String,
    /// Address.
    pub email: String,
    /// Whether an invitation was accepted.
    pub has_account: bool,
    /// Whether signing in is off.
    pub disabled: bool,
    /// Roles, past and coming ones too.
    pub roles: Vec<RoleView>,
}

impl From<StaffView> for StaffBody {
    fn from(view: StaffView) -> Self {
        Self {
            id: view.row.id,
            name: view.row.name,
            email: view.row.email,
            has_account: view.row.account_id.is_some(),
            disabled: view.row.disabled_at.is_some(),
            roles: view.roles.into_iter().map(RoleView::from).collect(),
        }
    }
}
