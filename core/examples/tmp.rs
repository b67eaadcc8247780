#[path = "../tests/common/mod.rs"]
mod common;
use common::*;
use plumbline_core::phonics::bank::*;
use plumbline_core::phonics::policy::Policy;
use plumbline_core::phonics::pseudo::*;
use std::time::Instant;
fn main() {
    let t = Instant::now();
    let e = &*ENGINE;
    println!("load {:?} words {} heap {}", t.elapsed(), e.lexicon().len(), e.lexicon().heap_bytes());
    let t = Instant::now();
    let p = plan(Policy::default());
    println!("plan {:?}", t.elapsed());
    let t = Instant::now();
    let _ = e.grammar();
    println!("grammar {:?}", t.elapsed());
    for (step, shapes) in [(7, vec![]), (12, vec![]), (20, vec![Shape::Cvc, Shape::Ccvc, Shape::Cvcc, Shape::Ccvcc, Shape::TwoSyllables])] {
        let t = Instant::now();
        let r = p.pseudo_words(e, step, &PseudoRequest { count: 200, seed: 9, shapes, ..Default::default() });
        println!("{:?} {} {:?}", t.elapsed(), r.words.len(), r.refused);
        println!("{}", r.words.iter().map(|w| format!("{}/{}", w.word, w.reading.phonemes.concat())).collect::<Vec<_>>().join(" "));
    }
    for s in [5u16, 12, 20] {
        let w: Vec<_> = p.new_words(e, s, BankKind::Read, Audience::Child).map(|w| w.shown()).collect();
        println!("{s}: {}", w.join(" "));
    }
    let text = "The quick brown fox jumps over the lazy dog and a kitten sleeps by the fire. ".repeat(134);
    let t = Instant::now();
    let a = p.analyse(e, &text, 20).unwrap();
    println!("text {} {:?} {:?}", a.running, t.elapsed(), a.percent_decodable);
    for w in ["zorp", "blimmage", "fribble", "quendle", "snarky", "glamping", "emoji", "Aoife", "hamsters", "Siobhan", "tablets", "chillax", "jumpiest", "shhh", "hmm", "xyz", "bcd", "Isla", "Muhammad", "phleem", "strength", "rewilding", "brunch", "smoothies"] {
        match e.segment(w, Default::default()) {
            Ok(s) => println!("{w} guess={} {}", s.guess, s.variants.iter().map(|v| format!("{} /{}/", v.graphemes.join("|"), v.phonemes.join(""))).collect::<Vec<_>>().join("   ")),
            Err(x) => println!("{w} {x}"),
        }
    }
}
