//! What several test files share.
#![allow(dead_code, clippy::unwrap_used, clippy::expect_used)]

use std::sync::LazyLock;

use plumbline_core::phonics::Engine;
use plumbline_core::phonics::bank::Plan;
use plumbline_core::phonics::lesson::{LessonRequest, LessonShape};
use plumbline_core::phonics::policy::Policy;
use plumbline_core::phonics::practice::Sizes;
use plumbline_core::phonics::proposal::{Constraints, Proposal, Search};
use plumbline_core::phonics::sequence::{Sequence, StepText};
use plumbline_core::sequence::{Content, Draft, settle};
use uuid::Uuid;

pub static ENGINE: LazyLock<Engine> = LazyLock::new(|| Engine::load().unwrap());

/// The sizes of England's rules.
pub fn shape() -> LessonShape {
    LessonShape::of(&plumbline_core::rules::pack("england").unwrap().lesson)
}

/// A request with them.
pub fn request() -> LessonRequest {
    LessonRequest { shape: shape(), ..LessonRequest::default() }
}

/// So many words of practice, and two sentences.
pub fn sizes(words: usize) -> Sizes {
    Sizes { words, sentences: 2 }
}

/// Steps written one a line, correspondences separated by spaces.
pub fn sequence(lines: &str) -> Sequence {
    let steps: Vec<StepText> = lines
        .lines()
        .map(str::trim)
        .filter(|l| !l.is_empty())
        .map(|l| StepText { gpcs: l.split(' ').map(str::to_owned).collect(), exception_words: Vec::new() })
        .collect();
    Sequence::parse(&ENGINE, &steps).unwrap()
}

/// A sequence made up for the tests.
pub fn sample() -> Sequence {
    sequence(
        "h:h o:ɒ t:t
         e:e n:n d:d
         m:m a:æ g:g
         c:k k:k r:r
         i:ɪ b:b l:l
         u:ʌ s:s f:f
         p:p j:dʒ
         w:w v:v
         ll:l ss:s ck:k ff:f
         y:j z:z x:k.s qu:k.w
         sh:ʃ ch:tʃ
         th:θ ng:ŋ
         ee:iː oo:uː
         ai:eɪ oa:əʊ
         ar:ɑː or:ɔː
         er:ə er:ɜː
         igh:aɪ ow:aʊ
         oi:ɔɪ oo:ʊ
         tt:t tch:tʃ
         a_e:eɪ i_e:aɪ
         o_e:əʊ u_e:j.uː u_e:uː
         y:i ea:iː
         ou:aʊ ay:eɪ
         le:ə.l ow:əʊ
         a:ə e:ə
         c:s g:dʒ ce:s ge:dʒ",
    )
}

pub fn plan(policy: Policy) -> Plan {
    Plan::new(&ENGINE, sample(), policy)
}

/// What the proposer makes under constraints that are sound.
pub fn propose(constraints: &Constraints) -> Proposal {
    Search::new(&ENGINE, constraints).unwrap().run(|_| true).unwrap()
}

/// The demonstration's sequence.
pub fn demo() -> Content {
    #[derive(serde::Deserialize)]
    struct File {
        draft: Draft,
    }
    let file: File = serde_json::from_str(include_str!("../../../api/src/demo/data/sequence.json")).unwrap();
    let mut last = 0;
    let mut fresh = || {
        last += 1;
        Uuid::from_u128(last)
    };
    settle(file.draft, &plumbline_core::sequence::Known::default(), &mut fresh).unwrap()
}
