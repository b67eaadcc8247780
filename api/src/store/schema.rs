//! The tables, kept by hand for both stores and compared with them by a test.

mod audit;
mod carried;
mod catch_ups;
mod changes;
mod cover;
mod groups;
mod marking;
mod placements;
mod reports;
mod roster;
mod rounds;
mod sequences;
mod statutory;
mod sync;
mod trust;
mod words;

pub use audit::{audit_entry, audit_erased, audit_identity, audit_seal};
pub use carried::{carried_check, carried_in, carried_in_pupil};
pub use catch_ups::{catch_up, catch_up_pupil};
pub use changes::{change, history};
pub use cover::cover_link;
pub use groups::{
    group_member, group_proposal, group_staff, group_timetable, group_version, lesson_mark, lesson_record,
    pace_plan, teaching_group,
};
pub use marking::{not_accessible, pupil_answering, second_mark, second_marking, second_sample, what_helped};
pub use placements::placement;
pub use reports::{report_release, report_snapshot};
pub use roster::{
    file_heading, member_days, optional_field, pupil_decision, pupil_field, pupil_upn, rollover,
    roster_import,
};
pub use rounds::{exemption, sitting};
pub use sequences::{sequence, sequence_proposal, sequence_version};
pub use statutory::{earlier_statutory_result, statutory_result, statutory_threshold, statutory_window};
pub use sync::{held_op, op, replica, tablet};
pub use trust::{trust_file, trust_file_signed, trust_school, trust_share};
pub use words::{book, pseudo_word_set, school_phonics, school_word, struck_word};

diesel::table! {
    use crate::store::types::sql::*;

    account (id) {
        id -> Uid,
        email -> Text,
        email_key -> Text,
        password_hash -> Text,
        created_at -> Moment,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    school (id) {
        id -> Uid,
        name -> Text,
        rule_pack -> Text,
        time_zone -> Text,
        epoch -> Uid,
        version -> BigInt,
        floor -> BigInt,
        audit_seq -> BigInt,
        audit_head -> Binary,
        v -> BigInt,
        created_at -> Moment,
        places_on -> Nullable<Date>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    staff (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        account_id -> Nullable<Uid>,
        name -> Text,
        email -> Text,
        email_key -> Text,
        v -> BigInt,
        created_at -> Moment,
        disabled_at -> Nullable<Moment>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    staff_role (school_id, staff_id, role, from_on) {
        school_id -> Uid,
        staff_id -> Uid,
        role -> Word,
        from_on -> Date,
        until_on -> Nullable<Date>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    invitation (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        staff_id -> Uid,
        secret_hash -> Binary,
        created_by -> Nullable<Uid>,
        created_at -> Moment,
        expires_at -> Moment,
        accepted_at -> Nullable<Moment>,
        withdrawn_at -> Nullable<Moment>,
        renews -> Bool,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    session (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        staff_id -> Uid,
        created_at -> Moment,
        expires_at -> Moment,
        ended_at -> Nullable<Moment>,
        tablet_id -> Nullable<Uid>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    refresh_token (school_id, session_id, id) {
        school_id -> Uid,
        session_id -> Uid,
        id -> Uid,
        secret_hash -> Binary,
        issued_at -> Moment,
        used_at -> Nullable<Moment>,
        parent_id -> Nullable<Uid>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    idempotency (school_id, staff_id, idem_key) {
        school_id -> Uid,
        staff_id -> Uid,
        idem_key -> Text,
        request_hash -> Binary,
        reply -> Json,
        at -> Moment,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    class (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        name -> Text,
        name_key -> Text,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    class_staff (school_id, class_id, staff_id, from_on) {
        school_id -> Uid,
        class_id -> Uid,
        staff_id -> Uid,
        from_on -> Date,
        until_on -> Nullable<Date>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    pupil (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        pupil_ref -> Nullable<Text>,
        given_name -> Text,
        family_name -> Nullable<Text>,
        preferred_name -> Nullable<Text>,
        label -> Nullable<Text>,
        search_key -> Text,
        date_of_birth -> Nullable<Date>,
        left_on -> Nullable<Date>,
        v -> BigInt,
        created_at -> Moment,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    pupil_year (school_id, pupil_id, year) {
        school_id -> Uid,
        pupil_id -> Uid,
        year -> Integer,
        year_group -> Text,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    class_member (school_id, class_id, pupil_id, from_on) {
        school_id -> Uid,
        class_id -> Uid,
        pupil_id -> Uid,
        from_on -> Date,
        until_on -> Nullable<Date>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    school_year (school_id, year) {
        school_id -> Uid,
        year -> Integer,
        starts_on -> Date,
        ends_on -> Date,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    half_term (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        year -> Integer,
        name -> Text,
        starts_on -> Date,
        ends_on -> Date,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    closure (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        from_on -> Date,
        until_on -> Date,
        kind -> Word,
        reason -> Nullable<Text>,
        part -> Word,
        year_groups -> Nullable<Json>,
        class_ids -> Nullable<Json>,
        taken_back_at -> Nullable<Moment>,
        v -> BigInt,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    check_definition (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        name -> Text,
        kind -> Word,
        items -> Json,
        v -> BigInt,
        series_id -> Nullable<Uid>,
        version -> Integer,
        built -> Nullable<Json>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    check_round (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        name -> Text,
        opens_on -> Date,
        closes_on -> Date,
        v -> BigInt,
        plan -> Json,
        said_on -> Nullable<Date>,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    round_check (school_id, round_id, check_id) {
        school_id -> Uid,
        round_id -> Uid,
        check_id -> Uid,
    }
}

diesel::table! {
    use crate::store::types::sql::*;

    response (school_id, id) {
        school_id -> Uid,
        id -> Uid,
        round_id -> Uid,
        check_id -> Uid,
        item_id -> Uid,
        pupil_id -> Uid,
        on_date -> Date,
        outcome -> Word,
        taken_by -> Uid,
        entered_by -> Uid,
        at -> Moment,
        corrects -> Nullable<Uid>,
        v -> BigInt,
        heard -> Nullable<Text>,
        mode -> Word,
        sitting_id -> Nullable<Uid>,
        late -> Bool,
        reason -> Nullable<Word>,
    }
}

diesel::allow_tables_to_appear_in_same_query!(
    account,
    school,
    staff,
    staff_role,
    invitation,
    session,
    refresh_token,
    idempotency,
    class,
    class_staff,
    pupil,
    pupil_year,
    class_member,
    roster_import,
    school_year,
    half_term,
    closure,
    sequence,
    sequence_version,
    teaching_group,
    group_staff,
    group_member,
    group_proposal,
    group_timetable,
    lesson_record,
    lesson_mark,
    catch_up,
    catch_up_pupil,
    check_definition,
    check_round,
    round_check,
    response,
    change,
    history,
    audit_entry,
    audit_identity,
    audit_erased,
    audit_seal,
    sequence_proposal,
    carried_in,
    carried_in_pupil,
    carried_check,
    cover_link,
    placement,
    earlier_statutory_result,
    exemption,
    not_accessible,
    second_mark,
    second_marking,
    second_sample,
    sitting,
    statutory_result,
    statutory_threshold,
    statutory_window,
    tablet,
    replica,
    op,
    held_op,
);
