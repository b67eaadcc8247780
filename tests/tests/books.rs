//! The school's reading books: the register, files of them, and from when one can be read. The
//! sequence teaches m, o, d and "the" in step 1, e and n in step 2.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, Client, School, Value, column, json, lesson_ids, text};

fn add(client: &Client, title: &str, reference: Option<&str>, words: &str) -> Answer {
    let body = json!({"title": title, "reference": reference, "source": "text", "text": words});
    client.post("/books", body)
}

fn titles(client: &Client, path: &str) -> Vec<String> {
    column(&client.get(path).expect(200)["items"], "title")
}

/// Field errors of a refused file.
fn faults(client: &Client, csv: &str) -> Vec<String> {
    client.post_csv("/books/imports", csv.as_bytes()).problem(422, "invalid")
}

#[test]
fn the_office_keeps_books_and_teachers_see_no_text() {
    let school = School::start();
    let (office, teacher) = (school.staff("office"), school.staff("teacher"));
    let made = add(&office, "Mod and Dom", Some("A-1"), " Mod met Dom, 4 times. ");
    let book = made.expect(201);
    let path = format!("/books/{}", text(&book["id"]));
    assert_eq!(made.header("Location"), format!("/api/v1{path}"));
    assert_eq!((&book["running"], &book["skipped"]), (&json!(4), &json!(1)));
    assert_eq!(
        (&book["text"], &office.get(&path).expect(200)["text"]),
        (&Value::Null, &json!("Mod met Dom, 4 times."))
    );
    let seen = teacher.get(&path);
    assert_eq!((&seen.expect(200)["title"], &seen.json()["text"]), (&json!("Mod and Dom"), &Value::Null));
    assert!(!teacher.get("/books").text.contains("met"));
    let body = json!({"title": "Mod", "source": "words", "text": "mod\ndom"});
    let changed = office.put(&path, &made.etag(), body.clone());
    let expected = json!({"id": book["id"], "title": "Mod", "reference": null, "source": "words",
                          "running": 2, "skipped": 0, "text": "mod\ndom"});
    changed.expect(200);
    assert_eq!((office.get(&path).expect(200), office.get(&path).etag()), (expected, changed.etag()));
    office.put(&path, &made.etag(), body).problem(412, "stale");
    office.delete(&path, &made.etag()).problem(412, "stale");
    office.call("DELETE", &path, None).problem(428, "precondition_required");
    assert_eq!(office.delete(&path, &changed.etag()).status, 204);
    office.get(&path).problem(404, "not_found");
    assert_eq!(titles(&teacher, "/books"), Vec::<String>::new());
}

#[test]
fn a_reference_is_one_books_own() {
    let school = School::start();
    let lead = school.lead();
    add(&lead, "Mod", Some("A-1"), "mod").expect(201);
    let taken = ["reference: belongs to another book"];
    assert_eq!(add(&lead, "Dom", Some("A-1"), "dom").problem(409, "conflict"), taken);
    let other = add(&lead, "Dom", Some("A-2"), "dom");
    let path = format!("/books/{}", text(&other.expect(201)["id"]));
    let body = json!({"title": "Dom", "reference": "A-1", "source": "text", "text": "dom"});
    assert_eq!(lead.put(&path, &other.etag(), body).problem(409, "conflict"), taken);
    // Without one, titles may stand twice; and another school has its own.
    add(&lead, "Dom", None, "dom").expect(201);
    add(&lead, "Dom", None, "dom").expect(201);
    add(&school.neighbour(), "Mod", Some("A-1"), "mod").expect(201);
}

