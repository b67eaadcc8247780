//! `plumbline migrate`

use super::Failure;
use crate::{config::Config, store::Store};

pub(super) fn run(config: &Config) -> Result<(), Failure> {
    std::fs::create_dir_all(&config.data_dir)?;
    let applied = Store::migrate(&config.place()?)?;
    if applied.is_empty() {
        println!("The store is up to date.");
    }
    for name in applied {
        println!("Applied {name}.");
    }
    Ok(())
}
