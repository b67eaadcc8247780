//! The table of links that open a cover page.

diesel::table! {
    use crate::store::types::sql::*;

    cover_link (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        group_id -> Uid,
        on_date -> Date,
        secret_hash -> Binary,
        created_by -> Uid,
        created_at -> Moment,
        valid_from -> Moment,
        valid_until -> Moment,
        revoked_at -> Nullable<Moment>,
    }
}
