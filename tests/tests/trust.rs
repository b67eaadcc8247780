//! A trust and its schools on one server: what is shared, what is seen of it, by whom.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{
    ClassTold, Client, School, Value, column, json,
    shown::{Member, looked_at, released, taught, taught_on},
    text,
};

/// Elm is left out of the closed release, and Fir with it.
const CLASSES: [ClassTold<'_>; 4] = [
    ClassTold { name: "Birch", year: "Reception", asked: 12, right: 8, not_asked: 0 },
    ClassTold { name: "Cedar", year: "Reception", asked: 12, right: 7, not_asked: 1 },
    ClassTold { name: "Elm", year: "Year 1", asked: 14, right: 12, not_asked: 0 },
    ClassTold { name: "Fir", year: "Year 1", asked: 12, right: 8, not_asked: 0 },
];

const THEN: &str = "/trust-comparison?school_year=2026&half_term=Autumn+2";

/// Farholt, taught m and then o; and where the lead of its trust works.
fn farholt() -> (School, Member) {
    let school = School::told_of(&CLASSES);
    let pupils = column(&school.lead().get("/pupils?limit=200").expect(200)["items"], "id");
    taught(&school.lead(), &["m", "o"], &pupils);
    let office = school.another("Downs Schools", "office@downs.example", "trust_lead");
    (school, office)
}

fn id_of(lead: &Client) -> String {
    text(&lead.get("/school").expect(200)["id"])
}

fn put_on_the_list(office: &Member, id: &str, name: &str) -> String {
    let made = office.lead.post("/trust-schools", json!({"school_id": id, "name": name}));
    text(&made.expect(201)["id"])
}

/// Schools not compared, with why.
fn apart(list: &Value) -> Vec<(String, String)> {
    list.as_array().unwrap().iter().map(|one| (text(&one["school"]), text(&one["why"]))).collect()
}

/// Lines of a table: row, school, figure, coverage.
fn lines(table: &Value) -> Vec<String> {
    let mut out = Vec::new();
    for row in table["rows"].as_array().unwrap() {
        for line in row["lines"].as_array().unwrap() {
            let (name, school) = (row["name"].as_str().unwrap_or("all"), text(&line["school"]));
            out.push(match line["symbol"].as_str() {
                Some(symbol) => format!("{name}: {school} {symbol}"),
                None => format!(
                    "{name}: {school} {}/{} {} of {}",
                    line["met"], line["pupils"], line["percent"]["percent"], line["coverage"]["of_at_least"]
                ),
            });
        }
    }
    out
}

fn operations(client: &Client) -> Vec<String> {
    column(&client.get("/audit-entries?limit=200").expect(200)["items"], "operation")
}

