use uuid::Uuid;

use super::*;
use crate::check::expected::sounds;

/// A reading written `sh:ʃ i:ɪ p:p`, a silent letter as `b:-`.
fn reading(text: &str) -> Vec<Asked> {
    let asked = |part: &str| {
        let (grapheme, meant) = part.split_once(':').unwrap();
        Asked { grapheme: grapheme.to_owned(), sounds: Phoneme::parse_sequence(meant).unwrap() }
    };
    text.split(' ').map(asked).collect()
}

fn expected(readings: &[&str]) -> Expected {
    let readings: Vec<_> = readings.iter().map(|text| reading(text)).collect();
    Expected { accept: readings.iter().map(|one| sounds(one)).collect(), readings }
}

fn heard(text: &str) -> Heard {
    Heard::new(text).unwrap()
}

/// What was misread, as `sh>s.h`, and what was added.
fn misread(readings: &[&str], note: &str, said: &str) -> String {
    let Some(laid) = lay(&expected(readings), &note.parse().unwrap(), &heard(said)) else {
        return "no error".into();
    };
    let wrong = laid.graphemes.iter().filter(|read| read.misread);
    let mut out: Vec<String> =
        wrong.map(|read| format!("{}>{}", read.grapheme, Phoneme::join(&read.heard))).collect();
    out.extend(laid.added.iter().map(|sound| format!("+{sound}")));
    out.join(" ")
}

#[test]
fn sounds_heard_are_laid_along_the_graphemes_meant() {
    for (readings, note, said, expected) in [
        // A single pair.
        (&["igh:aɪ"][..], "", "ɪ", "igh>ɪ"),
        (&["ng:ŋ"], "", "n.g", "ng>n.g"),
        // One sound for another, in its place.
        (&["b:b i:ɪ n:n"], "", "d.ɪ.n", "b>d"),
        (&["b:b i:ɪ n:n"], "", "b.e.n", "i>e"),
        // The letters of a digraph read one by one.
        (&["sh:ʃ i:ɪ p:p"], "", "s.h.ɪ.p", "sh>s.h"),
        (&["m:m oo:uː n:n"], "", "m.ɒ.n", "oo>ɒ"),
        // A split digraph without its e, and with the e sounded at the end.
        (&["c:k a_e:eɪ k:k"], "", "k.æ.k", "a_e>æ"),
        (&["c:k a_e:eɪ k:k"], "", "k.æ.k.e", "a_e>æ +e"),
        // One of two adjacent consonants left out; a sound added where nothing was misread.
        (&["s:s t:t o:ɒ p:p"], "", "s.ɒ.p", "t>-"),
        (&["p:p l:l a:æ n:n"], "", "p.æ.n", "l>-"),
        (&["c:k a:æ t:t"], "", "k.æ.n.t", "+n"),
        (&["s:s i:ɪ p:p"], "", "s.l.ɪ.p", "+l"),
        // Two graphemes of one word.
        (&["th:θ i:ɪ n:n"], "", "f.e.n", "th>f i>e"),
        // Usual speech is no error, and what else differs is.
        (&["th:θ i:ɪ n:n"], "θ>f", "f.ɪ.n", "no error"),
        (&["th:θ i:ɪ n:n"], "θ>f", "f.e.n", "i>e"),
        (&["h:h o:ɒ t:t"], "h>-", "ɒ.d", "t>d"),
        // Of two readings the nearer one: bow as bread has it, said with another end.
        (&["b:b ow:aʊ", "b:b ow:əʊ"], "", "d.əʊ", "b>d"),
        (&["b:b ow:aʊ", "b:b ow:əʊ"], "", "b.əʊ", "no error"),
        // A grapheme of two sounds, half of it said.
        (&["b:b o:ɒ x:k.s"], "", "b.ɒ.k", "x>k"),
        // A silent letter has nothing to be misread.
        (&["l:l a:æ m:m b:-"], "", "l.e.m", "a>e"),
        // A vowel is never laid on a consonant.
        (&["a:æ t:t"], "", "t", "a>-"),
    ] {
        assert_eq!(misread(readings, note, said), expected, "{readings:?} {note} {said}");
    }
}

#[test]
fn every_plausible_reading_of_a_pseudo_word_is_no_error() {
    let mut chom = expected(&["ch:tʃ o:ɒ m:m"]);
    chom.accept = ["tʃɒm", "kɒm"].map(|text| Phoneme::parse_sequence(text).unwrap()).to_vec();
    let none = SpeechNote::default();
    assert_eq!(lay(&chom, &none, &heard("k.ɒ.m")), None);
    let laid = lay(&chom, &none, &heard("k.ɒ.n")).unwrap();
    let wrong: Vec<_> =
        laid.graphemes.iter().filter(|read| read.misread).map(|r| r.grapheme.as_str()).collect();
    // Nearest to the one segmentation known: k for ch, n for m.
    assert_eq!(wrong, ["ch", "m"]);
}

fn pupil(n: u128) -> PupilId {
    PupilId::from_uuid(Uuid::from_u128(n))
}

#[test]
fn confusions_are_counted_with_who_was_asked() {
    let (ship, fish, none) =
        (expected(&["sh:ʃ i:ɪ p:p"]), expected(&["f:f i:ɪ sh:ʃ"]), SpeechNote::default());
    let (sip, fit, usual) = (heard("s.ɪ.p"), heard("f.ɪ.t"), heard("ʃ.ɪ.p"));
    let answer = |n, expected, outcome, heard| Answered {
        pupil: pupil(n),
        expected,
        note: &none,
        outcome,
        heard,
        chosen: false,
    };
    let answers = [
        answer(1, &ship, Outcome::Wrong, Some(&sip)),
        answer(2, &ship, Outcome::Wrong, Some(&sip)),
        answer(2, &fish, Outcome::Wrong, Some(&fit)),
        answer(3, &ship, Outcome::Right, None),
        answer(3, &fish, Outcome::NoResponse, None),
        answer(4, &fish, Outcome::Wrong, None),
        answer(4, &ship, Outcome::NotOffered, None),
        // Marked wrong though it is the word.
        answer(5, &ship, Outcome::Wrong, Some(&usual)),
        Answered { chosen: true, ..answer(6, &ship, Outcome::Wrong, Some(&sip)) },
    ];
    let found = confusions(answers, None);
    assert_eq!((found.answers, found.pupils, found.chosen), (7, 5, 1));
    assert_eq!((found.unheard, found.acceptable, found.withheld), (1, 1, 0));
    let [line] = &found.lines[..] else { panic!("{:?}", found.lines) };
    // sh stands in both words: asked 7 times of 5 pupils, once more by choosing.
    assert_eq!((line.grapheme.as_str(), line.asked, line.pupils, line.chosen), ("sh", 7, 5, 1));
    let read: Vec<_> =
        line.read_as.iter().map(|one| (Phoneme::join(&one.heard), one.answers, one.pupils)).collect();
    assert_eq!(read, [("s".to_owned(), 2, 2), ("t".to_owned(), 1, 1)]);
    // To readers who may not see each pupil's results, what one pupil said is not told.
    let closed = confusions(answers, Some(2));
    assert_eq!((closed.withheld, closed.lines[0].read_as.len()), (1, 1));
    let closed = confusions(answers, Some(3));
    assert_eq!((closed.withheld, closed.lines.len()), (2, 0));
}
