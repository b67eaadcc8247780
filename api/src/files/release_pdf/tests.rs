//! Reports of schools of every size, read back.

use plumbline_core::report::{
    Symbol,
    paper::{Bar, Line, Measured, Part, Said},
};

use super::*;

const LONG: &str = "Willow and Elder together on mornings in the old schoolhouse";

fn figure(percent: u16) -> Said {
    let cells = ["24", "17", &format!("{percent}%"), "43 to 79%"].map(str::to_owned).to_vec();
    Said::Figure { cells, bar: Bar { to: percent * 10, somewhere: None, interval: Some((430, 790)) } }
}

/// A report of three measures by year group and class, as governors get it.
fn paper(classes: &[String]) -> Paper {
    let part = |by: Option<&str>, names: &[String]| {
        let line = |(n, name): (u16, &String)| Line { name: name.clone(), said: figure(50 + n) };
        Part { by: by.map(str::to_owned), lines: (0..).zip(names).map(line).collect() }
    };
    let years = ["Reception", "Year 1", "Year 2"].map(str::to_owned);
    let measure = |name: &str| {
        Measured {
        name: name.to_owned(),
        means: "At least 80 in 100 of the words the pupil was given in the checks of the half term were read right. A \
                working rule, no validated threshold."
            .to_owned(),
        notes: Vec::new(),
        columns: vec!["Pupils", "Met it", "Per cent", "Likely range"],
        parts: vec![
            part(None, &["Whole school".to_owned()]),
            part(Some("Year group"), &years),
            part(Some("Class"), classes),
        ],
    }
    };
    let said = |text: &str| text.repeat(3);
    Paper {
        title: "Phonics, Autumn 2".into(),
        readers: "For governors and staff. Keep it among them.",
        as_of: "As of 18 December 2026.".into(),
        says: (0..4).map(|_| said("How many pupils met a measure, of those of whom it is known. ")).collect(),
        measures: ["GPCs taught are secure", "Words are read", "Phonics screening check met"]
            .map(measure)
            .to_vec(),
        nothing: Vec::new(),
        symbols: vec![("c".into(), "confidential: it would say too much of too few".into())],
        basis: (0..6).map(|_| said("Small numbers swing widely: read them with care. ")).collect(),
    }
}

fn named(classes: usize) -> Vec<String> {
    (0..classes).map(|n| format!("Class {n}")).collect()
}

fn printed(paper: &Paper) -> (Vec<u8>, lopdf::Document) {
    let bytes = write(paper, "2026-12-18".parse().unwrap()).unwrap();
    let file = lopdf::Document::load_mem(&bytes).unwrap();
    (bytes, file)
}

/// Its text without spaces, all pages.
fn said(file: &lopdf::Document) -> String {
    let pages: Vec<u32> = file.get_pages().into_keys().collect();
    file.extract_text(&pages).unwrap().split_whitespace().collect()
}

#[test]
fn schools_of_up_to_twelve_classes_have_two_sheets_and_larger_ones_what_they_need() {
    for (classes, sheets) in [(1, 2), (6, 2), (12, 2), (40, 4)] {
        let (_, file) = printed(&paper(&named(classes)));
        assert_eq!(file.get_pages().len(), sheets, "{classes} classes");
        assert!(said(&file).contains(&format!("Page{sheets}of{sheets}")), "{classes} classes");
    }
}

#[test]
fn a_report_is_the_same_bytes_each_time_and_says_when_it_is_of() {
    let of = paper(&named(12));
    let (first, _) = printed(&of);
    let (second, _) = printed(&of);
    assert!(first == second);
    let dates: Vec<String> = String::from_utf8_lossy(&first)
        .split("CreationDate(")
        .skip(1)
        .map(|rest| rest.chars().take(10).collect())
        .collect();
    assert_eq!(dates, ["D:20261218"], "the release's day, not the clock's");
}

#[test]
fn long_names_wrap_and_arabic_is_joined() {
    let arabic = "فصل الزيتون";
    let (_, file) = printed(&paper(&[LONG.to_owned(), arabic.to_owned()]));
    let text = said(&file);
    let together: String = LONG.split_whitespace().collect();
    assert_eq!(text.matches(&together).count(), 3, "whole, once in each table: {text}");
    let mut setter = text::Setter::new();
    let style = text::Style { size: 10.0, bold: false, right: false };
    let (one, wrapped) = (setter.set("Elm", style, 170.0), setter.set(LONG, style, 170.0));
    assert!((wrapped.height() / one.height() - 2.0).abs() < 0.01, "two lines, not a clipped one");
    let unbroken = setter.set(&"W".repeat(60), style, 170.0);
    assert!(
        unbroken.width() <= 170.0 && unbroken.height() > 2.5 * one.height(),
        "broken where it has no space"
    );
    let joined = setter.set(arabic, style, 170.0).width();
    let apart: f32 = arabic
        .split("")
        .filter(|letter| !letter.is_empty())
        .map(|letter| setter.set(letter, style, 170.0).width())
        .sum();
    assert!(joined < apart * 0.9, "letters by themselves are wider: {joined} {apart}");
    assert!(!setter.misses);
}

#[test]
fn a_letter_no_font_has_is_shown_as_missing_and_said_to_be() {
    let (_, file) = printed(&paper(&["漢 Oak".to_owned()]));
    let text = said(&file);
    assert!(text.contains("\u{fffd}Oak") && text.contains("aletterofwhichthisfilehasnoshape"), "{text}");
}

#[test]
fn a_symbol_has_its_word_and_no_number_and_no_bar() {
    let mut of = paper(&named(2));
    for measure in &mut of.measures {
        measure.parts[2].lines[1] =
            Line { name: "Elm".into(), said: Said::Instead(Symbol::Confidential, "left out") };
    }
    let (_, file) = printed(&of);
    assert_eq!(said(&file).matches("Elmcleftout").count(), 3);
    let mut setter = text::Setter::new();
    let bars = lay::lay(&of, 10.0, &mut setter).into_iter().filter(|item| match &item.what {
        lay::What::Row(_, row) => matches!(row.drawn, lay::Drawn::Bar(_)),
        _ => false,
    });
    assert_eq!(bars.count(), 3 * (1 + 3 + 1), "the school, three year groups and the other class");
}

#[test]
fn it_can_be_read_out() {
    let (_, file) = printed(&paper(&named(12)));
    let catalogue = file.catalog().unwrap();
    assert!(catalogue.has(b"StructTreeRoot") && catalogue.has(b"Outlines"), "{catalogue:?}");
    assert_eq!(catalogue.get(b"Lang").unwrap().as_str().unwrap(), b"en-GB");
    let tags: Vec<String> = file
        .objects
        .values()
        .filter_map(|object| object.as_dict().ok()?.get(b"S").ok()?.as_name().ok())
        .map(|name| String::from_utf8_lossy(name).into_owned())
        .collect();
    let of = |tag: &str| tags.iter().filter(|one| *one == tag).count();
    // A head, the school, three year groups and twelve classes, with two headings of parts, in each of three tables.
    assert_eq!((of("Table"), of("TR")), (3, 3 * (1 + 1 + 3 + 12 + 2)), "{tags:?}");
    assert_eq!(of("TH"), 3 * (5 + 1 + 3 + 12 + 2));
    assert_eq!(of("TD"), 3 * (1 + 3 + 12) * 4);
    assert_eq!((of("H1"), of("H2")), (1, 6));
}
