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
        Command::Segment { format } => lines().try_for_each(|line| segment(&engine, &line?, format)),
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
            if made.short {
                eprintln!("Only {} could be made of what is taught.", made.words.len());
            }
            Ok(())
        }
        Command::Propose(options) => propose::run(&engine, options),
    }
}

fn segment(engine: &Engine, line: &str, format: Format) -> Result<(), Failure> {
    if line.trim().is_empty() {
        return Ok(());
    }
    match engine.segment(line, Accent::default()) {
        Ok(found) => write(format, &found, || {
            let best = &found.variants[0];
            let guess = if found.guess { "guess" } else { "" };
            vec![found.word.clone(), best.graphemes.join("·"), best.phonemes.join(" "), guess.into()]
        }),
        Err(error) => {
            eprintln!("{error}");
            Ok(())
        }
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
