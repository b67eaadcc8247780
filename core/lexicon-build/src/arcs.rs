//! The conversion arcs: each correspondence of the British inventory with every American phone
//! sequence it may answer, and what that correspondence between the two accents costs.

use plumbline_core::phonics::align::Costs;
use plumbline_core::phonics::inventory::{Correspondence, Inventory};
use plumbline_core::phonics::phoneme::Phoneme;
use plumbline_core::phonics::unit::GpcId;

use crate::arpa::Arpa;

/// One way to read a grapheme: American in, British out.
#[derive(Debug, Clone)]
pub struct ConvArc {
    /// The correspondence read.
    pub id: GpcId,
    /// The American phones it consumes, stress folded to 0 and 1.
    pub american: Vec<Arpa>,
    /// The correspondence's own cost plus the cost of the accent change.
    pub cost: f32,
}

/// British phoneme, then the American sequences that may stand for it with their extra cost in
/// tenths. Own rules.
const TABLE: &[(&str, &str)] = &[
    ("æ", "AE1=0 AE0=2"),
    ("e", "EH1=0 EH0=3 AE1=30"),
    ("ɪ", "IH1=0 IH0=0 AH0=7 IY0=8 EH0=15 EY0=25 IY1=60"),
    ("ɒ", "AA1=0 AA0=3 AO1=3 AO0=5 AH1=70 AH0=70"),
    ("ʊ", "UH1=0 UH0=0 UW1=20 UW0=10 AH0=20"),
    ("ʌ", "AH1=0 AH0=20"),
    ("ə", "AH0=0 IH0=6 EH0=12 AE0=12 AA0=15 AO0=15 OW0=15 UH0=7 IY0=18 EY0=25 AH1=30 ER0=0"),
    ("i", "IY0=0 IY1=20 IH0=8"),
    ("u", "UW0=3 UH0=3 AH0=15 UW1=15"),
    ("iː", "IY1=0 IY0=7"),
    ("uː", "UW1=0 UW0=1"),
    ("ɑː", "AA1=2 AA0=4 AE1=0 AE0=3 AA1,R=0 AA0,R=0 AO1=25"),
    ("ɔː", "AO1=0 AO0=2 AA1=15 AO1,R=0 AO0,R=0 UH1,R=5 OW1,R=3 AO1,ER0=5"),
    ("ɜː", "ER1=0 ER0=70"),
    ("eɪ", "EY1=0 EY0=0"),
    ("aɪ", "AY1=0 AY0=0"),
    ("ɔɪ", "OY1=0 OY0=0"),
    ("əʊ", "OW1=0 OW0=0"),
    ("aʊ", "AW1=0 AW0=0"),
    ("ɪə", "IH1,R=0 IY1,R=0 IH0,R=3 IY0,R=3 IY0,AH0=2 IY1,AH0=2 IY0,ER0=2 IY1,ER0=2"),
    ("eə", "EH1,R=0 EH0,R=2 EY1,ER0=5 EH1,ER0=5 AE1,R=3"),
    ("ʊə", "UH1,R=0 UW1,R=2 UH0,R=2 UW1,AH0=0 UW0,AH0=0 UW1,ER0=2 AO1,R=15 AH0,W,AH0=0 UW0,W,AH0=0"),
    ("tʃ", "CH=0"),
    ("dʒ", "JH=0"),
    ("p", "P=0"),
    ("b", "B=0"),
    ("t", "T=0"),
    ("d", "D=0"),
    ("k", "K=0"),
    ("g", "G=0"),
    ("f", "F=0"),
    ("v", "V=0"),
    ("θ", "TH=0"),
    ("ð", "DH=0"),
    ("s", "S=0"),
    ("z", "Z=0"),
    ("ʃ", "SH=0"),
    ("ʒ", "ZH=0"),
    ("h", "HH=0"),
    ("m", "M=0"),
    ("n", "N=0"),
    ("ŋ", "NG=0"),
    ("l", "L=0"),
    ("r", "R=0"),
    ("w", "W=0"),
    ("j", "Y=0"),
];

/// Correspondences of the inventory that the conversion never makes: American merged vowels
/// would pull words into them.
const NOT_CONVERTED: [&str; 4] = ["o:ɔː", "a:ʌ", "e:ɒ", "u:ɔː"];

