//! Which grapheme was read as what: sounds heard laid along those meant, and counted.

use std::collections::{BTreeMap, BTreeSet};

use super::{
    Heard, HeardIs, Outcome, SpeechNote,
    expected::{Asked, Expected},
    heard_is,
};
use crate::{id::PupilId, phonics::near::distance, phonics::phoneme::Phoneme};

/// What a sound costs that was left out or added. Two of them are dearer than any sound for another of its sort,
/// and cheaper than a vowel for a consonant: near sounds are laid on each other, unlike ones never.
const GAP: f32 = 0.6;

/// A grapheme and how it was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReadAs {
    /// The grapheme.
    pub grapheme: String,
    /// The sounds meant.
    pub meant: Vec<Phoneme>,
    /// The sounds heard; none where it was left out.
    pub heard: Vec<Phoneme>,
    /// Whether that is an error, given how the pupil usually says sounds.
    pub misread: bool,
}

/// A reading laid along what was heard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Laid {
    /// The graphemes in order, without silent ones.
    pub graphemes: Vec<ReadAs>,
    /// Sounds heard that belong to no grapheme.
    pub added: Vec<Phoneme>,
}

/// Lays what was heard along the reading that comes nearest to it, the likeliest of those as near. None where
/// nothing is expected, or where what was heard is one of the readings to accept: no error.
pub fn lay(expected: &Expected, note: &SpeechNote, heard: &Heard) -> Option<Laid> {
    if heard_is(&expected.accept, note, heard) != HeardIs::Other {
        return None;
    }
    let laid = expected.readings.iter().map(|reading| along(reading, note, heard.sounds()));
    laid.reduce(|best, one| if one.0 < best.0 - 1e-4 { one } else { best }).map(|(_, laid)| laid)
}

#[derive(Clone, Copy)]
enum Step {
    /// A sound for a sound: the same, or one for another.
    Both,
    LeftOut,
    Added,
}

/// A step with the sound meant, by the place of its grapheme, and the sound heard, as far as it has them.
type Taken<'a> = (Step, Option<&'a (usize, Phoneme)>, Option<&'a Phoneme>);

/// Lays sounds along one reading, at the least cost.
fn along(reading: &[Asked], note: &SpeechNote, heard: &[Phoneme]) -> (f32, Laid) {
    let meant: Vec<(usize, Phoneme)> = reading
        .iter()
        .enumerate()
        .flat_map(|(n, asked)| asked.sounds.iter().map(move |sound| (n, *sound)))
        .collect();
    let for_other = |sound, said| if note.says(sound, Some(said)) { 0.0 } else { distance(sound, said) };
    let left_out = |sound| if note.says(sound, None) { 0.0 } else { GAP };
    let width = heard.len() + 1;
    let mut table = vec![(f32::INFINITY, Step::Both); (meant.len() + 1) * width];
    table[0].0 = 0.0;
    for i in 0..=meant.len() {
        for j in 0..=heard.len() {
            let ways = [
                (i > 0 && j > 0).then(|| {
                    (table[(i - 1) * width + j - 1].0 + for_other(meant[i - 1].1, heard[j - 1]), Step::Both)
                }),
                (i > 0).then(|| (table[(i - 1) * width + j].0 + left_out(meant[i - 1].1), Step::LeftOut)),
                (j > 0).then(|| (table[i * width + j - 1].0 + GAP, Step::Added)),
            ];
            for way in ways.into_iter().flatten() {
                if way.0 < table[i * width + j].0 - 1e-4 {
                    table[i * width + j] = way;
                }
            }
        }
    }
    let mut steps: Vec<Taken<'_>> = Vec::new();
    let (mut i, mut j) = (meant.len(), heard.len());
    while (i, j) != (0, 0) {
        let step = table[i * width + j].1;
        match step {
            Step::Both => (i, j) = (i - 1, j - 1),
            Step::LeftOut => i -= 1,
            Step::Added => j -= 1,
        }
        steps.push((step, meant.get(i), heard.get(j)));
    }
    steps.reverse();
    (table[meant.len() * width + heard.len()].0, read(reading, note, &steps))
}

