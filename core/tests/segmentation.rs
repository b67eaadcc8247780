//! Segmentations against hand-labelled ones, and words as clients really send them.

#![allow(clippy::unwrap_used)]

use plumbline_core::phonics::Engine;
use plumbline_core::phonics::accent::Accent;
use plumbline_core::phonics::guess;
use plumbline_core::phonics::unit::Unit;

/// Labelled words whose best reading differs, with the reading, each with the reason it stays so.
const DEFENDED: [(&str, &str); 1] = [
    // ui is one unit for /ɪ/, as in biscuit and guilt; the label has u silent.
    ("b|u|i|l|d", "b|ui|l|d"),
];

/// The same for the second set: words drawn by chance, 330 child words and 270 others of bands up
/// to 20, labelled before the set was first run, though not by someone who had never seen output
/// of the engine. The first run had 581 of 600 right (96.8 %, 95 % interval 95.1 to 98.0); the
/// rules then learnt from the faults, so what the test holds now is no blind figure.
const DEFENDED_SECOND: [(&str, &str); 12] = [
    // ce is one unit, as in sentence and in the label of danced.
    ("s|e|n|t|e|n|c|ed", "s|e|n|t|e|n|ce|d"),
    // l is sounded: al is one unit only where it is not (walk, half).
    ("al|w|ay|s", "a|l|w|ay|s"),
    ("al|t|er|ed", "a|l|t|er|ed"),
    // al is one unit at the end of a word only.
    ("r|e|al|i_e|s", "r|e|a|l|i_e|s"),
    ("c|a|p|i|t|al|i|s|m", "c|a|p|i|t|a|l|i|s|m"),
    // One vowel, as in mayor.
    ("p|r|ay|er", "p|r|ayer"),
    // Two vowels are sounded.
    ("t|w|e|n|t|ie|th", "t|w|e|n|t|i|e|th"),
    // tion is one unit where ti is /ʃ/; here it is /tʃ/, as in question.
    ("s|u|gg|e|s|tion", "s|u|gg|e|s|ti|o|n"),
    // xc is one unit for /ks/, as the label of exceeding has it.
    ("e|x|c|e|p|tion|s", "e|xc|e|p|tion|s"),
    // /praɪˈmerɪli/: the a and the r are sounded apart.
    ("p|r|i|m|ar|i|l|y", "p|r|i|m|a|r|i|l|y"),
    // /əˈsəʊsieɪt/ comes first; the reading with /ʃ/ is a variant.
    ("a|ss|o|ci|a_e|t", "a|ss|o|c|i|a_e|t"),
    // A fault: bar and a doubled r, but furry is f, urr, y.
    ("b|arr|i|ng", "b|a|rr|i|ng"),
];

/// The third set: 1,000 words drawn by hash (500 child words, 380 others of bands up to 20, 120 long
/// ones), labelled from the word list alone and committed before its first run. That run had 935 of
/// 1,000 right (93.5 %, 95 % interval 91.8 to 94.9). Of the 65 differences about twenty were faults
/// of the lexicon (now overrides or rules), 35 of the labels (`third_corrections.tsv`, each with its
/// reason, read a second time; five labels that had been changed were given back), and these stay.
/// It has 988 of 1,000 (98.8 %, 97.9 to 99.3), and 953 (95.3 %, 93.8 to 96.4) by the labels as first
/// written. What the test holds now is no blind figure.
const DEFENDED_THIRD: [(&str, &str); 12] = [
    // A fault: the label has i and an r that is not sounded.
    ("i|r|o|n", "ir|o|n"),
    // An unstressed me is one unit, as ne in medicine; o_e is /ʌ/ or /əʊ/.
    ("w|e|l|c|o_e|m", "w|e|l|c|o|me"),
    // shion is one unit, as sion is.
    ("c|u|sh|io|n", "c|u|shion"),
    // gu is one unit for /gw/.
    ("d|i|s|t|i|n|g|u|i|sh|ed", "d|i|s|t|i|n|gu|i|sh|ed"),
    ("l|i|n|g|u|i|s|t|i|c", "l|i|n|gu|i|s|t|i|c"),
    ("p|e|n|g|u|i|n", "p|e|n|gu|i|n"),
    // /ev.ri/, /sev.rəl/: no vowel is sounded between v and r.
    ("e|v|er|y|wh|ere", "e|ve|r|y|wh|ere"),
    ("s|e|v|er|al", "s|e|ve|r|al"),
    // sure is one unit where s is /ʒ/.
    ("u|n|sure", "u|n|s|ure"),
    // ci is /ʃ/, as in special, and e the vowel.
    ("s|p|e|c|ie|s", "s|p|e|ci|e|s"),
    // The verb comes first.
    ("d|e|l|i|b|er|a|te|s", "d|e|l|i|b|er|a_e|t|s"),
    // /pəˈrɪmɪtə/: an r linking a weak vowel belongs to it, as in generous.
    ("p|e|r|i|m|e|t|er|s", "p|er|i|m|e|t|er|s"),
];

