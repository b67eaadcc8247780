//! Invitations, roles with their days, and what ends them.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, Client, School, Value, json};

const GOOD: &str = "a long enough passphrase";

fn invite(admin: &Client, email: &str, roles: Value) -> Answer {
    admin.post("/invitations", json!({"name": "Amara Osei", "email": email, "roles": roles}))
}

fn teacher() -> Value {
    json!([{"role": "teacher", "from": "2026-09-01"}])
}

fn accept(school: &School, token: &Value, password: &str) -> Answer {
    school.nobody().post("/invitations/accept", json!({"token": token, "password": password}))
}

fn sign_in(school: &School, email: &str, password: &str) -> Client {
    let signed_in =
        school.nobody().post("/sessions", json!({"email": email, "password": password})).expect(201);
    school.nobody().with_token(signed_in["access_token"].as_str().unwrap())
}

/// Signs a member in again, at whatever address the server has now.
fn again(school: &School, key: &str) -> Client {
    sign_in(school, &School::email(key), School::password())
}

#[test]
fn an_invitation_works_once() {
    let school = School::start();
    let admin = school.staff("administrator");
    let invited = invite(&admin, "a.osei@farholt.example", teacher());
    let body = invited.expect(201);
    let path = format!("/staff/{}", body["staff"]["id"].as_str().unwrap());
    assert_eq!(invited.header("Location"), format!("/api/v1{path}"));
    assert!(
        body["url"]
            .as_str()
            .unwrap()
            .ends_with(&format!("/#/invitation/{}", body["token"].as_str().unwrap()))
    );
    assert_eq!(admin.get(&path).expect(200)["has_account"], false);
    let joined = accept(&school, &body["token"], GOOD).expect(200);
    assert_eq!(
        (joined["name"].as_str(), joined["email"].as_str()),
        (Some("Amara Osei"), Some("a.osei@farholt.example"))
    );
    let seen = admin.get(&path);
    assert_eq!(seen.expect(200)["has_account"], true);
    assert!(!seen.text.contains(body["token"].as_str().unwrap()));
    accept(&school, &body["token"], GOOD).problem(404, "not_found");
    accept(&school, &body["token"], "another long passphrase").problem(404, "not_found");
    sign_in(&school, "A.Osei@farholt.example", GOOD).get("/me").expect(200);
}

#[test]
fn inviting_again_replaces_the_earlier_link() {
    let school = School::start();
    let admin = school.staff("administrator").with("Idempotency-Key", "same");
    let first = invite(&admin, "a.osei@farholt.example", teacher()).expect(201);
    let office = json!([{"role": "office", "from": "2026-09-01"}]);
    let second = invite(&admin, "A.Osei@Farholt.example", office).expect(201);
    assert_eq!(first["staff"]["id"], second["staff"]["id"]);
    assert_ne!(first["token"], second["token"]);
    assert_eq!(second["staff"]["roles"][0]["role"], "office");
    accept(&school, &first["token"], GOOD).problem(404, "not_found");
    accept(&school, &second["token"], GOOD).expect(200);
    // Accepted: the address is taken, in any case.
    for email in ["a.osei@farholt.example", "A.OSEI@FARHOLT.EXAMPLE"] {
        invite(&admin, email, teacher()).problem(409, "conflict");
    }
    let staff = admin.get("/staff").expect(200);
    assert_eq!(staff["items"].as_array().unwrap().len(), 2);
}

#[test]
fn an_invitation_ends_after_a_week() {
    let mut school = School::start();
    let admin = school.staff("administrator");
    let early = invite(&admin, "early@farholt.example", teacher()).expect(201);
    let late = invite(&admin, "late@farholt.example", teacher()).expect(201);
    school.server.kill_and_restart("2026-12-01");
    accept(&school, &early["token"], GOOD).expect(200);
    school.server.kill_and_restart("2026-12-03");
    accept(&school, &late["token"], GOOD).problem(404, "not_found");
    let renewed = invite(&again(&school, "administrator"), "late@farholt.example", teacher()).expect(201);
    accept(&school, &renewed["token"], GOOD).expect(200);
}

