//! The tables of what was carried in: taught and checked before the records here begin.

diesel::table! {
    use crate::store::types::sql::*;

    carried_in (school_id, group_id) {
        school_id -> Uid,
        group_id -> Uid,
        as_of -> Date,
        version_id -> Uid,
        lessons -> Json,
        entered_by -> Uid,
        at -> Moment,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    carried_in_pupil (school_id, group_id, pupil_id) {
        school_id -> Uid,
        group_id -> Uid,
        pupil_id -> Uid,
        missed -> Json,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    carried_check (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        pupil_id -> Uid,
        on_date -> Date,
        answers -> Json,
        entered_by -> Uid,
        at -> Moment,
        v -> BigInt,
        transferred -> Json,
    }
}