#[test]
fn books_come_in_pages_by_title() {
    let school = School::start();
    let lead = school.lead();
    for title in ["Ned", "Dom", "Mod", "Dom"] {
        add(&lead, title, None, "mod").expect(201);
    }
    let first = lead.get("/books?limit=3").expect(200);
    assert_eq!(column(&first["items"], "title"), ["Dom", "Dom", "Mod"]);
    let next = format!("/books?limit=3&cursor={}", text(&first["next"]));
    let last = lead.get(&next).expect(200);
    assert_eq!((column(&last["items"], "title"), &last["next"]), (vec!["Ned".to_owned()], &Value::Null));
    let wrong = ["cursor: is not a cursor of this list; start without one"];
    assert_eq!(lead.get("/books?cursor=x").problem(422, "invalid"), wrong);
    assert_eq!(school.neighbour().get(&next).problem(422, "invalid"), wrong);
}

#[test]
fn what_is_no_book_is_refused_with_the_reason() {
    let school = School::start();
    let lead = school.lead();
    let refused = |words: &str| add(&lead, "Mod", None, words).problem(422, "invalid");
    for words in ["", "  \n", "12 - 4th", "кот"] {
        assert_eq!(refused(words), ["text: must hold at least one word"], "{words:?}");
    }
    assert_eq!(refused("mod\u{0}"), ["text: must not contain control characters"]);
    // A megabyte; trimmed, 999,999 bytes.
    assert_eq!(refused(&"a ".repeat(500_000)), ["text: must be at most 100000 bytes; 999999 were sent"]);
    let large = add(&lead, "Mod", None, &"a ".repeat(600_000));
    large.problem(413, "too_large");
    assert_eq!(large.json()["detail"], "at most 1048576 bytes are taken here");
    assert_eq!(add(&lead, " ", None, "mod").problem(422, "invalid"), ["title: must not be empty"]);
    let body = json!({"title": "Mod", "source": "sound", "text": "mod"});
    assert_eq!(lead.post("/books", body).problem(422, "invalid"), ["source: expected `words` or `text`"]);
    assert_eq!(titles(&lead, "/books"), Vec::<String>::new());
    // Numbers are passed over; a hyphen makes one word of two.
    let odd = add(&lead, "Mod", None, "Re-do the 4th mod, 12 times").expect(201);
    assert_eq!((&odd["running"], &odd["skipped"]), (&json!(4), &json!(2)));
}

#[test]
fn a_book_is_matched_with_the_step_that_unlocks_it() {
    let school = School::start();
    let (sequence, version) = school.sequence();
    let (lead, teacher) = (school.lead(), school.staff("teacher"));
    let id = text(&add(&lead, "Men", None, "The mod men. 4!").expect(201)["id"]);
    let ask = |query: &str| teacher.get(&format!("/books/{id}/match?{query}"));
    let now = ask(&format!("sequence_id={sequence}")).expect(200);
    let readable =
        json!({"step": 2, "step_title": "Step 2", "running": 3, "percent": 100.0, "readable": true});
    assert_eq!((&now["match"], &now["at_step"], &now["last_step"]), (&readable, &json!(2), &json!(2)));
    assert_eq!((&now["version_id"], &now["readable_percent"]), (&version["id"], &json!(100)));
    // At step 1 "the" is taught and "mod" decodable: two of three words, 66.666 per cent.
    let pinned = format!("sequence_id={sequence}&sequence_version_id={}", text(&version["id"]));
    let first = ask(&format!("{pinned}&step=1")).expect(200);
    assert_eq!((&first["match"]["percent"], &first["match"]["readable"]), (&json!(66.6), &json!(false)));
    let men = json!([{"word": "men", "count": 1, "from_step": 2, "lacking": ["e:e", "n:n"], "guess": false}]);
    assert_eq!(first["match"]["step"], 2);
    // What is lacking is for all, the words for those who may change the book.
    let lacking = json!([{"gpc": "e:e", "words": 1}, {"gpc": "n:n", "words": 1}]);
    assert_eq!((&first["lacking"], &first["in_the_way"]), (&lacking, &Value::Null));
    let seen = lead.get(&format!("/books/{id}/match?{pinned}&step=1")).expect(200);
    assert_eq!((&seen["lacking"], &seen["in_the_way"]), (&lacking, &men));
    assert!(!ask(&format!("{pinned}&step=0")).text.contains("men"));
    assert_eq!(ask(&format!("{pinned}&step=0")).expect(200)["match"]["percent"], 0.0);
    let far = ask(&format!("{pinned}&step=3")).problem(422, "invalid");
    assert_eq!(far, ["step: the version's last step is 2"]);
    for query in ["", "step=1", &format!("group_id={sequence}&sequence_id={sequence}")] {
        assert!(ask(query).problem(422, "invalid")[0].starts_with("query: give a group_id, or"), "{query}");
    }
    ask("sequence_id=x").problem(422, "invalid");
    ask(&format!("sequence_id={id}")).problem(404, "not_found");
    ask(&format!("sequence_id={sequence}&sequence_version_id={id}")).problem(404, "not_found");
}

