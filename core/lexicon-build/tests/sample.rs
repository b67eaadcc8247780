//! Rebuilds a sample of the lexicon from committed sources and compares it, line by line, with the
//! committed file.

use std::collections::{BTreeMap, BTreeSet};

use plumbline_core::phonics::align::Costs;
use plumbline_core::phonics::inventory::Inventory;
use plumbline_lexicon_build::bath::Bath;
use plumbline_lexicon_build::rows::{self, Sources};
use plumbline_lexicon_build::sources::{self, Banded, Bands};

const LEXICON: &str = include_str!("../../rules/lexicon/lexicon.tsv");
const CHILD_WORDS: &str = include_str!("../../rules/lexicon/child_words.txt");

fn committed() -> BTreeMap<String, &'static str> {
    LEXICON
        .lines()
        .filter(|l| !l.starts_with('#'))
        .filter_map(|l| Some((l.split('\t').next()?.to_lowercase(), l)))
        .collect()
}

#[test]
fn a_rebuilt_sample_is_what_is_committed() {
    let inventory = Inventory::load().unwrap();
    let costs = Costs::load(&inventory).unwrap();
    let cmu = sources::parse_cmu(include_str!("sample/cmudict.dict"));
    let bands: Bands = include_str!("sample/bands.tsv")
        .lines()
        .filter(|l| !l.starts_with('#'))
        .filter_map(|l| l.split_once('\t'))
        .map(|(word, band)| {
            let banded = Banded { shown: word.to_owned(), band: band.parse().unwrap() };
            (word.to_lowercase(), banded)
        })
        .collect();
    let overrides = sources::parse_overrides(include_str!("../../rules/lexicon/overrides.txt"));
    let child = sources::parse_child_words(CHILD_WORDS);
    let bath = Bath::parse(include_str!("../../rules/lexicon/bath.txt"));
    let built = rows::build(&Sources {
        inventory: &inventory,
        costs: &costs,
        cmu: &cmu,
        bands: &bands,
        overrides: &overrides,
        child: &child,
        bath: &bath,
    })
    .unwrap();
    assert_eq!(built.unaligned, BTreeSet::new());
    let committed = committed();
    for word in bands.keys() {
        let row = rows::line(&inventory, &built.rows[word]);
        assert_eq!(Some(&row.as_str()), committed.get(word), "{word}");
    }
    assert!(bands.len() > 150);
}

#[test]
fn every_child_word_is_committed_with_its_band_and_listed_once() {
    let committed = committed();
    let child = sources::parse_child_words(CHILD_WORDS);
    for (word, band) in &child {
        let line = committed.get(&word.to_lowercase());
        let prefix = |l: &&str| l.split('\t').nth(2) == Some(&band.to_string());
        assert!(line.is_some_and(prefix), "{word}");
    }
    let listed = sources::Lines::of(CHILD_WORDS)
        .filter(|l| !l.starts_with('['))
        .flat_map(str::split_whitespace)
        .count();
    assert_eq!(listed, child.len(), "a child word stands twice");
    assert!(child.len() > 1_500);
}

#[test]
fn costs_that_are_learnt_favour_what_is_common() {
    let inventory = Inventory::load().unwrap();
    let costs = Costs::load(&inventory).unwrap();
    let cost = |gpc: &str| costs.of(inventory.find(gpc).unwrap());
    assert!(cost("c:k") < cost("k:k") && cost("k:k") < cost("que:k"));
    assert!(cost("sh:ʃ") < cost("s:s") + cost("h:h"));
}
