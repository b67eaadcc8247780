//! The tables of the statutory check.

diesel::table! {
    use crate::store::types::sql::*;

    statutory_window (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        year -> Integer,
        term -> Text,
        opens_on -> Date,
        closes_on -> Date,
        absentees_until -> Nullable<Date>,
        year_groups -> Json,
        opened_by -> Uid,
        opened_at -> Moment,
        submitted_by -> Nullable<Uid>,
        submitted_at -> Nullable<Moment>,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    statutory_result (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        window_id -> Uid,
        pupil_id -> Uid,
        mark -> Nullable<SmallInt>,
        code -> Nullable<Text>,
        on_date -> Nullable<Date>,
        taken_by -> Nullable<Uid>,
        reason -> Nullable<Text>,
        entered_by -> Uid,
        at -> Moment,
        amended_for -> Nullable<Text>,
        note -> Nullable<Text>,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    statutory_threshold (school_id, year, v) {
        school_id -> Uid,
        year -> Integer,
        v -> BigInt,
        threshold -> SmallInt,
        published_on -> Date,
        entered_by -> Uid,
        at -> Moment,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    earlier_statutory_result (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        pupil_id -> Uid,
        year -> Integer,
        term -> Text,
        mark -> Nullable<SmallInt>,
        code -> Nullable<Text>,
        source -> Word,
        entered_by -> Uid,
        at -> Moment,
        removed_by -> Nullable<Uid>,
        removed_at -> Nullable<Moment>,
        v -> BigInt,
    }
}
