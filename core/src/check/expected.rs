//! What an item expects to be said, grapheme by grapheme, in the school's accent.

use std::collections::BTreeMap;

use super::CheckItem;
use crate::{
    id::ItemId,
    phonics::{
        Engine,
        accent::Accent,
        phoneme::Phoneme,
        unit::{GpcId, Unit},
    },
    sequence::Gpc,
};

/// A grapheme with the sounds meant by it in one reading; none where it is silent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// As written, a split digraph as `a_e`.
    pub grapheme: String,
    /// The sounds.
    pub sounds: Vec<Phoneme>,
}

/// What an item expects.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Expected {
    /// Readings to accept, as sounds.
    pub accept: Vec<Vec<Phoneme>>,
    /// Readings, grapheme by grapheme, the likeliest first.
    pub readings: Vec<Vec<Asked>>,
}

/// Works out what items expect.
pub struct Expecting<'a> {
    engine: &'a Engine,
    accent: Accent,
    pairs: BTreeMap<ItemId, GpcId>,
}

impl<'a> Expecting<'a> {
    /// In an accent.
    pub fn new(engine: &'a Engine, accent: Accent) -> Self {
        let pairs = engine.inventory().iter().map(|(id, known)| (Gpc::from(&known.gpc).id(), id));
        Self { engine, accent, pairs: pairs.collect() }
    }

    /// What an item expects: its pair's sound, or the readings of the word it shows. Nothing where the engine
    /// can tell neither.
    pub fn of(&self, item: &CheckItem) -> Expected {
        let readings = match item.gpc_id {
            Some(gpc) => self.pair(gpc).into_iter().map(|asked| vec![asked]).collect(),
            None => self.word(item.prompt.as_str()),
        };
        let accept = if item.accept.is_empty() {
            readings.iter().map(|reading| sounds(reading)).collect()
        } else {
            item.accept.iter().filter_map(|text| Phoneme::parse_sequence(text).ok()).collect()
        };
        Expected { accept, readings }
    }

    fn pair(&self, gpc: ItemId) -> Option<Asked> {
        let id = *self.pairs.get(&gpc)?;
        let known = self.engine.inventory().get(id)?;
        let sounds = self.accent.realise(self.engine.inventory(), Unit::new(id));
        Some(Asked { grapheme: known.gpc.grapheme().to_string(), sounds })
    }

    fn word(&self, word: &str) -> Vec<Vec<Asked>> {
        let Ok(found) = self.engine.segment(word, self.accent) else { return Vec::new() };
        let reading = |variant: crate::phonics::segment::Variant| {
            let sounds = variant.units.iter().map(|unit| self.accent.realise(self.engine.inventory(), *unit));
            let graphemes = variant.graphemes.into_iter().zip(sounds);
            graphemes.map(|(grapheme, sounds)| Asked { grapheme, sounds }).collect()
        };
        found.variants.into_iter().map(reading).collect()
    }
}

/// All sounds of a reading.
pub fn sounds(reading: &[Asked]) -> Vec<Phoneme> {
    reading.iter().flat_map(|asked| asked.sounds.iter().copied()).collect()
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::{id::CheckItemId, text::Title};

    fn item(prompt: &str, gpc: Option<(&str, &str)>, accept: &[&str]) -> CheckItem {
        let gpc = gpc.map(|(grapheme, phoneme)| Gpc { grapheme: grapheme.into(), phoneme: phoneme.into() });
        CheckItem {
            gpc_id: gpc.map(|gpc| gpc.id()),
            accept: accept.iter().map(|one| (*one).to_owned()).collect(),
            ..CheckItem::new(CheckItemId::from_uuid(Uuid::nil()), Title::new(prompt).unwrap())
        }
    }

    #[test]
    fn an_item_expects_its_pair_or_its_word_in_the_schools_accent() {
        let engine = Engine::load().unwrap();
        let shown = |expected: &Expected| -> Vec<String> {
            let reading = |reading: &Vec<Asked>| {
                let graphemes: Vec<_> = reading.iter().map(|one| one.grapheme.clone()).collect();
                format!("{} {}", graphemes.join("-"), Phoneme::join(&sounds(reading)))
            };
            expected.readings.iter().map(reading).collect()
        };
        let southern = Expecting::new(&engine, Accent::default());
        assert_eq!(shown(&southern.of(&item("igh", Some(("igh", "aɪ")), &[]))), ["igh aɪ"]);
        assert_eq!(shown(&southern.of(&item("x", Some(("x", "k s")), &[]))), ["x k.s"]);
        assert_eq!(shown(&southern.of(&item("cake", None, &[])))[0], "c-a_e-k k.eɪ.k");
        let northern = Accent { short_a_in_bath: true, ..Accent::default() };
        let northern = Expecting::new(&engine, northern);
        assert_eq!(shown(&southern.of(&item("path", None, &[])))[0], "p-a-th p.ɑː.θ");
        assert_eq!(shown(&northern.of(&item("path", None, &[])))[0], "p-a-th p.æ.θ");
        // What is kept to accept of a pseudo-word stands before what the letters might else say.
        let accept = southern.of(&item("chom", None, &["tʃɒm", "kɒm"])).accept;
        assert_eq!(accept.iter().map(|one| Phoneme::join(one)).collect::<Vec<_>>(), ["tʃ.ɒ.m", "k.ɒ.m"]);
        assert_eq!(southern.of(&item("the cat sat on the mat", None, &[])).readings.len(), 0);
    }
}