/// Reads off the steps how each grapheme was read. Sounds added beside a grapheme that was misread are part of
/// how it was: sh read as s and h.
fn read(reading: &[Asked], note: &SpeechNote, steps: &[Taken<'_>]) -> Laid {
    let blank = |asked: &Asked| ReadAs {
        grapheme: asked.grapheme.clone(),
        meant: asked.sounds.clone(),
        heard: Vec::new(),
        misread: false,
    };
    let mut graphemes: Vec<ReadAs> = reading.iter().map(blank).collect();
    // First which graphemes were misread, then where the added sounds belong.
    for (step, meant, said) in steps {
        let Some((of, sound)) = meant.filter(|_| !matches!(step, Step::Added)) else { continue };
        let said = said.filter(|_| matches!(step, Step::Both));
        graphemes[*of].misread |= !note.says(*sound, said.copied());
    }
    let mut added = Vec::new();
    let mut last: Option<usize> = None;
    for (n, (step, meant, said)) in steps.iter().enumerate() {
        match (step, meant, said) {
            (Step::Both, Some((of, _)), Some(said)) => {
                graphemes[*of].heard.push(**said);
                last = Some(*of);
            }
            (Step::LeftOut, Some((of, _)), _) => last = Some(*of),
            (Step::Added, _, Some(said)) => {
                let next = steps[n..].iter().find(|(step, ..)| !matches!(step, Step::Added));
                let next = next.and_then(|(_, meant, _)| meant.map(|(of, _)| *of));
                match last.into_iter().chain(next).find(|of| graphemes[*of].misread) {
                    Some(of) => graphemes[of].heard.push(**said),
                    None => added.push(**said),
                }
            }
            _ => {}
        }
    }
    graphemes.retain(|one| !one.meant.is_empty());
    Laid { graphemes, added }
}

/// One answer that counts, with what it was asked for.
#[derive(Clone, Copy, Debug)]
pub struct Answered<'a> {
    /// The pupil.
    pub pupil: PupilId,
    /// What was expected.
    pub expected: &'a Expected,
    /// How the pupil usually says sounds.
    pub note: &'a SpeechNote,
    /// What came of it.
    pub outcome: Outcome,
    /// What was heard instead.
    pub heard: Option<&'a Heard>,
    /// Whether one of several was chosen. Luck has a part in it: it is counted apart, and read as nothing.
    pub chosen: bool,
}

/// How often a grapheme was read as something else.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Confused {
    /// The sounds heard; none where it was left out.
    pub heard: Vec<Phoneme>,
    /// Answers.
    pub answers: usize,
    /// Pupils who gave one.
    pub pupils: usize,
}

/// A grapheme that was misread.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Confusion {
    /// The grapheme.
    pub grapheme: String,
    /// The sounds meant.
    pub meant: Vec<Phoneme>,
    /// Answers in which it was asked for, aloud or in any other way but choosing.
    pub asked: usize,
    /// Pupils who gave one.
    pub pupils: usize,
    /// Answers that chose one of several.
    pub chosen: usize,
    /// What it was read as, the most often first.
    pub read_as: Vec<Confused>,
}

/// What was confused.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Confusions {
    /// Answers looked at, without those that chose one of several.
    pub answers: usize,
    /// Pupils who gave one.
    pub pupils: usize,
    /// Answers that chose one of several.
    pub chosen: usize,
    /// Wrong answers of which nothing is recorded as heard.
    pub unheard: usize,
    /// Wrong answers that were one of the readings to accept, or one as the pupil usually says it.
    pub acceptable: usize,
    /// Graphemes misread, the most often first.
    pub lines: Vec<Confusion>,
    /// Lines, and readings of lines, left out because too few pupils stand behind them.
    pub withheld: usize,
}

#[derive(Default)]
struct Count {
    asked: usize,
    pupils: BTreeSet<PupilId>,
    chosen: usize,
    read_as: BTreeMap<Vec<Phoneme>, (usize, BTreeSet<PupilId>)>,
}

