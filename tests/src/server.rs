//! The served binary.

use std::{
    io::{BufRead as _, BufReader},
    path::PathBuf,
    process::{Child, Command, Output, Stdio},
};

use tempfile::TempDir;

use crate::Database;

/// The binary under test.
pub fn binary() -> PathBuf {
    std::env::var_os("PLUMBLINE_BIN").map_or_else(
        || {
            let target = std::env::var_os("CARGO_TARGET_DIR").map_or_else(
                || PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../target")),
                PathBuf::from,
            );
            target.join("debug/plumbline")
        },
        PathBuf::from,
    )
}

/// A command of the binary, with nothing of the suite's own environment.
fn command() -> Command {
    let mut command = Command::new(binary());
    for (name, _) in std::env::vars().filter(|(name, _)| name.starts_with("PLUMBLINE_")) {
        command.env_remove(name);
    }
    command
}

/// Runs the binary to its end.
pub fn run(args: &[&str], environment: &[(&str, &str)]) -> Output {
    command().args(args).envs(environment.iter().copied()).output().unwrap()
}

/// A server on a port and a store of its own; ended when dropped.
pub struct Server {
    child: Child,
    /// Where it answers, without a slash at the end.
    pub base: String,
    /// Its folder.
    pub folder: TempDir,
    /// Its database.
    pub database: Database,
    /// The date its clock started on.
    pub today: String,
    log: PathBuf,
}

impl Server {
    /// Starts on an empty store, at nine on this date.
    pub fn start(today: &str) -> Self {
        Self::start_with(today, &[])
    }

    /// As [`Self::start`], with further configuration keys from the environment.
    pub fn start_with(today: &str, environment: &[(&str, &str)]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let database = Database::new();
        let migrated = command().arg("migrate").envs(settings(&folder, &database)).output().unwrap();
        assert!(migrated.status.success(), "{}", String::from_utf8_lossy(&migrated.stderr));
        let log = folder.path().join("server.log");
        let (child, base) = spawn(&folder, &database, today, environment, &log);
        Self { child, base, folder, database, today: today.to_owned(), log }
    }

    /// Kills the process without warning and starts it again on the same store.
    pub fn kill_and_restart(&mut self, today: &str) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
        let (child, base) = spawn(&self.folder, &self.database, today, &[], &self.log);
        self.child = child;
        self.base = base;
    }

    /// Tells the process to end, waits until it has, and starts it again on the same store.
    pub fn stop_and_restart(&mut self, today: &str) {
        let told = Command::new("kill").args(["-TERM", &self.child.id().to_string()]).status().unwrap();
        assert!(told.success());
        assert!(self.child.wait().unwrap().success());
        let (child, base) = spawn(&self.folder, &self.database, today, &[], &self.log);
        self.child = child;
        self.base = base;
    }

    /// Runs another command of the binary on this server's store.
    pub fn run(&self, args: &[&str]) -> Output {
        command().args(args).envs(settings(&self.folder, &self.database)).output().unwrap()
    }

    /// The most memory the server has held so far, in KiB, as Linux counts it.
    pub fn peak_memory(&self) -> u64 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).unwrap();
        let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap();
        line.trim().trim_end_matches(" kB").parse().unwrap()
    }

    /// What the server has logged so far.
    pub fn log(&self) -> String {
        std::fs::read_to_string(&self.log).unwrap()
    }
}

fn settings(folder: &TempDir, database: &Database) -> Vec<(&'static str, String)> {
    vec![
        ("PLUMBLINE_DATA_DIR", folder.path().display().to_string()),
        ("PLUMBLINE_DATABASE_URL", database.url(folder)),
        ("PLUMBLINE_LISTEN", "127.0.0.1:0".into()),
    ]
}

fn spawn(
    folder: &TempDir,
    database: &Database,
    today: &str,
    environment: &[(&str, &str)],
    log: &PathBuf,
) -> (Child, String) {
    let log = std::fs::OpenOptions::new().create(true).append(true).open(log).unwrap();
    let mut child = command()
        .args(["serve", "--today", today])
        .envs(settings(folder, database))
        .envs(environment.iter().copied())
        .stdout(Stdio::piped())
        .stderr(log)
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
    let base =
        line.trim().strip_prefix("Serving on ").unwrap_or_else(|| panic!("server did not start: {line:?}"));
    (child, base.to_owned())
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
