//! `plumbline words propose`: a sequence under constraints, from the command line.

use std::io::{IsTerminal as _, Read as _, Write as _};

use plumbline_core::{
    phonics::{
        Engine,
        proposal::{Constraints, Progress, Proposal, Search},
    },
    rules::pack,
};

use super::{
    Failure,
    words::{Format, write},
};

/// The constraints: a JSON file, the flags over it.
#[derive(clap::Args)]
pub(super) struct Options {
    /// Constraints as JSON, as the API takes them; `-` for standard input.
    #[arg(long, value_name = "FILE")]
    constraints: Option<String>,
    /// How many steps, one idea each.
    #[arg(long)]
    steps: Option<usize>,
    /// Partial orders kept at each step: more is slower and a little better.
    #[arg(long)]
    beam: Option<usize>,
    /// Varies equally good choices.
    #[arg(long)]
    seed: Option<u64>,
    /// Correspondences taught first, such as `o:ɒ,g:g`.
    #[arg(long, value_delimiter = ',')]
    start: Option<Vec<String>>,
    /// Correspondences that must be among the steps.
    #[arg(long, value_delimiter = ',')]
    include: Option<Vec<String>>,
    /// Correspondences that must not.
    #[arg(long, value_delimiter = ',')]
    leave_out: Option<Vec<String>>,
    /// The step by which the statutory content of year 1 is taught.
    #[arg(long)]
    year1_by: Option<usize>,
    /// The step by which that of year 2 is taught.
    #[arg(long)]
    year2_by: Option<usize>,
    /// A table of steps, or a draft with its figures in JSON.
    #[arg(long, value_enum, default_value = "table")]
    format: Format,
    /// The rules that say how much one lesson of the draft holds.
    #[arg(long, default_value = "england")]
    rules: String,
}

pub(super) fn run(engine: &Engine, options: Options) -> Result<(), Failure> {
    let (format, rules) = (options.format, pack(&options.rules)?);
    let constraints = options.constraints()?;
    let search = Search::new(engine, &constraints).map_err(|faults| {
        let lines = faults.iter().map(|fault| format!("\n  {}: {}", fault.field, fault.message));
        format!("the constraints do not hold:{}", lines.collect::<String>())
    })?;
    let mut told = Told::default();
    let Some(proposal) = search.run(|progress| told.tell(progress)) else { return Ok(()) };
    told.end();
    match format {
        Format::Json => write(format, &proposal.proposed(engine, rules.lesson.new_items_max)?, Vec::new),
        Format::Table => table(engine, &proposal),
    }
}

impl Options {
    fn constraints(self) -> Result<Constraints, Failure> {
        let text = match self.constraints.as_deref() {
            None => "{}".to_owned(),
            Some("-") => {
                let mut text = String::new();
                std::io::stdin().read_to_string(&mut text)?;
                text
            }
            Some(file) => std::fs::read_to_string(file).map_err(|error| format!("{file}: {error}"))?,
        };
        let mut json = serde_json::Deserializer::from_str(&text);
        let mut out: Constraints = serde_path_to_error::deserialize(&mut json)?;
        json.end()?;
        out.steps = self.steps.unwrap_or(out.steps);
        out.beam = self.beam.unwrap_or(out.beam);
        out.seed = self.seed.unwrap_or(out.seed);
        out.start = self.start.unwrap_or(out.start);
        out.include = self.include.unwrap_or(out.include);
        out.leave_out = self.leave_out.unwrap_or(out.leave_out);
        out.year1_by = self.year1_by.or(out.year1_by);
        out.year2_by = self.year2_by.or(out.year2_by);
        Ok(out)
    }
}

/// Longer lists are counted.
const LISTED: usize = 12;

/// A line a step; the figures go beside it.
fn table(engine: &Engine, proposal: &Proposal) -> Result<(), Failure> {
    let steps = proposal.sequence.to_text(engine);
    for ((n, step), words) in (1..).zip(&steps).zip(&proposal.figures.words) {
        write(Format::Table, step, || {
            let n = format!("{n:>3}  {words:>5} words");
            vec![n, step.gpcs.join(" "), step.exception_words.join(" ")]
        })?;
    }
    let figures = &proposal.figures;
    eprintln!("{:.1} % of the words children know can be read at the end;", figures.child_words_percent);
    eprintln!("{:.1} % by weight as a mean over the steps.", figures.mean_readable_percent);
    eprintln!("{} exception words are placed.", figures.exception_words);
    for (what, list) in [
        ("Exception words left", &figures.exception_words_left),
        ("Statutory content never taught", &figures.never_taught),
    ] {
        match list.len() {
            0 => {}
            1..=LISTED => eprintln!("{what}: {}.", list.join(", ")),
            more => eprintln!("{what}: {more} (JSON lists them)."),
        }
    }
    for fault in &figures.unmet {
        eprintln!("Not kept: {}: {}.", fault.field, fault.message);
    }
    Ok(())
}

/// How far it is, on standard error: a line that changes, or one line in ten per cent.
#[derive(Default)]
struct Told {
    tenths: Option<u8>,
}

impl Told {
    fn tell(&mut self, progress: Progress) -> bool {
        let mut err = std::io::stderr();
        let line = format!("step {} of {}", progress.step, progress.steps);
        let tenths = (0..=10).rev().find(|tenth| progress.done * 10.0 >= f64::from(*tenth));
        // Nobody reading is no reason to stop.
        if err.is_terminal() {
            let _ = write!(err, "\r{line} ");
        } else if tenths != self.tenths {
            let _ = writeln!(err, "{line}");
        }
        self.tenths = tenths;
        true
    }

    fn end(&self) {
        if std::io::stderr().is_terminal() {
            eprintln!();
        }
    }
}