#[test]
fn a_trust_sees_what_was_shared_as_long_as_it_is() {
    let (school, office) = farholt();
    let (head, id) = (school.staff("head"), id_of(&school.lead()));
    let release = released(&school.lead());
    let millbrook = school.member("Millbrook School", "una@millbrook.example", 8, &["m", "o"]);
    let place = put_on_the_list(&office, &id, "Farholt");
    put_on_the_list(&office, &millbrook.id, "Millbrook");
    let year = json!({"starts_on": "2026-09-01", "ends_on": "2027-08-31", "half_terms": [
        {"name": "Autumn 2", "starts_on": "2026-11-02", "ends_on": "2026-12-18"}]});
    let unknown = office.lead.get(THEN).problem(422, "invalid");
    let no_year = "the calendar here has no such school year, and no school showed anything of it";
    assert_eq!(unknown, [format!("school_year: {no_year}")]);
    let path = format!("/staff/{}", text(&office.lead.get("/staff").expect(200)["items"][0]["id"]));
    let roles =
        ["administrator", "trust_lead", "lead"].map(|role| json!({"role": role, "from": "2026-09-01"}));
    let etag = office.lead.get(&path).etag();
    office.lead.put(&format!("{path}/roles"), &etag, json!({"roles": roles})).expect(200);
    office.lead.call("PUT", "/school-years/2026", Some(&year)).expect(200);
    let other =
        office.lead.get("/trust-comparison?school_year=2026&half_term=Autum+2").problem(422, "invalid");
    let no_term = "the calendar here has no half term of this name in that year, and no school showed one";
    assert_eq!(other, [format!("half_term: {no_term}")]);
    let other =
        office.lead.get("/trust-comparison?school_year=2025&half_term=Autumn+2").problem(422, "invalid");
    assert_eq!(other, [format!("school_year: {no_year}")]);
    let nothing = |school: &str| (school.to_owned(), "nothing_shared".to_owned());
    let seen = office.lead.get(THEN).expect(200);
    assert_eq!(apart(&seen["not_compared"]), [nothing("Farholt"), nothing("Millbrook")]);

    // What nobody looked at is not shared.
    let asked = looked_at(&head, &release, &office.id);
    let mut blind = asked.clone();
    blind["digest"] = json!("0".repeat(64));
    let refused = head.post("/trust-shares", blind).problem(422, "invalid");
    assert_eq!(refused, ["digest: is not that of what would leave: look at it first"]);
    let once = || head.with("Idempotency-Key", "of Autumn 2").post("/trust-shares", asked.clone());
    let share = once().expect(201);
    assert_eq!(once().expect(201), share);
    assert_eq!((&share["read_here"], &share["half_term"]), (&json!(true), &json!("Autumn 2")));
    let again = head.post("/trust-shares", asked.clone());
    again.problem(409, "conflict");
    assert!(text(&again.json()["detail"]).contains("withdraw that first"), "{}", again.text);
    let of_millbrook = released(&millbrook.lead);
    millbrook.lead.post("/trust-shares", looked_at(&millbrook.lead, &of_millbrook, &office.id)).expect(201);

    // The same bytes at both ends, and no class, no part of any other kind and no pupil in them.
    let path = format!("/trust-shares/{}", text(&share["id"]));
    let at_school = head.get(&path);
    let at_trust = office.lead.get(&format!("/trust-releases/{}", text(&share["id"])));
    at_trust.expect(200);
    assert_eq!(at_school.text, at_trust.text);
    let compared = office.lead.get(THEN);
    let listed = office.lead.get("/trust-releases");
    for left in [&at_trust, &compared, &listed] {
        for secret in ["Birch", "Cedar", "Elm", "Fir\"", "Kestrel", "\"class\"", "Bell", "Ada", "pupil_id"] {
            assert!(!left.text.contains(secret), "{secret}: {}", left.text);
        }
    }
    assert_eq!(column(&listed.expect(200)["items"], "school"), ["Farholt Infant School", "Millbrook School"]);

    // By hand: 8 + 7 + 12 + 8 of 50; 15 of 24; 20 of 26; 8 of 12.
    let seen = compared.expect(200);
    let table = &seen["sequences"][0]["tables"][0];
    assert_eq!(
        lines(table),
        [
            "all: Farholt 35/50 70 of 50",
            "all: Millbrook 8/12 67 of 12",
            "Reception: Farholt 15/24 63 of 24",
            "Year 1: Farholt 20/26 77 of 26",
            "Year 1: Millbrook 8/12 67 of 12",
        ]
    );
    assert_eq!(table["rows"][0]["lines"][0]["interval"], json!([562, 809]));
    assert_eq!(table["rows"][0]["lines"][0]["as_of"], "2026-11-25");
    assert_eq!((&seen["not_compared"], &seen["sequences"][1]), (&json!([]), &Value::Null));
    assert!(text(&seen["cautions"][0]).contains("no order of schools"), "{}", seen["cautions"]);
    let figures = head.get(&format!("/report-releases/{release}/for-trust")).expect(200);
    assert_eq!(figures["figures"]["sequences"], json!([seen["sequences"][0]["fingerprint"]]));

    // Withdrawn, it is gone at once; the other school stands alone.
    head.delete(&path, "").expect(204);
    head.delete(&path, "").expect(204);
    let repeated = once();
    repeated.problem(409, "conflict");
    let said = text(&repeated.json()["detail"]);
    assert!(said.starts_with("what this request shared was withdrawn at 2026-11-25T"), "{said}");
    office.lead.get(&format!("/trust-releases/{}", text(&share["id"]))).problem(404, "not_found");
    head.get(&format!("{path}/file")).problem(404, "not_found");
    let seen = office.lead.get(THEN).expect(200);
    assert_eq!(seen["sequences"], json!([]));
    let alone = ("Millbrook".to_owned(), "no_other".to_owned());
    assert_eq!(apart(&seen["not_compared"]), [nothing("Farholt"), alone]);
    head.post("/trust-shares", asked).expect(201);
    assert_eq!(head.get("/trust-shares").expect(200)["items"].as_array().unwrap().len(), 2);
    assert_eq!(office.lead.get(THEN).expect(200)["sequences"][0]["schools"].as_array().unwrap().len(), 2);

    // Off the list, nothing of the school is read.
    office.lead.delete(&format!("/trust-schools/{place}"), "").expect(204);
    assert_eq!(
        column(&office.lead.get("/trust-releases").expect(200)["items"], "school"),
        ["Millbrook School"]
    );

    // Who looked and who shared is written down at either end.
    let (here, there) = (operations(&school.lead()), operations(&office.lead));
    for done in ["trust_share.look", "trust_share.share", "trust_share.withdraw"] {
        assert!(here.iter().any(|one| one == done), "{done}: {here:?}");
    }
    for done in ["trust_release.read", "trust_release.compare", "trust_release.list", "trust_school.add"] {
        assert!(there.iter().any(|one| one == done), "{done}: {there:?}");
    }
}

