//! A database of one test's own.

use tempfile::TempDir;

/// A fresh database, gone when dropped.
pub enum Database {
    /// A file in the server's own folder.
    Sqlite,
    /// A database on the suite's PostgreSQL.
    Postgres {
        /// The administrator's URL.
        admin: String,
        /// Its name.
        name: String,
    },
}

impl Database {
    /// On the store the suite runs on.
    pub fn new() -> Self {
        match std::env::var("PLUMBLINE_TEST_STORE").as_deref() {
            Ok("postgres") => {
                let admin = std::env::var("PLUMBLINE_TEST_PG").expect("PLUMBLINE_TEST_PG names a PostgreSQL");
                let name = format!("plumbline_{}", uuid::Uuid::now_v7().simple());
                execute(&admin, &format!("CREATE DATABASE {name}"));
                Self::Postgres { admin, name }
            }
            Ok("sqlite") | Err(_) => Self::Sqlite,
            Ok(other) => panic!("PLUMBLINE_TEST_STORE is {other}"),
        }
    }

    /// Its URL for a server whose folder this is.
    pub fn url(&self, folder: &TempDir) -> String {
        match self {
            Self::Sqlite => format!("sqlite://{}", folder.path().join("plumbline.db").display()),
            Self::Postgres { admin, name } => {
                let (server, _) = admin.rsplit_once('/').expect("a URL");
                format!("{server}/{name}")
            }
        }
    }
}

impl Default for Database {
    fn default() -> Self {
        Self::new()
    }
}

impl Drop for Database {
    fn drop(&mut self) {
        if let Self::Postgres { admin, name } = self {
            execute(admin, &format!("DROP DATABASE IF EXISTS {name} WITH (FORCE)"));
        }
    }
}

fn execute(url: &str, statement: &str) {
    postgres::Client::connect(url, postgres::NoTls).unwrap().batch_execute(statement).unwrap();
}
