//! The table of placement checks.

diesel::table! {
    use crate::store::types::sql::*;

    placement (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        pupil_id -> Uid,
        version_id -> Uid,
        check_id -> Uid,
        started_by -> Uid,
        started_at -> Moment,
        ended_at -> Nullable<Moment>,
        v -> BigInt,
    }
}
