//! Pseudo-words: made-up words of taught correspondences that look and sound like English and are
//! no word, name, homophone or near-sound of anything unfit, in any supported accent. Those made
//! here and those an adult offers have one judge (`judge.rs`).

mod every;
mod grammar;
mod judge;
mod make;
mod offered;
mod spelling;

pub use grammar::Grammar;
pub use judge::Refusal;
pub use make::{MOST, PseudoRequest, PseudoResult, PseudoWord, Shape};
pub use offered::{LONGEST, OfferedPseudoWord, Unfit};
