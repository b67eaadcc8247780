use proptest::prelude::*;
use uuid::Uuid;

use super::{case, csv};
use crate::{
    sequence::{Content, Draft, Fault, settle},
    text::Title,
};

/// Content with the ids of a counter: titles and labels that try the formats.
fn contents() -> impl Strategy<Value = Content> {
    let title = prop_oneof!["[a-z =+@'\",;-]{0,6}[a-z]", "['=+@-]{1,3}x", Just("＝1".to_owned())];
    let pairs = prop::sample::select(vec![("m", "m"), ("a_e", "eɪ"), ("igh", "aɪ"), ("x", "k s")]);
    let keyword = prop::option::of(title.clone());
    let gpc = (pairs, keyword).prop_map(|((g, p), keyword)| {
        serde_json::json!({"kind": "gpc", "gpc": {"grapheme": g, "phoneme": p}, "keyword": keyword})
    });
    let kinds = prop::sample::select(vec!["word_part", "spelling_rule", "oral_skill", "review"]);
    let other =
        (kinds, title.clone()).prop_map(|(kind, label)| serde_json::json!({"kind": kind, "label": label}));
    let items = prop::collection::vec(prop_oneof![gpc, other], 0..4);
    let lesson = (title.clone(), items).prop_map(|(t, i)| serde_json::json!({"title": t, "items": i}));
    let lessons = prop::collection::vec(lesson, 0..3);
    let step = (title, lessons).prop_map(|(t, l)| serde_json::json!({"title": t, "lessons": l}));
    prop::collection::vec(step, 0..4).prop_map(|steps| {
        let draft: Draft = serde_json::from_value(serde_json::json!({"steps": steps})).unwrap();
        let mut next = 0_u128;
        let mut new_id = || {
            next += 1;
            Uuid::from_u128(next)
        };
        settle(draft, &crate::sequence::Known::default(), &mut new_id).unwrap()
    })
}

const ROOT: Uuid = Uuid::from_u128(1 << 100);

fn numbered(rows: Vec<csv::Cells>) -> Vec<(u64, csv::Cells)> {
    (2..).zip(rows).collect()
}

proptest! {
    #[test]
    fn whatever_is_written_reads_back_equal(content in contents()) {
        let draft = Draft::from(content.clone());
        let package = case::write(&content, ROOT, "Ours", "2026-11-25T10:00:00Z");
        let text = serde_json::to_string(&package).unwrap();
        let package: case::CasePackage = serde_json::from_str(&text).unwrap();
        prop_assert_eq!(&case::read(&package).unwrap(), &draft);
        let rows = csv::write(&draft);
        for cell in rows.iter().flatten() {
            prop_assert!(!cell.starts_with(['=', '+', '-', '@', '＝']), "{}", cell);
        }
        prop_assert_eq!(&csv::read(&numbered(rows)).unwrap().draft, &draft);
        let new = draft.without_ids();
        prop_assert_eq!(csv::read(&numbered(csv::write(&new))).unwrap().draft, new);
    }
}

fn row(cells: &[&str]) -> csv::Cells {
    let mut row = csv::Cells::default();
    for (cell, text) in row.iter_mut().zip(cells) {
        *cell = (*text).to_owned();
    }
    row
}

fn check_csv(rows: &[&[&str]], expected: &[&str]) {
    let rows = numbered(rows.iter().map(|cells| row(cells)).collect());
    let found = csv::read(&rows).map_or_else(|faults| faults, |_| Vec::new());
    let found: Vec<&str> = found.iter().map(|fault| fault.field.as_str()).collect();
    assert_eq!(found, expected);
}

#[test]
fn faults_of_rows_name_line_and_column() {
    check_csv(&[&["1", "S", "", "1", "L", "", "review", "", "", "'tis"]], &[]);
    check_csv(
        &[&["x", "S"], &["1", " "], &["1", "S", "no"]],
        &["line 2.step", "line 3.step_title", "line 4.step_id"],
    );
    check_csv(&[&["2", "S"], &["1", "S"]], &["line 3.step"]);
    check_csv(&[&["1", "S"], &["1", "T"]], &["line 3.step_title"]);
    check_csv(&[&["1", "S", "", "1", "L", "", "song"]], &["line 2.kind"]);
    check_csv(&[&["1", "S", "", "1", "L", "", "", "a"]], &["line 2.grapheme"]);
    check_csv(&[&["1", "S", "", "", "L"]], &["line 2.lesson_title"]);
}

#[test]
fn an_apostrophe_that_was_typed_stays() {
    let rows = numbered(vec![row(&["1", "'tis", "", "1", "'=1+1", "", "review", "", "", "it's"])]);
    let draft = csv::read(&rows).unwrap().draft;
    assert_eq!(draft.steps[0].title, Title::new("'tis").unwrap());
    assert_eq!(draft.steps[0].lessons[0].title, Title::new("=1+1").unwrap());
    let fault = Fault { field: "steps[0].lessons[0].items[0].label".into(), message: "is wrong".into() };
    let lines = csv::read(&rows).unwrap().lines;
    assert_eq!(csv::ReadDraft::located(&lines, fault).message, "is wrong (line 2)");
}

#[test]
fn what_a_framework_cannot_keep_is_refused_with_its_path() {
    let draft: Draft = serde_json::from_value(serde_json::json!({"steps": [{"title": "S", "lessons": [
        {"title": "L", "items": [{"kind": "review", "label": "all"}]}, {"title": "M", "items": []}]}]}))
    .unwrap();
    let mut next = 0_u128;
    let mut new_id = || {
        next += 1;
        Uuid::from_u128(next)
    };
    let content = settle(draft, &crate::sequence::Known::default(), &mut new_id).unwrap();
    let package = case::write(&content, ROOT, "Ours", "2026-11-25T10:00:00Z");
    let check = |spoil: &dyn Fn(&mut case::CasePackage), expected: &str| {
        let mut spoiled = package.clone();
        spoil(&mut spoiled);
        assert_eq!(case::read(&spoiled).unwrap_err()[0].field, expected);
    };
    check(&|p| p.items[1].identifier = p.items[0].identifier, "CFItems[1].identifier");
    check(&|p| p.items[0].kind = "unit".into(), "CFItems[0].CFItemType");
    check(&|p| p.associations[0].association_type = "isPeerOf".into(), "CFAssociations[0].associationType");
    check(&|p| p.associations[0].sequence_number = None, "CFAssociations[0].sequenceNumber");
    check(&|p| p.associations[0].origin.identifier = ROOT, "CFAssociations[0]");
    check(&|p| drop(p.associations.remove(2)), "CFItems[2]");
    check(
        &|p| {
            let last = p.associations.iter_mut().find(|a| a.association_type == "precedes").unwrap();
            std::mem::swap(&mut last.origin, &mut last.destination);
        },
        "CFAssociations[4]",
    );
}
