//! Schools side by side, by hand; and 20,000 of them.

use serde_json::{Value, json};

use super::*;
use crate::{
    id::{ReportReleaseId, SchoolId},
    report::Release,
    rules::{RulePack, pack},
    sequence::Content,
};

const AT: (i32, &str) = (2026, "Autumn 2");

fn rules() -> &'static RulePack {
    pack("england").unwrap()
}

fn school(n: u128) -> SchoolId {
    SchoolId::from_uuid(uuid::Uuid::from_u128(n))
}

fn print(letter: char) -> Fingerprint {
    Fingerprint::try_from(letter.to_string().repeat(64)).unwrap()
}

fn row(name: Option<&str>, by: Option<&str>, (met, pupils, percent): (u32, u32, u8)) -> Value {
    json!({"by": by, "name": name, "symbol": null, "pupils": pupils, "not_known": null, "met": met,
           "percent": {"percent": percent, "is": "about"}, "interval": [480, 750]})
}

fn hidden(name: &str, by: &str) -> Value {
    json!({"by": by, "name": name, "symbol": "c", "pupils": null, "not_known": null, "met": null, "percent": null,
           "interval": null})
}

fn table(measure: &str, means: &str, rows: &[Value]) -> Value {
    json!({"measure": measure, "name": measure.to_uppercase(), "means": means, "rows": rows})
}

fn release(tables: &[Value]) -> Release {
    serde_json::from_value(json!({
        "audience": "closed", "as_of": "2026-12-18", "school": "As it was called then", "half_term": "Autumn 2",
        "secure_means": {"right_on_days": 3, "days_after_teaching": 7, "carried_in_days": 1},
        "versions": [{"version_id": "0199f2c4-0000-7000-8000-00000000000d", "sequence": "Ours", "number": 1}],
        "cautions": ["Small numbers swing."], "tables": tables,
        "symbols": [{"code": "c", "label": "confidential"}, {"code": "x", "label": "unavailable"}]
    }))
    .unwrap()
}

fn words() -> Release {
    release(&[table(
        "words",
        "80 in 100",
        &[row(None, None, (30, 48, 63)), row(Some("Year 1"), Some("year_group"), (15, 24, 63))],
    )])
}

fn shared(n: u128, release: Release, sequences: &[char]) -> Shared {
    let sequences = sequences.iter().map(|letter| print(*letter)).collect();
    let ids = (school(n), ReportReleaseId::from_uuid(uuid::Uuid::from_u128(n)));
    Shared { figures: SharedFigures::cut(ids, release, 2026, sequences).unwrap(), maps_on: None }
}

fn mapped(n: u128, on: char, sequences: &[char]) -> Shared {
    let maps_on = MapsOn {
        fingerprint: print(on),
        why: "The same in another order within each step".into(),
        said_by: "Ada Lead".into(),
        said_on: "2026-12-19".parse().unwrap(),
    };
    Shared { maps_on: Some(maps_on), ..shared(n, words(), sequences) }
}

/// Schools 1, 2, 3 ... by name.
fn members(names: &[&str]) -> Vec<Member> {
    let member =
        |(n, name): (usize, &&str)| Member { school_id: school(n as u128 + 1), name: (*name).to_owned() };
    names.iter().enumerate().map(member).collect()
}

fn apart(list: &[NotCompared]) -> Vec<(&str, Apart)> {
    list.iter().map(|one| (one.school.as_str(), one.why)).collect()
}

fn schools(alike: &Alike) -> Vec<&str> {
    alike.schools.iter().map(|one| one.school.as_str()).collect()
}

