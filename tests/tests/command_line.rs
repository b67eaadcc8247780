//! The phonics engine from the command line: lines in, lines out.
#![allow(clippy::unwrap_used)]

use std::{
    io::Write as _,
    process::{Command, Output, Stdio},
};

use plumbline_tests::{Value, binary, json};

/// Runs `plumbline words ...` on what is sent to its standard input.
fn words(arguments: &[&str], sent: &[u8]) -> Output {
    let mut process = Command::new(binary());
    process.arg("words").args(arguments);
    process.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut process = process.spawn().unwrap();
    process.stdin.take().unwrap().write_all(sent).unwrap();
    process.wait_with_output().unwrap()
}

fn lines(output: &Output) -> Vec<Value> {
    let text = String::from_utf8(output.stdout.clone()).unwrap();
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

#[test]
fn every_line_is_answered_in_its_place_whatever_it_holds() {
    let done = words(&["segment", "--format", "json"], b"cat\n\nd\xffg\nx9\ndog\n");
    let said = lines(&done);
    let heads: Vec<(&Value, bool)> =
        said.iter().map(|one| (&one["word"], one["problem"].is_null())).collect();
    let (cat, dog) = (json!("cat"), json!("dog"));
    assert_eq!(heads, [(&cat, true), (&json!("d\u{fffd}g"), false), (&json!("x9"), false), (&dog, true)]);
    assert_eq!((&said[1]["line"], &said[1]["problem"]), (&json!(3), &json!("the line is not UTF-8")));
    assert_eq!(said[3]["variants"][0]["graphemes"], json!(["d", "o", "g"]));
    // A script sees that not all went well, and a person how much.
    assert_eq!(done.status.code(), Some(1));
    assert!(String::from_utf8(done.stderr).unwrap().contains("2 lines were no words"));
}

#[test]
fn banks_and_pseudo_words_hold_only_what_was_given() {
    let bank = words(&["bank", "--format", "json"], "s:s\na:æ\nt:t\np:p\n".as_bytes());
    assert!(bank.status.success());
    let bank = lines(&bank);
    assert!(bank.iter().any(|one| one["word"] == "tap"));
    let made = words(&["pseudo", "--count", "5", "--format", "json"], "s:s\na:æ\nt:t\np:p\nm:m\n".as_bytes());
    for one in bank.into_iter().chain(lines(&made)) {
        let word = one["word"].as_str().unwrap().to_owned();
        assert!(word.chars().all(|c| "satpm".contains(c)), "{word}");
    }
}

#[test]
fn an_unknown_correspondence_is_named() {
    let refused = words(&["bank"], b"s:s\nqq:q\n");
    assert_eq!(refused.status.code(), Some(1));
    assert!(String::from_utf8(refused.stderr).unwrap().contains("qq:q"));
}