#[test]
fn what_was_not_shared_with_a_trust_is_hidden_from_it() {
    let (school, office) = farholt();
    let (lead, id) = (school.lead(), id_of(&school.lead()));
    let release = released(&lead);
    let share = lead.post("/trust-shares", looked_at(&lead, &release, &office.id)).expect(201);
    assert_eq!(share["read_here"], false, "the school is not on the list yet");
    let seen_at = format!("/trust-releases/{}", text(&share["id"]));
    office.lead.get(&seen_at).problem(404, "not_found");
    put_on_the_list(&office, &id, "Farholt");
    office.lead.get(&seen_at).expect(200);
    assert_eq!(lead.get("/trust-shares").expect(200)["items"][0]["read_here"], true);
    let twice = office.lead.post("/trust-schools", json!({"school_id": id, "name": "Farholt again"}));
    twice.problem(409, "conflict");

    // Another trust lists the school too, and was shown nothing.
    let other = school.another("Weald Schools", "office@weald.example", "trust_lead");
    put_on_the_list(&other, &id, "Farholt");
    other.lead.get(&seen_at).problem(404, "not_found");
    assert_eq!(other.lead.get("/trust-releases").expect(200)["items"], json!([]));

    // The school's own trust lead, and that of the trust, reach no release, no class, no group and no pupil.
    let pupil = text(&lead.get("/pupils").expect(200)["items"][0]["id"]);
    let class = text(&lead.get("/classes").expect(200)["items"][0]["id"]);
    for trust_lead in [&school.staff("trust_lead"), &office.lead] {
        for path in [
            format!("/report-releases/{release}"),
            format!("/report-releases/{release}/for-trust"),
            format!("/report-releases/{release}/table.csv"),
            "/report-releases".into(),
            "/report-snapshots".into(),
            "/trust-shares".into(),
            format!("/trust-shares/{}", text(&share["id"])),
            format!("/pupils/{pupil}"),
            format!("/classes/{class}"),
            "/reports/attainment".into(),
        ] {
            let status = trust_lead.get(&path).status;
            assert!(status == 403 || status == 404, "{path}: {status}");
        }
        let asked = json!({"release_id": release, "trust_id": office.id, "digest": "0".repeat(64)});
        trust_lead.post("/trust-shares", asked).problem(403, "forbidden");
    }
    assert_eq!(school.staff("trust_lead").get("/trust-releases").expect(200)["items"], json!([]));

    // A school sees its own, and neither another's nor the trust's list.
    let neighbour = school.neighbour();
    neighbour.get(&format!("/trust-shares/{}", text(&share["id"]))).problem(404, "not_found");
    neighbour.get(&format!("/report-releases/{release}/for-trust")).problem(404, "not_found");
    assert_eq!(neighbour.get("/trust-shares").expect(200)["items"], json!([]));
    for client in [&neighbour, &lead, &school.staff("head"), &school.staff("teacher")] {
        for path in [seen_at.as_str(), "/trust-releases", "/trust-schools", THEN] {
            client.get(path).problem(403, "forbidden");
        }
    }
    let asked = json!({"release_id": release, "trust_id": office.id, "digest": "0".repeat(64)});
    let foreign = neighbour.post("/trust-shares", asked).problem(422, "invalid");
    assert_eq!(foreign, ["release_id: is no release of this school"]);
}

