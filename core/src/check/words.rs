//! What the engine knows of the words of an item: the GPCs they ask for, what to accept, what to say.

use std::collections::BTreeSet;

use super::CheckKind;
use crate::{
    id::ItemId,
    phonics::{
        Engine,
        accent::Accent,
        phoneme::Phoneme,
        text::tokens,
        unit::{GpcId, Unit},
        word::Word,
    },
    sequence::Gpc,
};

/// Readings of one item at most.
const READINGS: usize = 16;

/// What is known of the words of an item.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Asked {
    /// The GPCs in reading order, those not sounded left out.
    pub gpc_ids: Vec<ItemId>,
    /// The readings to accept, in IPA.
    pub accept: Vec<String>,
    /// The sounds to say, joined by dots.
    pub sounds: Option<String>,
    /// A word to tell the sound of a GPC by.
    pub keyword: Option<String>,
}

impl Asked {
    /// Of a text in an accent. Nothing where a part of it is no word, such as a number.
    #[must_use]
    pub fn of(engine: &Engine, accent: Accent, kind: CheckKind, text: &str) -> Option<Self> {
        let mut asked = Self { accept: vec![String::new()], ..Self::default() };
        let mut sounds = Vec::new();
        for token in tokens(text) {
            let readings = engine.readings(&Word::parse(token).ok()?).ok()?;
            let (first, _) = readings.list.first()?;
            asked.gpc_ids.extend(gpc_ids(engine, accent, first));
            sounds.extend(accent.pronounce(engine.inventory(), first));
            // Of a word in no list, such as a name, only the likeliest guess.
            let known = if readings.guess { 1 } else { readings.list.len() };
            let said: Vec<String> =
                readings.list.iter().take(known).map(|(units, _)| engine.said(units, accent)).collect();
            asked.accept = each_with_each(&asked.accept, &said);
        }
        if sounds.is_empty() {
            return None;
        }
        match kind {
            CheckKind::OralBlending => asked.sounds = Some(Phoneme::join(&sounds)),
            // Nothing is read.
            CheckKind::Spelling => asked.accept.clear(),
            _ => {}
        }
        Some(asked)
    }

    /// Of a GPC by itself: how it sounds in an accent, and the word it is known by where there is one that the
    /// school has not struck off. Two sounds of one grapheme are told apart by these alone.
    #[must_use]
    pub fn of_gpc(engine: &Engine, accent: Accent, gpc: GpcId) -> Self {
        let keyword = engine.inventory().get(gpc).and_then(|known| known.keyword);
        let keyword = keyword.filter(|word| !engine.is_struck(word)).map(str::to_owned);
        Self { accept: vec![engine.said(&[Unit::new(gpc)], accent)], keyword, ..Self::default() }
    }

    /// Of a made-up word, given its likeliest reading and those to accept.
    #[must_use]
    pub fn of_pseudo(engine: &Engine, accent: Accent, reading: &[Unit], accept: Vec<String>) -> Self {
        Self { gpc_ids: gpc_ids(engine, accent, reading), accept, ..Self::default() }
    }
}

/// The ids of the GPCs of a reading as a school of this accent teaches them.
pub(super) fn gpc_ids(engine: &Engine, accent: Accent, units: &[Unit]) -> Vec<ItemId> {
    let gpc = |unit: &Unit| engine.inventory().get(engine.in_accent(*unit, accent)).map(|item| &item.gpc);
    let sounded = units.iter().filter_map(gpc).filter(|gpc| !gpc.phonemes().is_empty());
    sounded.map(|gpc| Gpc::from(gpc).id()).collect()
}

