//! The schema by hand against what the migrations make, on both stores, and the settings
//! SQLite runs with.

use std::collections::BTreeMap;

use diesel::{
    Connection as _, PgConnection, RunQueryDsl as _, SqliteConnection, connection::SimpleConnection as _,
    sql_query, sql_types::Text,
};

use super::{Error, Place, Store, conn::db};
use crate::clock::Clock;

/// A column as some source has it: name, type, whether it may be null.
type Column = (String, &'static str, bool);
/// Tables by name: the primary key in order, and the columns in order.
type Tables = BTreeMap<String, (Vec<String>, Vec<Column>)>;

/// The same as a database has them, with its own names of the types.
type Made = BTreeMap<String, (Vec<String>, Vec<(String, String, bool)>)>;

#[derive(diesel::QueryableByName)]
struct Line {
    #[diesel(sql_type = Text)]
    line: String,
}

/// The types of `schema.rs`, with their names in SQLite and PostgreSQL.
const TYPES: &[(&str, &str, &[&str])] = &[
    ("Uid", "BLOB", &["uuid"]),
    ("Text", "TEXT", &["text"]),
    ("Word", "TEXT", &["text"]),
    ("Moment", "INTEGER", &["timestamptz"]),
    ("BigInt", "INTEGER", &["int8"]),
    ("Integer", "INTEGER", &["int4"]),
    ("SmallInt", "INTEGER", &["int2"]),
    ("Bool", "INTEGER", &["bool"]),
    ("Date", "TEXT", &["date"]),
    ("Json", "TEXT", &["json", "jsonb"]),
    ("Binary", "BLOB", &["bytea"]),
];

/// What `schema.rs` says, read as text because the macro's types tell no names.
fn by_hand() -> Tables {
    let mut tables = Tables::new();
    let files = [
        include_str!("schema.rs"),
        include_str!("schema/audit.rs"),
        include_str!("schema/carried.rs"),
        include_str!("schema/catch_ups.rs"),
        include_str!("schema/changes.rs"),
        include_str!("schema/cover.rs"),
        include_str!("schema/groups.rs"),
        include_str!("schema/marking.rs"),
        include_str!("schema/placements.rs"),
        include_str!("schema/reports.rs"),
        include_str!("schema/roster.rs"),
        include_str!("schema/rounds.rs"),
        include_str!("schema/sequences.rs"),
        include_str!("schema/statutory.rs"),
        include_str!("schema/sync.rs"),
        include_str!("schema/trust.rs"),
        include_str!("schema/words.rs"),
    ];
    for block in files.iter().flat_map(|file| file.split("diesel::table! {").skip(1)) {
        let block = block.split_once("\n}").unwrap().0;
        let mut lines =
            block.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with("use "));
        let (name, key) = lines.next().unwrap().trim_end_matches(") {").split_once(" (").unwrap();
        let columns = lines
            .filter(|line| *line != "}")
            .map(|line| {
                let (column, sql) = line.trim_end_matches(',').split_once(" -> ").unwrap();
                let (sql, null) = sql
                    .strip_prefix("Nullable<")
                    .map_or((sql, false), |inner| (inner.trim_end_matches('>'), true));
                let known = TYPES.iter().find(|(name, ..)| *name == sql).unwrap_or_else(|| panic!("{sql}"));
                (column.to_owned(), known.0, null)
            })
            .collect();
        let key = key.split(", ").map(str::to_owned).collect();
        assert!(tables.insert(name.to_owned(), (key, columns)).is_none(), "{name} stands twice");
    }
    assert!(tables.len() > 25);
    tables
}

/// Tables with a pupil in them. `pupil_merge.rs` moves what they hold when two records become one
/// child's, but for decisions, which follow the child by themselves.
const OF_A_PUPIL: &[&str] = &[
    "carried_check",
    "carried_in_pupil",
    "catch_up_pupil",
    "class_member",
    "earlier_statutory_result",
    "exemption",
    "group_member",
    "lesson_mark",
    "member_days",
    "not_accessible",
    "placement",
    "pupil_answering",
    "pupil_decision",
    "pupil_field",
    "pupil_upn",
    "pupil_year",
    "response",
    "second_sample",
    "sitting",
    "statutory_result",
    "what_helped",
];

