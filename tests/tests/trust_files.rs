//! A trust whose lead works on another server than the school: what is shown comes as a file the school's server vouches for.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{
    Answer, Forge, School, Value, column, json,
    shown::{Member, looked_at, released},
    text,
};

const THEN: &str = "/trust-comparison?school_year=2026&half_term=Autumn+2";

fn take(office: &Member, file: &str) -> Answer {
    office.lead.post("/trust-files", json!({"file": file}))
}

#[track_caller]
fn refused(office: &Member, file: &str, why: &str) {
    assert_eq!(take(office, file).problem(422, "invalid"), [format!("file: {why}")]);
}

const FORGED: &str = "is not signed by the school's key, not for this trust, or was changed on the way";

#[test]
fn a_file_is_taken_of_a_known_key_for_this_trust_and_of_nobody_else() {
    // Two servers: a school's, and the trust's with a school of its own on it.
    let (there, here) = (School::start(), School::start());
    let hythe = there.member("Hythe School", "una@hythe.example", 8, &["m", "o"]);
    let office = here.another("Downs Schools", "office@downs.example", "trust_lead");
    let millbrook = here.member("Millbrook School", "una@millbrook.example", 9, &["m", "o"]);
    let release = released(&hythe.lead);
    let share = hythe.lead.post("/trust-shares", looked_at(&hythe.lead, &release, &office.id)).expect(201);
    assert_eq!(share["read_here"], false);
    let file_at = format!("/trust-shares/{}/file", text(&share["id"]));
    let file = hythe.lead.get(&file_at);
    assert_eq!((file.status, file.header("Content-Type").as_str()), (200, "application/jose"));
    let file = file.text;
    assert_eq!(hythe.lead.get(&file_at).text, file, "the same file each time");
    let key = hythe.lead.get("/trust-key").expect(200);
    assert_eq!(key["school_id"], hythe.id.as_str());

    refused(&office, "hello", "is no file of a school for a trust");
    refused(&office, &file, "is of no school on the list");
    let listed = |key: Value| json!({"school_id": hythe.id, "name": "Hythe", "key": key});
    let wrong = office.lead.post("/trust-schools", listed(json!("c2hvcnQ"))).problem(422, "invalid");
    assert_eq!(wrong, ["key: is no Ed25519 public key in base64url"]);
    let place = text(&office.lead.post("/trust-schools", listed(Value::Null)).expect(201)["id"]);
    refused(&office, &file, "is of a school without a key on the list");
    office.lead.delete(&format!("/trust-schools/{place}"), "").expect(204);
    // The key of another server is not the school's.
    let other = millbrook.lead.get("/trust-key").expect(200)["key"].clone();
    assert_ne!(other, key["key"]);
    let place = text(&office.lead.post("/trust-schools", listed(other)).expect(201)["id"]);
    refused(&office, &file, FORGED);
    office.lead.delete(&format!("/trust-schools/{place}"), "").expect(204);
    let place = text(&office.lead.post("/trust-schools", listed(key["key"].clone())).expect(201)["id"]);

    // Anything changed on the way, and anything the school's server signed for another end.
    let forge = Forge::of(&there.server, &file);
    let mut better = forge.get("shared").clone();
    better["release"]["tables"][0]["rows"][0]["met"] = json!(12);
    let part = |text: &str, n: usize| text.split('.').nth(n).unwrap().to_owned();
    let changed = forge.clone().claim("shared", better).signed();
    let spliced = format!("{}.{}.{}", part(&file, 0), part(&changed, 1), part(&file, 2));
    let for_another = forge.clone().claim("aud", millbrook.id.as_str()).signed();
    let a_token = Forge::of(&there.server, hythe.lead.token()).claim("sub", hythe.id.as_str()).signed();
    let of_another_type = forge.clone().header("typ", "at+jwt").signed();
    for forged in [
        &spliced,
        &for_another,
        &a_token,
        &of_another_type,
        &forge.unsigned(),
        &forge.signed_with_the_public_key(),
    ] {
        refused(&office, forged, FORGED);
    }
    there.nobody().with_token(&file).get("/school").problem(401, "unauthenticated");

    // As it left: the same bytes as at the school.
    let taken = take(&office, &file).expect(201);
    assert_eq!((&taken["by_file"], &taken["school"]), (&json!(true), &json!("Hythe School")));
    let at = format!("/trust-releases/{}", text(&taken["id"]));
    let at_school = hythe.lead.get(&format!("/trust-shares/{}", text(&share["id"]))).text;
    assert_eq!(office.lead.get(&at).text, at_school);

    // Beside a school that shares on this server.
    office.lead.post("/trust-schools", json!({"school_id": millbrook.id, "name": "Millbrook"})).expect(201);
    let of_millbrook = looked_at(&millbrook.lead, &released(&millbrook.lead), &office.id);
    millbrook.lead.post("/trust-shares", of_millbrook).expect(201);
    let schools = || column(&office.lead.get(THEN).expect(200)["sequences"][0]["schools"], "school");
    assert_eq!(schools(), ["Hythe", "Millbrook"]);

    // A newer one takes its place; rows that do not belong in it are cut, whoever signed them.
    let mut more = forge.get("shared").clone();
    let class = json!({"by": "class", "name": "Kestrel", "symbol": null, "pupils": 12, "not_known": null, "met": 8,
                       "percent": {"percent": 67, "is": "about"}, "interval": [391, 862]});
    more["release"]["tables"][0]["rows"].as_array_mut().unwrap().push(class);
    let at_first = forge.get("iat").as_i64().unwrap();
    let newer = forge.clone().claim("shared", more).claim("iat", at_first + 60).signed();
    let again = take(&office, &newer).expect(201);
    office.lead.get(&at).problem(404, "not_found");
    let at = format!("/trust-releases/{}", text(&again["id"]));
    assert_eq!(office.lead.get(&at).text, at_school, "no class");
    assert_eq!(schools(), ["Hythe", "Millbrook"]);

    // Dropped when the school asks for it, and with the school.
    office.lead.delete(&format!("/trust-files/{}", text(&again["id"])), "").expect(204);
    office.lead.get(&at).problem(404, "not_found");
    let newest = forge.claim("iat", at_first + 61).signed();
    take(&office, &newest).expect(201);
    office.lead.delete(&format!("/trust-schools/{place}"), "").expect(204);
    assert_eq!(
        column(&office.lead.get("/trust-releases").expect(200)["items"], "school"),
        ["Millbrook School"]
    );
    let log = column(&office.lead.get("/audit-entries?limit=200").expect(200)["items"], "operation");
    for done in ["trust_release.take", "trust_release.drop", "trust_school.remove"] {
        assert!(log.iter().any(|one| one == done), "{done}: {log:?}");
    }
    let log = column(&hythe.lead.get("/audit-entries?limit=200").expect(200)["items"], "operation");
    assert!(log.iter().any(|one| one == "trust_share.export"), "{log:?}");
}

