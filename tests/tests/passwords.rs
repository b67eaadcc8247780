//! New passwords: one's own, a colleague's by a link given in person, anybody's by who runs the server.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, Client, School, Value, json, text};

const NEW: &str = "another long enough passphrase";

fn sign_in(school: &School, key: &str, password: &str) -> Answer {
    school.nobody().post("/sessions", json!({"email": School::email(key), "password": password}))
}

/// A link to choose a new password, as somebody asks for it.
fn offer(school: &School, by: &Client, of: &str) -> Answer {
    by.call("POST", &format!("/staff/{}/new-password", school.staff_id(of)), None)
}

fn accept(school: &School, token: &Value, password: &str) -> Answer {
    school.nobody().post("/invitations/accept", json!({"token": token, "password": password}))
}

#[test]
fn a_link_given_in_person_makes_a_new_password_once() {
    let school = School::start();
    let teacher = school.staff("teacher");
    let tablet = school.sign_in(&School::email("teacher"));
    let link = offer(&school, &school.lead(), "teacher").expect(201);
    assert!(text(&link["url"]).ends_with(&format!("/#/new-password/{}", text(&link["token"]))));
    // An hour, from nine on.
    assert!(text(&link["expires_at"]).starts_with("2026-11-25T10:0"), "{link}");
    // Until it is used, all is as it was.
    teacher.get("/me").expect(200);
    accept(&school, &link["token"], "short").problem(422, "invalid");
    let accepted = accept(&school, &link["token"], NEW).expect(200);
    assert_eq!(accepted["email"], School::email("teacher").as_str());
    teacher.get("/me").problem(401, "signed_out");
    let refreshed =
        school.nobody().post("/sessions/refresh", json!({"refresh_token": tablet["refresh_token"]}));
    refreshed.problem(401, "bad_refresh_token");
    accept(&school, &link["token"], "yet another long passphrase").problem(404, "not_found");
    sign_in(&school, "teacher", School::password()).problem(401, "bad_credentials");
    sign_in(&school, "teacher", NEW).expect(201);
    school.lead().get("/me").expect(200);
    let log = school.lead().get("/audit-entries?subject_kind=staff").expect(200);
    assert_eq!(log["items"][0]["operation"], "password.offer");
    assert_eq!(log["items"][0]["staff_id"], school.staff_id("lead").as_str());
    let log = school.lead().get("/audit-entries?operation=password.renew").expect(200);
    assert_eq!(log["items"][0]["staff_id"], school.staff_id("teacher").as_str());
}

#[test]
fn a_new_link_takes_the_place_of_the_last_and_ends_in_an_hour() {
    let mut school = School::start();
    school.staff("teacher");
    let office = school.staff("office");
    let first = offer(&school, &office, "teacher").expect(201);
    let second = offer(&school, &office, "teacher").expect(201);
    accept(&school, &first["token"], NEW).problem(404, "not_found");
    school.server.stop_and_restart("2026-11-26");
    accept(&school, &second["token"], NEW).problem(404, "not_found");
    sign_in(&school, "teacher", School::password()).expect(201);
}

#[test]
fn nobody_makes_a_password_anew_of_who_is_above() {
    let school = School::start();
    let keys = ["teacher", "assistant", "cover", "lead:2", "head", "office:2", "administrator", "trust_lead"];
    // The administrator asks for every one's but the own, the lead and the office as said; the others for none.
    for (by, may) in [
        ("administrator", [true, true, true, true, true, true, false, true]),
        ("lead", [true, true, true, true, false, true, false, false]),
        ("office", [true, true, true, false, false, true, false, false]),
        ("head", [false; 8]),
        ("teacher:2", [false; 8]),
    ] {
        let client = school.staff(by);
        for (of, may) in keys.into_iter().zip(may) {
            school.staff(of);
            let answer = offer(&school, &client, of);
            let own = by == of && by == "administrator";
            let expected = if may {
                201
            } else if own {
                409
            } else {
                403
            };
            assert_eq!(answer.status, expected, "{by} of {of}: {}", answer.text);
        }
    }
    // Of a role that is still to come, too.
    let (admin, path) = (school.staff("administrator"), format!("/staff/{}", school.staff_id("teacher")));
    let roles = json!({"roles": [{"role": "teacher", "from": "2026-09-01"}, {"role": "administrator", "from": "2027-01-04"}]});
    admin.put(&format!("{path}/roles"), &admin.get(&path).etag(), roles).expect(200);
    offer(&school, &school.lead(), "teacher").problem(403, "forbidden");
    let lead = school.lead();
    offer(&school, &lead, "lead").problem(409, "conflict");
    let nobody = "/staff/0199f2c4-1234-7abc-8def-0123456789ab/new-password";
    lead.call("POST", nobody, None).problem(404, "not_found");
    // Who has not joined has no password yet.
    let invited = admin
        .post(
            "/invitations",
            json!({"name": "New Colleague", "email": "new@farholt.example", "roles": [{"role": "teacher"}]}),
        )
        .expect(201);
    let path = format!("/staff/{}/new-password", text(&invited["staff"]["id"]));
    lead.call("POST", &path, None).problem(409, "conflict");
}