#[test]
fn a_book_of_unknown_words_is_matched_by_guess_and_says_so() {
    let school = School::start();
    let (sequence, _) = school.sequence();
    let id = text(&add(&school.lead(), "Names", None, "Dommod Tumtum").expect(201)["id"]);
    let seen = school.lead().get(&format!("/books/{id}/match?sequence_id={sequence}")).expect(200);
    assert_eq!((&seen["guessed"], &seen["match"]["running"]), (&json!(2), &json!(2)));
    // mm, t and u are never taught.
    assert_eq!((&seen["match"]["step"], &seen["match"]["readable"]), (&Value::Null, &json!(false)));
    let way = |seen: &Value| column(&seen["in_the_way"], "word");
    assert_eq!(way(&seen), ["Dommod", "Tumtum"]);
    assert_eq!(seen["in_the_way"][0]["lacking"], json!(["mm:m"]));
    // The school says how one of the names is read, and a guess becomes a word.
    let own = json!({"word": "tumtum", "readings": [{"gpcs": ["t:t", "u:ʌ", "m:m", "t:t", "u:ʌ", "m:m"]}]});
    school.lead().post("/school-words", own).expect(201);
    let seen = school.lead().get(&format!("/books/{id}/match?sequence_id={sequence}")).expect(200);
    assert_eq!((&seen["guessed"], &seen["in_the_way"][1]["guess"]), (&json!(1), &json!(false)));
    assert_eq!(seen["in_the_way"][1]["lacking"], json!(["t:t", "u:ʌ"]));
}

#[test]
fn without_a_published_version_the_answer_says_so() {
    let school = School::start();
    let lead = school.lead();
    let draft = text(&lead.post("/sequences", json!({"name": "Draft"})).expect(201)["id"]);
    let group = school.group("Alder", &draft, &[]);
    let id = text(&add(&lead, "Mod", None, "mod").expect(201)["id"]);
    for (query, whose) in
        [(format!("sequence_id={draft}"), "the"), (format!("group_id={group}"), "the group's")]
    {
        for path in [format!("/books/{id}/match?{query}"), format!("/books?{query}")] {
            let answer = lead.get(&path);
            answer.problem(404, "not_found");
            let detail = format!("{whose} sequence has no published version in force today");
            assert_eq!(answer.json()["detail"], detail, "{path}");
        }
    }
}

