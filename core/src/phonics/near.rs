//! How alike two phonemes sound, from articulatory features, and which pronunciations lie near
//! one. Used to build the screen of near-sounds and to check it.

use super::phoneme::Phoneme;

/// Consonants: place, manner, voice.
const CONSONANTS: &[(&str, u8, u8, u8)] = &[
    ("p", 0, 0, 0),
    ("b", 0, 0, 1),
    ("t", 2, 0, 0),
    ("d", 2, 0, 1),
    ("k", 4, 0, 0),
    ("g", 4, 0, 1),
    ("f", 0, 1, 0),
    ("v", 0, 1, 1),
    ("θ", 1, 1, 0),
    ("ð", 1, 1, 1),
    ("s", 2, 1, 0),
    ("z", 2, 1, 1),
    ("ʃ", 3, 1, 0),
    ("ʒ", 3, 1, 1),
    ("h", 5, 1, 0),
    ("tʃ", 3, 2, 0),
    ("dʒ", 3, 2, 1),
    ("m", 0, 3, 1),
    ("n", 2, 3, 1),
    ("ŋ", 4, 3, 1),
    ("l", 2, 4, 1),
    ("r", 2, 5, 1),
    ("w", 0, 5, 1),
    ("j", 3, 5, 1),
    ("ʍ", 0, 5, 0),
];
/// Vowels: openness and backness, of a diphthong its middle.
const VOWELS: &[(&str, f32, f32)] = &[
    ("iː", 0.0, 0.0),
    ("i", 0.0, 0.0),
    ("ɪ", 0.5, 0.3),
    ("e", 1.2, 0.5),
    ("æ", 2.0, 0.7),
    ("ɑː", 2.2, 2.0),
    ("ɒ", 2.2, 2.6),
    ("ɔː", 1.4, 2.7),
    ("ʊ", 0.5, 2.3),
    ("uː", 0.0, 2.4),
    ("u", 0.0, 2.4),
    ("ʌ", 1.8, 1.6),
    ("ɜː", 1.1, 1.4),
    ("ə", 1.1, 1.4),
    ("eɪ", 0.8, 0.3),
    ("aɪ", 1.5, 1.0),
    ("ɔɪ", 1.2, 2.0),
    ("əʊ", 1.1, 2.0),
    ("aʊ", 1.7, 1.8),
    ("ɪə", 0.6, 0.5),
    ("eə", 1.3, 0.6),
    ("ʊə", 0.6, 2.3),
];

/// The distance of two phonemes: 0 for the same, about 0.3 for neighbours, at most 1.3.
#[must_use]
pub fn distance(a: Phoneme, b: Phoneme) -> f32 {
    if a == b {
        return 0.0;
    }
    let vowel = |p: Phoneme| VOWELS.iter().find(|v| v.0 == p.symbol());
    let consonant = |p: Phoneme| CONSONANTS.iter().find(|c| c.0 == p.symbol());
    match (vowel(a), vowel(b), consonant(a), consonant(b)) {
        (Some(a), Some(b), ..) => {
            let d = ((a.1 - b.1).powi(2) + (a.2 - b.2).powi(2)).sqrt();
            (0.25 + 0.35 * d).min(1.0)
        }
        (.., Some(a), Some(b)) => {
            let differ = [a.1 != b.1, a.2 != b.2, a.3 != b.3];
            0.34 * differ.iter().filter(|d| **d).count() as f32
        }
        _ => 1.3,
    }
}

/// The distance of two pronunciations of equal length: the sum over their places.
#[must_use]
pub fn word_distance(a: &[Phoneme], b: &[Phoneme]) -> Option<f32> {
    (a.len() == b.len()).then(|| a.iter().zip(b).map(|(a, b)| distance(*a, *b)).sum())
}

/// Every pronunciation within `limit` of one, itself included.
#[must_use]
pub fn neighbours(word: &[Phoneme], limit: f32) -> Vec<Vec<Phoneme>> {
    let mut out = vec![(Vec::with_capacity(word.len()), 0.0)];
    for own in word {
        out = out
            .iter()
            .flat_map(|(head, so_far): &(Vec<Phoneme>, f32)| {
                Phoneme::all().filter_map(move |p| {
                    let cost = so_far + distance(*own, p);
                    (cost <= limit).then(|| {
                        let mut next = head.clone();
                        next.push(p);
                        (next, cost)
                    })
                })
            })
            .collect();
    }
    out.into_iter().map(|(word, _)| word).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_are_near_and_hold_the_word() {
        let word = Phoneme::parse_sequence("p.ɪ.t").unwrap();
        let near = neighbours(&word, 0.5);
        assert!(near.contains(&word));
        assert!(near.contains(&Phoneme::parse_sequence("b.ɪ.t").unwrap()));
        assert!(!near.contains(&Phoneme::parse_sequence("m.ɪ.t").unwrap()));
        for other in &near {
            assert!(word_distance(&word, other).unwrap() <= 0.5);
        }
    }
}