/// The fourth set: 600 words of the lexicon, of every band and length, the first by the SHA-256 of
/// `fourth set:` and the word that no earlier set has (five whose rows had been seen were passed
/// over), labelled from the word list alone and committed before their first run. That run had 586
/// right (97.7 %, 95 % interval 96.1 to 98.6): the honest measure. Three differences led to rules
/// and one to an override; these stay. What the test holds now is no blind figure.
const DEFENDED_FOURTH: [(&str, &str); 10] = [
    // Two vowels that may be written either way: /haɪərɑːki/, /haɪərəglɪfɪks/.
    ("h|ier|ar|ch|y", "h|i|er|ar|ch|y"),
    ("h|ier|o|g|l|y|ph|i|c|s", "h|ie|r|o|g|l|y|ph|i|c|s"),
    // c and c are two sounds, /k/ and /s/.
    ("i|n|a|cc|e|ss|i|b|le", "i|n|a|c|c|e|ss|i|b|le"),
    ("u|n|s|u|cc|e|ss|f|u|ll|y", "u|n|s|u|c|c|e|ss|f|u|ll|y"),
    // British has a weak vowel: the label is the American one's.
    ("ar|b|i|t|r|a|r|i|l|y", "ar|b|i|t|r|ar|i|l|y"),
    // Faults: two vowels are heard in meteor and cruelly, uo is /ʊə/, il is one unit at the end, the
    // e of queuing is not sounded.
    ("m|e|t|e|or", "m|e|t|eor"),
    ("c|r|u|e|ll|y", "c|r|ue|ll|y"),
    ("f|l|uo|r|e|sc|e|n|t", "f|l|u|or|e|sc|e|n|t"),
    ("n|o|s|t|r|il", "n|o|s|t|r|i|l"),
    ("q|ueu|i|ng", "que|u|i|ng"),
];

/// The fifth set: 400 words chosen as the fourth's were, with `fifth set:`, labelled from the word
/// list alone and committed before their first run, which had 389 right. With the fourth's first run
/// that is 975 of 1,000 (97.5 %, 95 % interval 96.3 to 98.3). Nothing was changed for it since.
const DEFENDED_FIFTH: [(&str, &str); 11] = [
    // The verb comes first; its weak form is the second reading.
    ("d|e|l|i|b|er|a|te", "d|e|l|i|b|er|a_e|t"),
    // xc is one /ks/ here, /ɪkˈsesɪz/; /ˈmædəm/ has a weak vowel; ir linking a weak vowel is one unit.
    ("e|x|c|e|ss|e|s", "e|xc|e|ss|e|s"),
    ("m|a|d|a_e|m", "m|a|d|a|me"),
    ("a|d|m|i|r|a|b|le", "a|d|m|ir|a|b|le"),
    // /ɪmˈpɒvrɪʃt/: no vowel is sounded between v and r.
    ("i|m|p|o|v|er|i|sh|ed", "i|m|p|o|ve|r|i|sh|ed"),
    // Faults: poor and produce are cut in another way without their ending, tch is one unit, h is not
    // sounded in honest, and British has /ɒ/ in forage and /ʌ/ in borough.
    ("p|oor|e|s|t", "p|oo|r|e|s|t"),
    ("p|r|o|d|u_e|c|d", "p|r|o|d|u|c|ed"),
    ("b|l|o|tch|ed", "b|l|o|t|ch|ed"),
    ("d|i|s|ho|n|e|s|t|y", "d|i|s|h|o|n|e|s|t|y"),
    ("f|o|r|a|ge", "f|or|a|ge"),
    ("b|o|r|ough|s", "b|or|ough|s"),
];

