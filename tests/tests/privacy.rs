//! What is nobody's business stays out of the log and out of problem details.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, Database, School, Server, TODAY, json};

const PASSWORD: &str = "kanarienvogel singt leise";
const WRONG: &str = "falscher kanarienvogel singt";

/// Names, references and dates that stand nowhere else.
const CANARIES: &[&str] = &[
    "Quintillia",
    "Zanzibarth",
    "Quilly",
    "PR-998877",
    "2020-02-29",
    "Xylanthe",
    "Vossberg",
    "Ottokarina",
    "Wendeltreppe",
    "Zwetschge",
    "kanarie",
    "PASSWORT",
    "quastenflosser",
];

fn holds(text: &str) -> Vec<&'static str> {
    let lower = text.to_lowercase();
    CANARIES.iter().copied().filter(|canary| lower.contains(&canary.to_lowercase())).collect()
}

/// Checks that a problem repeats nothing of it.
#[track_caller]
fn silent(answer: &Answer, status: u16) {
    assert_eq!(answer.status, status, "{}", answer.text);
    assert_eq!(holds(&answer.text), Vec::<&str>::new(), "{}", answer.text);
}

fn check_log(server: &Server, secrets: &[String]) {
    let log = server.log();
    assert!(log.lines().count() > 30, "the log says too little to tell: {log}");
    let found: Vec<&str> = log
        .lines()
        .filter(|line| !holds(line).is_empty() || secrets.iter().any(|secret| line.contains(secret.as_str())))
        .collect();
    assert!(found.is_empty(), "{}", found.join("\n"));
}

/// Works through everything a name, password or token passes, failures included; returns
/// the secrets used.
fn work(school: &School) -> Vec<String> {
    let lead = school.lead();
    school.calendar();
    let csv = "pupil_ref,given_name,family_name,preferred_name,date_of_birth,year_group,class_name\n\
        PR-998877,Quintillia,Zanzibarth,Quilly,2020-02-29,Year 1,Ottokarina\n\
        PR-1,Xylanthe,,,31/02/Zwetschge,Year 99 Wendeltreppe,\n";
    let import = lead.post_csv("/roster-imports", csv.as_bytes()).expect(201);
    let import = format!("/roster-imports/{}", import["id"].as_str().unwrap());
    lead.post(&format!("{import}/confirm"), json!({"from": "2026-09-01"})).expect(200);
    let found = lead.get("/pupils?find=Quintillia").expect(200);
    let pupil = found["items"][0]["id"].as_str().unwrap().to_owned();
    let path = format!("/pupils/{pupil}");
    let seen = lead.get(&path);
    assert_eq!(seen.json()["name"], "Quilly Zanzibarth");
    lead.patch(&path, &seen.etag(), json!({"label": "Wendeltreppe"})).expect(200);
    // Failures that know a name.
    silent(&lead.patch(&path, &seen.etag(), json!({"given_name": "Xylanthe"})), 412);
    let etag = lead.get(&path).etag();
    for body in [
        json!({"given_name": "Xylanthe\u{0}"}),
        json!({"given_name": ["Xylanthe"]}),
        json!({"given_name": {"Xylanthe": "Vossberg"}}),
        json!({"date_of_birth": "Xylanthe"}),
        json!({"class_id": "Xylanthe"}),
        json!({"year_group": "Xylanthe"}),
        json!({"left_on": "2020-02-29 Vossberg"}),
    ] {
        silent(&lead.patch(&path, &etag, body), 422);
    }
    let check = json!({"name": "Words", "kind": "Xylanthe", "items": [{"prompt": "mat"}]});
    silent(&lead.post("/checks", check), 422);
    let reference = json!({"given_name": "Xylanthe", "pupil_ref": "PR-998877"});
    silent(&lead.post("/pupils", reference), 409);
    let broken = b"{\"given_name\": \"Xylanthe\", \"family_name\": \"Vossberg";
    silent(&lead.send("POST", "/api/v1/pupils", Some("application/json"), broken), 400);
    silent(&lead.send("POST", "/api/v1/pupils", Some("text/plain"), broken), 415);
    silent(&lead.get("/pupils?limit=Xylanthe"), 422);
    silent(&lead.get("/pupils?cursor=Xylanthe"), 422);
    silent(&lead.get("/pupils/Xylanthe"), 404);
    silent(&lead.get("/Xylanthe"), 404);
    silent(&school.nobody().get("/pupils?find=Quintillia"), 401);
    silent(&school.staff("administrator").get("/pupils?find=Quintillia"), 403);
    silent(&lead.post_csv("/roster-imports", b"Xylanthe,Vossberg\n\"Quintillia,Zanzibarth\n"), 422);
    // Without a header the first pupil is shown as a heading, to whoever sent the file and nobody else.
    lead.post_csv("/roster-imports", b"Xylanthe,Vossberg\nQuintillia,Zanzibarth\n").expect(201);
    signing_in(school)
}

