//! Signing in, staying signed in, and every way of not being.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, Client, Forge, School, Value, json};

fn sign_in(school: &School, email: &str, password: &str) -> Answer {
    school.nobody().post("/sessions", json!({"email": email, "password": password}))
}

fn refresh(school: &School, token: &Value) -> Answer {
    school.nobody().post("/sessions/refresh", json!({"refresh_token": token}))
}

fn token_of(signed_in: &Value) -> &str {
    signed_in["access_token"].as_str().unwrap()
}

/// A fresh sign-in of a member: a client, and what was answered.
fn fresh(school: &School, key: &str) -> (Client, Value) {
    let signed_in = school.sign_in(&School::email(key));
    (school.nobody().with_token(token_of(&signed_in)), signed_in)
}

#[test]
fn the_address_counts_in_any_case_and_the_password_exactly() {
    let school = School::start();
    school.staff("teacher");
    for email in ["teacher@farholt.example", "TEACHER@Farholt.Example", " teacher@farholt.example  "] {
        let signed_in = sign_in(&school, email, School::password()).expect(201);
        assert_eq!(signed_in["staff_id"], school.staff_id("teacher").as_str());
        assert_eq!(
            (signed_in["token_type"].as_str(), signed_in["expires_in"].as_i64()),
            (Some("Bearer"), Some(600))
        );
    }
    let padded = format!(" {}", School::password());
    for password in [&padded, "", "Correct horse battery staple"] {
        sign_in(&school, "teacher@farholt.example", password).problem(401, "bad_credentials");
    }
}

#[test]
fn an_unknown_address_and_a_wrong_password_get_one_answer() {
    let school = School::start();
    school.staff("teacher");
    let wrong = sign_in(&school, "teacher@farholt.example", "wrong horse battery staple");
    wrong.problem(401, "bad_credentials");
    for email in ["nobody@farholt.example", "not an address", ""] {
        let unknown = sign_in(&school, email, "wrong horse battery staple");
        assert_eq!((unknown.status, &unknown.text), (wrong.status, &wrong.text));
        let names = |answer: &Answer| {
            let mut names: Vec<String> = answer.headers.keys().map(ToString::to_string).collect();
            names.sort();
            names
        };
        assert_eq!(names(&unknown), names(&wrong));
    }
}

