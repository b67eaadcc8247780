//! The house rules that the compiler does not know. They may only get tighter.
#![allow(clippy::unwrap_used)]

use std::{
    collections::BTreeSet,
    path::{Path, PathBuf},
};

const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/..");

/// Everything at the top but dot-files and build output.
const TOP: &[&str] = &[
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE-APACHE",
    "LICENSE-MIT",
    "NOTICE",
    "README.md",
    "api",
    "core",
    "deny.toml",
    "deploy",
    "migrations",
    "openapi",
    "tests",
];

/// Longest file.
const LINES: usize = 400;
/// Files that are longer, with the length they may never exceed. Shorten it as they shrink.
const LONGER: &[(&str, usize)] = &[
    ("api/src/store/lesson.rs", 426),
    ("tests/tests/access.rs", 582),
    ("tests/tests/lessons.rs", 480),
    ("tests/tests/limits.rs", 452),
    ("tests/tests/sessions.rs", 450),
];

/// Store functions on a transaction that ask for no permit, each with why that is right.
const WITHOUT_PERMIT: &[(&str, &str)] = &[
    ("actor", "who asks"),
    ("attempt", "holds what it is given, which asks by itself"),
    ("any_record_place", "finds what to ask the policy about"),
    ("calendar", "rules that every decision needs; says nothing of anybody"),
    ("day_in_year", "of the calendar"),
    ("catch_up_place", "finds what to ask the policy about"),
    ("classes", "asks the policy for each class"),
    ("merged_records", "finds whom to ask the policy about, by ids alone"),
    ("new_id", "touches no row"),
    ("now", "touches no row"),
    ("opened", "the link's own"),
    ("permit", "makes permits"),
    ("permit_if_allowed", "makes permits"),
    ("pinned_version", "the version that a permitted record names"),
    ("recall", "the caller's own earlier answer"),
    ("record_place", "finds what to ask the policy about"),
    ("remember", "the caller's own answer"),
    ("rules", "touches no row"),
    ("school", "the actor's own"),
    ("school_year_of", "of the calendar"),
    ("today", "touches no row"),
    ("version", "touches no row"),
];

struct Source {
    path: String,
    text: String,
}

impl Source {
    /// The lines outside the tests module, comments left out.
    fn code(&self) -> impl Iterator<Item = (usize, &str)> {
        let all_tests = self.is_all_tests();
        let mut in_tests = all_tests;
        self.text.lines().enumerate().map(|(n, line)| (n + 1, line)).filter(move |(_, line)| {
            in_tests |= *line == "mod tests {";
            let counts = !in_tests && !line.trim_start().starts_with("//");
            in_tests &= *line != "}" || all_tests;
            counts
        })
    }

    /// Whether nothing in it is built but for tests.
    fn is_all_tests(&self) -> bool {
        let named = self.path.ends_with("/tests.rs") || self.path.contains("/tests/");
        named || self.text.lines().any(|line| line == "#![cfg(test)]")
    }

    fn is_in(&self, folders: &[&str]) -> bool {
        folders.iter().any(|folder| self.path.starts_with(folder))
    }
}

fn sources() -> Vec<Source> {
    let mut found = Vec::new();
    for folder in ["api", "core", "tests"] {
        walk(&Path::new(ROOT).join(folder), &mut found);
    }
    let root = Path::new(ROOT);
    let mut sources: Vec<Source> = found
        .into_iter()
        .filter(|path| path.extension().is_some_and(|ending| ending == "rs"))
        .map(|path| Source {
            path: path.strip_prefix(root).unwrap().to_str().unwrap().to_owned(),
            text: std::fs::read_to_string(&path).unwrap(),
        })
        .collect();
    sources.sort_by(|a, b| a.path.cmp(&b.path));
    assert!(sources.len() > 100);
    sources
}

fn walk(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.file_name().is_some_and(|name| name == "target") {
            continue;
        }
        if path.is_dir() { walk(&path, found) } else { found.push(path) }
    }
}

/// Lines of code in these folders that hold one of the words, as `path:line: text`.
fn lines_with(folders: &[&str], except: &[&str], words: &[&str]) -> Vec<String> {
    let mut found = Vec::new();
    let sources = sources();
    for source in sources.iter().filter(|source| source.is_in(folders) && !source.is_in(except)) {
        for (n, line) in source.code() {
            if words.iter().any(|word| line.contains(word)) {
                found.push(format!("{}:{n}: {}", source.path, line.trim()));
            }
        }
    }
    found
}

#[track_caller]
fn none(rule: &str, found: &[String]) {
    assert!(found.is_empty(), "{rule}:\n{}", found.join("\n"));
}

#[test]
fn the_top_level_is_the_designs() {
    let extra: Vec<String> = std::fs::read_dir(ROOT)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| !name.starts_with('.') && name != "target" && !TOP.contains(&name.as_str()))
        .collect();
    none("not part of the top level; see DESIGN", &extra);
}

#[test]
fn core_thinks_and_does_nothing_else() {
    let words = [
        "actix",
        "diesel",
        "tokio",
        "std::fs",
        "std::net",
        "std::env",
        "std::process",
        "std::thread",
        "SystemTime",
        "Instant::now",
        "Utc::now",
        "Local::now",
        "getrandom",
        "rand::",
        "now_v7",
        "new_v4",
        "println!",
        "eprintln!",
    ];
    let allowed = ["core/src/bind.rs", "core/lexicon-build"];
    let found = lines_with(&["core/"], &allowed, &words);
    let found: Vec<String> = found
        .into_iter()
        // How words and ids are bound to statements, where a store is built.
        .filter(|line| !line.starts_with("core/src/vocabulary.rs") && !line.starts_with("core/src/id.rs"))
        .collect();
    none("core has no store, server, clock, chance or I/O", &found);
}