#[test]
fn another_sequence_is_compared_once_the_school_says_how_it_maps() {
    let (school, office) = farholt();
    let (lead, id) = (school.lead(), id_of(&school.lead()));
    let hythe = school.member("Hythe School", "una@hythe.example", 9, &["o", "m"]);
    put_on_the_list(&office, &id, "Farholt");
    put_on_the_list(&office, &hythe.id, "Hythe");
    lead.post("/trust-shares", looked_at(&lead, &released(&lead), &office.id)).expect(201);
    let asked = looked_at(&hythe.lead, &released(&hythe.lead), &office.id);
    let share = hythe.lead.post("/trust-shares", asked.clone()).expect(201);
    let seen = office.lead.get(THEN).expect(200);
    let alone = |school: &str| (school.to_owned(), "no_other".to_owned());
    assert_eq!(apart(&seen["not_compared"]), [alone("Farholt"), alone("Hythe")]);

    // As the trust tells it: what Farholt's sequence teaches.
    let prints =
        |client: &Client| client.get("/sequence-fingerprints").expect(200)["items"][0]["fingerprint"].clone();
    let (farholts, own) = (prints(&lead), prints(&hythe.lead));
    assert_ne!(farholts, own);
    hythe.lead.delete(&format!("/trust-shares/{}", text(&share["id"])), "").expect(204);
    let mut mapped = asked.clone();
    mapped["maps_on"] = json!({"fingerprint": own, "why": "It is ours"});
    let refused = hythe.lead.post("/trust-shares", mapped.clone()).problem(422, "invalid");
    assert_eq!(refused, ["maps_on.fingerprint: is the school's own sequence"]);
    mapped["maps_on"] = json!({"fingerprint": "0F", "why": "No fingerprint"});
    hythe.lead.post("/trust-shares", mapped.clone()).problem(422, "invalid");
    mapped["maps_on"] = json!({"fingerprint": farholts, "why": "m and o are both taught by then"});
    hythe.lead.post("/trust-shares", mapped).expect(201);
    let seen = office.lead.get(THEN).expect(200);
    let list = &seen["sequences"][0];
    assert_eq!(
        (column(&list["schools"], "school"), &list["fingerprint"]),
        (vec!["Farholt".into(), "Hythe".into()], &farholts)
    );
    assert_eq!(
        list["schools"][1]["maps_on"],
        json!({"fingerprint": farholts, "why": "m and o are both taught by then", "said_by": "Una Founder",
               "said_on": "2026-11-25"})
    );
    assert_eq!((&list["schools"][0]["maps_on"], &list["names"]), (&Value::Null, &json!(["Sounds in order"])));
    assert_eq!(lines(&list["tables"][0])[..2], ["all: Farholt 35/50 70 of 50", "all: Hythe 9/12 75 of 12"]);
}