#[test]
fn only_those_stand_side_by_side_who_share_a_sequence_or_mapped_theirs() {
    let members = members(&["Yew", "Birch", "Elm", "Ash", "Oak", "Fir", "Lime"]);
    let mut of_another_year = shared(7, words(), &['a']);
    of_another_year.figures.school_year = 2025;
    let shown = [
        shared(1, words(), &['a']),
        shared(2, words(), &['a']),
        mapped(3, 'a', &['b', 'd']),
        shared(4, words(), &['a', 'c']),
        shared(5, words(), &['e']),
        shared(6, words(), &[]),
        of_another_year,
        // Of no member of the trust.
        shared(99, words(), &['a']),
    ];
    let seen = compare(AT, &members, &shown, rules());
    assert_eq!(seen.sequences.len(), 1);
    let list = &seen.sequences[0];
    assert_eq!((schools(list), &list.fingerprint), (vec!["Birch", "Elm", "Yew"], &print('a')));
    let said: Vec<Option<&str>> =
        list.schools.iter().map(|one| one.maps_on.as_ref().map(|said| said.said_by.as_str())).collect();
    assert_eq!(said, [None, Some("Ada Lead"), None]);
    let by_hand = [
        ("Ash", Apart::SeveralSequences),
        ("Fir", Apart::NoSequence),
        ("Lime", Apart::NothingShared),
        ("Oak", Apart::NoOther),
    ];
    assert_eq!(apart(&seen.not_compared), by_hand);
    assert!(seen.not_compared.iter().all(|one| !one.says.is_empty()));
    // Who maps on to a sequence nobody has is alone, and two who map on to the same one are not.
    let alone = compare(AT, &members, &[mapped(1, 'f', &['a']), shared(2, words(), &['a'])], rules());
    assert!(alone.sequences.is_empty());
    let both = compare(AT, &members, &[mapped(1, 'f', &['a']), mapped(2, 'f', &['b'])], rules());
    assert_eq!(schools(&both.sequences[0]), ["Birch", "Yew"]);
    assert!(both.sequences[0].names.is_empty(), "neither teaches it");
}

#[test]
fn each_line_is_what_the_release_tells_and_schools_come_by_name() {
    let members = members(&["Yew", "Birch"]);
    let year = Some("year_group");
    let of_yew = release(&[
        table(
            "words",
            "80 in 100",
            &[
                row(None, None, (30, 48, 63)),
                row(Some("Reception"), year, (15, 24, 63)),
                row(Some("Year 1"), year, (15, 24, 63)),
            ],
        ),
        table(
            "gpcs",
            "80 in 100 secure",
            &[row(None, None, (20, 50, 40)), row(Some("Reception"), year, (9, 24, 38))],
        ),
    ]);
    // Better figures do not come first.
    let of_birch = release(&[table(
        "words",
        "80 in 100",
        &[
            row(None, None, (18, 20, 90)),
            hidden("Year 1", "year_group"),
            row(Some("Nursery"), year, (5, 10, 50)),
        ],
    )]);
    let seen = compare(AT, &members, &[shared(1, of_yew, &['a']), shared(2, of_birch, &['a'])], rules());
    let table = &seen.sequences[0].tables[0];
    let line = |line: &TrustLine| {
        let told = line.figure.percent.map_or("c".to_owned(), |percent| percent.to_string());
        (line.school.clone(), told, line.coverage.map(|one| (one.known, one.of_at_least)))
    };
    let rows: Vec<_> = table
        .rows
        .iter()
        .map(|row| (row.name.as_deref(), row.lines.iter().map(line).collect::<Vec<_>>()))
        .collect();
    let text = str::to_owned;
    assert_eq!(
        rows,
        [
            (None, vec![(text("Birch"), text("90"), Some((20, 20))), (text("Yew"), text("63"), None)]),
            (Some("Nursery"), vec![(text("Birch"), text("50"), Some((10, 10)))]),
            (Some("Reception"), vec![(text("Yew"), text("63"), Some((24, 24)))]),
            (
                Some("Year 1"),
                vec![(text("Birch"), text("c"), None), (text("Yew"), text("63"), Some((24, 24)))]
            ),
        ]
    );
    assert_eq!(table.not_compared, []);
    // One school alone tells of GPCs.
    let gpcs = &seen.sequences[0].tables[1];
    assert_eq!((gpcs.measure.as_str(), gpcs.rows.len()), ("gpcs", 0));
    assert_eq!(apart(&gpcs.not_compared), [("Birch", Apart::MeasureMissing), ("Yew", Apart::NoOther)]);
    assert_eq!(seen.symbols.iter().map(|one| one.code.as_str()).collect::<Vec<_>>(), ["c"]);
    assert_eq!(seen.cautions, [rules().trust.caution.clone(), "Small numbers swing.".to_owned()]);
    assert_eq!(seen.sequences[0].names, ["Ours"]);
}

