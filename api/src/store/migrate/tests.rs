//! What migrations make of rows that are there already, the same on both stores.

use diesel::{RunQueryDsl as _, connection::SimpleConnection as _, sql_query, sql_types::Text};

use super::*;
use crate::store::tests::on_each_store;

#[derive(diesel::QueryableByName)]
struct Line {
    #[diesel(sql_type = Text)]
    line: String,
}

/// SQL for both stores: `@7` is the id that ends in 7, `:moment` a moment, `:bytes` no bytes.
fn in_words_of(place: &Place, sql: &str) -> String {
    let (moment, bytes) = match place {
        Place::Sqlite(_) => ("0", "X''"),
        Place::Postgres(_) => ("'epoch'", "''"),
    };
    let mut parts = sql.split('@');
    let mut out = parts.next().unwrap().to_owned();
    for part in parts {
        let end = part.find(|c: char| !c.is_ascii_hexdigit()).unwrap_or(part.len());
        let id = uuid::Uuid::from_u128(u128::from_str_radix(&part[..end], 16).unwrap());
        out += &match place {
            Place::Sqlite(_) => format!("X'{}'", id.simple()),
            Place::Postgres(_) => format!("'{id}'"),
        };
        out += &part[end..];
    }
    out.replace(":moment", moment).replace(":bytes", bytes)
}

/// Applies the migrations up to a version, runs SQL, then applies the others.
fn with_rows_at(place: &Place, version: &str, sql: &str) {
    fn up_to<C, DB>(conn: &mut C, source: EmbeddedMigrations, version: &str)
    where
        C: MigrationHarness<DB>,
        DB: diesel::backend::Backend,
        EmbeddedMigrations: MigrationSource<DB>,
    {
        for migration in conn.pending_migrations(source).unwrap() {
            if migration.name().version().to_string().as_str() <= version {
                conn.run_migration(&migration).unwrap();
            }
        }
    }
    let sql = in_words_of(place, sql);
    match place {
        Place::Sqlite(path) => {
            let mut conn = sqlite(path).unwrap();
            up_to(&mut conn, SQLITE, version);
            conn.batch_execute(&sql).unwrap();
        }
        Place::Postgres(url) => {
            let mut conn = postgres(url).unwrap();
            up_to(&mut conn, POSTGRES, version);
            conn.batch_execute(&sql).unwrap();
        }
    }
    run(place).unwrap();
}

/// The lines of a query that names its one column `line`; spaces, which JSON has on one store, are left out.
/// An id is told by `id(column)`, by its last digits.
fn lines(place: &Place, query: &str) -> Vec<String> {
    let id = |of: &str| {
        let mut parts = query.split("id(");
        let mut out = parts.next().unwrap().to_owned();
        for part in parts {
            let (column, rest) = part.split_once(')').unwrap();
            out += &of.replace("column", column);
            out += rest;
        }
        out
    };
    let found: Vec<Line> = match place {
        Place::Sqlite(path) => {
            sql_query(id("ltrim(hex(column), '0')")).load(&mut sqlite(path).unwrap()).unwrap()
        }
        Place::Postgres(url) => {
            let id = id("upper(ltrim(replace(column::text, '-', ''), '0'))");
            sql_query(id).load(&mut postgres(url).unwrap()).unwrap()
        }
    };
    found.into_iter().map(|found| found.line.replace(' ', "")).collect()
}

const SCHOOL: &str = "INSERT INTO school (id, name, rule_pack, time_zone, epoch, version, floor, audit_seq, audit_head, v, created_at) \
    VALUES (@1, 'Larchfield', 'england', 'Europe/London', @1, 1, 0, 0, :bytes, 1, :moment);";

