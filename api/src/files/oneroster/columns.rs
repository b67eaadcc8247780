//! The headers of the files that are read (1EdTech OneRoster, CSV binding 1.1 and 1.2).

use super::{manifest::Version, table::Columns};

const USERS_1_1: &[&str] = &[
    "sourcedId",
    "status",
    "dateLastModified",
    "enabledUser",
    "orgSourcedIds",
    "role",
    "username",
    "userIds",
    "givenName",
    "familyName",
    "middleName",
    "identifier",
    "email",
    "sms",
    "phone",
    "agentSourcedIds",
    "grades",
    "password",
];
const USERS_1_2: &[&str] = &[
    "sourcedId",
    "status",
    "dateLastModified",
    "enabledUser",
    "username",
    "userIds",
    "givenName",
    "familyName",
    "middleName",
    "identifier",
    "email",
    "sms",
    "phone",
    "agentSourcedIds",
    "grades",
    "password",
    "userMasterIdentifier",
    "preferredGivenName",
    "preferredMiddleName",
    "preferredFamilyName",
    "primaryOrgSourcedId",
    "pronouns",
];
const ROLES: &[&str] = &[
    "sourcedId",
    "status",
    "dateLastModified",
    "userSourcedId",
    "roleType",
    "role",
    "beginDate",
    "endDate",
    "orgSourcedId",
    "userProfileSourcedId",
];
const CLASSES: &[&str] = &[
    "sourcedId",
    "status",
    "dateLastModified",
    "title",
    "grades",
    "courseSourcedId",
    "classCode",
    "classType",
    "location",
    "schoolSourcedId",
    "termSourcedIds",
    "subjects",
    "subjectCodes",
    "periods",
];
const ENROLLMENTS: &[&str] = &[
    "sourcedId",
    "status",
    "dateLastModified",
    "classSourcedId",
    "schoolSourcedId",
    "userSourcedId",
    "role",
    "primary",
    "beginDate",
    "endDate",
];
const DEMOGRAPHICS: &[&str] = &["sourcedId", "status", "dateLastModified", "birthDate", "sex"];
const ORGS: &[&str] =
    &["sourcedId", "status", "dateLastModified", "name", "type", "identifier", "parentSourcedId"];

const fn exactly(all: &'static [&'static str]) -> Columns {
    Columns { all, more: false }
}

/// Of `users.csv`.
pub const fn users(version: Version) -> Columns {
    match version {
        Version::V1_1 => exactly(USERS_1_1),
        Version::V1_2 => exactly(USERS_1_2),
    }
}

/// Of `roles.csv`, which 1.2 brought.
pub const fn roles() -> Columns {
    exactly(ROLES)
}

/// Of `classes.csv`.
pub const fn classes() -> Columns {
    exactly(CLASSES)
}

/// Of `enrollments.csv`.
pub const fn enrollments() -> Columns {
    exactly(ENROLLMENTS)
}

/// Of `demographics.csv`. What follows is about origin and no business of ours.
pub const fn demographics() -> Columns {
    Columns { all: DEMOGRAPHICS, more: true }
}

/// Of `orgs.csv`.
pub const fn orgs() -> Columns {
    exactly(ORGS)
}
