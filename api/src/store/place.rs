//! Where a school's data is.

/// Where the data is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// A file.
    Sqlite(String),
    /// A server, by its whole URL.
    Postgres(String),
}

impl Place {
    /// Reads a database URL. The scheme decides, and nothing is guessed: a mistyped
    /// PostgreSQL URL never becomes a new SQLite file.
    ///
    /// # Errors
    /// Says which schemes there are.
    pub fn parse(url: &str) -> Result<Self, String> {
        match url.split_once("://") {
            Some(("sqlite", "")) => {
                Err("database_url names no file: write sqlite:///path/to/plumbline.db".into())
            }
            Some(("sqlite", path)) => Ok(Self::Sqlite(path.to_owned())),
            Some(("postgres" | "postgresql", _)) => Ok(Self::Postgres(url.to_owned())),
            _ => Err("database_url must start with sqlite:// or postgres://".into()),
        }
    }
}
