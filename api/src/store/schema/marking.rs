//! The tables of how pupils answer, of what helped them, and of second marking.

diesel::table! {
    use crate::store::types::sql::*;

    pupil_answering (school_id, pupil_id, subject, v) {
        school_id -> Uid,
        pupil_id -> Uid,
        subject -> Word,
        v -> BigInt,
        from_on -> Date,
        value -> Nullable<Text>,
        entered_by -> Uid,
        at -> Moment,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    not_accessible (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        pupil_id -> Uid,
        kind -> Nullable<Word>,
        mode -> Nullable<Word>,
        reason -> Text,
        from_on -> Date,
        review_on -> Date,
        said_by -> Uid,
        at -> Moment,
        ended_on -> Nullable<Date>,
        ended_by -> Nullable<Uid>,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    what_helped (school_id, pupil_id) {
        school_id -> Uid,
        pupil_id -> Uid,
        text -> Text,
        on_date -> Date,
        written_by -> Uid,
        at -> Moment,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    second_marking (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        round_id -> Uid,
        check_id -> Uid,
        seed -> BigInt,
        drawn_from -> Integer,
        without_adult -> Integer,
        asked_by -> Uid,
        at -> Moment,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    second_sample (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        second_marking_id -> Uid,
        pupil_id -> Uid,
        staff_id -> Uid,
        basis -> Nullable<Word>,
        given_at -> Nullable<Moment>,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    second_mark (school_id, second_sample_id, item_id) {
        school_id -> Uid,
        second_sample_id -> Uid,
        item_id -> Uid,
        outcome -> Word,
        heard -> Nullable<Text>,
    }
}