/// The readings so far, each followed by each of the next word's.
fn each_with_each(so_far: &[String], next: &[String]) -> Vec<String> {
    let mut met = BTreeSet::new();
    let joined = so_far.iter().flat_map(|start| next.iter().map(move |end| (start, end)));
    let joined = joined.map(|(start, end)| match start.is_empty() {
        true => end.clone(),
        false => format!("{start} {end}"),
    });
    joined.filter(|one| met.insert(one.clone())).take(READINGS).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(kind: CheckKind, text: &str) -> Option<Asked> {
        Asked::of(&Engine::load().unwrap(), Accent::default(), kind, text)
    }

    fn ids(pairs: &[(&str, &str)]) -> Vec<ItemId> {
        let id = |(g, p): &(&str, &str)| Gpc { grapheme: (*g).into(), phoneme: (*p).into() }.settled().0.id();
        pairs.iter().map(id).collect()
    }

    #[test]
    fn a_word_asks_for_its_gpcs_and_accepts_its_readings() {
        let night = asked(CheckKind::WordReading, "night").unwrap();
        assert_eq!(night.gpc_ids, ids(&[("n", "n"), ("igh", "aɪ"), ("t", "t")]));
        assert_eq!((night.accept, night.sounds), (vec!["naɪt".to_owned()], None));
        // Two readings of one spelling are both right.
        let read = asked(CheckKind::WordReading, "read").unwrap();
        assert_eq!(read.accept.iter().map(String::as_str).collect::<BTreeSet<_>>(), ["riːd", "red"].into());
        // The k is written and not sounded: no GPC a sequence can teach.
        let fix = asked(CheckKind::WordReading, "fix").unwrap();
        assert_eq!(fix.gpc_ids, ids(&[("f", "f"), ("i", "ɪ"), ("x", "ks")]));
    }

    #[test]
    fn two_sounds_of_one_grapheme_are_told_apart() {
        let engine = Engine::load().unwrap();
        let of = |pair: &str, engine: &Engine| {
            let asked = Asked::of_gpc(engine, Accent::default(), engine.inventory().find(pair).unwrap());
            (asked.accept, asked.keyword)
        };
        let (thin, this) = (of("th:θ", &engine), of("th:ð", &engine));
        assert_eq!((thin.0, this.0), (vec!["θ".to_owned()], vec!["ð".to_owned()]));
        let keyword = thin.1.unwrap();
        assert_ne!(Some(&keyword), this.1.as_ref());
        // What the school struck off is no word to tell by.
        assert_eq!(of("th:θ", &engine.with_strikes([keyword])).1, None);
        assert_eq!(of("x:k s", &engine).0, ["ks"]);
    }

    #[test]
    fn what_is_heard_has_sounds_to_say_and_what_is_written_no_reading() {
        let blended = asked(CheckKind::OralBlending, "ship").unwrap();
        assert_eq!(blended.sounds.as_deref(), Some("ʃ.ɪ.p"));
        assert_eq!(blended.accept, ["ʃɪp"]);
        let spelt = asked(CheckKind::Spelling, "ship").unwrap();
        assert_eq!(spelt.gpc_ids, ids(&[("sh", "ʃ"), ("i", "ɪ"), ("p", "p")]));
        assert_eq!((spelt.accept, spelt.sounds), (Vec::new(), None));
    }

    #[test]
    fn a_sentence_asks_for_the_gpcs_of_all_its_words() {
        let sentence = asked(CheckKind::SentenceReading, "Mum sat.").unwrap();
        let of = [("m", "m"), ("u", "ʌ"), ("m", "m"), ("s", "s"), ("a", "æ"), ("t", "t")];
        assert_eq!(sentence.gpc_ids, ids(&of));
        assert_eq!(sentence.accept, ["mʌm sæt"]);
        assert_eq!(asked(CheckKind::SentenceReading, "Mum has 7."), None);
        assert_eq!(asked(CheckKind::WordReading, "?"), None);
    }

    #[test]
    fn gpcs_and_readings_are_those_of_the_schools_accent() {
        let short = Accent { short_a_in_bath: true, ..Accent::default() };
        let path = Asked::of(&Engine::load().unwrap(), short, CheckKind::WordReading, "path").unwrap();
        assert_eq!(path.gpc_ids, ids(&[("p", "p"), ("a", "æ"), ("th", "θ")]));
        assert!(path.accept[0].starts_with("pæ"), "{:?}", path.accept);
        let long = asked(CheckKind::WordReading, "path").unwrap();
        assert_eq!(long.gpc_ids, ids(&[("p", "p"), ("a", "ɑː"), ("th", "θ")]));
    }
}
