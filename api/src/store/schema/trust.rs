//! The tables of trusts.

diesel::table! {
    use crate::store::types::sql::*;

    trust_share (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        trust_id -> Uid,
        release_id -> Uid,
        school_year -> Integer,
        half_term -> Text,
        body -> Text,
        shared_by -> Uid,
        shared_at -> Moment,
        withdrawn_by -> Nullable<Uid>,
        withdrawn_at -> Nullable<Moment>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    trust_school (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        member_id -> Uid,
        name -> Text,
        file_key -> Nullable<Text>,
        added_by -> Uid,
        added_at -> Moment,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    trust_file (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        member_id -> Uid,
        school_year -> Integer,
        half_term -> Text,
        body -> Text,
        taken_by -> Uid,
        taken_at -> Moment,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    trust_file_signed (school_id, member_id, school_year, half_term) {
        school_id -> Uid,
        member_id -> Uid,
        school_year -> Integer,
        half_term -> Text,
        signed_at -> Moment,
    }
}

diesel::allow_tables_to_appear_in_same_query!(trust_share, trust_school);