#[test]
fn a_token_that_is_none_is_not_found_whatever_it_is() {
    let school = School::start();
    let admin = school.staff("administrator");
    let one = invite(&admin, "one@farholt.example", teacher()).expect(201);
    let two = invite(&admin, "two@farholt.example", teacher()).expect(201);
    let (one, two) = (one["token"].as_str().unwrap(), two["token"].as_str().unwrap());
    let session = school.sign_in(&School::email("administrator"));
    let unknown = accept(&school, &"x".into(), GOOD);
    unknown.problem(404, "not_found");
    for wrong in [
        String::new(),
        one[1..].to_owned(),
        // The ids of one with the secret of the other.
        format!("{}{}", &one[..43], &two[43..]),
        session["refresh_token"].as_str().unwrap().to_owned(),
        session["access_token"].as_str().unwrap().to_owned(),
    ] {
        let answer = accept(&school, &wrong.as_str().into(), GOOD);
        assert_eq!((answer.status, &answer.text), (404, &unknown.text), "{wrong}");
    }
    accept(&school, &one.into(), GOOD).expect(200);
}

#[test]
fn a_weak_password_is_refused_and_the_invitation_stays_open() {
    let school = School::start();
    let invited = invite(&school.staff("administrator"), "a.osei@farholt.example", teacher()).expect(201);
    let long = "ä".repeat(201);
    for password in ["", "eleven char", "ÄÖÜ short", &long] {
        let errors = accept(&school, &invited["token"], password).problem(422, "invalid");
        assert_eq!(errors, ["password: must be 12 to 200 characters"]);
    }
    let longest = "ä".repeat(200);
    accept(&school, &invited["token"], &longest).expect(200);
    sign_in(&school, "a.osei@farholt.example", &longest);
}

#[test]
fn invitations_name_a_person_and_an_address() {
    let school = School::start();
    let admin = school.staff("administrator");
    let with = |name: &str, email: &str| {
        let body = json!({"name": name, "email": email, "roles": teacher()});
        admin.post("/invitations", body).problem(422, "invalid")
    };
    for email in ["", "osei", "a@b@farholt.example", "a osei@farholt.example", "@farholt.example"] {
        assert!(with("Amara Osei", email)[0].starts_with("email: "), "{email}");
    }
    for name in ["", "  ", "Amara\u{0}Osei", &"x".repeat(101)] {
        assert!(with(name, "a.osei@farholt.example")[0].starts_with("name: "), "{name}");
    }
    assert_eq!(admin.get("/staff").expect(200)["items"].as_array().unwrap().len(), 1);
}

#[test]
fn roles_are_checked_where_they_are_given() {
    let school = School::start();
    let admin = school.staff("administrator");
    let path = format!("/staff/{}/roles", school.staff_id("teacher"));
    let etag = admin.get(path.trim_end_matches("/roles")).etag();
    let cases = [
        (json!([]), "roles: give at least one role"),
        (
            json!([{"role": "cover", "from": "2026-11-26"}]),
            "roles[0].until: cover always ends: give the last day",
        ),
        (
            json!([{"role": "teacher"}, {"role": "cover", "until": null}]),
            "roles[1].until: cover always ends: give the last day",
        ),
        (
            json!([{"role": "teacher", "from": "2026-11-26", "until": "2026-11-25"}]),
            "roles[0].until: lies before the first day",
        ),
        (json!([{"role": "head", "until": "2026-11-24"}]), "roles[0].until: lies before the first day"),
        (
            json!([{"role": "head"}, {"role": "head", "from": "2026-11-25"}]),
            "roles[1].role: stands twice with the same first day",
        ),
    ];
    for (roles, said) in cases {
        let set = admin.put(&path, &etag, json!({"roles": roles}));
        assert_eq!(set.problem(422, "invalid"), [said], "{roles}");
        let invited = invite(&admin, "a.osei@farholt.example", roles);
        assert_eq!(invited.problem(422, "invalid"), [said]);
    }
    for (roles, field) in [
        (json!([{"role": "king"}]), "roles[0].role: "),
        (json!([{"role": "Teacher"}]), "roles[0].role: "),
        (json!([{"role": "teacher", "from": "2026-02-30"}]), "roles[0].from: "),
        (json!([{"role": "teacher", "from": "25/11/2026"}]), "roles[0].from: "),
        (json!([{"role": "teacher", "school_id": "x"}]), "roles[0].school_id: "),
        (json!(["teacher"]), "roles[0]: "),
        (json!({"role": "teacher"}), "roles: "),
    ] {
        let errors = admin.put(&path, &etag, json!({"roles": roles})).problem(422, "invalid");
        assert!(errors[0].starts_with(field), "{errors:?}");
    }
    assert_eq!(admin.get(path.trim_end_matches("/roles")).etag(), etag);
    assert_eq!(admin.get("/staff").expect(200)["items"].as_array().unwrap().len(), 2);
}