#[test]
fn books_are_matched_with_what_a_group_was_taught() {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let group = school.group("Alder", &sequence, &[]);
    let (lead, teacher) = (school.lead(), school.staff("teacher"));
    for (title, words) in [("Mod", "Mod, Mod."), ("Mom", "Mom."), ("Ned", "Ned, the cat.")] {
        add(&lead, title, None, words).expect(201);
    }
    // m and o only.
    let lesson = &lesson_ids(&content)[0];
    school.log_lesson(&teacher, &group, "2026-11-19", lesson, "delivered", &json!({})).expect(201);
    let listed = teacher.get(&format!("/books?group_id={group}")).expect(200);
    let lines: Vec<Value> = listed["items"].as_array().unwrap().iter().map(|b| b["match"].clone()).collect();
    let line = |step: Option<u16>, running: u16, percent: f64, readable: bool| {
        let title = step.map(|step| format!("Step {step}"));
        json!({"step": step, "step_title": title, "running": running, "percent": percent, "readable": readable})
    };
    assert_eq!(
        lines,
        [line(Some(1), 2, 0.0, false), line(Some(1), 1, 100.0, true), line(None, 3, 0.0, false)]
    );
    let ned = text(&listed["items"][2]["id"]);
    let seen = lead.get(&format!("/books/{ned}/match?group_id={group}")).expect(200);
    assert_eq!((&seen["at_step"], &seen["last_step"]), (&Value::Null, &json!(2)));
    // "Ned" and "the" come later, "cat" never.
    let from: Vec<Value> =
        seen["in_the_way"].as_array().unwrap().iter().map(|w| json!([w["word"], w["from_step"]])).collect();
    assert_eq!(from[1..], [json!(["the", 1]), json!(["cat", null])]);
    assert_eq!(from[0][1], 2);
    // Without a match a page may hold more.
    assert_eq!(
        teacher.get(&format!("/books?group_id={group}&limit=101")).problem(422, "invalid"),
        ["limit: must be at most 100 to match books"]
    );
    assert_eq!(titles(&teacher, "/books?limit=101"), ["Mod", "Mom", "Ned"]);
    // Somebody else's group is not to be known.
    school.staff("teacher:2").get(&format!("/books?group_id={group}")).problem(404, "not_found");
}

#[test]
fn a_file_is_looked_at_then_imported_and_the_same_again_changes_nothing() {
    let school = School::start();
    let office = school.staff("office");
    add(&office, "Mod", Some("A-1"), "mod").expect(201);
    add(&office, "Dom", None, "dom").expect(201);
    let csv = "title,reference,text\nMod again,A-1,\"Mod,\nmod.\"\ndom,A-2,dom\nNed,,ned\n";
    let dry = office.post_csv("/books/imports?dry_run=true", csv.as_bytes()).expect(200);
    assert_eq!((&dry["dry_run"], &dry["unchanged"]), (&json!(true), &json!(0)));
    assert_eq!(dry["added"], json!([{"line": 5, "title": "Ned", "book_id": null}]));
    assert_eq!(column(&dry["changed"], "title"), ["Mod again", "dom"]);
    assert_eq!(titles(&office, "/books"), ["Dom", "Mod"]);
    let done = office.post_csv("/books/imports", csv.as_bytes()).expect(200);
    assert_eq!((&done["dry_run"], &done["changed"]), (&json!(false), &dry["changed"]));
    assert_eq!(titles(&office, "/books"), ["Mod again", "Ned", "dom"]);
    let ned = office.get(&format!("/books/{}", text(&done["added"][0]["book_id"]))).expect(200);
    assert_eq!((&ned["title"], &ned["text"]), (&json!("Ned"), &json!("ned")));
    let again = office.post_csv("/books/imports", csv.as_bytes()).expect(200);
    assert_eq!(again, json!({"dry_run": false, "added": [], "changed": [], "unchanged": 3}));
}

#[test]
fn an_import_with_a_key_is_done_once_and_looking_is_another_request() {
    let school = School::start();
    let lead = school.lead().with("Idempotency-Key", "books-1");
    let csv = b"title,text\nMod,mod\n";
    lead.post_csv("/books/imports?dry_run=true", csv).expect(200);
    let done = lead.post_csv("/books/imports", csv).expect(200);
    assert_eq!(lead.post_csv("/books/imports", csv).expect(200), done);
    lead.post_csv("/books/imports", b"title,text\nDom,dom\n").problem(422, "idempotency_key_reused");
    assert_eq!(titles(&school.lead(), "/books"), ["Mod"]);
}

