//! The tables of sittings and exemptions.

diesel::table! {
    use crate::store::types::sql::*;

    sitting (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        round_id -> Uid,
        pupil_id -> Uid,
        check_id -> Uid,
        begun_at -> Moment,
        adults -> Json,
        paused_at -> Nullable<Moment>,
        finished_at -> Nullable<Moment>,
        finished_by -> Nullable<Uid>,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    exemption (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        round_id -> Uid,
        pupil_id -> Uid,
        check_id -> Nullable<Uid>,
        reason -> Text,
        review_on -> Date,
        said_by -> Uid,
        said_at -> Moment,
        ended_by -> Nullable<Uid>,
        ended_at -> Nullable<Moment>,
        v -> BigInt,
    }
}