#[test]
fn an_administrator_cannot_lock_the_school_out() {
    let school = School::start();
    let admin = school.staff("administrator");
    let own = format!("/staff/{}", school.staff_id("administrator"));
    let set = |admin: &Client, roles: Value| {
        admin.put(&format!("{own}/roles"), &admin.get(&own).etag(), json!({"roles": roles}))
    };
    for roles in [
        teacher(),
        json!([{"role": "administrator", "from": "2026-11-26"}]),
        json!([{"role": "administrator", "until": "2026-12-31"}]),
    ] {
        set(&admin, roles).problem(409, "conflict");
    }
    admin.patch(&own, &admin.get(&own).etag(), json!({"disabled": true})).problem(409, "conflict");
    let both =
        json!([{"role": "administrator", "from": "2026-09-01"}, {"role": "lead", "from": "2026-09-01"}]);
    set(&admin, both).expect(200);
    let second = school.staff("administrator:2");
    set(&second, teacher()).expect(200);
    admin.get("/staff").problem(403, "forbidden");
    second.patch(&own, &second.get(&own).etag(), json!({"disabled": true})).expect(200);
    admin.get("/me").problem(401, "signed_out");
}

#[test]
fn cover_ends_with_its_last_day() {
    let mut school = School::start();
    school.calendar();
    let (sequence, _) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder")]);
    let group = format!("/groups/{}", school.group("Alder", &sequence, &[&pupils["Zoe"]]));
    let lead = school.lead();
    let adults = json!({"adults": [{"staff_id": school.staff_id("cover"), "from": "2026-11-25"}]});
    lead.put(&format!("{group}/adults"), &lead.get(&group).etag(), adults).expect(200);
    school.staff("cover").get(&group).expect(200);
    // The tests' cover ends on 18 December.
    school.server.kill_and_restart("2026-12-18");
    let cover = again(&school, "cover");
    cover.get(&group).expect(200);
    school.server.kill_and_restart("2026-12-19");
    let cover = again(&school, "cover");
    cover.get("/me").problem(403, "forbidden");
    cover.get(&group).problem(404, "not_found");
    cover.get("/groups").problem(403, "forbidden");
}

#[test]
fn a_role_counts_from_its_first_day() {
    let mut school = School::start();
    let admin = school.staff("administrator");
    let invited = invite(&admin, "a.osei@farholt.example", json!([{"role": "office", "from": "2026-12-01"}]))
        .expect(201);
    accept(&school, &invited["token"], GOOD).expect(200);
    let person = sign_in(&school, "a.osei@farholt.example", GOOD);
    person.get("/me").problem(403, "forbidden");
    person.get("/pupils").problem(403, "forbidden");
    school.server.kill_and_restart("2026-12-01");
    let person = sign_in(&school, "a.osei@farholt.example", GOOD);
    assert_eq!(person.get("/me").expect(200)["roles_today"], json!(["office"]));
    person.get("/pupils").expect(200);
}

#[test]
fn edits_say_what_they_are_based_on() {
    let school = School::start();
    let admin = school.staff("administrator");
    school.staff("teacher");
    let path = format!("/staff/{}", school.staff_id("teacher"));
    let roles = json!({"roles": teacher()});
    let edits =
        [("PATCH", path.clone(), json!({"name": "New Name"})), ("PUT", format!("{path}/roles"), roles)];
    for (method, at, body) in &edits {
        let before = admin.get(&path);
        admin.call(method, at, Some(body)).problem(428, "precondition_required");
        for wrong in ["\"v0\"", "v1", "*", "W/\"v1\"", "\"\"", &before.etag().replace('v', "v1")] {
            admin.with("If-Match", wrong).call(method, at, Some(body)).problem(412, "stale");
        }
        assert_eq!(admin.get(&path).text, before.text);
        let edited = admin.with("If-Match", &before.etag()).call(method, at, Some(body));
        edited.expect(200);
        assert_ne!(edited.etag(), before.etag());
        assert_eq!(edited.etag(), admin.get(&path).etag());
        // The same once more is based on what is no more.
        admin.with("If-Match", &before.etag()).call(method, at, Some(body)).problem(412, "stale");
    }
    let nobody =
        format!("/staff/{}", school.neighbour().get("/me").expect(200)["staff_id"].as_str().unwrap());
    admin.patch(&nobody, "\"v1\"", json!({"name": "New Name"})).problem(404, "not_found");
    admin.put(&format!("{nobody}/roles"), "\"v1\"", json!({"roles": teacher()})).problem(404, "not_found");
}
