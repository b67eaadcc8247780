//! How the operations on words are asked.

use plumbline_tests::{Client, Value, json};

use super::Call;

/// A word no earlier call had: a number in base 4, a letter with one sound a digit.
fn letters(n: u32) -> String {
    let digit = |place: u32| char::from(b"bdmp"[(n / 4_u32.pow(place) % 4) as usize]);
    (0..5).map(digit).collect()
}

/// What the lead makes first: its address and ETag.
fn made(lead: &Client, path: &str, body: Value) -> (String, String) {
    let made = lead.post(path, body).expect(201);
    let text = |field: &str| made[field].as_str().unwrap_or_default().to_owned();
    (format!("{path}/{}", text("id")), text("etag"))
}

/// The request of an operation on words; `n` is a number no earlier call got.
pub fn call(operation: &str, lead: &Client, caller: &Client, group: &str, n: u32) -> Option<Call> {
    let set = json!({"name": format!("Set {n}"), "words": ["bamp", "frowl"]});
    let struck = json!({"word": letters(n)});
    let gpcs: Vec<String> = letters(n).chars().map(|letter| format!("{letter}:{letter}")).collect();
    let new_word = json!({"word": letters(n), "readings": [{"gpcs": gpcs}]});
    Some(match operation {
        "get_word" => Call::get("/words/cake".into()),
        "segment_words" => Call::post("/words/segmentations".into(), json!({"words": ["cake"]})),
        "get_word_bank" => Call::get(format!("/groups/{group}/word-bank")),
        "analyse_text" => Call::post("/texts/analysis".into(), json!({"text": "mod", "group_id": group})),
        "make_pseudo_words" => Call::post("/pseudo-words".into(), json!({"group_id": group, "count": 1})),
        "get_phonics_policy" => Call::get("/phonics-policy".into()),
        "save_phonics_policy" => {
            let seen = caller.get("/phonics-policy");
            let etag = if seen.status == 200 { seen.etag() } else { "\"v0\"".into() };
            Call::put("/phonics-policy".into(), etag, json!({"th_split": n.is_multiple_of(2)}))
        }
        "list_school_words" => Call::get("/school-words".into()),
        "add_school_word" => Call::post("/school-words".into(), new_word),
        "update_school_word" => {
            let readings = new_word["readings"].clone();
            let (path, etag) = made(lead, "/school-words", new_word);
            Call::put(path, etag, json!({"readings": readings}))
        }
        "remove_school_word" => {
            let (path, etag) = made(lead, "/school-words", new_word);
            Call { etag: Some(etag), ..Call::delete(path) }
        }
        "list_struck_words" => Call::get("/struck-words".into()),
        "strike_word" => Call::post("/struck-words".into(), struck),
        "remove_struck_word" => Call::delete(made(lead, "/struck-words", struck).0),
        "list_pseudo_word_sets" => Call::get("/pseudo-word-sets".into()),
        "add_pseudo_word_set" => Call::post("/pseudo-word-sets".into(), set),
        "get_pseudo_word_set" => Call::get(made(lead, "/pseudo-word-sets", set).0),
        "approve_pseudo_word_set" => {
            let (path, etag) = made(lead, "/pseudo-word-sets", set);
            Call { etag: Some(etag), ..Call::post(format!("{path}/approval"), json!({})) }
        }
        "remove_pseudo_word_set" => {
            let (path, etag) = made(lead, "/pseudo-word-sets", set);
            Call { etag: Some(etag), ..Call::delete(path) }
        }
        _ => return None,
    })
}
