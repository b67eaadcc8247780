//! Cover for a day: the page, and the links that open it without an account.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, Client, School, TODAY, Value, column, json, text};

const TOMORROW: &str = "2026-11-26";

/// A school whose group was taught three lessons, with the group's address.
fn start() -> (School, String) {
    let (school, group) = School::with_lessons();
    (school, format!("/groups/{group}"))
}

fn link(who: &Client, group: &str, on: &str) -> Value {
    who.post(&format!("{group}/cover-links"), json!({"on": on})).expect(201)
}

fn open(school: &School, link: &Value) -> Answer {
    school.nobody().post("/cover-pages", json!({"token": link["token"]}))
}

/// The group's adults from a day on, exactly these.
fn adults(school: &School, group: &str, keys: &[&str]) {
    let list: Vec<Value> =
        keys.iter().map(|key| json!({"staff_id": school.staff_id(key), "from": "2026-09-01"})).collect();
    let lead = school.lead();
    let etag = lead.get(group).etag();
    lead.put(&format!("{group}/adults"), &etag, json!({"adults": list})).expect(200);
}

/// Somebody signed in anew, after the server's clock was moved.
fn again(school: &School, key: &str) -> Client {
    let signed_in = school.sign_in(&School::email(key));
    school.nobody().with_token(signed_in["access_token"].as_str().unwrap())
}

/// The latest entries of the audit log of one operation: who, and about what sort of thing.
fn logged(lead: &Client, operation: &str) -> Vec<(Value, String)> {
    let entries = lead.get("/audit-entries").expect(200)["items"].as_array().unwrap().clone();
    let of = entries.iter().filter(|entry| entry["operation"] == operation);
    of.map(|entry| (entry["staff_id"].clone(), text(&entry["subject_kind"]))).collect()
}

#[test]
fn the_page_shows_the_day_and_nothing_of_checks_or_birthdays() {
    let (school, group) = start();
    let (lead, teacher) = (school.lead(), school.staff("teacher"));
    adults(&school, &group, &["teacher", "cover"]);
    let cover = school.staff("cover");
    // Max comes on Mondays only; today is a Wednesday.
    let seen = lead.get(&group);
    let max =
        seen.json()["members"].as_array().unwrap().iter().find(|m| m["name"] == "Max Bell").unwrap()["id"]
            .clone();
    let path = format!("{group}/members/{}/weekdays", text(&max));
    lead.put(&path, &seen.etag(), json!({"weekdays": ["monday"]})).expect(200);
    let page = cover.get(&format!("{group}/cover-page")).expect(200);
    assert_eq!(
        (&page["school"], &page["group"], &page["on"]),
        (&json!("Farholt Infant School"), &json!("Alder"), &json!(TODAY))
    );
    assert_eq!(
        (&page["day"], &page["recorded"], &page["finished"]),
        (&json!("teaching"), &json!(false), &json!(false))
    );
    let zoe = json!({"name": "Zoe Bell", "apart": null, "class": "Alder", "slots": [1], "only": null});
    assert_eq!(page["members"], json!([zoe]));
    assert_eq!(page["adults"], json!(["cover person"]), "the teacher is taken to be away");
    let next = cover.get(&format!("{group}/next-lesson")).expect(200);
    assert_eq!(page["lessons"][0]["title"], "review");
    assert_eq!(page["lessons"][0]["items"], json!(["review of step 1", "n /n/"]));
    assert_eq!(page["lessons"][0]["words"]["read"], next["lesson"]["words"]["read"]);
    assert_eq!(page["lessons"][0]["words"]["sentences"], next["lesson"]["words"]["sentences"]);
    let review: Vec<String> = column(&next["lesson"]["words"]["review"], "gpc");
    let shown = |gpc: &String| gpc.replacen(':', " /", 1) + "/";
    assert_eq!(page["lessons"][0]["words"]["review"], json!(review.iter().map(shown).collect::<Vec<_>>()));
    // On Monday Max is due too, and Thursday's page of the link is not today's.
    let monday = teacher.get(&format!("{group}/cover-page?on=2026-11-30")).expect(200);
    assert_eq!(column(&monday["members"], "name"), ["Max Bell", "Zoe Bell"]);
    let fields: Vec<&String> = page.as_object().unwrap().keys().collect();
    assert_eq!(
        fields,
        [
            "adults",
            "day",
            "due",
            "finished",
            "group",
            "hand_back",
            "lessons",
            "members",
            "on",
            "recorded",
            "school"
        ]
    );
    for word in ["2020", "31 May", "wrong", "missed", "born", "pupil_ref", "\"id\""] {
        assert!(!page.to_string().contains(word), "{word}: {page}");
    }
    assert_eq!(logged(&lead, "cover_page.read").len(), 2);
    assert_eq!(logged(&lead, "cover_page.read")[1], (json!(school.staff_id("cover")), "group".into()));
}