#[test]
fn a_file_with_a_bad_line_is_refused_whole_with_every_line_named() {
    let school = School::start();
    let lead = school.lead();
    assert_eq!(
        faults(&lead, "title,text\nMod,mod\n,mod\nDom,4\n\"Ned\",ned,x\n"),
        [
            "line 3.title: must not be empty",
            "line 4.text: must hold at least one word",
            "line 5: has 3 cells where the header has 2"
        ]
    );
    assert_eq!(
        faults(&lead, "title,text\nMod,mod\nmod,mod\n"),
        ["line 3.title: stands on line 2 too: give each book its reference"]
    );
    let large = format!("title,text\nMod,{}\n", "mod ".repeat(25_001));
    assert_eq!(faults(&lead, &large), ["line 2.text: must be at most 100000 bytes; 100003 were sent"]);
    assert_eq!(
        faults(&lead, "title,text\n\"Mod,mod\n"),
        ["file: a quote that opens on line 2 is never closed"]
    );
    assert_eq!(faults(&lead, ""), ["file: is empty"]);
    let answer = lead.send("POST", "/api/v1/books/imports", Some("application/json"), b"{}");
    answer.problem(415, "unsupported_media_type");
    // Two mebibytes are a file; five are not.
    let file = |size: usize| {
        let mut csv = b"title,text\n".to_vec();
        csv.resize(size << 20, b'\n');
        lead.post_csv("/books/imports", &csv)
    };
    assert_eq!(file(2).expect(200)["added"], json!([]));
    file(5).problem(413, "too_large");
    assert_eq!(titles(&lead, "/books"), Vec::<String>::new());
}

/// A file of forty books of 99,999 bytes each: under the four mebibytes a file may have.
fn long_books(letter: char) -> String {
    let words = "mod ".repeat(25_000);
    let row = |n: u8| format!("{letter}{n:02},{}\n", words.trim());
    format!("title,text\n{}", (0..40).map(row).collect::<String>())
}

#[test]
fn a_register_has_a_bound_and_long_books_come_in_short_pages() {
    let school = School::start();
    let (sequence, _) = school.sequence();
    let lead = school.lead();
    for letter in ['A', 'B'] {
        let done = lead.post_csv("/books/imports", long_books(letter).as_bytes()).expect(200);
        assert_eq!(done["added"].as_array().unwrap().len(), 40);
    }
    // 80 times 99,999 is 7,999,920; 80 bytes are left.
    let full = |bytes: usize| {
        format!(
            "text: the texts of a school's books have at most 8000000 bytes together; they would have {bytes}"
        )
    };
    let words = "mod ".repeat(20) + "a";
    assert_eq!(add(&lead, "C", None, &words).problem(422, "invalid"), [full(8_000_001)]);
    let file = format!("title,text\nC,{words}\n");
    for path in ["/books/imports?dry_run=true", "/books/imports"] {
        assert_eq!(lead.post_csv(path, file.as_bytes()).problem(422, "invalid"), [full(8_000_001)]);
    }
    let made = add(&lead, "C", None, &words[1..]);
    let path = format!("/books/{}", text(&made.expect(201)["id"]));
    let longer = json!({"title": "C", "source": "text", "text": words});
    assert_eq!(lead.put(&path, &made.etag(), longer).problem(422, "invalid"), [full(8_000_001)]);
    // The same file again changes nothing, full or not.
    let again = lead.post_csv("/books/imports", long_books('A').as_bytes()).expect(200);
    assert_eq!((&again["unchanged"], &again["changed"]), (&json!(40), &json!([])));
    // Five such books are the 500,000 bytes a page is matched with; unmatched it holds a hundred.
    let first = lead.get(&format!("/books?sequence_id={sequence}")).expect(200);
    assert_eq!(column(&first["items"], "title"), ["A00", "A01", "A02", "A03", "A04"]);
    let next = format!("/books?sequence_id={sequence}&cursor={}", text(&first["next"]));
    assert_eq!(titles(&lead, &next)[0], "A05");
    assert_eq!(titles(&lead, "/books").len(), 81);
}
