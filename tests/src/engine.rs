//! Which browser is driven, and how its driver is started: Chromium, without a screen, or WebKit on a screen of its own.

use std::{
    io::{BufRead as _, BufReader, Lines},
    net::TcpListener,
    os::unix::process::CommandExt as _,
    path::Path,
    process::{Child, ChildStdout, Command, Stdio},
    thread,
    time::{Duration, Instant},
};

use serde_json::{Value, json};

/// How long a driver may take to listen.
const PATIENCE: Duration = Duration::from_secs(20);

/// A browser that speaks WebDriver.
#[derive(Clone, Copy, Debug)]
pub enum Engine {
    /// Debian's `chromium-driver`. A profile outlives it.
    Chromium,
    /// Debian's `webkit2gtk-driver`, the engine of tablets by another maker, on a screen of `xvfb`. Under automation it
    /// keeps nothing beyond its own end, whatever the profile.
    WebKit,
}

/// A driver that listens; killed when dropped, with its browser.
pub struct Driver {
    process: Child,
    _screen: Option<Screen>,
    /// Kept open: a process ends where it cannot say something.
    _says: Lines<BufReader<ChildStdout>>,
    /// Where it listens.
    pub base: String,
    /// What a session is asked for with.
    pub capabilities: Value,
}

/// Something to draw on that nobody sees. It takes its leave when dropped, as it has a lock to put away.
struct Screen(Child);

impl Engine {
    /// Starts the driver for a profile.
    pub fn start(self, profile: &Path) -> Driver {
        match self {
            Self::Chromium => chromium(profile),
            Self::WebKit => webkit(profile),
        }
    }
}

fn chromium(profile: &Path) -> Driver {
    let mut process = piped(Command::new("chromedriver").arg("--port=0"), "chromedriver");
    let (port, says) = said(&mut process, |line| {
        Some(line.split_once("successfully on port ")?.1.trim_end_matches('.').to_owned())
    });
    let profile = format!("--user-data-dir={}", profile.display());
    let args =
        ["--headless=new", "--no-sandbox", "--disable-dev-shm-usage", "--window-size=1024,768", &profile];
    let capabilities = json!({"browserName": "chrome", "goog:chromeOptions": {"args": args},
                              "timeouts": {"script": 20_000}});
    Driver { process, _screen: None, _says: says, base: format!("http://127.0.0.1:{port}"), capabilities }
}

fn webkit(profile: &Path) -> Driver {
    let screen = ["-displayfd", "1", "-screen", "0", "1024x768x24", "-nolisten", "tcp"];
    let mut screen = Screen(piped(Command::new("Xvfb").args(screen), "xvfb"));
    let (display, says) = said(&mut screen.0, |line| Some(line.trim().to_owned()));
    let (process, port) = listening(&display, profile);
    let capabilities = json!({"timeouts": {"script": 20_000}});
    Driver {
        process,
        _screen: Some(screen),
        _says: says,
        base: format!("http://127.0.0.1:{port}"),
        capabilities,
    }
}

/// Starts WebKit's driver. It does not say which port it took, so it is told one that was free a moment ago; where
/// somebody else took that meanwhile, it ends, and is told another.
fn listening(display: &str, profile: &Path) -> (Child, u16) {
    let deadline = Instant::now() + PATIENCE;
    loop {
        let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let mut process = Command::new("WebKitWebDriver")
            .args([format!("--port={port}"), "--host=127.0.0.1".to_owned()])
            .env("DISPLAY", format!(":{display}"))
            .env("HOME", profile)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .process_group(0)
            .spawn()
            .expect("webkit2gtk-driver is installed");
        while process.try_wait().unwrap().is_none() {
            if ready(port) {
                return (process, port);
            }
            if Instant::now() > deadline {
                let _ = process.kill();
                panic!("WebKitWebDriver does not listen");
            }
            thread::yield_now();
        }
    }
}

/// Whether a driver answers at this port, by its own word.
fn ready(port: u16) -> bool {
    let status = ureq::get(format!("http://127.0.0.1:{port}/status")).call();
    let said = status.ok().and_then(|mut answer| answer.body_mut().read_to_string().ok());
    said.is_some_and(|said| said.contains("\"ready\""))
}

/// Starts a process in a group of its own, so that all of it can be ended at once, and listens to it.
fn piped(command: &mut Command, package: &str) -> Child {
    command
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .process_group(0)
        .spawn()
        .unwrap_or_else(|error| panic!("{package} is installed: {error}"))
}

/// What a process says first that is looked for, and the rest of what it says.
fn said(
    process: &mut Child,
    find: impl FnMut(String) -> Option<String>,
) -> (String, Lines<BufReader<ChildStdout>>) {
    let mut says = BufReader::new(process.stdout.take().unwrap()).lines();
    let found = says.by_ref().map_while(Result::ok).find_map(find);
    (found.expect("it says where it is"), says)
}

impl Drop for Driver {
    /// Without warning: kill -9 to all processes of the browser.
    fn drop(&mut self) {
        let group = format!("-{}", self.process.id());
        let _ = Command::new("kill").args(["-KILL", "--", &group]).status();
        let _ = self.process.wait();
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        let _ = Command::new("kill").args(["-TERM", &self.0.id().to_string()]).status();
        let _ = self.0.wait();
    }
}