#[test]
fn a_day_on_which_the_class_is_out_is_none_of_the_groups() {
    let (school, group) = start();
    let lead = school.lead();
    let class = lead.get("/classes").expect(200)["items"][0]["id"].clone();
    let trip = json!({"from": TODAY, "kind": "trip", "reason": "trip", "class_ids": [class]});
    lead.post("/closures", trip).expect(201);
    assert_eq!(lead.get(&format!("{group}/cover-page")).expect(200)["day"], "trip");
    let html = lead.get(&format!("{group}/cover-page?format=html")).text;
    assert!(html.contains("This is not a teaching day of the group."), "{html}");
    let refused = lead.post(&format!("{group}/cover-links"), json!({"on": TODAY})).problem(422, "invalid");
    assert_eq!(refused, ["on: is not a teaching day of the group"]);
    link(&lead, &group, TOMORROW);
}

#[test]
fn who_has_the_group_for_a_day_sees_that_day() {
    let (school, group) = start();
    let lead = school.lead();
    let [teacher, cover] = ["teacher", "cover"].map(|key| school.staff_id(key));
    let list = json!([{"staff_id": teacher, "from": "2026-09-01"},
                      {"staff_id": cover, "from": TODAY, "until": TODAY}]);
    lead.put(&format!("{group}/adults"), &lead.get(&group).etag(), json!({"adults": list})).expect(200);
    let page = |key: &str, on: &str| school.staff(key).get(&format!("{group}/cover-page?on={on}"));
    assert_eq!(page("cover", TODAY).expect(200)["on"], TODAY);
    for on in ["2026-09-10", "2026-11-24", TOMORROW] {
        page("cover", on).problem(404, "not_found");
        page("teacher", on).expect(200);
        page("lead", on).expect(200);
    }
}

#[test]
fn on_paper_it_is_one_document_that_carries_its_style() {
    let (school, group) = start();
    let html = school.staff("teacher").get(&format!("{group}/cover-page?format=html"));
    assert_eq!(html.status, 200);
    assert_eq!(html.header("Content-Type"), "text/html; charset=utf-8");
    assert_eq!(html.header("Cache-Control"), "no-store");
    let policy = html.header("Content-Security-Policy");
    assert!(
        policy.starts_with("default-src 'none'; style-src 'sha256-") && !policy.contains("unsafe"),
        "{policy}"
    );
    for part in [
        "<html lang=\"en\">",
        "<h1>Cover page: <bdi>Alder</bdi></h1>",
        "Wednesday 25 November 2026",
        "<th scope=\"row\"><bdi>Zoe Bell</bdi></th>",
        "<b>Teach</b>: review of step 1, n /n/",
        "Page 1 of 1",
        "<li>Tick who was away.</li>",
        "margin: 12mm",
    ] {
        assert!(html.text.contains(part), "{part}\n{}", html.text);
    }
    assert!(!html.text.contains("<script") && !html.text.contains("http"));
    school.staff("teacher").get(&format!("{group}/cover-page?format=pdf")).problem(422, "invalid");
}

#[test]
fn namesakes_are_told_apart_without_birthdays() {
    let school = School::start();
    school.calendar();
    let (sequence, _) = school.sequence();
    let lead = school.lead();
    let add = |body: Value| text(&lead.post("/pupils", body).expect(201)["id"]);
    let zoe = |given: &str, preferred: &str, born: &str| {
        add(
            json!({"given_name": given, "preferred_name": preferred, "family_name": "Bell", "date_of_birth": born}),
        )
    };
    let (one, other) = (zoe("Zoe", "Zo", "2020-01-02"), zoe("Zora", "Zo", "2020-03-04"));
    // Nothing but the birthday tells these two apart: somebody has to ask.
    let (ida, too) = (zoe("Ida", "Ida", "2020-05-06"), zoe("Ida", "Ida", "2020-07-08"));
    let group = school.group("Alder", &sequence, &[&one, &other, &ida, &too]);
    let page = lead.get(&format!("/groups/{group}/cover-page")).expect(200);
    let mut apart = column(&page["members"], "apart");
    apart.sort();
    assert_eq!(apart, ["Zoe", "Zora", "one of 2 of this name", "one of 2 of this name"]);
    assert!(!page.to_string().contains("2020") && !page.to_string().contains("March"));
}