/// Every tenth school has another sequence, every seventh shares nothing; the best come last.
#[test]
fn fifty_schools_of_a_trust_stand_side_by_side() {
    let school = School::start();
    let office = school.another("Downs Schools", "office@downs.example", "trust_lead");
    let (mut compared, mut nothing) = (Vec::new(), Vec::new());
    for n in 1..=50 {
        let order: &[&str] = if n % 10 == 0 { &["o", "m", "d"] } else { &["m", "o", "d"] };
        let name = format!("School {:02}", 51 - n);
        let made = school.member(&name, &format!("una{n}@schools.example"), 3 + n % 7, order);
        put_on_the_list(&office, &made.id, &name);
        if n % 7 == 0 {
            nothing.push(name);
            continue;
        }
        made.lead.post("/trust-shares", looked_at(&made.lead, &released(&made.lead), &office.id)).expect(201);
        // 3 + n % 7 of 12, as a percentage, half up.
        compared.push((n % 10 == 0, name, (200 * (3 + n % 7) + 12) / 24));
    }
    let seen = office.lead.get(THEN).expect(200);
    nothing.reverse();
    assert_eq!(column(&seen["not_compared"], "school"), nothing);
    let mut lists = 0;
    for list in seen["sequences"].as_array().unwrap() {
        let whole = &list["tables"][0]["rows"][0];
        assert_eq!(whole["name"], Value::Null);
        let told: Vec<(String, usize)> = whole["lines"]
            .as_array()
            .unwrap()
            .iter()
            .map(|line| (text(&line["school"]), line["percent"]["percent"].as_u64().unwrap() as usize))
            .collect();
        let other = told.iter().any(|(school, _)| school == "School 41");
        let mut by_hand: Vec<(String, usize)> = (compared.iter())
            .filter(|(of_other, ..)| *of_other == other)
            .map(|(_, school, percent)| (school.clone(), *percent))
            .collect();
        by_hand.sort();
        assert_eq!(told, by_hand);
        lists += 1;
    }
    assert_eq!(lists, 2);
}

#[test]
fn a_release_of_no_sequence_maps_on_to_none() {
    let school = School::told_of(&CLASSES);
    let (lead, office) =
        (school.lead(), school.another("Downs Schools", "office@downs.example", "trust_lead"));
    let mut asked = looked_at(&lead, &released(&lead), &office.id);
    asked["maps_on"] = json!({"fingerprint": "0".repeat(64), "why": "None was taught"});
    let refused = lead.post("/trust-shares", asked).problem(422, "invalid");
    assert_eq!(refused, ["maps_on: is of no use: no sequence was taught from in the school year"]);
}

/// Taught o and then m last year, m and then o this year: it stands by what it teaches from since the year's start.
#[test]
fn last_years_sequence_does_not_keep_a_school_apart() {
    let (school, office) = farholt();
    let lead = school.lead();
    let year = json!({"starts_on": "2025-09-01", "ends_on": "2026-08-31", "half_terms": [
        {"name": "Summer 2", "starts_on": "2026-06-01", "ends_on": "2026-07-17"}]});
    lead.call("PUT", "/school-years/2025", Some(&year)).expect(200);
    taught_on(&lead, &["o", "m"], &[], "2026-06-02");
    let release = released(&lead);
    let told = lead.get(&format!("/report-releases/{release}")).expect(200);
    let mut years: Vec<bool> = told["versions"]
        .as_array()
        .unwrap()
        .iter()
        .map(|version| version["this_year"].as_bool().unwrap())
        .collect();
    years.sort_unstable();
    assert_eq!(years, [false, true], "the figures rest on both");
    let seen = lead.get(&format!("/report-releases/{release}/for-trust")).expect(200);
    assert_eq!(seen["figures"]["sequences"].as_array().unwrap().len(), 1);
    let millbrook = school.member("Millbrook School", "una@millbrook.example", 8, &["m", "o"]);
    put_on_the_list(&office, &id_of(&lead), "Farholt");
    put_on_the_list(&office, &millbrook.id, "Millbrook");
    for (lead, release) in [(&lead, release), (&millbrook.lead, released(&millbrook.lead))] {
        lead.post("/trust-shares", looked_at(lead, &release, &office.id)).expect(201);
    }
    let seen = office.lead.get(THEN).expect(200);
    assert_eq!(column(&seen["sequences"][0]["schools"], "school"), ["Farholt", "Millbrook"]);
}
