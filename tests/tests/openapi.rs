//! The contract: what is committed, printed and served is one document, complete enough to
//! write a client from, and its examples hold.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;

use plumbline_tests::{Client, Document, Server, Value, run};

const COMMITTED: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../openapi/plumbline.v1.json");

/// Operations that need no token.
const OPEN: &[&str] = &["accept_invitation", "create_session", "open_cover_page", "refresh_session"];

fn printed() -> String {
    let output = run(&["openapi"], &[]);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

fn document() -> Document {
    Document(serde_json::from_str(&printed()).unwrap())
}

/// Fails with everything that is wrong.
#[track_caller]
fn none(wrong: &[String]) {
    assert!(wrong.is_empty(), "{} faults:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn the_committed_document_is_this_builds() {
    let committed = std::fs::read_to_string(COMMITTED).unwrap_or_default();
    let printed = printed();
    let first = committed.lines().zip(printed.lines()).enumerate().find(|(_, (old, new))| old != new);
    assert!(
        committed == printed,
        "the API and openapi/plumbline.v1.json differ{}. Review the change, then run\n  \
         cargo run -- openapi > openapi/plumbline.v1.json",
        first.map_or_else(String::new, |(n, (old, new))| format!(
            " from line {}:\n  committed: {old}\n  this build: {new}\n",
            n + 1
        ))
    );
}

#[test]
fn the_served_document_is_the_printed_one() {
    let server = Server::start(plumbline_tests::TODAY);
    let served = Client::new(&server.base).get("/openapi.json");
    assert_eq!(served.header("Content-Type"), "application/json");
    assert_eq!(served.expect(200), document().0);
}

#[test]
fn every_operation_says_what_it_is() {
    let document = document();
    assert!(document.0["openapi"].as_str().unwrap().starts_with("3.1"));
    assert_eq!(document.0["security"], serde_json::json!([{"bearer": []}]));
    let scheme = &document.0["components"]["securitySchemes"]["bearer"];
    assert_eq!((scheme["type"].as_str(), scheme["scheme"].as_str()), (Some("http"), Some("bearer")));
    let (mut wrong, mut ids) = (Vec::new(), BTreeSet::new());
    for operation in document.operations() {
        let (id, json) = (operation.id(), operation.json);
        let mut require = |holds: bool, what: &str| {
            if !holds {
                wrong.push(format!("{} {} ({id}): {what}", operation.method, operation.path));
            }
        };
        require(!id.is_empty() && ids.insert(id.to_owned()), "no operationId of its own");
        require(json["summary"].as_str().is_some_and(|text| !text.is_empty()), "no summary");
        require(json["tags"].as_array().is_some_and(|tags| tags.len() == 1), "not one tag");
        let open = json["security"] == serde_json::json!([{}]);
        require(open == OPEN.contains(&id), "open and is not listed as open, or the other way round");
        require(open || json["security"].is_null(), "asks for something else than the bearer token");
        let documented: BTreeSet<&str> = json["parameters"]
            .as_array()
            .into_iter()
            .flatten()
            .filter(|parameter| parameter["in"] == "path" && parameter["required"] == true)
            .filter_map(|parameter| parameter["name"].as_str())
            .collect();
        let in_path: BTreeSet<&str> =
            operation.path.split('{').skip(1).filter_map(|rest| rest.split('}').next()).collect();
        require(documented == in_path, "its path parameters are not those of its path");
        for parameter in json["parameters"].as_array().into_iter().flatten() {
            let described = parameter["description"].as_str().is_some_and(|text| !text.is_empty());
            require(
                described && parameter["schema"].is_object(),
                "a parameter without description or schema",
            );
        }
    }
    none(&wrong);
}

#[test]
fn every_answer_and_problem_is_described() {
    let document = document();
    let mut wrong = Vec::new();
    for operation in document.operations() {
        let id = operation.id();
        let mut require = |holds: bool, what: String| {
            if !holds {
                wrong.push(format!("{id}: {what}"));
            }
        };
        let responses = operation.json["responses"].as_object().unwrap();
        let good: Vec<_> = responses.iter().filter(|(status, _)| status.starts_with('2')).collect();
        require(good.len() == 1, "not one 2xx".into());
        for (status, response) in &good {
            require(
                !response["description"].as_str().unwrap_or_default().is_empty(),
                format!("{status} says nothing"),
            );
            if *status == "204" {
                require(response["content"].is_null(), "204 with a body".into());
                continue;
            }
            let content = response["content"].as_object();
            require(content.is_some_and(|content| !content.is_empty()), format!("{status} has no content"));
            for (kind, media) in content.into_iter().flatten() {
                require(media["schema"].is_object(), format!("{status} has no {kind} schema"));
                require(example(&document, media).is_some(), format!("{status} has no {kind} example"));
            }
        }
        let expected: &[&str] = if OPEN.contains(&id) {
            &["400", "401", "422", "500", "503"]
        } else {
            &["401", "403", "404", "500", "503"]
        };
        for status in expected {
            require(responses.contains_key(*status), format!("{status} is not described"));
        }
        // What one has is as it is: no problem, and nothing in it.
        require(
            responses.get("304").is_none_or(|response| response["content"].is_null()),
            "304 with a body".into(),
        );
        let problems = responses.iter().filter(|(status, _)| !status.starts_with('2') && *status != "304");
        for (status, response) in problems {
            let media = &response["content"]["application/problem+json"]["schema"];
            require(media["$ref"] == "#/components/schemas/ProblemBody", format!("{status} is no problem"));
        }
        let body = &operation.json["requestBody"];
        if !body.is_null() {
            require(body["required"] == true, "its body is not required".into());
            for (kind, media) in body["content"].as_object().unwrap() {
                require(media["schema"].is_object(), format!("its {kind} body has no schema"));
                require(example(&document, media).is_some(), format!("its {kind} body has no example"));
                require(
                    responses.contains_key("413") && responses.contains_key("415"),
                    "413 or 415 is missing".into(),
                );
            }
        }
        let parameters = operation.json["parameters"].as_array().into_iter().flatten();
        for edits in parameters.filter(|parameter| parameter["name"] == "If-Match") {
            require(responses.contains_key("412"), "412 is missing".into());
            require(edits["required"] != true || responses.contains_key("428"), "428 is missing".into());
        }
    }
    none(&wrong);
}

/// The example of a body: its own, its schema's, or that of its items' schema in a page.
fn example<'a>(document: &'a Document, media: &'a Value) -> Option<&'a Value> {
    let schema = document.resolve(&media["schema"]);
    let items = document.resolve(&schema["properties"]["items"]["items"]);
    [&media["example"], &schema["example"], &items["example"]].into_iter().find(|example| !example.is_null())
}

#[test]
fn every_reference_leads_somewhere_and_every_schema_is_used() {
    let document = document();
    let (mut used, mut wrong) = (BTreeSet::new(), Vec::new());
    references(&document.0, &mut |to| {
        if document.0.pointer(to.trim_start_matches('#')).is_none() {
            wrong.push(to.to_owned());
        }
        used.insert(to.to_owned());
    });
    none(&wrong);
    let schemas = document.0["components"]["schemas"].as_object().unwrap();
    let idle: Vec<String> = schemas
        .keys()
        // utoipa writes pages out where they are used and lists them too.
        .filter(|name| !name.starts_with("Page_") && !name.starts_with("Named_"))
        // What a pulled row says depends on its kind, which no reference can.
        .filter(|name| *name != "BodyByKind")
        .filter(|name| !used.contains(&format!("#/components/schemas/{name}")))
        .filter(|name| !is_written_out(&document, name))
        .cloned()
        .collect();
    none(&idle);
}

/// Whether a schema stands word for word inside a page.
fn is_written_out(document: &Document, name: &str) -> bool {
    let schemas = document.0["components"]["schemas"].as_object().unwrap();
    let schema = &schemas[name];
    schemas.values().any(|page| page["properties"]["items"]["items"] == *schema)
}

fn references(value: &Value, found: &mut impl FnMut(&str)) {
    match value {
        Value::Object(fields) => {
            for (name, field) in fields {
                match field.as_str() {
                    Some(to) if name == "$ref" => found(to),
                    _ => references(field, found),
                }
            }
        }
        Value::Array(items) => items.iter().for_each(|item| references(item, found)),
        _ => {}
    }
}

#[test]
fn every_problem_code_is_in_the_table_and_in_an_answer() {
    let document = document();
    let table = document.0["info"]["description"].as_str().unwrap();
    let codes = document.0["components"]["schemas"]["Code"]["enum"].as_array().unwrap();
    assert!(codes.len() > 20);
    let answers = document.0["paths"].to_string();
    let mut wrong = Vec::new();
    for code in codes {
        let code = code.as_str().unwrap();
        if !table.contains(&format!("| `{code}` | ")) {
            wrong.push(format!("{code} is not in the table"));
        }
        // An address without that method has no operation to stand in.
        if code != "method_not_allowed" && !answers.contains(&format!("`{code}`")) {
            wrong.push(format!("{code} is no operation's answer"));
        }
    }
    none(&wrong);
}

#[test]
fn examples_are_what_their_schemas_say() {
    let document = document();
    let (mut wrong, mut checked) = (Vec::new(), 0);
    let mut check = |name: &str, schema: &Value, example: &Value| {
        checked += 1;
        wrong.extend(document.differences(schema, example).into_iter().map(|line| format!("{name}: {line}")));
    };
    for (name, schema) in document.0["components"]["schemas"].as_object().unwrap() {
        if !schema["example"].is_null() {
            check(name, schema, &schema["example"]);
        }
    }
    for operation in document.operations() {
        let responses = operation.json["responses"].as_object().unwrap().values();
        for holder in responses.chain([&operation.json["requestBody"]]) {
            for media in holder["content"].as_object().into_iter().flat_map(|content| content.values()) {
                if !media["example"].is_null() {
                    check(operation.id(), &media["schema"], &media["example"]);
                }
            }
        }
    }
    none(&wrong);
    assert!(checked > 50, "{checked}");
}

#[test]
fn a_value_that_differs_is_noticed() {
    let document = document();
    let schema = serde_json::json!({"$ref": "#/components/schemas/StaffBody"});
    let right = document.0["components"]["schemas"]["StaffBody"]["example"].clone();
    assert_eq!(document.differences(&schema, &right), Vec::<String>::new());
    for (pointer, wrong, said) in [
        ("/id", serde_json::json!("x"), "$.id"),
        ("/disabled", serde_json::json!("no"), "$.disabled"),
        ("/roles/0/role", serde_json::json!("king"), "$.roles[0].role"),
        ("/roles/0", serde_json::json!({"role": "lead"}), "$.roles[0].from is missing"),
        (
            "/roles/0",
            serde_json::json!({"role": "lead", "from": "2026-09-01", "x": 1}),
            "$.roles[0].x is no property",
        ),
    ] {
        let mut value = right.clone();
        *value.pointer_mut(pointer).unwrap() = wrong;
        let found = document.differences(&schema, &value).join("; ");
        assert!(found.contains(said), "{found}");
    }
}

#[test]
fn the_browsable_copy_needs_no_other_host() {
    let server = Server::start(plumbline_tests::TODAY);
    let nobody = Client::new(&server.base);
    let moved = nobody.send("GET", "/docs", None, &[]);
    assert_eq!((moved.status, moved.header("Location").as_str()), (308, "/docs/"));
    let page = nobody.send("GET", "/docs/", None, &[]);
    assert_eq!(page.status, 200);
    assert!(page.header("Content-Type").starts_with("text/html"), "{}", page.header("Content-Type"));
    let mut files = vec!["/docs/".to_owned()];
    for part in page.text.split(['"', '\'']) {
        let part = part.trim_start_matches("./");
        if [".js", ".css"].iter().any(|ending| part.ends_with(ending)) {
            files.push(format!("/docs/{part}"));
        }
    }
    assert!(files.len() > 4, "{files:?}");
    for file in &files {
        let got = nobody.send("GET", file, None, &[]);
        assert_eq!(got.status, 200, "{file}");
        let policy = got.header("Content-Security-Policy");
        assert!(
            policy.contains("default-src 'self'") && policy.contains("frame-ancestors 'none'"),
            "{file}: {policy}"
        );
        assert!(!policy.contains("http:") && !policy.contains("https:"), "{policy}");
        assert_eq!(got.header("X-Content-Type-Options"), "nosniff", "{file}");
    }
    let loader = nobody.send("GET", "/docs/swagger-initializer.js", None, &[]).text;
    assert!(loader.contains("/openapi.json"), "{loader}");
    for text in [&page.text, &loader] {
        assert!(!text.contains("http://") && !text.contains("https://") && !text.contains("\"//"), "{text}");
    }
    assert_eq!(nobody.send("GET", "/docs/no-such-file", None, &[]).status, 404);
}