/// A lesson of a version, by its id.
fn lesson(n: u8) -> String {
    format!(r#"{{"id": "00000000-0000-0000-0000-0000000000{n:02x}"}}"#)
}

#[test]
fn a_starting_point_becomes_what_was_carried_in() {
    let step = |lessons: &[u8]| {
        let lessons: Vec<String> = lessons.iter().map(|n| lesson(*n)).collect();
        format!(r#"{{"lessons": [{}]}}"#, lessons.join(", "))
    };
    let content = |steps: &[&[u8]]| {
        let steps: Vec<String> = steps.iter().map(|lessons| step(lessons)).collect();
        format!(r#"{{"steps": [{}]}}"#, steps.join(", "))
    };
    // Lessons a1 to a4: the second version drops a2 and puts a4 before a3. The other sequence begins with an
    // empty step.
    let first = content(&[&[0xa1, 0xa2], &[0xa3, 0xa4]]);
    let second = content(&[&[0xa1], &[0xa4, 0xa3]]);
    let other = content(&[&[], &[0xb1, 0xb2]]);
    let sql = format!(
        "{SCHOOL}
        INSERT INTO sequence (school_id, id, name, draft, draft_v, v)
        VALUES (@1, @2, 'Ours', '{{}}', 1, 1), (@1, @3, 'Other', '{{}}', 1, 1);
        INSERT INTO sequence_version
            (school_id, id, sequence_id, number, effective_on, content, published_by, published_at, v)
        VALUES (@1, @4, @2, 1, '2026-09-01', '{first}', @9, :moment, 1),
            (@1, @5, @2, 2, '2026-11-02', '{second}', @9, :moment, 1),
            (@1, @6, @3, 1, '2026-09-01', '{other}', @9, :moment, 1);
        INSERT INTO teaching_group (school_id, id, name, sequence_id, start_lesson_id, v)
        VALUES (@1, @10, 'At a3', @2, @a3, 7), (@1, @11, 'From the start', @2, NULL, 7),
            (@1, @12, 'At the first', @2, @a1, 7), (@1, @13, 'Behind an empty step', @3, @b1, 7),
            (@1, @14, 'At a2 of the first version', @2, @a2, 7), (@1, @15, 'At b2', @3, @b2, 7);
        INSERT INTO pupil (school_id, id, given_name, search_key, v, created_at)
        VALUES (@1, @20, 'Zoe', 'zoe', 1, :moment), (@1, @21, 'Max', 'max', 1, :moment);
        INSERT INTO group_member (school_id, group_id, pupil_id, from_on, until_on)
        VALUES (@1, @10, @20, '2026-09-07', NULL), (@1, @10, @21, '2026-09-01', '2026-10-23'),
            (@1, @10, @21, '2026-11-02', NULL), (@1, @13, @20, '2026-09-01', NULL),
            (@1, @15, @20, '2026-09-03', NULL);"
    );
    on_each_store(|place| {
        with_rows_at(place, "20261125000500", &sql);
        let carried = "SELECT id(group_id) || ' ' || CAST(as_of AS TEXT) || ' ' || id(version_id) || ' ' \
            || CAST(lessons AS TEXT) || ' ' || id(entered_by) || ' ' || CAST(v AS TEXT) AS line \
            FROM carried_in ORDER BY group_id";
        let id = |n: &str| format!("\"00000000-0000-0000-0000-0000000000{n}\"");
        // Of the latest version that has the lesson; without a member, from the day that version counts.
        let expected = [
            format!("102026-09-015[{},{}]97", id("a1"), id("a4")),
            format!("142026-09-014[{}]97", id("a1")),
            format!("152026-09-036[{}]97", id("b1")),
        ];
        assert_eq!(lines(place, carried), expected, "{place:?}");
        let pupils = "SELECT id(group_id) || ' ' || id(pupil_id) || ' ' || CAST(missed AS TEXT) AS line \
            FROM carried_in_pupil ORDER BY group_id, pupil_id";
        assert_eq!(lines(place, pupils), ["1020[]", "1021[]", "1520[]"], "{place:?}");
    });
}

#[test]
fn what_an_undo_puts_back_is_given_a_last_day() {
    let sql = format!(
        r#"{SCHOOL}
        INSERT INTO pupil_decision
            (school_id, id, verdict, pupil_id, other_id, before, decided_by, decided_at, v)
        VALUES (@1, @2, 'same', @20, @21, '{{"once": {{"given_name": "Ida"}}, "kept": 1}}', @9, :moment, 1),
            (@1, @3, 'different', @20, @22, NULL, @9, :moment, 1);
        INSERT INTO rollover (school_id, year, status, choices, shown, before, v)
        VALUES (@1, 2026, 'draft', '{{}}', '{{"first": "2026-09-01"}}', NULL, 1),
            (@1, 2027, 'applied', '{{}}', '{{"first": "2027-09-01"}}', '{{}}', 1);"#
    );
    on_each_store(|place| {
        with_rows_at(place, "20261125000910", &sql);
        let decisions = "SELECT id(id) || ' ' || coalesce(CAST(once AS TEXT), '-') || ' ' \
            || coalesce(CAST(before AS TEXT), '-') || ' ' || coalesce(CAST(undo_until AS TEXT), '-') AS line \
            FROM pupil_decision ORDER BY id";
        // 180 days after 1 January 1970, where the decision was made, is 30 June.
        let same = r#"2{"given_name":"Ida"}{"kept":1}1970-06-30"#;
        assert_eq!(lines(place, decisions), [same, "3---"], "{place:?}");
        let rollovers = "SELECT CAST(year AS TEXT) || coalesce(CAST(undo_until AS TEXT), '-') AS line \
            FROM rollover ORDER BY year";
        // 28 days from 1 September on.
        assert_eq!(lines(place, rollovers), ["2026-", "20272027-09-29"], "{place:?}");
    });
}

#[test]
fn a_closed_day_becomes_an_action_of_one_day() {
    let sql = format!(
        r"{SCHOOL}
        INSERT INTO closure (school_id, id, on_date, kind, reason, v)
        VALUES (@1, @2, '2026-11-12', 'closure', 'weather', 1), (@1, @3, '2026-11-20', 'inset', NULL, 1);"
    );
    on_each_store(|place| {
        with_rows_at(place, "20261125001110", &sql);
        let closures = "SELECT id(id) || CAST(from_on AS TEXT) || CAST(until_on AS TEXT) || kind \
            || coalesce(reason, '-') || part || coalesce(CAST(year_groups AS TEXT), '-') \
            || coalesce(CAST(class_ids AS TEXT), '-') AS line \
            FROM closure WHERE taken_back_at IS NULL ORDER BY id";
        let expected = ["22026-11-122026-11-12closureweatherwhole--", "32026-11-202026-11-20inset-whole--"];
        assert_eq!(lines(place, closures), expected, "{place:?}");
    });
}

#[test]
fn what_pupils_left_behind_in_groups_is_no_longer_in_the_log_that_devices_read() {
    let row = |kind: &str, id: &str| format!("(@1, 'group', @10, '{kind}', {id}, 1, 'put')");
    let kinds = ["pupil", "pupil_answering", "response", "sitting", "exemption", "lesson_record", "catch_up"];
    let rows: Vec<String> = kinds.iter().zip(20..).map(|(kind, n)| row(kind, &format!("@{n}"))).collect();
    let sql = format!(
        "{SCHOOL}
        INSERT INTO change (school_id, scope_kind, scope_id, rec_kind, rec_id, v, kind) VALUES {};",
        rows.join(", ")
    );
    on_each_store(|place| {
        with_rows_at(place, "20261125002300", &sql);
        // What belongs to pupils is logged anew with them, where they are by then.
        let left = "SELECT rec_kind AS line FROM change WHERE scope_kind = 'group' ORDER BY rec_kind";
        assert_eq!(lines(place, left), ["catch_up", "lesson_record"], "{place:?}");
        let of_school = "SELECT rec_kind AS line FROM change WHERE scope_kind = 'school' ORDER BY rec_kind";
        assert_eq!(lines(place, of_school), ["school"], "{place:?}");
    });
}