#[test]
fn merging_pupils_knows_every_table_of_a_pupil() {
    let has_pupil = |columns: &Vec<Column>| columns.iter().any(|column| column.0 == "pupil_id");
    let tables = by_hand();
    let found: Vec<_> =
        tables.iter().filter(|(_, (_, columns))| has_pupil(columns)).map(|(name, _)| name).collect();
    assert_eq!(
        found, OF_A_PUPIL,
        "say in pupil_merge.rs what becomes of it, and whether it stands in the way in roster_undo.rs"
    );
}

#[test]
fn the_data_map_says_of_every_table_whose_data_it_holds() {
    let lines = include_str!("../../../deploy/data_map.tsv").lines().skip(1);
    let map: BTreeMap<&str, Vec<&str>> = lines
        .map(|line| line.split('\t').collect::<Vec<_>>())
        .map(|cells| (cells[0], cells[1..].to_vec()))
        .collect();
    let tables = by_hand();
    assert_eq!(
        map.keys().copied().collect::<Vec<_>>(),
        tables.keys().map(String::as_str).collect::<Vec<_>>()
    );
    for (table, cells) in map {
        let [whose, what, purpose, kept] = cells[..] else { panic!("{table}: {cells:?}") };
        assert!(![what, purpose, kept].contains(&""), "{table}");
        let of: Vec<&str> = whose.split(", ").collect();
        assert!(of.iter().all(|one| ["pupils", "staff", "nobody"].contains(one)), "{table}: {whose}");
        let (_, columns) = &tables[table];
        for (column, ..) in columns {
            let adult = column == "email" || column == "staff_id" || column.ends_with("_by");
            let whom = if adult { "staff" } else { "pupils" };
            let somebody = adult || column == "pupil_id";
            assert!(!somebody || of.contains(&whom), "{table} has {column}: it holds data of {whom}");
        }
    }
}

/// Makes tables of lines `table|column|type|null|place in key`.
fn tables(lines: Vec<Line>) -> Made {
    let mut tables: BTreeMap<String, (BTreeMap<usize, String>, Vec<_>)> = BTreeMap::new();
    for Line { line } in lines {
        let cells: Vec<&str> = line.split('|').collect();
        let [table, column, sql, null, place] = cells[..] else { panic!("{line}") };
        let (key, columns) = tables.entry(table.to_owned()).or_default();
        columns.push((column.to_owned(), sql.to_owned(), null == "1"));
        if place != "0" {
            key.insert(place.parse().unwrap(), column.to_owned());
        }
    }
    tables.into_iter().map(|(name, (key, columns))| (name, (key.into_values().collect(), columns))).collect()
}

/// Compares a migrated store with the schema by hand.
fn compare(made: Made, names: fn(&str) -> Vec<&'static str>) {
    let by_hand = by_hand();
    assert_eq!(made.keys().collect::<Vec<_>>(), by_hand.keys().collect::<Vec<_>>());
    for (name, (key, columns)) in by_hand {
        let (made_key, made_columns) = &made[&name];
        assert_eq!(*made_key, key, "primary key of {name}");
        let list =
            |columns: &[(String, String, bool)]| columns.iter().map(|c| c.0.clone()).collect::<Vec<_>>();
        let expected: Vec<String> = columns.iter().map(|column| column.0.clone()).collect();
        assert_eq!(list(made_columns), expected, "columns of {name}");
        for ((column, sql, null), (_, made_sql, made_null)) in columns.iter().zip(made_columns) {
            assert!(names(sql).contains(&made_sql.as_str()), "{name}.{column} is {made_sql}, by hand {sql}");
            assert_eq!(made_null, null, "whether {name}.{column} may be null");
        }
    }
}

fn in_sqlite(sql: &str) -> Vec<&'static str> {
    TYPES.iter().filter(|(name, ..)| *name == sql).map(|(_, sqlite, _)| *sqlite).collect()
}

fn in_postgres(sql: &str) -> Vec<&'static str> {
    TYPES
        .iter()
        .filter(|(name, ..)| *name == sql)
        .flat_map(|(.., postgres)| postgres.iter().copied())
        .collect()
}

/// Runs a test on an empty store of each kind. `tests/run` names a PostgreSQL server; without one there is
/// SQLite alone.
pub(super) fn on_each_store(test: impl Fn(&Place)) {
    let folder = tempfile::tempdir().unwrap();
    test(&Place::Sqlite(folder.path().join("plumbline.db").display().to_string()));
    if let Ok(admin) = std::env::var("PLUMBLINE_TEST_PG") {
        on_postgres(&admin, |url| test(&Place::Postgres(url.to_owned())));
    }
}

