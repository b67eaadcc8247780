//! Configuration: a TOML file, then the environment. A key nobody knows is refused, so a
//! misspelt one is never silently the default.

use std::{
    collections::BTreeMap,
    path::{Path, PathBuf},
};

use serde::Deserialize;

use crate::store::Place;

/// The keys, each with its default. `deploy/plumbline.example.toml` documents them.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Config {
    /// `sqlite://FILE` or `postgres://...`; a file in the data folder unless told.
    pub database_url: Option<String>,
    /// Folder of the embedded store and the signing keys.
    pub data_dir: PathBuf,
    /// Address and port to serve on.
    pub listen: String,
    /// Where browsers reach the server; used in links.
    pub public_url: String,
    /// Worker threads for requests.
    pub workers: usize,
    /// Database connections for reading.
    pub readers: u32,
    /// What to log: `error`, `warn`, `info`, `debug`, or a filter per module.
    pub log: String,
    /// `text` or `json`.
    pub log_format: LogFormat,
    /// Rule pack of new schools.
    pub rule_pack: String,
    /// How long an access token lasts.
    pub access_token_minutes: u32,
    /// How long a sign-in lasts.
    pub session_days: u32,
    /// How long an invitation can be accepted.
    pub invitation_days: u32,
    /// Sign-ins that may wait for hashing before others are told to come back.
    pub hash_queue: usize,
    /// Largest body taken.
    pub body_limit_bytes: usize,
}

/// How the log is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum LogFormat {
    /// For people.
    Text,
    /// One JSON object a line.
    Json,
}

impl Default for Config {
    fn default() -> Self {
        Self {
            database_url: None,
            data_dir: "./data".into(),
            listen: "127.0.0.1:8080".into(),
            public_url: "http://127.0.0.1:8080".into(),
            workers: 2,
            readers: 2,
            log: "info".into(),
            log_format: LogFormat::Text,
            rule_pack: "england".into(),
            access_token_minutes: 10,
            session_days: 30,
            invitation_days: 7,
            hash_queue: 64,
            body_limit_bytes: 1_048_576,
        }
    }
}

/// Prefix of environment variables.
const PREFIX: &str = "PLUMBLINE_";
/// Variables with the prefix that are not keys: the file's place, what `plumbline import` signs in by,
/// and the test suite's own.
const NOT_KEYS: &[&str] = &["CONFIG", "SERVER", "EMAIL", "PASSWORD", "BIN", "TEST_STORE", "TEST_PG", "LONG"];

/// Why there is no configuration.
#[derive(Debug, thiserror::Error)]
#[error("configuration: {0}")]
pub struct ConfigError(String);

impl Config {
    /// Reads a file, if one is given, then the environment over it.
    ///
    /// # Errors
    /// Names the key or the file.
    pub fn load(
        file: Option<&Path>,
        environment: impl Iterator<Item = (String, String)>,
    ) -> Result<Self, ConfigError> {
        let variables: BTreeMap<String, String> = environment
            .filter_map(|(name, value)| {
                let key = name.strip_prefix(PREFIX)?;
                (!NOT_KEYS.contains(&key)).then(|| (key.to_lowercase(), value))
            })
            .collect();
        let mut builder = config::Config::builder();
        if let Some(file) = file {
            builder = builder.add_source(config::File::from(file).format(config::FileFormat::Toml));
        }
        for (key, value) in variables {
            builder = builder.set_override(&key, value).map_err(|error| ConfigError(error.to_string()))?;
        }
        let read: Self = builder
            .build()
            .and_then(config::Config::try_deserialize)
            .map_err(|error| ConfigError(error.to_string()))?;
        read.check()?;
        Ok(read)
    }