/// Counts confusions. `smallest` is the fewest pupils a figure may be about, for readers who may not see each
/// pupil's results.
pub fn confusions<'a>(
    answers: impl IntoIterator<Item = Answered<'a>>,
    smallest: Option<usize>,
) -> Confusions {
    let mut out = Confusions::default();
    let mut pupils = BTreeSet::new();
    let mut counts: BTreeMap<(&str, &[Phoneme]), Count> = BTreeMap::new();
    for one in answers.into_iter().filter(|one| one.outcome != Outcome::NotOffered) {
        let laid = match (one.outcome, one.heard) {
            (Outcome::Wrong, Some(heard)) if !one.chosen => {
                let laid = lay(one.expected, one.note, heard);
                out.acceptable +=
                    usize::from(heard_is(&one.expected.accept, one.note, heard) != HeardIs::Other);
                laid
            }
            _ => None,
        };
        out.unheard += usize::from(one.outcome == Outcome::Wrong && one.heard.is_none() && !one.chosen);
        out.chosen += usize::from(one.chosen);
        out.answers += usize::from(!one.chosen);
        if !one.chosen {
            pupils.insert(one.pupil);
        }
        // The reading that came nearest; of other answers the likeliest.
        let of_laid = |reading: &&Vec<Asked>| {
            let sounded = reading.iter().filter(|asked| !asked.sounds.is_empty());
            laid.as_ref().is_none_or(|laid| {
                sounded
                    .map(|asked| (&asked.grapheme, &asked.sounds))
                    .eq(laid.graphemes.iter().map(|read| (&read.grapheme, &read.meant)))
            })
        };
        let Some(reading) = one.expected.readings.iter().find(of_laid) else { continue };
        let mut seen = BTreeSet::new();
        for asked in reading.iter().filter(|asked| !asked.sounds.is_empty()) {
            let key = (asked.grapheme.as_str(), asked.sounds.as_slice());
            if seen.insert(key) {
                let count = counts.entry(key).or_default();
                count.chosen += usize::from(one.chosen);
                if !one.chosen {
                    count.asked += 1;
                    count.pupils.insert(one.pupil);
                }
            }
        }
        let misread = laid.iter().flat_map(|laid| &laid.graphemes).filter(|read| read.misread);
        let misread: BTreeSet<_> = misread.map(|read| (&read.grapheme, &read.meant, &read.heard)).collect();
        for (grapheme, meant, heard) in misread {
            let found = counts.iter_mut().find(|((g, m), _)| g == grapheme && m == meant);
            if let Some((_, count)) = found {
                let (answers, pupils) = count.read_as.entry(heard.clone()).or_default();
                *answers += 1;
                pupils.insert(one.pupil);
            }
        }
    }
    out.pupils = pupils.len();
    (out.lines, out.withheld) = lines(counts, smallest);
    out
}

/// The graphemes misread, the most often first, and how many figures are left out because fewer pupils than
/// `smallest` stand behind them.
fn lines(counts: BTreeMap<(&str, &[Phoneme]), Count>, smallest: Option<usize>) -> (Vec<Confusion>, usize) {
    let enough = |one: &Confused| smallest.is_none_or(|least| one.pupils >= least);
    let (mut lines, mut withheld) = (Vec::new(), 0);
    for ((grapheme, meant), count) in counts {
        let all = count.read_as.len();
        let confused = |(heard, (answers, pupils)): (_, (_, BTreeSet<_>))| Confused {
            heard,
            answers,
            pupils: pupils.len(),
        };
        let mut read_as: Vec<Confused> = count.read_as.into_iter().map(confused).filter(enough).collect();
        withheld += all - read_as.len();
        if read_as.is_empty() {
            continue;
        }
        read_as.sort_by_key(|one| std::cmp::Reverse(one.answers));
        lines.push(Confusion {
            grapheme: grapheme.to_owned(),
            meant: meant.to_vec(),
            asked: count.asked,
            pupils: count.pupils.len(),
            chosen: count.chosen,
            read_as,
        });
    }
    let misread = |line: &Confusion| line.read_as.iter().map(|one| one.answers).sum::<usize>();
    lines.sort_by_key(|line| std::cmp::Reverse(misread(line)));
    (lines, withheld)
}

#[cfg(test)]
mod tests;
