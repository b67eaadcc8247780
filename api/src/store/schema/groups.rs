//! The tables of teaching groups and their lesson records.

diesel::table! {
    use crate::store::types::sql::*;

    teaching_group (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        name -> Text,
        sequence_id -> Uid,
        closed_on -> Nullable<Date>,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    group_staff (school_id, group_id, staff_id, from_on) {
        school_id -> Uid,
        group_id -> Uid,
        staff_id -> Uid,
        from_on -> Date,
        until_on -> Nullable<Date>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    group_member (school_id, group_id, pupil_id, from_on) {
        school_id -> Uid,
        group_id -> Uid,
        pupil_id -> Uid,
        from_on -> Date,
        until_on -> Nullable<Date>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    pace_plan (school_id, group_id, from_on) {
        school_id -> Uid,
        group_id -> Uid,
        from_on -> Date,
        lessons -> Integer,
        days -> Integer,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    group_proposal (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        version_id -> Uid,
        as_of -> Date,
        asked -> Json,
        stood -> Json,
        result -> Json,
        figures -> Json,
        created_by -> Uid,
        created_at -> Moment,
        kept_until -> Moment,
        accepted -> Nullable<Json>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    group_version (school_id, group_id, from_on) {
        school_id -> Uid,
        group_id -> Uid,
        version_id -> Uid,
        from_on -> Date,
        until_on -> Nullable<Date>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    group_timetable (school_id, group_id, from_on) {
        school_id -> Uid,
        group_id -> Uid,
        from_on -> Date,
        slots -> Nullable<Json>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    lesson_record (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        group_id -> Uid,
        on_date -> Date,
        slot -> SmallInt,
        generation -> SmallInt,
        version_id -> Uid,
        lesson_id -> Uid,
        outcome -> Word,
        items -> Json,
        reason -> Nullable<Text>,
        taught_by -> Uid,
        entered_by -> Uid,
        at -> Moment,
        deleted_at -> Nullable<Moment>,
        v -> BigInt,
        aside_v -> Nullable<BigInt>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    lesson_mark (school_id, record_id, pupil_id) {
        school_id -> Uid,
        record_id -> Uid,
        pupil_id -> Uid,
        mark -> Word,
        missed -> Bool,
    }
}