/// Runs a test on a database of its own.
fn on_postgres(admin: &str, test: impl Fn(&str)) {
    let name = format!("plumbline_{}", uuid::Uuid::now_v7().simple());
    let mut server = PgConnection::establish(admin).unwrap();
    server.batch_execute(&format!("CREATE DATABASE {name}")).unwrap();
    let url = format!("{}/{name}", admin.rsplit_once('/').unwrap().0);
    let tested = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| test(&url)));
    server.batch_execute(&format!("DROP DATABASE {name} WITH (FORCE)")).unwrap();
    tested.unwrap_or_else(|panic| std::panic::resume_unwind(panic));
}

/// A migrated SQLite store of one test's own.
fn sqlite() -> (tempfile::TempDir, Place) {
    let folder = tempfile::tempdir().unwrap();
    let place = Place::Sqlite(folder.path().join("plumbline.db").display().to_string());
    assert!(!Store::migrate(&place).unwrap().is_empty());
    assert!(Store::migrate(&place).unwrap().is_empty());
    (folder, place)
}

const OF_SQLITE: &str = "SELECT t.name || '|' || c.name || '|' || c.type || '|' || (1 - c.\"notnull\") || '|' || c.pk AS line \
    FROM pragma_table_list t JOIN pragma_table_info(t.name) c \
    WHERE t.schema = 'main' AND t.name NOT LIKE 'sqlite_%' AND t.name NOT LIKE '__diesel%' ORDER BY t.name, c.cid";

#[test]
fn the_schema_is_what_the_migrations_make_in_sqlite() {
    let (_folder, place) = sqlite();
    let Place::Sqlite(path) = &place else { panic!() };
    let mut conn = SqliteConnection::establish(path).unwrap();
    compare(tables(sql_query(OF_SQLITE).load(&mut conn).unwrap()), in_sqlite);
    let loose: Vec<Line> = sql_query(
        "SELECT name AS line FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND strict = 0 \
         AND name NOT LIKE 'sqlite_%' AND name NOT LIKE '__diesel%'",
    )
    .load(&mut conn)
    .unwrap();
    assert_eq!(
        loose.iter().map(|line| line.line.as_str()).collect::<Vec<_>>(),
        Vec::<&str>::new(),
        "not STRICT"
    );
}

const OF_POSTGRES: &str = "SELECT c.table_name || '|' || c.column_name || '|' || c.udt_name || '|' || \
      CASE c.is_nullable WHEN 'YES' THEN 1 ELSE 0 END || '|' || COALESCE(k.ordinal_position, 0) AS line \
    FROM information_schema.columns c \
    LEFT JOIN information_schema.table_constraints p ON p.table_schema = c.table_schema \
      AND p.table_name = c.table_name AND p.constraint_type = 'PRIMARY KEY' \
    LEFT JOIN information_schema.key_column_usage k ON k.constraint_schema = p.constraint_schema \
      AND k.constraint_name = p.constraint_name AND k.table_name = c.table_name AND k.column_name = c.column_name \
    WHERE c.table_schema = 'public' AND c.table_name NOT LIKE '\\_\\_diesel%' \
    ORDER BY c.table_name, c.ordinal_position";

#[test]
fn the_schema_is_what_the_migrations_make_in_postgres() {
    // `tests/run` names a server; without one there is nothing to compare with.
    let Ok(admin) = std::env::var("PLUMBLINE_TEST_PG") else { return };
    on_postgres(&admin, |url| {
        assert!(!Store::migrate(&Place::Postgres(url.to_owned())).unwrap().is_empty());
        let mut conn = PgConnection::establish(url).unwrap();
        compare(tables(sql_query(OF_POSTGRES).load(&mut conn).unwrap()), in_postgres);
        let collated: Vec<Line> = sql_query(
            "SELECT table_name || '.' || column_name AS line FROM information_schema.columns \
             WHERE table_schema = 'public' AND udt_name = 'text' AND collation_name IS DISTINCT FROM 'C'",
        )
        .load(&mut conn)
        .unwrap();
        let collated: Vec<&str> = collated
            .iter()
            .map(|line| line.line.as_str())
            .filter(|name| !name.starts_with("__diesel"))
            .collect();
        assert_eq!(collated, Vec::<&str>::new(), "text that sorts by a locale");
    });
}

