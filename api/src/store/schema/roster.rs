//! The tables of pupil files, of unique pupil numbers and of optional fields.

diesel::table! {
    use crate::store::types::sql::*;

    roster_import (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        status -> Word,
        encoding -> Text,
        readings -> Json,
        plan -> Json,
        created_by -> Uid,
        created_at -> Moment,
        confirmed_at -> Nullable<Moment>,
        v -> BigInt,
        answers -> Json,
        before -> Nullable<Json>,
        summary -> Json,
        kept_until -> Nullable<Moment>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    file_heading (school_id, heading_key) {
        school_id -> Uid,
        heading_key -> Text,
        field -> Nullable<Word>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    pupil_upn (school_id, pupil_id, upn) {
        school_id -> Uid,
        pupil_id -> Uid,
        upn -> Text,
        since -> Moment,
        until -> Nullable<Moment>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    pupil_decision (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        verdict -> Word,
        pupil_id -> Uid,
        other_id -> Uid,
        before -> Nullable<Json>,
        decided_by -> Uid,
        decided_at -> Moment,
        v -> BigInt,
        once -> Nullable<Json>,
        undo_until -> Nullable<Date>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    rollover (school_id, year) {
        school_id -> Uid,
        year -> Integer,
        status -> Word,
        choices -> Json,
        shown -> Json,
        before -> Nullable<Json>,
        v -> BigInt,
        undo_until -> Nullable<Date>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    member_days (school_id, group_id, pupil_id, from_on) {
        school_id -> Uid,
        group_id -> Uid,
        pupil_id -> Uid,
        from_on -> Date,
        weekdays -> Nullable<SmallInt>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    optional_field (school_id, field) {
        school_id -> Uid,
        field -> Text,
        purpose -> Text,
        review_on -> Date,
        switched_on_by -> Uid,
        switched_on_at -> Moment,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    pupil_field (school_id, pupil_id, field, v) {
        school_id -> Uid,
        pupil_id -> Uid,
        field -> Text,
        v -> BigInt,
        from_on -> Date,
        value -> Nullable<Text>,
        entered_by -> Uid,
        at -> Moment,
    }
}
