//! `plumbline migrate`

use super::Failure;
use crate::{config::Config, store::Store};

pub(super) fn run(config: &Config) -> Result<(), Failure> {
    private_folder(&config.data_dir)?;
    let applied = Store::migrate(&config.place()?)?;
    if applied.is_empty() {
        println!("The store is up to date.");
    }
    for name in applied {
        println!("Applied {name}.");
    }
    Ok(())
}

/// Makes the data folder for this user alone: it holds children's data and signing keys. One
/// that is there already is left as it is.
pub(crate) fn private_folder(path: &std::path::Path) -> std::io::Result<()> {
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(path)
}