#[test]
fn hostile_tokens_are_refused() {
    let school = School::start();
    let (lead, _) = fresh_lead(&school);
    let (teacher, _) = fresh_other(&school);
    let good = Forge::of(&school.server, lead.token());
    let other = Forge::of(&school.server, teacher.token());
    let stranger = School::start();
    let me = |token: &str| school.nobody().with_token(token).get("/me");
    me(&good.signed()).expect(200);
    let iat = good.get("iat").as_i64().unwrap();
    let (signature, resigned) =
        (lead.token().rsplit('.').next().unwrap(), good.clone().claim("sub", other.get("sub").clone()));
    let transplanted = format!("{}.{signature}", resigned.signed().rsplit_once('.').unwrap().0);
    let key = json!({"kty": "OKP", "crv": "Ed25519", "x": "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"});
    let cases: Vec<(&str, String)> = vec![
        ("alg none", good.clone().header("alg", "none").unsigned()),
        ("alg None", good.clone().header("alg", "None").unsigned()),
        ("no signature", good.unsigned()),
        ("alg none with the signature", good.clone().header("alg", "none").signed()),
        ("HS256 with the public key", good.clone().header("alg", "HS256").signed_with_the_public_key()),
        ("HMAC under EdDSA", good.signed_with_the_public_key()),
        ("alg ES256", good.clone().header("alg", "ES256").signed()),
        ("unknown kid", good.clone().header("kid", "AAAAAAAAAAAA").signed()),
        ("a path as kid", good.clone().header("kid", "../keys/0001.pem").signed()),
        ("no kid", good.clone().header("kid", Value::Null).signed()),
        ("jku", good.clone().header("jku", "https://keys.example/jwks.json").signed()),
        ("jwk", good.clone().header("jwk", key).signed()),
        ("x5u", good.clone().header("x5u", "https://keys.example/chain.pem").signed()),
        ("typ JWT", good.clone().header("typ", "JWT").signed()),
        ("no typ", good.clone().header("typ", Value::Null).signed()),
        ("iss", good.clone().claim("iss", "plumbline.example").signed()),
        ("no iss", good.clone().claim("iss", Value::Null).signed()),
        ("aud", good.clone().claim("aud", "other").signed()),
        ("aud list", good.clone().claim("aud", json!(["plumbline", "other"])).signed()),
        ("no aud", good.clone().claim("aud", Value::Null).signed()),
        ("no exp", good.clone().claim("exp", Value::Null).signed()),
        ("string exp", good.clone().claim("exp", (iat + 600).to_string()).signed()),
        ("string iat", good.clone().claim("iat", iat.to_string()).signed()),
        ("no iat", good.clone().claim("iat", Value::Null).signed()),
        ("exp beyond the ten minutes", good.clone().claim("exp", iat + 6000).signed()),
        ("exp beyond numbers", good.clone().claim("exp", i64::MAX).signed()),
        ("iat before numbers", good.clone().claim("iat", i64::MIN).signed()),
        ("issued in ten minutes", good.clone().shifted(600).signed()),
        ("another claim", good.clone().claim("role", "lead").signed()),
        ("sub is no id", good.clone().claim("sub", "lead").signed()),
        ("a signature from another payload", transplanted),
        ("another server's", stranger.staff("administrator").token().to_owned()),
        ("no token", "x".into()),
        ("three dots", "...".into()),
        ("empty", String::new()),
    ];
    let accepted: Vec<String> = cases
        .iter()
        .map(|(name, token)| (name, me(token)))
        .filter(|(_, answer)| answer.status != 401 || answer.json()["code"] != "unauthenticated")
        .map(|(name, answer)| format!("{name}: {} {}", answer.status, answer.text))
        .collect();
    assert!(accepted.is_empty(), "{}", accepted.join("\n"));
    // Rightly signed, but the sign-in is not the one it says: nobody has these.
    for (name, token) in [
        ("another's sign-in", good.clone().claim("session", other.get("session").clone()).signed()),
        ("another member", good.clone().claim("sub", other.get("sub").clone()).signed()),
        ("no such school", good.clone().claim("school", other.get("sub").clone()).signed()),
    ] {
        let answer = me(&token);
        assert_eq!((answer.status, answer.json()["code"].as_str()), (401, Some("signed_out")), "{name}");
    }
}

fn fresh_lead(school: &School) -> (Client, Value) {
    school.lead();
    fresh(school, "lead")
}

fn fresh_other(school: &School) -> (Client, Value) {
    school.staff("teacher");
    fresh(school, "teacher")
}

#[test]
fn clocks_may_differ_a_little() {
    let school = School::start();
    let (lead, _) = fresh_lead(&school);
    let good = Forge::of(&school.server, lead.token());
    let me = |token: &str| school.nobody().with_token(token).get("/me");
    me(&good.clone().shifted(60).signed()).expect(200);
    me(&good.clone().shifted(600).signed()).problem(401, "unauthenticated");
    // Five seconds of leeway, of which this test may spend four.
    me(&good.clone().shifted(-601).signed()).expect(200);
    me(&good.clone().shifted(-630).signed()).problem(401, "token_expired");
    let late = me(&good.shifted(-630).signed());
    assert_eq!(late.header("WWW-Authenticate"), "Bearer");
}

#[test]
fn only_the_bearer_header_carries_a_token() {
    let school = School::start();
    let (lead, signed_in) = fresh_lead(&school);
    let nobody = school.nobody();
    nobody.with("Authorization", &format!("bearer {}", lead.token())).get("/me").expect(200);
    nobody
        .with("Authorization", &format!("Basic {}", lead.token()))
        .get("/me")
        .problem(401, "unauthenticated");
    nobody.with("Authorization", lead.token()).get("/me").problem(401, "unauthenticated");
    nobody
        .with("Cookie", &format!("access_token={}", lead.token()))
        .get("/me")
        .problem(401, "unauthenticated");
    nobody.get(&format!("/me?access_token={}", lead.token())).problem(401, "unauthenticated");
    let refresh_token = signed_in["refresh_token"].as_str().unwrap();
    nobody.with_token(refresh_token).get("/me").problem(401, "unauthenticated");
    refresh(&school, &lead.token().into()).problem(401, "bad_refresh_token");
}