#[test]
fn a_link_opens_one_page_on_one_day_without_an_account() {
    let (mut school, group) = start();
    let teacher = school.staff("teacher");
    let (today, tomorrow) = (link(&teacher, &group, TODAY), link(&teacher, &group, TOMORROW));
    let url = text(&today["url"]);
    assert_eq!(url.split_once('#').unwrap().1, text(&today["token"]));
    assert!(url.split_once('#').unwrap().0.ends_with("/cover"));
    assert_eq!(today["valid_until"], "2026-11-25T18:00:00.000000Z");
    assert_eq!(
        (&tomorrow["valid_from"], &tomorrow["valid_until"]),
        (&json!("2026-11-26T00:00:00.000000Z"), &json!("2026-11-26T18:00:00.000000Z"))
    );
    let page = open(&school, &today).expect(200);
    let away = school.staff_id("teacher");
    assert_eq!(page, school.lead().get(&format!("{group}/cover-page?away={away}")).expect(200));
    let html = school.nobody().post("/cover-pages?format=html", json!({"token": today["token"]}));
    assert!(html.status == 200 && html.text.contains("Zoe Bell"));
    // Each opening is logged, of the link and of nobody.
    assert_eq!(logged(&school.lead(), "cover_page.open"), vec![(Value::Null, "cover_link".to_owned()); 2]);
    // It is no token for anything else, and the page of tomorrow is not open yet.
    let holder = school.nobody().with_token(&text(&today["token"]));
    holder.get(&group).problem(401, "unauthenticated");
    open(&school, &tomorrow).problem(404, "not_found");
    school.server.kill_and_restart(TOMORROW);
    let page = open(&school, &tomorrow).expect(200);
    assert_eq!((&page["on"], &page["group"]), (&json!(TOMORROW), &json!("Alder")));
    let over = open(&school, &today);
    over.problem(404, "not_found");
    assert_eq!(over.text, school.nobody().post("/cover-pages", json!({"token": "x"})).text);
    // What is over goes, and says so in the log.
    let lead = again(&school, "lead");
    assert_eq!(
        logged(&lead, "cover_link.drop"),
        [(json!(school.staff_id("teacher")), "cover_link".to_owned())]
    );
    let left = lead.get(&format!("{group}/cover-links")).expect(200);
    assert_eq!(column(&left["items"], "id"), [text(&tomorrow["id"])]);
}

#[test]
fn a_link_is_taken_back_at_once_and_ends_with_whoever_made_it() {
    let (school, group) = start();
    let (lead, teacher) = (school.lead(), school.staff("teacher"));
    let (kept, taken) = (link(&teacher, &group, TODAY), link(&teacher, &group, TODAY));
    let leads = link(&lead, &group, TODAY);
    let listed = teacher.get(&format!("{group}/cover-links")).expect(200);
    assert_eq!(listed["items"].as_array().unwrap().len(), 3);
    assert!(!listed.to_string().contains("token") && !listed.to_string().contains("url"));
    assert_eq!(listed["items"][0]["made_by_name"], "teacher person");
    let path = format!("{group}/cover-links/{}", text(&taken["id"]));
    assert_eq!(teacher.call("DELETE", &path, None).status, 204);
    open(&school, &taken).problem(404, "not_found");
    teacher.call("DELETE", &path, None).problem(404, "not_found");
    open(&school, &kept).expect(200);
    // Who loses the group loses the links, for as long as that lasts; the lead's stay.
    adults(&school, &group, &["teacher:2"]);
    open(&school, &kept).problem(404, "not_found");
    open(&school, &leads).expect(200);
    adults(&school, &group, &["teacher"]);
    open(&school, &kept).expect(200);
    let admin = school.staff("administrator");
    let path = format!("/staff/{}", school.staff_id("teacher"));
    admin.patch(&path, &admin.get(&path).etag(), json!({"disabled": true})).expect(200);
    open(&school, &kept).problem(404, "not_found");
    let path = format!("/staff/{}", school.staff_id("lead"));
    let roles = json!({"roles": [{"role": "office", "from": "2026-09-01"}]});
    admin.put(&format!("{path}/roles"), &admin.get(&path).etag(), roles).expect(200);
    open(&school, &leads).problem(404, "not_found");
}

