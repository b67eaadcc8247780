//! Pseudo-words: made-up words of taught correspondences that look and sound like English and are
//! no word, name, homophone or near-sound of anything unfit, in any supported accent.

mod grammar;
mod judge;
mod make;
mod offered;

pub use grammar::Grammar;
pub use judge::Refusal;
pub use make::{MOST, PseudoRequest, PseudoResult, PseudoWord, Shape};
pub use offered::{OfferedPseudoWord, Unfit};