#[test]
fn refreshing_goes_on_and_a_replay_ends_it() {
    let school = School::start();
    let (first, signed_in) = fresh_lead(&school);
    let second = refresh(&school, &signed_in["refresh_token"]).expect(200);
    assert_ne!(second["refresh_token"], signed_in["refresh_token"]);
    let third = refresh(&school, &second["refresh_token"]).expect(200);
    let latest = school.nobody().with_token(token_of(&third));
    latest.get("/me").expect(200);
    first.get("/me").expect(200);
    // The first token comes back after its successor was used: somebody has a copy.
    refresh(&school, &signed_in["refresh_token"]).problem(401, "bad_refresh_token");
    latest.get("/me").problem(401, "signed_out");
    first.get("/me").problem(401, "signed_out");
    for token in [&second["refresh_token"], &third["refresh_token"]] {
        refresh(&school, token).problem(401, "bad_refresh_token");
    }
    school.lead().get("/me").expect(200);
}

#[test]
fn a_race_of_refreshes_keeps_the_sign_in() {
    let school = School::start();
    let (_, signed_in) = fresh_lead(&school);
    let nobody = school.nobody();
    let body = json!({"refresh_token": signed_in["refresh_token"]});
    let answers: Vec<Answer> = std::thread::scope(|scope| {
        let racing: Vec<_> =
            (0..20).map(|_| scope.spawn(|| nobody.post("/sessions/refresh", body.clone()))).collect();
        racing.into_iter().map(|one| one.join().unwrap()).collect()
    });
    for answer in &answers {
        let renewed = answer.expect(200);
        nobody.with_token(token_of(&renewed)).get("/me").expect(200);
    }
    let mut tokens: Vec<String> =
        answers.iter().map(|answer| answer.json()["refresh_token"].as_str().unwrap().to_owned()).collect();
    tokens.sort();
    tokens.dedup();
    assert_eq!(tokens.len(), 20);
    // Whichever of them a client kept goes on.
    refresh(&school, &tokens[7].as_str().into()).expect(200);
    refresh(&school, &tokens[3].as_str().into()).expect(200);
}

#[test]
fn refresh_tokens_are_not_guessed() {
    let school = School::start();
    let (_, signed_in) = fresh_lead(&school);
    let (_, others) = fresh_other(&school);
    let good = signed_in["refresh_token"].as_str().unwrap();
    let (ids, _) = good.split_at(64);
    let (_, secret) = others["refresh_token"].as_str().unwrap().split_at(64);
    for wrong in [
        format!("{ids}{secret}"),
        good[..good.len() - 1].into(),
        format!("{good}A"),
        "x".into(),
        String::new(),
    ] {
        refresh(&school, &wrong.as_str().into()).problem(401, "bad_refresh_token");
    }
    school.nobody().post("/sessions/refresh", json!({})).problem(401, "bad_refresh_token");
    refresh(&school, &good.into()).expect(200);
}

#[test]
fn a_browser_keeps_the_refresh_token_in_a_cookie_only() {
    let school = School::start();
    school.lead();
    let body = json!({"email": School::email("lead"), "password": School::password(), "cookie": true});
    let signed_in = school.nobody().post("/sessions", body);
    let json = signed_in.expect(201);
    assert_eq!(json["refresh_token"], Value::Null);
    let cookie = signed_in.header("Set-Cookie");
    let mut parts = cookie.split("; ");
    let pair = parts.next().unwrap().to_owned();
    let (name, value) = pair.split_once('=').unwrap();
    assert_eq!(name, "__Host-plumbline-refresh");
    let mut flags: Vec<&str> = parts.collect();
    flags.sort_unstable();
    assert_eq!(flags, ["HttpOnly", "Max-Age=2592000", "Path=/", "SameSite=Strict", "Secure"]);
    assert!(!signed_in.text.contains(value));
    let renewed = school.nobody().with("Cookie", &pair).post("/sessions/refresh", json!({}));
    assert_eq!(renewed.expect(200)["refresh_token"], Value::Null);
    let next = renewed.header("Set-Cookie");
    assert!(next.starts_with("__Host-plumbline-refresh=") && !next.contains(value));
    school.nobody().with_token(token_of(&renewed.json())).get("/me").expect(200);
    // The one who loses never clears the cookie of the one who won.
    let lost =
        school.nobody().with("Cookie", "__Host-plumbline-refresh=x").post("/sessions/refresh", json!({}));
    lost.problem(401, "bad_refresh_token");
    assert_eq!(lost.header("Set-Cookie"), "");
    // A cookie is no access token.
    school.nobody().with("Cookie", &pair).get("/me").problem(401, "unauthenticated");
}

