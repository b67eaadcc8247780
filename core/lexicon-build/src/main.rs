//! `plumbline-lexicon-build`: see `core/rules/lexicon/README.md`.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use plumbline_core::phonics::align::Costs;
use plumbline_core::phonics::inventory::Inventory;
use plumbline_lexicon_build::bath::Bath;
use plumbline_lexicon_build::convert::Converter;
use plumbline_lexicon_build::rows::{self, Built, Sources};
use plumbline_lexicon_build::screens::{self, Plain, Sounds};
use plumbline_lexicon_build::sources::{self, Lines};
use plumbline_lexicon_build::{Error, em};

const USAGE: &str = "usage: plumbline-lexicon-build train|build|check|screens --cmu FILE --scowl FOLDER [--rules FOLDER] [--blocked FILE --cuss FILE --profanity FILE]";
/// SCOWL's size up to which words enter the lexicon.
const LARGEST_BAND: u8 = 35;

/// SCOWL's size up to which a spelling counts as a real word.
const LARGEST_REAL: u8 = 80;

/// SCOWL's size up to which a word that no dictionary pronounces is given a sound by rule.
const LARGEST_GUESSED: u8 = 70;

struct Options {
    command: String,
    cmu: PathBuf,
    scowl: PathBuf,
    rules: PathBuf,
    lists: Option<Lists>,
}

/// What the offensive screens are built from.
struct Lists {
    blocked: PathBuf,
    cuss: PathBuf,
    profanity: PathBuf,
}

fn main() -> ExitCode {
    match options().and_then(|o| run(&o)) {
        Ok(said) => {
            println!("{said}");
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

fn options() -> Result<Options, Error> {
    let usage = || Error::Usage(USAGE.to_owned());
    let mut args = std::env::args().skip(1);
    let command = args.next().ok_or_else(usage)?;
    let (mut cmu, mut scowl, mut rules) = (None, None, None);
    let (mut blocked, mut cuss, mut profanity) = (None, None, None);
    while let Some(flag) = args.next() {
        let slot = match flag.as_str() {
            "--cmu" => &mut cmu,
            "--scowl" => &mut scowl,
            "--rules" => &mut rules,
            "--blocked" => &mut blocked,
            "--cuss" => &mut cuss,
            "--profanity" => &mut profanity,
            _ => return Err(usage()),
        };
        *slot = Some(PathBuf::from(args.next().ok_or_else(usage)?));
    }
    let lists = match (blocked, cuss, profanity) {
        (None, None, None) => None,
        (Some(blocked), Some(cuss), Some(profanity)) => Some(Lists { blocked, cuss, profanity }),
        _ => return Err(usage()),
    };
    Ok(Options {
        command,
        cmu: cmu.ok_or_else(usage)?,
        scowl: scowl.ok_or_else(usage)?,
        lists,
        rules: rules.unwrap_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../rules/lexicon")),
    })
}

fn run(options: &Options) -> Result<String, Error> {
    let file = |name: &str| options.rules.join(name);
    let inventory = Inventory::load()?;
    let cmu = sources::parse_cmu(&sources::read(&options.cmu)?);
    let bands = sources::read_scowl(&options.scowl, LARGEST_BAND)?;
    let bath = Bath::parse(&sources::read(&file("bath.txt"))?);
    if options.command == "train" {
        let costs = em::train(&inventory, &cmu, &bands, &bath);
        return put(&file("costs.tsv"), &em::write(&inventory, &costs));
    }
    let costs = Costs::load(&inventory)?;
    let overrides = sources::parse_overrides(&sources::read(&file("overrides.txt"))?);
    let child = sources::parse_child_words(&sources::read(&file("child_words.txt"))?);
    let known = sources::read(&file("unaligned.txt"))?;
    let known: BTreeSet<&str> = Lines::of(&known).flat_map(str::split_whitespace).collect();
    let built = rows::build(&Sources {
        inventory: &inventory,
        costs: &costs,
        cmu: &cmu,
        bands: &bands,
        overrides: &overrides,
        child: &child,
        bath: &bath,
    })?;
    let new: Vec<String> = built.unaligned.iter().filter(|w| !known.contains(w.as_str())).cloned().collect();
    if !new.is_empty() {
        return Err(Error::Unaligned(new));
    }
    if !built.missing.is_empty() {
        return Err(Error::Missing(built.missing.into_iter().collect()));
    }
    if options.command == "screens" {
        let converter = Converter::new(&inventory, &costs, &bath);
        let sounds = Sounds { inventory: &inventory, costs: &costs, converter: &converter, cmu: &cmu };
        return put_screens(options, &sounds, &built);
    }
    let text = rows::write(&inventory, &built);
    match options.command.as_str() {
        "build" => put(&file("lexicon.tsv"), &text),
        "check" if sources::read(&file("lexicon.tsv"))? == text => {
            Ok(format!("{} words, as committed", built.rows.len()))
        }
        "check" => Err(Error::Usage("lexicon.tsv is not what these sources give".to_owned())),
        _ => Err(Error::Usage(USAGE.to_owned())),
    }
}

/// Real words and sounds are always rebuilt; the offensive lists only when one is given.
fn put_screens(options: &Options, sounds: &Sounds<'_>, built: &Built) -> Result<String, Error> {
    let file = |name: &str| options.rules.join("../screens").join(name);
    let more = sources::read(&file("more_words.txt"))?;
    let more = Lines::of(&more).flat_map(str::split_whitespace).map(str::to_lowercase).collect();
    let listed = sources::read_scowl(&options.scowl, LARGEST_GUESSED)?;
    let words = screens::real_words(&options.scowl, LARGEST_REAL, sounds.cmu, &more)?;
    let real = screens::real_sounds(sounds, built, &listed, &more);
    let mut said = vec![
        screens::write(&file("real_words.bin"), &words)?,
        screens::write(&file("real_sounds.bin"), &real)?,
    ];
    if let Some(lists) = &options.lists {
        let plain = Plain::parse(&sources::read(&lists.blocked)?);
        let child = |w: &str| built.rows.get(w).is_some_and(|r| r.child > 0);
        let mut cuss = screens::parse_cuss(&sources::read(&lists.cuss)?);
        let mut profanity = screens::parse_profanity(&sources::read(&lists.profanity)?);
        cuss.retain(|w| !child(w));
        profanity.retain(|w| !child(w));
        let both = cuss.intersection(&profanity).map(String::as_str);
        for (name, hashes) in [
            ("offensive_sounds.bin", &plain.offensive_sounds(sounds, both) | &plain.offensive_parts(sounds)),
            ("blocked_strings.bin", plain.blocked_strings()),
            ("unsuitable.bin", plain.unsuitable(child)),
            ("cuss.bin", screens::listed(&cuss)),
            ("profanity.bin", screens::listed(&profanity)),
        ] {
            said.push(screens::write(&file(name), &hashes)?);
        }
    }
    Ok(said.join("\n"))
}

fn put(path: &Path, text: &str) -> Result<String, Error> {
    fs::write(path, text).map_err(|e| Error::Write(path.display().to_string(), e.to_string()))?;
    Ok(format!("{}: {} lines", path.display(), text.lines().count()))
}
