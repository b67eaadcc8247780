//! The tables of catch-up.

diesel::table! {
    use crate::store::types::sql::*;

    catch_up (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        group_id -> Uid,
        on_date -> Date,
        items -> Json,
        versions -> Json,
        taught_by -> Uid,
        entered_by -> Uid,
        at -> Moment,
        deleted_at -> Nullable<Moment>,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    catch_up_pupil (school_id, catch_up_id, pupil_id) {
        school_id -> Uid,
        catch_up_id -> Uid,
        pupil_id -> Uid,
    }
}