#[test]
fn what_is_counted_by_another_rule_is_not_compared() {
    let whole = || [row(None, None, (30, 48, 63))];
    let one = release(&[table("gpcs", "80 in 100", &whole()), table("words", "80 in 100", &whole())]);
    let mut other_rule = one.clone();
    other_rule.basis.secure_means.right_on_days = 2;
    let mut other_meaning = one.clone();
    other_meaning.tables[1].means = "90 in 100".into();
    let members = members(&["A", "B", "C"]);
    let shown = [shared(1, one, &['a']), shared(2, other_rule, &['a']), shared(3, other_meaning, &['a'])];
    let seen = compare(AT, &members, &shown, rules());
    let tables: Vec<_> = seen.sequences[0]
        .tables
        .iter()
        .map(|table| {
            let lines: Vec<&str> = table.rows[0].lines.iter().map(|line| line.school.as_str()).collect();
            (table.measure.as_str(), lines, apart(&table.not_compared))
        })
        .collect();
    // "Secure" is a part of the one, and none of the other.
    let by_hand = [
        ("gpcs", vec!["A", "C"], vec![("B", Apart::OtherMeaning)]),
        ("words", vec!["A", "B"], vec![("C", Apart::OtherMeaning)]),
    ];
    assert_eq!(tables, by_hand);
    assert!(
        seen.sequences[0].tables[0].secure_means.is_some()
            && seen.sequences[0].tables[1].secure_means.is_none()
    );
}

#[test]
fn rounded_numbers_of_pupils_are_no_coverage() {
    let mut for_all = words();
    for_all.audience = crate::disclosure::Audience::Published;
    let shown = [shared(1, for_all, &['a']), shared(2, words(), &['a'])];
    let seen = compare(AT, &members(&["A", "B"]), &shown, rules());
    let known: Vec<bool> =
        seen.sequences[0].tables[0].rows[0].lines.iter().map(|line| line.coverage.is_some()).collect();
    assert_eq!(known, [false, true]);
}

#[test]
fn classes_and_every_other_part_stay_at_the_school() {
    let year = row(Some("Year 1"), Some("year_group"), (15, 24, 63));
    let full = release(&[table(
        "words",
        "80 in 100",
        &[
            row(None, None, (30, 48, 63)),
            year,
            row(Some("Kestrel"), Some("class"), (8, 12, 67)),
            hidden("Osprey", "class"),
            row(Some("Summer"), Some("term_of_birth"), (8, 12, 67)),
            row(Some("Support"), Some("sen"), (8, 12, 67)),
        ],
    )]);
    let left = serde_json::to_string(&shared(1, full.clone(), &['b', 'a', 'b'])).unwrap();
    for gone in ["Kestrel", "Osprey", "Summer", "Support", "\"class\"", "sen", "confidential"] {
        assert!(!left.contains(gone), "{gone}: {left}");
    }
    assert!(left.contains("Year 1") && left.contains("[480,750]"), "{left}");
    // What comes in by a file is cut the same way, whoever made it.
    let mut as_sent = shared(1, full.clone(), &['a', 'b']);
    as_sent.figures.release = full.clone();
    assert_eq!(serde_json::to_string(&as_sent.cut_again().unwrap()).unwrap(), left);
    let internal = Release { audience: crate::disclosure::Audience::Internal, ..full };
    let ids = (school(1), ReportReleaseId::from_uuid(uuid::Uuid::nil()));
    assert_eq!(SharedFigures::cut(ids, internal, 2026, Vec::new()), Err(NotForTrust));
}

