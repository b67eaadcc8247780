//! The client as files: what a browser is given, and how much of it.
#![allow(clippy::unwrap_used)]

use std::io::Write as _;

use plumbline_tests::{Client, Server, TODAY, Value};

/// Addresses that the worker keeps, as the server lists them in front of it.
fn files(nobody: &Client) -> Vec<String> {
    let worker = nobody.send("GET", "/sw.js", None, &[]).text;
    let list =
        worker.lines().find_map(|line| line.strip_prefix("const FILES = ")?.strip_suffix(';')).unwrap();
    serde_json::from_str(list).unwrap()
}

fn packed(text: &str) -> usize {
    let mut zipped = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    zipped.write_all(text.as_bytes()).unwrap();
    zipped.finish().unwrap().len()
}

#[test]
fn the_first_load_is_small_and_from_this_server_alone() {
    let server = Server::start(TODAY);
    let nobody = Client::new(&server.base);
    let files = files(&nobody);
    assert!(files.len() > 20 && files.contains(&"/".to_owned()), "{files:?}");
    let mut bytes = 0;
    for file in files.iter().chain([&"/sw.js".to_owned()]) {
        let got = nobody.send("GET", file, None, &[]);
        assert_eq!(got.status, 200, "{file}");
        for word in ["http://", "https://", "eval(", "innerHTML", "document.write", "style=\"", "onclick=\""]
        {
            assert!(!got.text.contains(word), "{file}: {word}");
        }
        bytes += packed(&got.text);
        let policy = got.header("Content-Security-Policy");
        assert!(
            policy.starts_with("default-src 'none'; script-src 'self'; style-src 'self' 'sha256-"),
            "{policy}"
        );
        assert!(policy.ends_with("frame-ancestors 'none'") && !policy.contains("unsafe"), "{policy}");
        let kept = if file == "/" { "no-store" } else { "no-cache" };
        assert_eq!(got.header("Cache-Control"), kept, "{file}");
    }
    println!("{bytes} bytes in {} files", files.len() + 1);
    assert!(bytes <= 150_000, "{bytes} bytes");
}

#[test]
fn every_module_that_is_asked_for_is_there() {
    let server = Server::start(TODAY);
    let nobody = Client::new(&server.base);
    let files = files(&nobody);
    for file in files.iter().filter(|file| file.ends_with(".js")) {
        let text = nobody.send("GET", file, None, &[]).text;
        let asked = text.split(" from \"").skip(1).filter_map(|rest| rest.split('"').next());
        let folder = file.rsplit_once('/').unwrap().0;
        for path in asked.filter(|path| path.starts_with('.')) {
            let whole = match path.strip_prefix("../") {
                Some(rest) => format!("/{rest}"),
                None => format!("{folder}/{}", path.strip_prefix("./").unwrap()),
            };
            assert!(files.contains(&whole), "{file} asks for {whole}");
        }
    }
}

#[test]
fn a_file_is_sent_once_and_named_by_what_is_in_it() {
    let server = Server::start(TODAY);
    let nobody = Client::new(&server.base);
    for (file, kind) in [("/", "text/html"), ("/lib/app.js", "text/javascript"), ("/style.css", "text/css")] {
        let got = nobody.send("GET", file, None, &[]);
        assert!(got.header("Content-Type").starts_with(kind), "{file}");
        let again = nobody.with("If-None-Match", &got.etag()).send("GET", file, None, &[]);
        assert_eq!((again.status, again.text.as_str()), (304, ""), "{file}");
        let other = nobody.with("If-None-Match", "W/\"other\"").send("GET", file, None, &[]);
        assert_eq!((other.status, other.text), (200, got.text), "{file}");
    }
    assert_eq!(nobody.send("GET", "/lib/nothing.js", None, &[]).json()["code"], Value::from("not_found"));
    assert_eq!(nobody.send("GET", "/lib/../sw.js", None, &[]).status, 404);
    assert_eq!(nobody.send("POST", "/lib/app.js", None, &[]).status, 405);
}