fn signing_in(school: &School) -> Vec<String> {
    let admin = school.staff("administrator");
    let member = json!({"name": "Amara Osei", "email": "quastenflosser@farholt.example", "roles": [{"role": "teacher"}]});
    let invited = admin.post("/invitations", member.clone()).expect(201);
    let invitation = invited["token"].as_str().unwrap().to_owned();
    let accept = |token: &str, password: &str| {
        school.nobody().post("/invitations/accept", json!({"token": token, "password": password}))
    };
    silent(&accept(&invitation, "PASSWORT"), 422);
    accept(&invitation, PASSWORD).expect(200);
    silent(&accept(&invitation, PASSWORD), 404);
    silent(&admin.post("/invitations", member), 409);
    let sign_in = |password: &str| {
        let body = json!({"email": "quastenflosser@farholt.example", "password": password});
        school.nobody().post("/sessions", body)
    };
    silent(&sign_in(WRONG), 401);
    let session = sign_in(PASSWORD).expect(201);
    let (access, refresh) =
        (session["access_token"].as_str().unwrap(), session["refresh_token"].as_str().unwrap());
    let renew = |token: &str| school.nobody().post("/sessions/refresh", json!({"refresh_token": token}));
    let next = renew(refresh).expect(200);
    let next_refresh = next["refresh_token"].as_str().unwrap();
    let last = renew(next_refresh).expect(200);
    silent(&renew(refresh), 401);
    let ended = school.nobody().with_token(access).get("/me");
    assert!(!ended.text.contains(access));
    silent(&ended, 401);
    silent(&school.nobody().get(&format!("/me?access_token={access}")), 401);
    let cover = cover_link(school);
    for _ in 0..10 {
        sign_in(WRONG);
    }
    silent(&sign_in(PASSWORD), 429);
    let text = |json: &plumbline_tests::Value| json.as_str().unwrap().to_owned();
    vec![
        cover,
        invitation,
        access.to_owned(),
        access.rsplit('.').next().unwrap().to_owned(),
        refresh.to_owned(),
        next_refresh.to_owned(),
        text(&last["access_token"]),
        text(&last["refresh_token"]),
        School::password().to_owned(),
    ]
}

/// A link to a cover page, opened, mistyped and put where it does not belong.
fn cover_link(school: &School) -> String {
    let (sequence, _) = school.sequence();
    let ida = school.lead().post("/pupils", json!({"given_name": "Ida"})).expect(201)["id"]
        .as_str()
        .unwrap()
        .to_owned();
    let group = school.group("Wendeltreppe", &sequence, &[&ida]);
    let made = school.lead().post(&format!("/groups/{group}/cover-links"), json!({"on": TODAY})).expect(201);
    let token = made["token"].as_str().unwrap();
    let open = |token: &str| school.nobody().post("/cover-pages", json!({"token": token}));
    open(token).expect(200);
    for wrong in [&token[1..], &token[..60], ""] {
        let refused = open(wrong);
        assert!(wrong.is_empty() || !refused.text.contains(wrong));
        silent(&refused, 404);
    }
    silent(&school.nobody().get(&format!("/cover-pages/{token}")), 404);
    silent(&school.nobody().send("GET", &format!("/cover/{token}"), None, &[]), 404);
    token.to_owned()
}

#[test]
fn a_run_full_of_names_leaves_none_in_the_log() {
    let school = School::on(Server::start_with(TODAY, &[("PLUMBLINE_LOG", "info")]));
    let secrets = work(&school);
    check_log(&school.server, &secrets);
}

#[test]
fn not_even_where_everything_is_logged() {
    let school = School::on(Server::start_with(
        TODAY,
        &[("PLUMBLINE_LOG", "trace"), ("PLUMBLINE_LOG_FORMAT", "json")],
    ));
    let secrets = work(&school);
    check_log(&school.server, &secrets);
}

#[test]
fn a_fault_of_the_store_says_nothing_to_the_caller_and_no_name_to_the_log() {
    let mut school = School::start();
    let secrets = work(&school);
    break_pupils(&mut school);
    let signed_in = school.sign_in(&School::email("lead"));
    let lead = school.nobody().with_token(signed_in["access_token"].as_str().unwrap());
    let answer = lead.get("/pupils?find=Quintillia");
    answer.problem(500, "internal");
    silent(&answer, 500);
    let answer = lead.post("/pupils", json!({"given_name": "Xylanthe", "family_name": "Vossberg"}));
    answer.problem(500, "internal");
    silent(&answer, 500);
    for word in ["pupil", "table", "column", "SELECT", "relation"] {
        assert!(!answer.text.contains(word), "{}", answer.text);
    }
    let id = answer.header("X-Request-Id");
    let log = school.server.log();
    assert!(log.lines().any(|line| line.contains("ERROR") && line.contains(&id)), "{log}");
    check_log(&school.server, &secrets);
    lead.get("/me").expect(200);
}

/// Takes a column away under the server's feet, and starts it again.
fn break_pupils(school: &mut School) {
    let url = school.server.database.url(&school.server.folder);
    match &school.server.database {
        // The schema is text in the file: the same length under another name will do.
        Database::Sqlite => {
            let path = school.server.folder.path().join("plumbline.db");
            let mut bytes = std::fs::read(&path).unwrap();
            let (old, new) = (b"given_name TEXT", b"given_nama TEXT");
            let at = bytes.windows(old.len()).position(|window| window == old).unwrap();
            bytes[at..at + new.len()].copy_from_slice(new);
            std::fs::write(&path, bytes).unwrap();
        }
        Database::Postgres { .. } => postgres::Client::connect(&url, postgres::NoTls)
            .unwrap()
            .batch_execute("ALTER TABLE pupil RENAME COLUMN given_name TO given_nama")
            .unwrap(),
    }
    school.server.kill_and_restart(TODAY);
}
