//! What tests of the store begin with.

use super::*;

/// A school of a store, and its administrator.
pub(in crate::store) fn larchfield(store: &Store) -> (SchoolId, StaffId) {
    let school = NewSchool {
        name: "Larchfield".into(),
        rule_pack: "england".into(),
        time_zone: "Europe/London".into(),
        admin_name: "Ada Moss".into(),
        admin_email: Email::new("ada@larchfield.example").unwrap(),
        secret_hash: [1; 32],
        expires_at: store.clock().now().plus_seconds(60),
    };
    let (school, invitation) = store.create_school(school).unwrap();
    (school, store.accept_invitation(school, invitation, [1; 32], Some("x".into())).unwrap())
}
