//! The tables of the audit log.

diesel::table! {
    use crate::store::types::sql::*;

    audit_entry (school_id, seq) {
        school_id -> Uid,
        seq -> BigInt,
        at -> Moment,
        operation -> Text,
        subject_kind -> Text,
        commitment -> Binary,
        digest -> Binary,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    audit_identity (school_id, seq) {
        school_id -> Uid,
        seq -> BigInt,
        staff_id -> Nullable<Uid>,
        subject_id -> Nullable<Uid>,
        salt -> Binary,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    audit_seal (school_id, segment) {
        school_id -> Uid,
        segment -> Text,
        seq -> BigInt,
        digest -> Binary,
        key_id -> Text,
        signature -> Text,
        at -> Moment,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    audit_erased (school_id, seq) {
        school_id -> Uid,
        seq -> BigInt,
        by_seq -> BigInt,
    }
}