#[test]
fn links_are_for_the_next_teaching_days_of_the_group() {
    let (school, group) = start();
    let lead = school.lead();
    let refused =
        |on: &str| lead.post(&format!("{group}/cover-links"), json!({"on": on})).problem(422, "invalid");
    assert_eq!(refused("2026-11-24"), ["on: is over"]);
    assert_eq!(refused("2026-11-28"), ["on: is not a teaching day of the group"]);
    assert_eq!(refused("2026-12-03"), ["on: is more than 7 days ahead"]);
    link(&lead, &group, "2026-12-02");
    let etag = lead.get(&group).etag();
    lead.with("If-Match", &etag).post(&format!("{group}/close"), json!({"on": "2026-11-27"}));
    assert_eq!(refused("2026-11-30"), ["on: is a day after the group's last"]);
    assert_eq!(lead.get(&format!("{group}/cover-links")).expect(200)["items"].as_array().unwrap().len(), 1);
}

#[test]
fn guesses_at_a_link_are_held_off_and_tell_nothing() {
    let (school, group) = start();
    let lead = school.lead();
    let (one, other) = (link(&lead, &group, TODAY), link(&lead, &group, TODAY));
    let guess = |n: usize| {
        let token = text(&one["token"]);
        // The last letters are the secret's; the last one of all holds a few bits only.
        let end = ["AAAA", "BBBB", "CCCC"][n % 3];
        let token = format!("{}{end}{}", &token[..token.len() - 6], &token[token.len() - 2..]);
        school.nobody().post("/cover-pages", json!({"token": token}))
    };
    let unknown = school.nobody().post("/cover-pages", json!({"token": "AAAA"}));
    unknown.problem(404, "not_found");
    for n in 0..10 {
        let answer = guess(n);
        answer.problem(404, "not_found");
        assert_eq!(answer.text, unknown.text);
    }
    let held = guess(10);
    held.problem(429, "too_many_attempts");
    assert!(held.header("Retry-After").parse::<u64>().unwrap() > 600);
    open(&school, &one).problem(429, "too_many_attempts");
    open(&school, &other).expect(200);
    // Who holds the secret guesses nothing, also where the page is not open yet.
    let early = link(&lead, &group, TOMORROW);
    for _ in 0..12 {
        let answer = open(&school, &early);
        answer.problem(404, "not_found");
        assert_eq!(answer.text, unknown.text);
    }
}

#[test]
fn the_page_that_opens_a_link_sends_its_secret_nowhere_else() {
    let school = School::start();
    let page = school.nobody().send("GET", "/cover", None, &[]);
    assert_eq!((page.status, page.header("Cache-Control").as_str()), (200, "no-store"));
    assert_eq!(page.header("Referrer-Policy"), "no-referrer");
    let policy = page.header("Content-Security-Policy");
    assert!(
        policy.contains("default-src 'none'")
            && policy.contains("connect-src 'self'")
            && !policy.contains("unsafe")
    );
    assert!(page.text.contains("<noscript>") && page.text.contains("<script src=\"cover.js\">"));
    let script = school.nobody().send("GET", "/cover.js", None, &[]);
    assert_eq!(script.header("Content-Type"), "text/javascript; charset=utf-8");
    for part in ["location.hash", "history.replaceState", "credentials: \"omit\""] {
        assert!(script.text.contains(part), "{part}");
    }
    assert!(!script.text.contains("innerHTML") && !script.text.contains("Storage"));
    assert_eq!(school.nobody().send("POST", "/cover", None, &[]).status, 405);
}

#[test]
fn a_cover_teacher_is_shown_who_a_pupil_is_and_no_date_of_birth() {
    let (school, group) = start();
    adults(&school, &group, &["teacher", "cover", "assistant"]);
    let lead = school.lead();
    let zoe = format!("/pupils/{}", text(&lead.get(&group).expect(200)["members"][1]["id"]));
    lead.patch(&zoe, &lead.get(&zoe).etag(), json!({"pupil_ref": "A12"})).expect(200);
    for key in ["lead", "teacher", "assistant"] {
        let seen = school.staff(key).get(&zoe).expect(200);
        assert_eq!(
            (&seen["date_of_birth"], &seen["pupil_ref"]),
            (&json!("2020-05-31"), &json!("A12")),
            "{key}"
        );
    }
    let seen = school.staff("cover").get(&zoe).expect(200);
    assert_eq!((&seen["name"], &seen["given_name"]), (&json!("Zoe Bell"), &json!("Zoe")));
    for field in ["date_of_birth", "pupil_ref", "upn"] {
        assert_eq!(seen[field], Value::Null, "{field}");
    }
}