#[test]
fn a_sequence_is_known_by_what_it_teaches_and_in_which_order() {
    let content = |text: &str| -> Content { serde_json::from_str(text).unwrap() };
    let id = |n: u8| format!("0199f2c4-0000-7000-8000-0000000000{n:02}");
    let gpc = |g: &str, n: u8| {
        format!(
            r#"{{"id":"{}","kind":"gpc","label":"{g}","gpc":{{"grapheme":"{g}","phoneme":"{g}"}}}}"#,
            id(n)
        )
    };
    let word = |w: &str, n: u8| format!(r#"{{"id":"{}","kind":"exception_word","label":"{w}"}}"#, id(n));
    let review = |w: &str, n: u8| format!(r#"{{"id":"{}","kind":"review","label":"{w}"}}"#, id(n));
    let of = |title: &str, n: u8, lessons: &[&[String]]| {
        let lesson = |items: &&[String]| {
            format!(r#"{{"id":"{}","title":"{title}","items":[{}]}}"#, id(n), items.join(","))
        };
        let lessons: Vec<String> = lessons.iter().map(lesson).collect();
        let step = format!(r#"{{"id":"{}","title":"{title}","lessons":[{}]}}"#, id(n), lessons.join(","));
        Fingerprint::of(&content(&format!(r#"{{"steps":[{step}]}}"#)))
    };
    let ours = of("First", 1, &[&[gpc("m", 2), gpc("o", 3)], &[word("the", 4), review("Step 1", 5)]]);
    let theirs = of("Beginning", 6, &[&[gpc("m", 7), gpc("o", 8)], &[word("The", 9), review("Again", 10)]]);
    assert_eq!(ours, theirs, "ids, titles and what a review is called tell nothing");
    let others = [
        of("First", 1, &[&[gpc("o", 3), gpc("m", 2)], &[word("the", 4), review("Step 1", 5)]]),
        of("First", 1, &[&[gpc("m", 2), gpc("o", 3), word("the", 4), review("Step 1", 5)]]),
        of("First", 1, &[&[gpc("m", 2), gpc("o", 3)], &[word("to", 4), review("Step 1", 5)]]),
        of("First", 1, &[&[gpc("m", 2), gpc("o", 3)], &[word("the", 4)]]),
        of("First", 1, &[&[gpc("m", 2), gpc("o", 3)], &[review("Step 1", 5), word("the", 4)]]),
    ];
    assert!(others.iter().all(|other| *other != ours));
    assert_eq!(String::from(ours.clone()).len(), 64);
    assert_eq!(Fingerprint::try_from(String::from(ours.clone())), Ok(ours));
    for wrong in ["", "abc", &"g".repeat(64), &"A".repeat(64), &"a".repeat(65)] {
        assert_eq!(Fingerprint::try_from(wrong.to_owned()), Err(NoFingerprint), "{wrong}");
    }
}

/// Every thousandth school has a sequence of its own, every seventh showed nothing, the others share one of 16.
#[test]
fn twenty_thousand_schools_are_each_told_of_once() {
    const SCHOOLS: u128 = 20_000;
    let names: Vec<String> = (1..=SCHOOLS).map(|n| format!("School {:05}", SCHOOLS - n)).collect();
    let members = members(&names.iter().map(String::as_str).collect::<Vec<_>>());
    let (mut shown, mut alone, mut nothing) = (Vec::new(), 0, 0);
    for n in 1..=SCHOOLS {
        if n % 7 == 0 {
            nothing += 1;
            continue;
        }
        let mut one = shared(
            n,
            words(),
            &[['0', '1', '2', '3', '4', '5', '6', '7', '8', '9', 'a', 'b', 'c', 'd', 'e', 'f']
                [(n % 16) as usize]],
        );
        if n % 1000 == 0 {
            alone += 1;
            one.figures.sequences = vec![Fingerprint::try_from(format!("{n:064x}")).unwrap()];
        }
        shown.push(one);
    }
    let seen = compare(AT, &members, &shown, rules());
    assert_eq!((nothing, alone, seen.sequences.len()), (2857, 18, 16));
    let count = |why: Apart| seen.not_compared.iter().filter(|one| one.why == why).count();
    assert_eq!((count(Apart::NothingShared), count(Apart::NoOther)), (2857, 18));
    let compared: usize = seen.sequences.iter().map(|list| list.schools.len()).sum();
    assert_eq!(compared, 20_000 - 2857 - 18);
    for list in &seen.sequences {
        let names = schools(list);
        assert!(names.is_sorted(), "by name");
        assert!(list.tables[0].rows.iter().all(|row| row.lines.len() == names.len()));
    }
    let mut turned = shown.clone();
    turned.reverse();
    assert_eq!(compare(AT, &members, &turned, rules()), seen, "in whatever order they came");
}