/// Hythe on a server of its own, whose file of Autumn 2 lies ready; the trust on another, with Hythe and its key on the list.
struct Apart {
    there: School,
    _here: School,
    hythe: Member,
    office: Member,
    place: String,
    file: String,
}

fn apart() -> Apart {
    let (there, here) = (School::start(), School::start());
    let hythe = there.member("Hythe School", "una@hythe.example", 8, &["m", "o"]);
    let office = here.another("Downs Schools", "office@downs.example", "trust_lead");
    let share = looked_at(&hythe.lead, &released(&hythe.lead), &office.id);
    let share = hythe.lead.post("/trust-shares", share).expect(201);
    let file = hythe.lead.get(&format!("/trust-shares/{}/file", text(&share["id"]))).text;
    let key = hythe.lead.get("/trust-key").expect(200)["key"].clone();
    let listed = json!({"school_id": hythe.id, "name": "Hythe", "key": key});
    let place = text(&office.lead.post("/trust-schools", listed).expect(201)["id"]);
    Apart { there, _here: here, hythe, office, place, file }
}

fn names(office: &Member) -> Vec<String> {
    column(&office.lead.get("/trust-releases").expect(200)["items"], "id")
}

#[test]
fn an_older_file_never_takes_the_place_of_a_newer_one_nor_comes_back_once_dropped() {
    let all = apart();
    let Apart { there, office, hythe, place, file, .. } = &all;
    let forge = Forge::of(&there.server, file);
    let at = forge.get("iat").as_i64().unwrap();
    let of = |seconds: i64| forge.clone().claim("iat", at + seconds).signed();
    #[track_caller]
    fn older(office: &Member, file: &str, signed: &str) {
        let refused = take(office, file);
        refused.problem(409, "conflict");
        let said = text(&refused.json()["detail"]);
        assert!(
            said.contains("utumn 2 that was taken here at 2026-11-25T") && said.contains(signed),
            "{said}"
        );
    }
    take(office, &of(0)).expect(201);
    let second = text(&take(office, &of(60)).expect(201)["id"]);
    // The day of the school's server is the 25th; when it was signed is said to the second.
    for seconds in [0, 59] {
        older(office, &of(seconds), "2026-11-25T");
    }
    assert_eq!(names(office), [second.as_str()]);
    office.lead.delete(&format!("/trust-files/{second}"), "").expect(204);
    older(office, &of(59), "2026-11-25T");
    // However the half term is written, and off the list and on it again.
    let mut other = forge.get("shared").clone();
    other["release"]["half_term"] = json!("autumn 2");
    older(office, &forge.clone().claim("shared", other.clone()).claim("iat", at + 59).signed(), "2026");
    office.lead.delete(&format!("/trust-schools/{place}"), "").expect(204);
    let key = hythe.lead.get("/trust-key").expect(200)["key"].clone();
    let listed = json!({"school_id": hythe.id, "name": "Hythe", "key": key});
    office.lead.post("/trust-schools", listed).expect(201);
    older(office, &of(59), "2026-11-25T");
    take(office, &of(61)).expect(201);
    // A newer one in another spelling takes its place; one of another half term stands beside it, whenever it was signed.
    let third = text(
        &take(office, &forge.clone().claim("shared", other.clone()).claim("iat", at + 62).signed())
            .expect(201)["id"],
    );
    assert_eq!(names(office), [third.as_str()]);
    other["release"]["half_term"] = json!("Autumn 1");
    let earlier = text(&take(office, &forge.clone().claim("shared", other).signed()).expect(201)["id"]);
    assert_eq!(names(office), [third, earlier]);
}