#[test]
fn a_refresh_by_cookie_from_a_form_is_refused() {
    let school = School::start();
    let nobody = school.nobody().with("Cookie", "__Host-plumbline-refresh=x");
    for kind in ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=b"] {
        let sent = nobody.send("POST", "/api/v1/sessions/refresh", Some(kind), b"{}");
        sent.problem(415, "unsupported_media_type");
    }
}

#[test]
fn signing_out_ends_this_sign_in_and_no_other() {
    let school = School::start();
    let (here, signed_in) = fresh_lead(&school);
    let (elsewhere, other) = fresh(&school, "lead");
    here.call("DELETE", "/sessions/current", None).expect(204);
    here.get("/me").problem(401, "signed_out");
    here.call("DELETE", "/sessions/current", None).problem(401, "signed_out");
    refresh(&school, &signed_in["refresh_token"]).problem(401, "bad_refresh_token");
    elsewhere.get("/me").expect(200);
    refresh(&school, &other["refresh_token"]).expect(200);
}

#[test]
fn signing_out_everywhere_ends_ones_own_sign_ins_and_nobody_elses() {
    let school = School::start();
    let (here, signed_in) = fresh_lead(&school);
    let (elsewhere, other) = fresh(&school, "lead");
    let (teacher, _) = fresh_other(&school);
    here.call("DELETE", "/sessions", None).expect(204);
    for client in [&here, &elsewhere] {
        client.get("/me").problem(401, "signed_out");
    }
    for session in [signed_in, other] {
        refresh(&school, &session["refresh_token"]).problem(401, "bad_refresh_token");
    }
    teacher.get("/me").expect(200);
    fresh(&school, "lead").0.get("/me").expect(200);
}

#[test]
fn disabling_a_member_ends_access_at_once() {
    let school = School::start();
    let (teacher, signed_in) = fresh_other(&school);
    let admin = school.staff("administrator");
    let path = format!("/staff/{}", school.staff_id("teacher"));
    let disabled = admin.patch(&path, &admin.get(&path).etag(), json!({"disabled": true}));
    assert_eq!(disabled.expect(200)["disabled"], true);
    teacher.get("/me").problem(401, "signed_out");
    refresh(&school, &signed_in["refresh_token"]).problem(401, "bad_refresh_token");
    let refused = sign_in(&school, &School::email("teacher"), School::password());
    let wrong = sign_in(&school, &School::email("teacher"), "wrong horse battery staple");
    assert_eq!((refused.status, &refused.text), (401, &wrong.text));
    admin.patch(&path, &disabled.etag(), json!({"disabled": false})).expect(200);
    teacher.get("/me").problem(401, "signed_out");
    fresh(&school, "teacher").0.get("/me").expect(200);
}

#[test]
fn a_change_of_role_counts_with_the_next_request() {
    let school = School::start();
    let (teacher, _) = fresh_other(&school);
    let admin = school.staff("administrator");
    let path = format!("/staff/{}", school.staff_id("teacher"));
    let set = |role: &str| {
        let roles = json!({"roles": [{"role": role, "from": "2026-09-01"}]});
        admin.put(&format!("{path}/roles"), &admin.get(&path).etag(), roles).expect(200);
    };
    teacher.get("/staff").problem(403, "forbidden");
    set("office");
    teacher.get("/staff").expect(200);
    assert_eq!(teacher.get("/me").expect(200)["roles_today"], json!(["office"]));
    set("teacher");
    teacher.get("/staff").problem(403, "forbidden");
}

