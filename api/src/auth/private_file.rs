//! Files with secrets: made so that only the server's own user reads them, and not used where others could.

use std::{fs, io, path::Path};

/// Whether others on the machine can read it.
///
/// # Errors
/// If it is not there, or cannot be looked at.
pub fn is_exposed(path: &Path) -> io::Result<bool> {
    let about = fs::metadata(path)?;
    #[cfg(unix)]
    return Ok(std::os::unix::fs::PermissionsExt::mode(&about.permissions()) & 0o077 != 0);
    #[cfg(not(unix))]
    {
        let _ = about;
        Ok(false)
    }
}

/// Makes it, with this in it, on the disk when this returns.
///
/// # Errors
/// If one is there already, or it cannot be written.
pub fn make(path: &Path, text: &str) -> io::Result<()> {
    use io::Write as _;
    let mut options = fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(path)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()
}

/// Puts it in the place of what is there: a reader finds the old or the new one, whole.
///
/// # Errors
/// If it cannot be written; what was there stays.
pub fn replace(path: &Path, text: &str) -> io::Result<()> {
    let beside = path.with_extension("new");
    if beside.exists() {
        fs::remove_file(&beside)?;
    }
    make(&beside, text)?;
    fs::rename(&beside, path)
}