#[test]
fn each_room_knows_only_the_rooms_below() {
    let store = lines_with(
        &["api/src/store/"],
        &[],
        &["crate::http", "crate::auth", "crate::cli", "actix", "utoipa"],
    );
    none("the store knows core and diesel, never http", &store);
    let http = lines_with(&["api/src/http/"], &[], &["diesel", "store::conn", "store::schema", "db!("]);
    none("http knows the store's public face, never diesel", &http);
    let files = lines_with(&["api/src/files/"], &[], &["crate::http", "crate::auth", "actix", "diesel"]);
    none("files turn bytes into core's types", &files);
    let tests = lines_with(&["tests/"], &["tests/tests/tidy.rs"], &["plumbline_api", "plumbline_core"]);
    none("tests use the served binary from outside", &tests);
}

#[test]
fn rows_are_not_sent_and_bodies_are_not_rows() {
    let mut found = Vec::new();
    for source in sources() {
        for attribute in source.text.split("#[derive(").skip(1) {
            let derived = attribute.split(")]").next().unwrap();
            let has = |name: &str| derived.split(',').any(|one| one.trim().rsplit("::").next() == Some(name));
            let row = ["Queryable", "QueryableByName", "Selectable", "Insertable", "AsChangeset"]
                .into_iter()
                .any(has);
            let sent = ["Serialize", "Deserialize", "ToSchema"].into_iter().any(has);
            if row && sent {
                found.push(format!("{}: derive({derived})", source.path));
            }
        }
    }
    none("a row never derives Serialize, a wire type never Queryable", &found);
}

#[test]
fn every_operation_is_in_the_document() {
    let found = lines_with(&["api/src/"], &[], &[".route(", "web::resource(", "#[route("]);
    none("operations are routed by their attribute, so that the document has them", &found);
}

#[test]
fn nothing_unwraps_outside_tests() {
    let words = [".unwrap()", ".expect(", "panic!(", "unreachable!(", "todo!(", "unimplemented!(", "dbg!("];
    none("refuse, do not panic", &lines_with(&["api/src/", "core/src/"], &["api/src/cli/"], &words));
}

#[test]
fn tests_neither_wait_nor_rest() {
    let words = ["#[ignore", "thread::sleep", "time::sleep", "retries"];
    let mut found = Vec::new();
    for source in sources().iter().filter(|source| source.path != "tests/tests/tidy.rs") {
        for (n, line) in source.text.lines().enumerate() {
            let in_tests =
                source.path.starts_with("tests/") || words[0..2].iter().any(|word| line.contains(word));
            if in_tests && words.iter().any(|word| line.contains(word)) {
                found.push(format!("{}:{}: {}", source.path, n + 1, line.trim()));
            }
        }
    }
    none("a test that waits or rests is a defect", &found);
}

#[test]
fn files_are_short_and_long_ones_only_shrink() {
    let (mut found, mut seen) = (Vec::new(), BTreeSet::new());
    for source in sources() {
        let lines = source.text.lines().count();
        let allowed = LONGER.iter().find(|(path, _)| *path == source.path);
        seen.extend(allowed.map(|(path, _)| *path));
        match allowed {
            None if lines > LINES => found.push(format!("{}: {lines} lines, at most {LINES}", source.path)),
            Some((_, most)) if lines > *most => {
                found.push(format!("{}: {lines} lines, at most {most}", source.path))
            }
            Some(_) if lines <= LINES => {
                found.push(format!("{}: take it off the list, it is short", source.path))
            }
            Some((_, most)) if lines + 20 < *most => {
                found.push(format!("{}: {lines} lines; lower its {most}", source.path));
            }
            _ => {}
        }
    }
    found.extend(
        LONGER.iter().filter(|(path, _)| !seen.contains(path)).map(|(path, _)| format!("{path} is gone")),
    );
    none("split it", &found);
}

#[test]
fn store_functions_demand_a_permit() {
    let (mut without, mut all) = (BTreeSet::new(), 0);
    for source in sources().iter().filter(|source| source.is_in(&["api/src/store/"])) {
        for block in source.text.split("\nimpl").skip(1) {
            let (head, body) = block.split_once("{\n").unwrap_or((block, ""));
            if !head.contains(" Tx<'") || head.contains(" for ") {
                continue;
            }
            let body = body.split("\n}\n").next().unwrap();
            for function in body.split("\n    pub ").skip(1).filter(|text| !text.starts_with('(')) {
                let Some(rest) = function.trim_start_matches("const ").strip_prefix("fn ") else { continue };
                all += 1;
                let name: String = rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
                let signature = rest.split_once("{\n").map_or(rest, |(signature, _)| signature);
                let parameters = signature.rsplit_once("->").map_or(signature, |(before, _)| before);
                // A page of a pull is made under a permit alone, and names what may be loaded.
                if !parameters.contains("Permit<") && !parameters.contains("&Pulled") {
                    without.insert(name);
                }
            }
        }
    }
    assert!(all > 50, "{all}");
    let reviewed: BTreeSet<String> = WITHOUT_PERMIT.iter().map(|(name, _)| (*name).to_owned()).collect();
    assert_eq!(
        without, reviewed,
        "functions on a transaction without a permit (left), and the reviewed ones"
    );
}

#[test]
fn one_operation_is_one_file() {
    let mut found = Vec::new();
    for source in sources().iter().filter(|source| source.is_in(&["api/src/http/v1/"])) {
        let operations = source.text.matches("#[utoipa::path(").count();
        let expected = usize::from(!source.path.ends_with("/mod.rs"));
        if operations != expected {
            found.push(format!("{}: {operations} operations", source.path));
        }
    }
    none("one operation a file, none in a mod.rs", &found);
}