fn letters(label: &str) -> String {
    let mut word = String::new();
    let mut open = false;
    for grapheme in label.split('|') {
        match grapheme.strip_suffix("_e") {
            Some(vowel) => {
                word.push_str(vowel);
                open = true;
            }
            None => {
                word.push_str(grapheme);
                if std::mem::take(&mut open) {
                    word.push('e');
                }
            }
        }
    }
    word
}

/// How many labels are met; those that are not must be the defended ones.
fn check(labels: &str, defended: &[(&str, &str)]) -> (usize, usize) {
    let engine = Engine::load().unwrap();
    let (mut right, mut total, mut differing) = (0, 0, Vec::new());
    for label in labels.split_whitespace() {
        total += 1;
        // A word stands before its label where the label does not say where its e is.
        let (word, label) = match label.split_once(':') {
            Some((word, label)) => (word.to_owned(), label),
            None => (letters(label), label),
        };
        let got = engine.segment(&word, Accent::default()).unwrap();
        let best = got.variants[0].graphemes.join("|");
        if !got.guess && best == label.to_lowercase() {
            right += 1;
        } else {
            differing.push((label.to_owned(), best));
        }
    }
    let defended: Vec<(String, String)> =
        defended.iter().map(|(a, b)| ((*a).to_owned(), (*b).to_owned())).collect();
    differing.sort();
    let mut wanted = defended;
    wanted.sort();
    assert_eq!(differing, wanted);
    (right, total)
}

#[test]
fn the_labelled_segmentations_are_met() {
    let (right, total) = check(include_str!("gold_segmentations.txt"), &DEFENDED);
    assert_eq!(total, 231);
    assert!(right * 100 >= total * 98, "{right} of {total}");
}

#[test]
fn the_second_labelled_set_is_met() {
    let (right, total) = check(include_str!("blind_segmentations.txt"), &DEFENDED_SECOND);
    assert_eq!((right, total), (588, 600));
}

#[test]
fn the_third_labelled_set_is_met() {
    let mut labels = include_str!("third_segmentations.txt").replace(char::is_whitespace, "\n");
    for line in include_str!("third_corrections.tsv").lines().filter(|l| !l.starts_with('#')) {
        let cells: Vec<&str> = line.split('\t').collect();
        let [old, new, reason] = cells[..] else { panic!("{line}") };
        assert!(!reason.is_empty() && labels.lines().any(|l| l == old), "{line}");
        let word = letters(old);
        let kept = labels.lines().map(|l| if l == old { format!("{word}:{new}") } else { l.to_owned() });
        labels = kept.collect::<Vec<_>>().join("\n");
    }
    let (right, total) = check(&labels, &DEFENDED_THIRD);
    assert_eq!(total, 1_000);
    assert!(right * 100 >= total * 98, "{right} of {total}");
}

#[test]
fn the_fourth_labelled_set_is_met() {
    let (right, total) = check(include_str!("fourth_segmentations.txt"), &DEFENDED_FOURTH);
    assert_eq!((right, total), (590, 600));
}

