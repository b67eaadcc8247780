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
    /// The certificate the server shows, and the authorities between it and one that browsers trust, as PEM.
    pub tls_certificate: Option<PathBuf>,
    /// Its key, as PEM.
    pub tls_key: Option<PathBuf>,
    /// A proxy in front speaks TLS with browsers.
    pub behind_tls_proxy: bool,
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
    /// How long a link to choose a new password holds.
    pub new_password_minutes: u32,
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
            tls_certificate: None,
            tls_key: None,
            behind_tls_proxy: false,
            public_url: "http://127.0.0.1:8080".into(),
            workers: 2,
            readers: 2,
            log: "info".into(),
            log_format: LogFormat::Text,
            rule_pack: "england".into(),
            access_token_minutes: 10,
            session_days: 30,
            invitation_days: 7,
            new_password_minutes: 60,
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
        self.check_reached()?;
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

    /// Passwords and children's names go over no network unencrypted.
    fn check_reached(&self) -> Result<(), ConfigError> {
        let wrong = |what: &str| Err(ConfigError(what.to_owned()));
        let Ok(listen) = self.listen.parse::<std::net::SocketAddr>() else {
            return wrong("listen must be an address and port such as 127.0.0.1:8080");
        };
        if !self.public_url.starts_with("http://") && !self.has_secure_address() {
            return wrong("public_url must start with http:// or https://");
        }
        match (&self.tls_certificate, &self.tls_key) {
            (Some(_), Some(_)) if self.behind_tls_proxy => {
                wrong("behind_tls_proxy is for a server that has no tls_certificate of its own")
            }
            (Some(_), Some(_)) if !self.has_secure_address() => {
                wrong("public_url must start with https:// where tls_certificate is set")
            }
            (Some(_), None) | (None, Some(_)) => wrong("tls_certificate and tls_key go together"),
            (None, None) if !self.behind_tls_proxy && !listen.ip().is_loopback() => wrong(
                "listen is open to other machines: set tls_certificate and tls_key, or behind_tls_proxy if a \
                 proxy in front speaks TLS",
            ),
            _ => Ok(()),
        }
    }

    /// Whether browsers reach the server by TLS.
    pub fn has_secure_address(&self) -> bool {
        self.public_url.starts_with("https://")
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
            load(&[("PLUMBLINE_LISTEN", "[::1]:9000"), ("PLUMBLINE_READERS", "4"), ("HOME", "/x")]).unwrap();
        assert_eq!((config.listen.as_str(), config.readers), ("[::1]:9000", 4));
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
    fn other_machines_reach_it_by_tls_alone() {
        let own = [("PLUMBLINE_TLS_CERTIFICATE", "c.pem"), ("PLUMBLINE_TLS_KEY", "k.pem")];
        let open = ("PLUMBLINE_LISTEN", "0.0.0.0:8443");
        let address = ("PLUMBLINE_PUBLIC_URL", "https://phonics.school.example");
        let proxy = ("PLUMBLINE_BEHIND_TLS_PROXY", "true");
        assert!(load(&[open]).unwrap_err().contains("open to other machines"));
        assert!(load(&[("PLUMBLINE_LISTEN", "192.168.0.9:80")]).unwrap_err().contains("open to other"));
        assert!(load(&[open, proxy]).is_ok());
        assert!(load(&[open, own[0], own[1], address]).is_ok());
        assert!(load(&[open, own[0], own[1]]).unwrap_err().contains("public_url"));
        assert!(load(&[open, own[0], address]).unwrap_err().contains("go together"));
        assert!(load(&[own[1], address]).unwrap_err().contains("go together"));
        assert!(load(&[own[0], own[1], address, proxy]).unwrap_err().contains("of its own"));
    }

    #[test]
    fn the_example_documents_every_key_with_its_default() {
        let example = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../deploy/plumbline.example.toml"));
        let text = std::fs::read_to_string(example).unwrap();
        // Every key stands there as a comment with its default; read as if it were set, but those without one.
        let without = ["database_url", "tls_certificate", "tls_key"];
        let set = text.lines().filter_map(|line| line.strip_prefix("# ").or_else(|| line.strip_prefix('#')));
        let set: Vec<&str> = set
            .filter(|line| {
                line.split_once(" = ").is_some_and(|(key, _)| !key.contains(' ') && !without.contains(&key))
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
