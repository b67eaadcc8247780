//! The tables of reports.

diesel::table! {
    use crate::store::types::sql::*;

    report_snapshot (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        as_of -> Date,
        half_term -> Text,
        basis -> Json,
        lines -> Json,
        created_by -> Uid,
        created_at -> Moment,
        kept_until -> Moment,
        checks -> Nullable<Json>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    report_release (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        snapshot_id -> Uid,
        audience -> Word,
        as_of -> Date,
        body -> Text,
        ledger -> Json,
        ledger_until -> Nullable<Moment>,
        released_by -> Uid,
        released_at -> Moment,
    }
}
