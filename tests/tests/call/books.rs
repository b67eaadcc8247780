//! How the operations on reading books and practice are asked.

use plumbline_tests::{Client, json};

use super::Call;

const CSV: &str = "title,text\nMod and Dom,Mod met Dom.\n";

/// The request of an operation on books; `n` is a number no earlier call got.
pub fn call(operation: &str, lead: &Client, sequence: &str, pupil: &str, n: u32) -> Option<Call> {
    let body = json!({"title": format!("Book {n}"), "source": "text", "text": "Mod."});
    // What the lead makes first: its address and ETag.
    let made = || {
        let made = lead.post("/books", body.clone());
        let id = made.expect(201)["id"].as_str().unwrap_or_default().to_owned();
        (format!("/books/{id}"), made.etag())
    };
    Some(match operation {
        "list_books" => Call::get("/books".into()),
        "add_book" => Call::post("/books".into(), body),
        "import_books" => {
            Call { file: Some(("text/csv", CSV)), ..Call::new("POST", "/books/imports".into()) }
        }
        "get_book" => Call::get(made().0),
        "save_book" => {
            let (path, etag) = made();
            Call::put(path, etag, body)
        }
        "remove_book" => {
            let (path, etag) = made();
            Call { etag: Some(etag), ..Call::delete(path) }
        }
        "match_book" => Call::get(format!("{}/match?sequence_id={sequence}", made().0)),
        "list_pupil_books" => Call::get(format!("/pupils/{pupil}/books")),
        "get_pupil_practice" => Call::get(format!("/pupils/{pupil}/practice")),
        _ => return None,
    })
}