    fn check(&self) -> Result<(), ConfigError> {
        let wrong = |key: &str, what: &str| Err(ConfigError(format!("{key} {what}")));
        if let Err(error) = self.place() {
            return Err(ConfigError(error));
        }
        if self.listen.parse::<std::net::SocketAddr>().is_err() {
            return wrong("listen", "must be an address and port such as 127.0.0.1:8080");
        }
        if !self.public_url.starts_with("http://") && !self.public_url.starts_with("https://") {
            return wrong("public_url", "must start with http:// or https://");
        }
        if !plumbline_core::rules::ids().any(|id| id == self.rule_pack) {
            let known: Vec<_> = plumbline_core::rules::ids().collect();
            return wrong("rule_pack", &format!("must be one of: {}", known.join(", ")));
        }
        if self.workers == 0 || self.readers == 0 {
            return wrong("workers and readers", "must be at least 1");
        }
        if !(1..=60).contains(&self.access_token_minutes) {
            return wrong("access_token_minutes", "must be 1 to 60");
        }
        if self.session_days == 0 || self.invitation_days == 0 {
            return wrong("session_days and invitation_days", "must be at least 1");
        }
        Ok(())
    }

    /// Where the data is.
    ///
    /// # Errors
    /// For a URL of neither store.
    pub fn place(&self) -> Result<Place, String> {
        match &self.database_url {
            Some(url) => Place::parse(url),
            None => Ok(Place::Sqlite(self.data_dir.join("plumbline.db").display().to_string())),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn load(pairs: &[(&str, &str)]) -> Result<Config, String> {
        let pairs = pairs.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned()));
        Config::load(None, pairs).map_err(|error| error.to_string())
    }

    #[test]
    fn the_environment_overrides_and_nothing_else_with_the_prefix_passes() {
        let config =
            load(&[("PLUMBLINE_LISTEN", "0.0.0.0:9000"), ("PLUMBLINE_READERS", "4"), ("HOME", "/x")])
                .unwrap();
        assert_eq!((config.listen.as_str(), config.readers), ("0.0.0.0:9000", 4));
        assert!(load(&[("PLUMBLINE_LISTN", "x")]).unwrap_err().contains("listn"));
        assert!(load(&[("PLUMBLINE_TEST_STORE", "sqlite"), ("PLUMBLINE_CONFIG", "x")]).is_ok());
    }

    #[test]
    fn wrong_values_are_named() {
        for (key, value, said) in [
            ("PLUMBLINE_LISTEN", "here", "listen"),
            ("PLUMBLINE_DATABASE_URL", "postgress://x", "database_url"),
            ("PLUMBLINE_RULE_PACK", "atlantis", "rule_pack"),
            ("PLUMBLINE_READERS", "0", "readers"),
            ("PLUMBLINE_ACCESS_TOKEN_MINUTES", "0", "access_token_minutes"),
            ("PLUMBLINE_PUBLIC_URL", "plumbline", "public_url"),
        ] {
            let error = load(&[(key, value)]).unwrap_err();
            assert!(error.contains(said), "{error}");
        }
    }

    #[test]
    fn the_example_documents_every_key_with_its_default() {
        let example = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../deploy/plumbline.example.toml"));
        let text = std::fs::read_to_string(example).unwrap();
        // Every key stands there as a comment with its default; read as if it were set.
        let set = text.lines().filter_map(|line| line.strip_prefix("# ").or_else(|| line.strip_prefix('#')));
        let set: Vec<&str> = set
            .filter(|line| {
                line.split_once(" = ").is_some_and(|(key, _)| !key.contains(' ') && key != "database_url")
            })
            .collect();
        let uncommented = std::env::temp_dir().join(format!("plumbline-{}.toml", std::process::id()));
        std::fs::write(&uncommented, set.join("\n")).unwrap();
        let read = Config::load(Some(&uncommented), std::iter::empty());
        std::fs::remove_file(&uncommented).unwrap();
        assert_eq!(read.unwrap(), Config::default());
        let debug = format!("{:?}", Config::default());
        for key in debug.trim_start_matches("Config {").split(", ").filter_map(|part| part.split(':').next())
        {
            assert!(text.contains(&format!("{} =", key.trim())), "{key} is not documented");
        }
    }
}
