//! The figures of the phonics engine, each beside a plain way to get the same answer.
//! `cargo bench -p plumbline-core --bench phonics`

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use divan::{Bencher, black_box};
use plumbline_core::phonics::Engine;
use plumbline_core::phonics::accent::Accent;
use plumbline_core::phonics::bank::{Audience, BankKind, Plan};
use plumbline_core::phonics::lesson::LessonRequest;
use plumbline_core::phonics::policy::Policy;
use plumbline_core::phonics::proposal::{Constraints, Search};
use plumbline_core::phonics::pseudo::PseudoRequest;
use plumbline_core::phonics::require::Requirements;
use plumbline_core::phonics::review::History;
use plumbline_core::phonics::sequence::Sequence;
use plumbline_core::phonics::unit::GpcId;
use plumbline_core::phonics::unlock::{StepTable, Unlocks};

fn main() {
    divan::main();
}

static ENGINE: LazyLock<Engine> = LazyLock::new(|| match Engine::load() {
    Ok(engine) => engine,
    Err(error) => panic!("{error}"),
});
static PLAN: LazyLock<Plan> = LazyLock::new(|| Plan::new(&ENGINE, long_sequence(), Policy::default()));

/// A proposed order, then every other teachable correspondence: some 180 units.
fn long_sequence() -> Sequence {
    let proposed = proposed();
    let mut ids: Vec<GpcId> = proposed.taught(u16::MAX).collect();
    let taught: BTreeSet<GpcId> = ids.iter().copied().collect();
    let rest = ENGINE.inventory().teachable().map(|(id, _)| id);
    ids.extend(rest.filter(|id| !taught.contains(id)));
    Sequence::one_a_step(&ids)
}

/// Two thousand running words, half of them different.
fn passage() -> String {
    let words = ENGINE.lexicon().iter().step_by(31).map(|w| w.shown());
    let mut text: Vec<&str> = words.take(1_000).collect();
    text.extend(text.clone());
    text.join(" ")
}

#[divan::bench]
fn load() -> Engine {
    black_box(Engine::load()).unwrap_or_else(|e| panic!("{e}"))
}

mod unlock_32_000_words {
    use super::*;

    #[divan::bench]
    fn table_and_sorted_array(bencher: Bencher<'_, '_>) {
        let sequence = &PLAN.sequence;
        bencher.bench(|| {
            let table = StepTable::new(&ENGINE, black_box(sequence), Policy::default());
            Unlocks::new(&ENGINE, &table, sequence.len())
        });
    }

    /// The plain way: ask the policy for each unit of each word.
    #[divan::bench(sample_count = 5)]
    fn naive(bencher: Bencher<'_, '_>) {
        let sequence = &PLAN.sequence;
        let requirements = Requirements::new(ENGINE.inventory(), Policy::default());
        let step = |id: &GpcId| sequence.position(*id).unwrap_or(u16::MAX);
        bencher.bench(|| {
            let words = ENGINE.lexicon().iter().map(|word| {
                let readings = word.readings().map(|r| {
                    let units = r.units.iter().map(|u| {
                        let all = requirements.alternatives(*u);
                        all.iter().filter_map(|a| a.iter().map(step).max()).min().unwrap_or(u16::MAX)
                    });
                    units.max().unwrap_or(u16::MAX)
                });
                readings.min().unwrap_or(u16::MAX)
            });
            words.collect::<Vec<u16>>()
        });
    }
}

mod bank_at_step_60 {
    use super::*;

    #[divan::bench]
    fn prefix(bencher: Bencher<'_, '_>) {
        LazyLock::force(&PLAN);
        bencher.with_inputs(|| black_box(60)).bench_values(|step| PLAN.unlocks.bank(black_box(step)).len());
    }

    /// The plain way: scan the lexicon with the table.
    #[divan::bench]
    fn naive(bencher: Bencher<'_, '_>) {
        LazyLock::force(&PLAN);
        bencher.bench(|| ENGINE.lexicon().iter().filter(|w| PLAN.reading.word(w) <= black_box(60)).count());
    }

    #[divan::bench]
    fn child_words_written_out(bencher: Bencher<'_, '_>) {
        LazyLock::force(&PLAN);
        bencher.bench(|| {
            let words = PLAN.bank(&ENGINE, 60, BankKind::Read, Audience::Child);
            words.filter_map(|w| PLAN.write(&ENGINE, &w, BankKind::Read)).count()
        });
    }
}

mod passage_of_2_000_words {
    use super::*;

    #[divan::bench]
    fn analyse(bencher: Bencher<'_, '_>) {
        LazyLock::force(&PLAN);
        let text = passage();
        bencher.bench(|| PLAN.analyse(&ENGINE, black_box(&text), 60));
    }

    /// The plain way: segment each running word anew.
    #[divan::bench]
    fn naive(bencher: Bencher<'_, '_>) {
        LazyLock::force(&PLAN);
        let text = passage();
        bencher.bench(|| {
            let words = black_box(&text).split(' ');
            let readable = words.filter(|w| {
                let found = ENGINE.segment(w, Accent::default());
                found.is_ok_and(|s| PLAN.reading.best(s.variants.iter().map(|v| v.units.as_slice())).0 <= 60)
            });
            readable.count()
        });
    }
}

#[divan::bench]
fn segment_500_words(bencher: Bencher<'_, '_>) {
    let words: Vec<&str> = ENGINE.lexicon().iter().step_by(63).take(500).map(|w| w.shown()).collect();
    bencher.bench(|| words.iter().filter(|w| ENGINE.segment(w, Accent::default()).is_ok()).count());
}

#[divan::bench(args = [15, 60, 120])]
fn pseudo_words_200(bencher: Bencher<'_, '_>, step: u16) {
    LazyLock::force(&PLAN);
    let _ = ENGINE.grammar();
    let request = PseudoRequest { count: 200, seed: 4, ..PseudoRequest::default() };
    bencher.bench(|| PLAN.pseudo_words(&ENGINE, black_box(step), &request));
}

#[divan::bench(args = [15, 60, 120])]
fn lesson(bencher: Bencher<'_, '_>, step: u16) {
    let taught = PLAN.sequence.taught(step - 1);
    let history = taught.zip(0..).map(|(gpc, last_day)| History {
        recent: false,
        gpc,
        last_day,
        reviews: last_day % 4,
        wrong: 0.1,
        missed: 0.0,
    });
    let request =
        LessonRequest { step, today: 130, seed: 8, history: history.collect(), ..LessonRequest::default() };
    let _ = ENGINE.grammar();
    bencher.bench(|| PLAN.lesson(&ENGINE, black_box(&request)));
}

fn proposed() -> Sequence {
    let constraints = Constraints::default();
    let search = Search::new(&ENGINE, &constraints);
    search.ok().and_then(|search| search.run(|_| true)).map(|made| made.sequence).unwrap_or_default()
}

#[divan::bench(sample_count = 5)]
fn proposal_of_90_steps() -> usize {
    black_box(proposed()).len()
}

/// The plain map from every spelling to its readings, to compare loading and size with.
#[divan::bench(sample_count = 5)]
fn load_naive() -> usize {
    let text = include_str!("../rules/lexicon/lexicon.tsv");
    let mut map: BTreeMap<String, Vec<Vec<String>>> = BTreeMap::new();
    for line in text.lines().filter(|l| !l.starts_with('#')) {
        let mut cells = line.split('\t');
        let word = cells.next().unwrap_or("").to_lowercase();
        let readings = cells.skip(2).map(|c| c.split([' ', '|']).map(str::to_owned).collect());
        map.insert(word, readings.collect());
    }
    map.len()
}
