//! The tables of sequences, their versions and proposals.

diesel::table! {
    use crate::store::types::sql::*;

    sequence (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        name -> Text,
        draft -> Json,
        draft_v -> BigInt,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    sequence_version (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        sequence_id -> Uid,
        number -> Integer,
        effective_on -> Date,
        note -> Nullable<Text>,
        content -> Json,
        published_by -> Uid,
        published_at -> Moment,
        v -> BigInt,
        withdrawn_on -> Nullable<Date>,
        withdrawn_note -> Nullable<Text>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    sequence_proposal (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        status -> Word,
        constraints -> Json,
        created_by -> Uid,
        created_at -> Moment,
        step -> Integer,
        alive_at -> Moment,
        finished_at -> Nullable<Moment>,
        result -> Nullable<Json>,
        problem -> Nullable<Text>,
    }
}
