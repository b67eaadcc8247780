//! The line between a browser and the server: a proxy on loopback that carries HTTP/1.1 one request a connection, and
//! fails as school networks do when told to.

use std::{
    io::{BufRead as _, BufReader, Read as _, Write as _},
    net::{Shutdown, TcpListener, TcpStream},
    sync::{Arc, Mutex},
    thread,
};

/// How the line is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Weather {
    /// Everything passes.
    Clear,
    /// Nothing passes; what was open is cut.
    Cut,
    /// Every request is answered by the sign-in page of the network: 200, and HTML.
    Portal,
    /// Every request is answered with this status by a proxy in between, in HTML.
    Refuses(u16),
    /// Requests to this path reach the server, and its answers are lost.
    LosesAnswers(&'static str),
    /// The API is out of reach, and this text stands for another of the same length in every file of the client.
    NewClient(String, String),
}

struct State {
    weather: Weather,
    open: Vec<TcpStream>,
    /// Paths of the requests that went to the server, in order.
    carried: Vec<String>,
    over: bool,
}

/// A line to one server; ended when dropped.
pub struct Line {
    /// Where it is entered, without a slash at the end.
    pub base: String,
    state: Arc<Mutex<State>>,
}

impl Line {
    /// A clear line to the server at this address (`http://host:port`).
    pub fn to(server: &str) -> Self {
        let server = server.strip_prefix("http://").unwrap().to_owned();
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let base = format!("http://{}", listener.local_addr().unwrap());
        let state = Arc::new(Mutex::new(State {
            weather: Weather::Clear,
            open: Vec::new(),
            carried: Vec::new(),
            over: false,
        }));
        let shared = state.clone();
        thread::spawn(move || {
            for stream in listener.incoming().flatten() {
                if shared.lock().unwrap().over {
                    return;
                }
                let (shared, server) = (shared.clone(), server.clone());
                // A connection that breaks off is the browser's affair.
                thread::spawn(move || carry(stream, &server, &shared).ok());
            }
        });
        Self { base, state }
    }

    /// From now on the line is like this; what is open is cut.
    pub fn is(&self, weather: Weather) {
        let mut state = self.state.lock().unwrap();
        state.weather = weather;
        for stream in state.open.drain(..) {
            let _ = stream.shutdown(Shutdown::Both);
        }
    }

    /// How many requests to this path went to the server so far.
    pub fn carried(&self, path: &str) -> usize {
        self.state.lock().unwrap().carried.iter().filter(|one| *one == path).count()
    }
}

impl Drop for Line {
    fn drop(&mut self) {
        self.is(Weather::Cut);
        self.state.lock().unwrap().over = true;
        // Wakes the thread that waits for connections.
        let _ = TcpStream::connect(self.base.trim_start_matches("http://"));
    }
}

/// The head and the body of a request, with its path.
fn request(from: &mut BufReader<TcpStream>) -> std::io::Result<(Vec<u8>, String)> {
    let (mut out, mut path, mut length) = (Vec::new(), String::new(), 0);
    loop {
        let mut line = String::new();
        from.read_line(&mut line)?;
        let name = line.split(':').next().unwrap_or_default().to_lowercase();
        if path.is_empty() {
            path = line.split([' ', '?']).nth(1).unwrap_or_default().to_owned();
        }
        match name.as_str() {
            // One request a connection, and whole answers that are not packed.
            "connection" | "accept-encoding" | "if-none-match" => continue,
            "content-length" => length = line[15..].trim().parse().unwrap_or(0),
            _ => {}
        }
        if line.trim().is_empty() {
            out.extend_from_slice(b"Connection: close\r\n\r\n");
            let at = out.len();
            out.resize(at + length, 0);
            from.read_exact(&mut out[at..])?;
            return Ok((out, path));
        }
        out.extend_from_slice(line.as_bytes());
    }
}

const PORTAL: &str = "<!doctype html><title>Wi-Fi</title><p>Welcome to the network. Please sign in.";

/// Answers with the page of something in between.
fn page(browser: &mut TcpStream, head: &str) -> std::io::Result<()> {
    write!(
        browser,
        "HTTP/1.1 {head}\r\nContent-Type: text/html\r\nContent-Length: {}\r\nConnection: close\r\n\r\n{PORTAL}",
        PORTAL.len()
    )
}

fn carry(mut browser: TcpStream, server: &str, state: &Mutex<State>) -> std::io::Result<()> {
    let (sent, path) = request(&mut BufReader::new(browser.try_clone()?))?;
    let weather = state.lock().unwrap().weather.clone();
    match weather {
        Weather::Cut => return browser.shutdown(Shutdown::Both),
        Weather::NewClient(..) if path.starts_with("/api/") => return browser.shutdown(Shutdown::Both),
        Weather::Portal => return page(&mut browser, "200 OK"),
        Weather::Refuses(status) => return page(&mut browser, &format!("{status} No\r\nRetry-After: 30")),
        _ => {}
    }
    let mut upstream = TcpStream::connect(server)?;
    {
        let mut state = state.lock().unwrap();
        if state.weather != weather {
            // It has changed meanwhile, and cut what was open.
            return browser.shutdown(Shutdown::Both);
        }
        state.open.extend([browser.try_clone()?, upstream.try_clone()?]);
        state.carried.push(path.clone());
    }
    upstream.write_all(&sent)?;
    match weather {
        Weather::LosesAnswers(lost) if lost == path => {
            upstream.read_to_end(&mut Vec::new())?;
            browser.shutdown(Shutdown::Both)
        }
        Weather::NewClient(from, to) => {
            let mut answer = Vec::new();
            upstream.read_to_end(&mut answer)?;
            browser.write_all(&replaced(&answer, from.as_bytes(), to.as_bytes()))
        }
        _ => std::io::copy(&mut upstream, &mut browser).map(|_| ()),
    }
}

fn replaced(text: &[u8], from: &[u8], to: &[u8]) -> Vec<u8> {
    assert_eq!(from.len(), to.len());
    let mut out = text.to_vec();
    for at in 0..=out.len().saturating_sub(from.len()) {
        if out[at..].starts_with(from) {
            out[at..at + to.len()].copy_from_slice(to);
        }
    }
    out
}