#[test]
fn both_stores_have_the_same_migrations() {
    let names = |store: &str| {
        let folder = format!("{}/../migrations/{store}", env!("CARGO_MANIFEST_DIR"));
        let mut names: Vec<String> = std::fs::read_dir(folder)
            .unwrap()
            .flat_map(|entry| {
                let entry = entry.unwrap();
                let name = entry.file_name().into_string().unwrap();
                std::fs::read_dir(entry.path())
                    .unwrap()
                    .map(move |file| format!("{name}/{}", file.unwrap().file_name().into_string().unwrap()))
            })
            .collect();
        names.sort();
        names
    };
    assert!(names("sqlite").len() >= 2);
    assert_eq!(names("sqlite"), names("postgres"));
}

fn asked(store: &Store, writing: bool, question: &'static str) -> String {
    let ask = move |mut conn: super::conn::Conn<'_>| -> Result<String, Error> {
        let lines: Vec<Line> = db!(conn, c => sql_query(question).load(c))?;
        Ok(lines.into_iter().map(|line| line.line).collect::<Vec<_>>().join(","))
    };
    if writing { store.transact(ask).unwrap() } else { store.snapshot(ask).unwrap() }
}

#[test]
fn sqlite_runs_with_the_settings_that_keep_data() {
    let (_folder, place) = sqlite();
    let store = Store::open(&place, Clock::system(), 1).unwrap();
    for writing in [true, false] {
        let foreign_keys =
            asked(&store, writing, "SELECT CAST(foreign_keys AS TEXT) AS line FROM pragma_foreign_keys");
        assert_eq!(foreign_keys, "1", "writing: {writing}");
        let journal = asked(&store, writing, "SELECT journal_mode AS line FROM pragma_journal_mode");
        assert_eq!(journal, "wal", "writing: {writing}");
    }
    // 2 is FULL: a commit that was answered survives the power going.
    let synchronous = asked(&store, true, "SELECT CAST(synchronous AS TEXT) AS line FROM pragma_synchronous");
    assert_eq!(synchronous, "2");
    assert_eq!(asked(&store, false, "SELECT CAST(query_only AS TEXT) AS line FROM pragma_query_only"), "1");
    // What is removed is overwritten, not only given free.
    let removed = asked(&store, true, "SELECT CAST(secure_delete AS TEXT) AS line FROM pragma_secure_delete");
    assert_eq!(removed, "1");
    let version = asked(&store, false, "SELECT sqlite_version() AS line");
    let parts: Vec<u32> = version.split('.').map(|part| part.parse().unwrap()).collect();
    assert!(parts >= vec![3, 51, 3], "SQLite {version}");
}

#[test]
fn a_foreign_key_and_a_strict_type_hold_at_run_time() {
    let (_folder, place) = sqlite();
    let store = Store::open(&place, Clock::system(), 1).unwrap();
    let write = |statement: &'static str| {
        store.transact(move |mut conn| -> Result<(), Error> { conn.execute(statement) })
    };
    let orphan = "INSERT INTO staff (school_id, id, name, email, email_key, v, created_at) \
        VALUES (zeroblob(16), zeroblob(16), 'a', 'a', 'a', 1, 1)";
    assert!(matches!(write(orphan), Err(Error::Db(message)) if message.contains("FOREIGN KEY")));
    let loose = "INSERT INTO account (id, email, email_key, password_hash, created_at) \
        VALUES (zeroblob(16), 'a', 'a', 'a', 'yesterday')";
    assert!(matches!(write(loose), Err(Error::Db(message)) if message.contains("cannot store TEXT")));
    let short = "INSERT INTO account (id, email, email_key, password_hash, created_at) \
        VALUES (zeroblob(15), 'a', 'a', 'a', 1)";
    assert!(matches!(write(short), Err(Error::Db(message)) if message.contains("CHECK")));
    // A mistake in a group of writes takes none of the others with it.
    write("INSERT INTO account (id, email, email_key, password_hash, created_at) VALUES (zeroblob(16), 'a', 'a', 'a', 1)").unwrap();
}

#[test]
fn a_store_that_was_not_migrated_or_is_newer_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("plumbline.db").display().to_string();
    let place = Place::Sqlite(path.clone());
    let said = |place: &Place| match Store::open(place, Clock::system(), 1) {
        Ok(_) => panic!("it opened"),
        Err(error) => error.to_string(),
    };
    assert!(said(&place).contains("run `plumbline migrate`"), "{}", said(&place));
    Store::migrate(&place).unwrap();
    let mut conn = SqliteConnection::establish(&path).unwrap();
    conn.batch_execute("INSERT INTO __diesel_schema_migrations (version) VALUES ('29991231000000')").unwrap();
    assert!(said(&place).contains("newer plumbline"), "{}", said(&place));
    assert!(Store::migrate(&place).is_err());
}
