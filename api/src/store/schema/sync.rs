//! The tables of tablets, of who works on them and of what they sent.

diesel::table! {
    use crate::store::types::sql::*;

    tablet (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        name -> Text,
        added_by -> Uid,
        added_at -> Moment,
        revoked_by -> Nullable<Uid>,
        revoked_at -> Nullable<Moment>,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    replica (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        tablet_id -> Uid,
        staff_id -> Uid,
        last_n -> BigInt,
        safe_n -> BigInt,
        last_seen_on -> Date,
        added_at -> Moment,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    op (school_id, replica_id, n) {
        school_id -> Uid,
        replica_id -> Uid,
        n -> BigInt,
        op_id -> Uid,
        sha256 -> Binary,
        outcome -> Json,
        v -> BigInt,
        kept_until -> Moment,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    held_op (school_id, replica_id, n) {
        school_id -> Uid,
        replica_id -> Uid,
        n -> BigInt,
        op_id -> Uid,
        body -> Nullable<Json>,
        held_at -> Moment,
        kept_until -> Moment,
        bytes -> BigInt,
    }
}