/// Spellings of /juː/ and /uː/ whose /j/ American drops after t, d and n.
pub const YOD: [&str; 12] = ["u", "u_e", "ew", "ue", "eu", "eau", "iew", "ui", "ure", "ur", "ua", "uo"];

/// American sequences and extra costs.
type Choices = Vec<(Vec<Arpa>, f32)>;

/// All arcs by first letter (`a` first).
#[must_use]
pub fn build(inventory: &Inventory, costs: &Costs) -> Vec<Vec<ConvArc>> {
    let mut by_letter = vec![Vec::new(); 26];
    for (id, item) in inventory.iter() {
        if NOT_CONVERTED.contains(&item.gpc.to_string().as_str()) {
            continue;
        }
        let Some(list) = item
            .gpc
            .grapheme()
            .as_str()
            .bytes()
            .next()
            .and_then(|b| by_letter.get_mut(usize::from(b - b'a')))
        else {
            continue;
        };
        for (american, extra) in sequences(item) {
            list.push(ConvArc { id, american, cost: costs.of(id) + extra });
        }
    }
    by_letter
}

/// Every American sequence one correspondence may answer.
fn sequences(item: &Correspondence) -> Choices {
    let phonemes = item.gpc.phonemes();
    let per_phoneme: Vec<Choices> = phonemes.iter().map(|p| choices(item, *p)).collect();
    let mut out = product(&per_phoneme);
    let symbols: Vec<&str> = phonemes.iter().map(|p| p.symbol()).collect();
    let grapheme = item.gpc.grapheme();
    if symbols.first() == Some(&"j") && YOD.contains(&grapheme.as_str()) {
        out.extend(product(&per_phoneme[1..]).into_iter().map(|(a, c)| (a, c + 0.1)));
    }
    let has_r = grapheme.letters().contains('r');
    let mut add = |list: &[&str], extra: f32| {
        let parsed = list.iter().filter_map(|t| Arpa::parse_all(t));
        out.extend(parsed.map(|a| (a, extra)));
    };
    match symbols.as_slice() {
        ["ə", "l"] => add(&["L"], 1.2),
        ["aɪ", "ə"] if has_r => add(&["AY1 R", "AY1 ER0", "AY0 R", "AY0 ER0"], 0.0),
        ["aʊ", "ə"] if has_r => add(&["AW1 R", "AW1 ER0"], 0.0),
        ["ʌ", "r"] => add(&["ER1"], 3.0),
        _ => {}
    }
    out
}

fn product(parts: &[Choices]) -> Choices {
    let mut out: Choices = vec![(Vec::new(), 0.0)];
    for part in parts {
        out = out
            .iter()
            .flat_map(|(head, cost)| {
                part.iter().map(move |(tail, extra)| {
                    let mut all = head.clone();
                    all.extend_from_slice(tail);
                    (all, cost + extra)
                })
            })
            .collect();
    }
    out
}

/// The American sequences for one British phoneme in one spelling. Only spellings with r (and
/// *colonel*) may swallow an American r; long vowels spelt with r must.
fn choices(item: &Correspondence, phoneme: Phoneme) -> Choices {
    let letters = item.gpc.grapheme().letters();
    let has_r = letters.contains('r');
    let swallows = has_r || letters.contains("lo");
    let symbol = phoneme.symbol();
    if symbol == "ə" && has_r {
        let list = [("ER0", 0.0), ("AH0", 1.5), ("ER1", 3.0)];
        return list.iter().filter_map(|(t, c)| Some((Arpa::parse_all(t)?, *c))).collect();
    }
    let rhotic = |a: &[Arpa]| a.iter().any(|x| matches!(x.phone(), "R" | "ER"));
    let needs_r = has_r && matches!(symbol, "ɑː" | "ɔː" | "ɪə" | "eə" | "ʊə");
    let consonant_r = symbol == "r";
    let row = TABLE.iter().find(|(s, _)| *s == symbol).map_or("", |(_, r)| r);
    row.split(' ')
        .filter_map(|cell| {
            let (tokens, cost) = cell.split_once('=')?;
            let american: Option<Vec<Arpa>> = tokens.split(',').map(Arpa::parse).collect();
            Some((american?, cost.parse::<f32>().ok()? / 10.0))
        })
        .filter(|(a, _)| consonant_r || swallows || !rhotic(a))
        .filter(|(a, _)| !needs_r || rhotic(a))
        .filter(|(a, _)| symbol != "ə" || !rhotic(a))
        .collect()
}