#[test]
fn every_teachable_unit_has_an_example_that_holds_it() {
    let engine = Engine::load().unwrap();
    let missing: Vec<String> = engine
        .inventory()
        .teachable()
        .filter(|(id, c)| {
            let word = engine.lexicon().find(c.keyword.unwrap_or(""));
            let holds = word.is_some_and(|w| w.readings().any(|r| r.units.iter().any(|u| u.id() == *id)));
            !holds
        })
        .map(|(_, c)| format!("{} {}", c.gpc, c.keyword.unwrap_or("")))
        .collect();
    assert!(missing.is_empty(), "{missing:?}");
}

#[test]
fn words_outside_the_lexicon_are_guessed_and_say_so() {
    let engine = Engine::load().unwrap();
    let check = |word: &str, want: &str| {
        let got = engine.segment(word, Accent::default()).unwrap();
        assert!(got.guess, "{word}");
        assert_eq!(got.variants[0].graphemes.join("|"), want, "{word}");
    };
    check("shope", "sh|o_e|p");
    check("thrain", "th|r|ai|n");
    check("queech", "qu|ee|ch");
    check("glight", "g|l|igh|t");
    check("teddies'", "t|e|dd|ie|s");
    check("hamster's", "h|a|m|s|t|er|s");
}

#[test]
fn every_reading_spells_its_word() {
    let engine = Engine::load().unwrap();
    for word in engine.lexicon().iter() {
        let wanted = word.shown().bytes().filter(u8::is_ascii_alphabetic).count();
        for reading in word.readings() {
            let written: usize = reading
                .units
                .iter()
                .filter_map(|u| engine.inventory().get(u.id()))
                .map(|c| c.gpc.grapheme().letter_count())
                .sum();
            assert_eq!(written, wanted, "{}", word.shown());
        }
    }
}

#[test]
fn accents_change_the_sound_and_not_the_identity() {
    let engine = Engine::load().unwrap();
    let north = Accent { short_a_in_bath: true, no_foot_strut_split: true, ..Accent::default() };
    let sound = |word: &str, accent| engine.segment(word, accent).unwrap().variants[0].phonemes.join("");
    assert_eq!(sound("path", Accent::default()), "pɑːθ");
    assert_eq!(sound("path", north), "pæθ");
    assert_eq!(sound("father", north), "fɑːðə");
    assert_eq!(sound("cup", north), "kʊp");
    let rhotic = Accent { rhotic: true, ..Accent::default() };
    assert_eq!(sound("car", rhotic), "kɑː.r");
    assert_eq!(sound("story", Accent::default()), "stɔː.ri");
}

/// How often a segmentation by rule alone is the lexicon's, over the words children know.
#[test]
fn guesses_are_mostly_right() {
    let engine = Engine::load().unwrap();
    let (mut right, mut total) = (0, 0);
    for word in engine.lexicon().iter().filter(|w| w.child_band() > 0) {
        let letters = word.shown().to_lowercase();
        if !letters.bytes().all(|b| b.is_ascii_lowercase()) {
            continue;
        }
        total += 1;
        let guesses = guess::by_rule(engine.inventory(), engine.costs(), letters.as_bytes());
        let cut = |units: &[Unit]| -> Vec<String> {
            let items = units.iter().filter_map(|u| engine.inventory().get(u.id()));
            items.map(|c| c.gpc.grapheme().to_string()).collect()
        };
        let own = word.readings().next().map(|r| cut(r.units)).unwrap_or_default();
        right += usize::from(guesses.first().is_some_and(|g| cut(&g.units) == own));
    }
    assert!(right * 100 > total * 85, "{right} of {total}");
}

#[test]
fn the_fifth_labelled_set_is_met() {
    let (right, total) = check(include_str!("fifth_segmentations.txt"), &DEFENDED_FIFTH);
    assert_eq!((right, total), (389, 400));
}
