//! GET /me

use actix_web::get;
use plumbline_core::{
    access::{
        Role,
        act::Read,
        resource::{OwnSessions, SchoolProfile},
    },
    id::{SchoolId, StaffId},
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::http::{
    caller::Caller, problem::Problem, problems::ReadProblems, reply::Reply, v1::staff::RoleView,
};

/// Oneself.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "staff_id": "0199f2c4-0000-7000-8000-000000000002", "name": "Amara Osei", "email": "a.osei@school.example",
    "school_id": "0199f2c4-0000-7000-8000-000000000001", "school_name": "Farholt Infant School",
    "today": "2026-11-25", "roles_today": ["teacher"],
    "roles": [{"role": "teacher", "from": "2026-09-01", "until": null}]
}))]
pub struct Me {
    /// The member of staff.
    pub staff_id: StaffId,
    /// Name.
    pub name: String,
    /// Address.
    pub email: String,
    /// The school of this sign-in.
    pub school_id: SchoolId,
    /// Its name.
    pub school_name: String,
    /// Today at the school.
    pub today: Date,
    /// Roles in force today.
    pub roles_today: Vec<Role>,
    /// All roles with their days.
    pub roles: Vec<RoleView>,
}

/// Who am I?
#[utoipa::path(
    tag = "sessions", operation_id = "get_me",
    responses((status = 200, description = "Oneself", body = Me), ReadProblems)
)]
#[get("/me")]
pub async fn get_me(caller: Caller) -> Result<Reply, Problem> {
    caller
        .read(|tx| {
            let own = tx.permit::<Read, _>(OwnSessions(None))?;
            let me = tx.me(&own)?;
            let profile = tx.permit::<Read, _>(SchoolProfile)?;
            let school = tx.school_profile(&profile)?;
            Reply::ok(&Me {
                staff_id: me.row.id,
                name: me.row.name,
                email: me.row.email,
                school_id: school.id,
                school_name: school.name,
                today: tx.today(),
                roles_today: tx.actor().roles.iter().copied().collect(),
                roles: me.roles.into_iter().map(RoleView::from).collect(),
            })
        })
        .await
}
