//! `plumbline words`: the engine from the command line, without a server or a store.

use std::io::{BufRead as _, Write as _};

use clap::{Subcommand, ValueEnum};
use plumbline_core::phonics::{
    Engine,
    accent::Accent,
    bank::{Audience, BankKind, Plan},
    policy::Policy,
    pseudo::PseudoRequest,
    sequence::{Sequence, StepText},
};

use super::{Failure, propose};

/// How answers are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// For people: columns.
    Table,
    /// One JSON value a line.
    Json,
}

#[derive(Subcommand)]
pub(super) enum Command {
    /// Segment words read from standard input, one a line.
    Segment {
        /// Table or JSON.
        #[arg(long, value_enum, default_value = "table")]
        format: Format,
    },
    /// Words that can be read with what is taught: correspondences such as `a_e:eɪ` from
    /// standard input, one a line.
    Bank {
        /// At most how many words.
        #[arg(long, default_value_t = 200)]
        limit: usize,
        /// Table or JSON.
        #[arg(long, value_enum, default_value = "table")]
        format: Format,
    },
    /// Pseudo-words of what is taught: correspondences from standard input, one a line.
    Pseudo {
        /// How many.
        #[arg(long, default_value_t = 20)]
        count: usize,
        /// The same seed makes the same words.
        #[arg(long, default_value_t = 1)]
        seed: u64,
        /// Table or JSON.
        #[arg(long, value_enum, default_value = "table")]
        format: Format,
    },
    /// Propose a sequence under constraints; progress goes to standard error.
    Propose(propose::Options),
}

pub(super) fn run(command: Command) -> Result<(), Failure> {
    let engine = Engine::load()?;
    let lines = || std::io::stdin().lock().lines();
    match command {
        Command::Segment { format } => segment_lines(&engine, format),
        Command::Bank { limit, format } => {
            let plan = taught(&engine, lines())?;
            for word in plan.bank(&engine, 1, BankKind::Read, Audience::Child).take(limit) {
                if let Some(word) = plan.write(&engine, &word, BankKind::Read) {
                    write(format, &word, || vec![word.word.clone(), word.reading.graphemes.join("·")])?;
                }
            }
            Ok(())
        }
        Command::Pseudo { count, seed, format } => {
            let plan = taught(&engine, lines())?;
            let made =
                plan.pseudo_words(&engine, 1, &PseudoRequest { count, seed, ..PseudoRequest::default() });
            for word in &made.words {
                write(format, word, || vec![word.word.clone(), word.reading.graphemes.join("·")])?;
            }
            match made.short {
                true => Err(format!("only {} could be made of what is taught", made.words.len()).into()),
                false => Ok(()),
            }
        }
        Command::Propose(options) => propose::run(&engine, options),
    }
}

/// A line that is no word, answered in its place.
#[derive(serde::Serialize)]
struct NoWord {
    /// Counted from 1.
    line: usize,
    /// As read; what is not UTF-8 replaced.
    word: String,
    problem: String,
}

/// Segments every line that is not blank; one that is no word is answered so and stops nothing.
fn segment_lines(engine: &Engine, format: Format) -> Result<(), Failure> {
    let mut refused = 0;
    for (n, line) in std::io::stdin().lock().split(b'\n').enumerate() {
        let line = line?;
        let text = String::from_utf8_lossy(&line);
        let word = text.trim();
        if word.is_empty() {
            continue;
        }
        let found = match std::str::from_utf8(&line) {
            Ok(_) => engine.segment(word, Accent::default()).map_err(|error| error.to_string()),
            Err(_) => Err("the line is not UTF-8".to_owned()),
        };
        match found {
            Ok(found) => write(format, &found, || {
                let best = &found.variants[0];
                let guess = if found.guess { "guess" } else { "" };
                vec![found.word.clone(), best.graphemes.join("·"), best.phonemes.join(" "), guess.into()]
            })?,
            Err(problem) => {
                refused += 1;
                let none = NoWord { line: n + 1, word: word.to_owned(), problem };
                write(format, &none, || {
                    vec![none.word.clone(), format!("line {}: {}", none.line, none.problem)]
                })?;
            }
        }
    }
    match refused {
        0 => Ok(()),
        1 => Err("1 line was no word".into()),
        n => Err(format!("{n} lines were no words").into()),
    }
}

pub(super) fn write(
    format: Format,
    value: &impl serde::Serialize,
    columns: impl Fn() -> Vec<String>,
) -> Result<(), Failure> {
    let line = match format {
        Format::Json => serde_json::to_string(value)?,
        Format::Table => {
            columns().iter().map(|cell| format!("{cell:<19} ")).collect::<String>().trim_end().to_owned()
        }
    };
    // A reader such as `head` may close the pipe: that is no failure.
    match writeln!(std::io::stdout(), "{line}") {
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => std::process::exit(0),
        done => Ok(done?),
    }
}

fn taught(engine: &Engine, lines: impl Iterator<Item = std::io::Result<String>>) -> Result<Plan, Failure> {
    let mut step = StepText::default();
    for line in lines {
        let line = line?;
        if !line.trim().is_empty() {
            step.gpcs.push(line.trim().to_owned());
        }
    }
    Ok(Plan::new(engine, Sequence::parse(engine, &[step])?, Policy::default()))
}