#[test]
fn one_school_does_not_make_a_password_anew_that_opens_another() {
    let school = School::start();
    school.staff("teacher");
    let token = school.found("Millbrook School", "Bo Admin", "teacher@farholt.example");
    let joining = json!({"token": token, "password": School::password()});
    school.nobody().post("/invitations/accept", joining).expect(200);
    offer(&school, &school.lead(), "teacher").problem(409, "conflict");
    // Who runs the server can, and it ends the sign-ins of both.
    let ids = sign_in(&school, "teacher", School::password()).json()["schools"].clone();
    let there =
        json!({"email": School::email("teacher"), "password": School::password(), "school_id": ids[1]["id"]});
    let there = school.nobody().post("/sessions", there).expect(201);
    let there = school.nobody().with_token(&text(&there["access_token"]));
    let here = school.staff("teacher");
    let token = reset(&school, "Teacher@Farholt.example");
    for client in [&here, &there] {
        client.get("/me").expect(200);
    }
    accept(&school, &token, NEW).expect(200);
    for client in [&here, &there] {
        client.get("/me").problem(401, "signed_out");
    }
}

/// The token that the operator's command prints.
fn reset(school: &School, email: &str) -> Value {
    let done = school.server.run(&["account", "reset", "--email", email, "--today", &school.server.today]);
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let said = String::from_utf8(done.stdout).unwrap();
    said.split("/#/new-password/").nth(1).unwrap().split_whitespace().next().unwrap().into()
}

#[test]
fn who_runs_the_server_lets_the_last_administrator_in_again() {
    let school = School::start();
    let token = reset(&school, "admin@farholt.example");
    for _ in 0..10 {
        sign_in(&school, "administrator", "a guess that is wrong").problem(401, "bad_credentials");
    }
    sign_in(&school, "administrator", School::password()).problem(429, "too_many_attempts");
    accept(&school, &token, NEW).expect(200);
    // Who was held off for forgetting the old one is let in with the new.
    let signed_in = sign_in(&school, "administrator", NEW).expect(201);
    let admin = school.nobody().with_token(&text(&signed_in["access_token"]));
    let log = admin.get("/audit-entries?operation=password.offer").expect(200);
    assert_eq!(log["items"][0]["staff_id"], Value::Null);
    let unknown = school.server.run(&["account", "reset", "--email", "nobody@farholt.example"]);
    assert_eq!(unknown.status.code(), Some(1));
    assert!(unknown.stdout.is_empty());
}

#[test]
fn ones_own_password_is_changed_by_who_knows_it() {
    let school = School::start();
    school.staff("teacher");
    let (here, elsewhere) = (school.signed_in("teacher"), school.signed_in("teacher"));
    let change = |client: &Client, old: &str, new: &str| {
        client.call("PUT", "/me/password", Some(&json!({"password": old, "new_password": new})))
    };
    change(&school.nobody(), School::password(), NEW).problem(401, "unauthenticated");
    change(&here, "not the password at all", NEW).problem(401, "bad_credentials");
    let errors = change(&here, School::password(), "too short").problem(422, "invalid");
    assert!(errors[0].starts_with("new_password: "), "{errors:?}");
    elsewhere.get("/me").expect(200);
    change(&here, School::password(), NEW).expect(204);
    here.get("/me").expect(200);
    elsewhere.get("/me").problem(401, "signed_out");
    sign_in(&school, "teacher", School::password()).problem(401, "bad_credentials");
    sign_in(&school, "teacher", NEW).expect(201);
    let log = school.lead().get("/audit-entries?operation=password.change").expect(200);
    assert_eq!(log["items"].as_array().unwrap().len(), 1);
    // A borrowed tablet is no place to guess at.
    for _ in 0..10 {
        change(&here, "not the password at all", NEW).problem(401, "bad_credentials");
    }
    change(&here, NEW, School::password()).problem(429, "too_many_attempts");
}
