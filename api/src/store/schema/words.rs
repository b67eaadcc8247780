//! The tables of what a school says about words, and of its reading books.

diesel::table! {
    use crate::store::types::sql::*;

    school_phonics (school_id) {
        school_id -> Uid,
        policy -> Json,
        words_v -> BigInt,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    school_word (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        word -> Text,
        word_key -> Text,
        readings -> Json,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    struck_word (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        word -> Text,
        word_key -> Text,
        struck_by -> Uid,
        struck_at -> Moment,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    pseudo_word_set (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        name -> Text,
        words -> Json,
        made_by -> Uid,
        made_at -> Moment,
        approved_by -> Nullable<Uid>,
        approved_at -> Nullable<Moment>,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    book (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        title -> Text,
        reference -> Nullable<Text>,
        source -> Word,
        words -> Text,
        v -> BigInt,
        bytes -> BigInt,
        counted -> Nullable<Json>,
    }
}