#[test]
fn ten_wrong_passwords_hold_off_one_account_and_no_other() {
    let school = School::start();
    school.lead();
    school.staff("teacher");
    for email in ["lead@farholt.example", "nobody@farholt.example"] {
        for n in 0..10 {
            // In whatever case: it is one account.
            let email = if n % 2 == 0 { email.to_uppercase() } else { email.to_owned() };
            sign_in(&school, &email, "wrong horse battery staple").problem(401, "bad_credentials");
        }
        let held = sign_in(&school, email, School::password());
        held.problem(429, "too_many_attempts");
        let seconds: u32 = held.header("Retry-After").parse().unwrap();
        assert!((1..=900).contains(&seconds), "{seconds}");
    }
    sign_in(&school, &School::email("teacher"), School::password()).expect(201);
    // Those who are signed in already are not touched.
    school.lead().get("/me").expect(200);
}

#[test]
fn a_success_forgives_what_went_before() {
    let school = School::start();
    school.staff("teacher");
    let email = School::email("teacher");
    for _ in 0..2 {
        for _ in 0..9 {
            sign_in(&school, &email, "wrong horse battery staple").problem(401, "bad_credentials");
        }
        sign_in(&school, &email, School::password()).expect(201);
    }
}

/// Makes another school on the server, which invites an address; returns the invitation's
/// token.
fn invited_next_door(school: &School, email: &str) -> String {
    let token = school.found("Millbrook School", "Bo Admin", "admin@millbrook.example");
    let acceptance = json!({"token": token, "password": School::password()});
    school.nobody().post("/invitations/accept", acceptance).expect(200);
    let admin = school.sign_in("admin@millbrook.example");
    let admin = school.nobody().with_token(token_of(&admin));
    let invited = admin
        .post("/invitations", json!({"name": "Amara Osei", "email": email, "roles": [{"role": "lead"}]}))
        .expect(201);
    invited["token"].as_str().unwrap().to_owned()
}

#[test]
fn someone_who_works_in_two_schools_chooses_one() {
    let school = School::start();
    let (here, at_home) = fresh_other(&school);
    let email = School::email("teacher");
    let token = invited_next_door(&school, &email.to_uppercase());
    let accept = |password: &str| {
        school.nobody().post("/invitations/accept", json!({"token": token, "password": password}))
    };
    accept("some other new password").problem(401, "bad_credentials");
    let joined = accept(School::password()).expect(200);
    assert_eq!(joined["school_name"], "Millbrook School");
    let asked = sign_in(&school, &email, School::password());
    asked.problem(409, "choose_school");
    let choices = asked.json()["schools"].as_array().unwrap().clone();
    let names: Vec<&str> = choices.iter().map(|choice| choice["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["Farholt Infant School", "Millbrook School"]);
    assert_eq!(choices[0]["id"], at_home["school_id"]);
    for choice in &choices {
        let body = json!({"email": email, "password": School::password(), "school_id": choice["id"]});
        let signed_in = school.nobody().post("/sessions", body).expect(201);
        assert_eq!(signed_in["school_id"], choice["id"]);
        let me = school.nobody().with_token(token_of(&signed_in)).get("/me").expect(200);
        assert_eq!(me["school_name"], choice["name"]);
    }
    let elsewhere = json!({"email": email, "password": School::password(), "school_id": at_home["staff_id"]});
    school.nobody().post("/sessions", elsewhere).problem(401, "bad_credentials");
    sign_in(&school, &email, "wrong horse battery staple").problem(401, "bad_credentials");
    here.get("/me").expect(200);
}

#[test]
fn an_invitation_is_no_way_around_the_limit_on_guesses() {
    let school = School::start();
    school.staff("teacher");
    let token = invited_next_door(&school, &School::email("teacher"));
    let accept = |password: &str| {
        school.nobody().post("/invitations/accept", json!({"token": token, "password": password}))
    };
    for _ in 0..10 {
        accept("wrong horse battery staple").problem(401, "bad_credentials");
    }
    let held = accept(School::password());
    held.problem(429, "too_many_attempts");
    assert_ne!(held.header("Retry-After"), "");
}
