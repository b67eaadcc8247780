//! The tables of what changed: the log that devices read, and what records said before.

diesel::table! {
    use crate::store::types::sql::*;

    change (school_id, scope_kind, scope_id, rec_kind, rec_id) {
        school_id -> Uid,
        scope_kind -> Text,
        scope_id -> Uid,
        rec_kind -> Text,
        rec_id -> Uid,
        v -> BigInt,
        kind -> Word,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    history (school_id, rec_kind, rec_id, v, turn) {
        school_id -> Uid,
        rec_kind -> Text,
        rec_id -> Uid,
        v -> BigInt,
        at -> Moment,
        staff_id -> Nullable<Uid>,
        body -> Json,
        turn -> SmallInt,
    }
}