#[test]
fn a_renewed_key_is_taken_over_and_what_is_there_stays() {
    let all = apart();
    let Apart { there, office, place, file, .. } = &all;
    let path = format!("/trust-schools/{place}");
    let taken = text(&take(office, file).expect(201)["id"]);
    let read = office.lead.get(&path);
    let key = read.expect(200)["key"].clone();
    // Another server stands for the school's with its key renewed.
    let renewed = School::start();
    let other = renewed.member("Hythe School", "una@hythe.example", 8, &["m"]);
    let new = other.lead.get("/trust-key").expect(200)["key"].clone();
    assert_ne!(key, new);
    let change = |etag: &str, key: Value| office.lead.patch(&path, etag, json!({"key": key}));
    let wrong = change(&read.etag(), json!("c2hvcnQ")).problem(422, "invalid");
    assert_eq!(wrong, ["key: is no Ed25519 public key in base64url"]);
    let changed = change(&read.etag(), new.clone());
    assert_eq!(changed.expect(200)["key"], new);
    change(&read.etag(), key.clone()).problem(412, "stale");
    assert_eq!(office.lead.get(&path).expect(200)["key"], new);
    assert_eq!(names(office), [taken]);
    let forge = Forge::of(&there.server, file);
    let at = forge.get("iat").as_i64().unwrap();
    refused(office, &forge.clone().claim("iat", at + 1).signed(), FORGED);
    let header = Forge::of(&renewed.server, other.lead.token());
    let by_new =
        header.header("typ", "trust-release+jwt").claims(forge.claim("iat", at + 1).all().clone()).signed();
    take(office, &by_new).expect(201);
    // Without a key nothing is taken, and nothing is dropped.
    change(&changed.etag(), Value::Null).expect(200);
    refused(office, &by_new, "is of a school without a key on the list");
    assert_eq!(names(office).len(), 1);
}
