//! The client in a real browser: what is done on a tablet is there for good, once, and nobody else's to see.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Browser, TODAY, Value, Weather, column, json, lesson_ids, text};

use tablet::{CHILD, PIN, Tablet, all_sent, choose_pin, kept, none, sign_in, state, unlock, walk};

mod tablet;

const PUSH: &str = "/api/v1/sync/push";

#[test]
fn a_lesson_logged_without_a_network_is_there_after_reopening() {
    let tablet = Tablet::new();
    let browser = tablet.ready();
    tablet.line.is(Weather::Cut);
    browser.with_app("await app.sync(); return app.state.online === false");
    tablet.log(&browser);
    browser.reads("1 waiting");
    browser.reads("No connection");
    browser.close();
    // Switched on again, still without a network: the page itself comes from the tablet.
    let browser = tablet.start();
    unlock(&browser, PIN);
    browser.reads("1 waiting");
    browser.reads("Taught today");
    browser.reads("Saved here, waiting to be sent");
    assert!(tablet.records().is_empty());
    tablet.line.is(Weather::Clear);
    browser.with_app("app.sync(); return app.state.unsent === 0");
    browser.reads("Saved and sent");
    let records = tablet.records();
    assert_eq!(records.len(), 1);
    let teacher = tablet.school.staff_id("teacher");
    assert_eq!((&records[0]["on"], &records[0]["entered_by"]), (&json!(TODAY), &json!(teacher)));
}

#[test]
fn what_was_saved_outlives_the_browser_being_killed() {
    let tablet = Tablet::new();
    let browser = tablet.ready();
    tablet.line.is(Weather::Cut);
    tablet.log(&browser);
    drop(browser);
    tablet.line.is(Weather::Clear);
    let browser = tablet.start();
    unlock(&browser, PIN);
    browser.reads("Saved and sent");
    assert_eq!(tablet.records().len(), 1);
}

#[test]
fn a_lost_answer_makes_one_record() {
    let tablet = Tablet::new();
    let browser = tablet.ready();
    tablet.line.is(Weather::LosesAnswers(PUSH));
    tablet.log(&browser);
    browser.with_app("await app.sync(); return app.state.online === false");
    // The server has it, and the tablet does not know.
    assert_eq!(tablet.records().len(), 1);
    assert_eq!(state(&browser, "unsent"), json!(1));
    tablet.line.is(Weather::Clear);
    all_sent(&browser);
    assert!(tablet.line.carried(PUSH) >= 2);
    let records = tablet.records();
    assert_eq!(records.len(), 1);
    let id = records[0]["id"].as_str().unwrap();
    let history = tablet.teacher().get(&format!("/lesson-records/{id}/history")).expect(200);
    assert_eq!(history["items"].as_array().unwrap().len(), 1, "{history}");
}

#[test]
fn two_windows_send_once_and_see_the_same() {
    let tablet = Tablet::new();
    let browser = tablet.ready();
    let first = browser.new_window();
    browser.open(&tablet.line.base);
    unlock(&browser, PIN);
    browser.reads("m and o");
    tablet.line.is(Weather::Cut);
    tablet.log(&browser);
    let second = browser.turn_to(&first);
    browser.reads("1 waiting");
    tablet.line.is(Weather::Clear);
    browser.with_app("app.sync(); return true");
    browser.turn_to(&second);
    all_sent(&browser);
    browser.turn_to(&first);
    all_sent(&browser);
    browser.reads("Saved and sent");
    assert_eq!((tablet.line.carried(PUSH), tablet.records().len()), (1, 1));
}

#[test]
fn the_next_user_sees_nothing_of_the_last() {
    let tablet = Tablet::new();
    tablet.school.staff("teacher:2");
    let browser = tablet.ready();
    let more = format!("a[href='#/groups/{}']", tablet.group);
    browser.touch(&more);
    browser.reads(CHILD);
    browser.touch("#lock");
    browser.reads("teacher person");
    assert!(!browser.shows(CHILD));
    browser.press("Sign in with a password");
    sign_in(&browser, "teacher:2");
    choose_pin(&browser, "");
    browser.reads("No group is assigned to you today");
    assert!(!browser.shows(CHILD) && !browser.shows("Blue"));
    // Nor is it to be read in what the browser keeps, nor in an address.
    let all = kept(&browser);
    assert!(all.contains("teacher person"), "the search finds what is there");
    for word in [CHILD, "Cyrus", "Bell", "m and o", "Blue"] {
        assert!(!all.contains(word), "{word}");
    }
    // Who is gone is gone: one's own store, whole.
    browser.with_app("return app.signOut()");
    browser.reads("teacher person");
    assert!(!kept(&browser).contains(&tablet.school.staff_id("teacher:2")));
}

#[test]
fn a_tablet_left_alone_locks_itself() {
    let tablet = Tablet::new();
    let browser = tablet.ready();
    let later = |minutes: u32| {
        browser.until(
            "window.clock ??= Date.now.bind(Date); Date.now = () => window.clock() + given * 60000;
             document.dispatchEvent(new Event('visibilitychange')); return true",
            &json!(minutes),
        );
    };
    later(9);
    assert_eq!(browser.with_app("return app.phase"), "open");
    later(11);
    assert_eq!(browser.with_app("return app.phase"), "locked");
    browser.until("return Boolean(document.querySelector('#pin'))", &none());
    assert!(!browser.shows("Blue"));
    unlock(&browser, PIN);
    browser.reads("Blue");
}

#[test]
fn the_page_of_a_network_is_no_answer() {
    let tablet = Tablet::new();
    let browser = tablet.ready();
    tablet.line.is(Weather::Portal);
    tablet.log(&browser);
    browser.reads("Something else answered in place of the school’s server");
    browser.reads("1 waiting");
    tablet.line.is(Weather::Clear);
    browser.with_app("app.sync(); return app.state.unsent === 0");
    browser.reads("Saved and sent");
    assert_eq!(tablet.records().len(), 1);
}

#[test]
fn wrong_pins_wipe_the_names_and_leave_what_is_unsent() {
    let tablet = Tablet::new();
    let browser = tablet.ready();
    tablet.line.is(Weather::Cut);
    tablet.log(&browser);
    browser.touch("#lock");
    for left in (1..10).rev() {
        unlock(&browser, "not-the-pin");
        browser.reads(&format!("After {left} more wrong"));
    }
    unlock(&browser, "not-the-pin");
    browser.reads("is wiped");
    // Closed for good, whatever the PIN.
    let wiped = browser.with_app(&format!(
        "const [one] = await app.people(); return [await app.unlock(one.staff_id, '{PIN}'), one.wiped, one.unsent]"
    ));
    assert_eq!(wiped, json!([{"ok": false, "left": 0}, true, 1]));
    // The password, and then the right PIN, bring the unsent lesson back.
    tablet.line.is(Weather::Clear);
    browser.open(&format!("{}/#/sign-in", tablet.line.base));
    sign_in(&browser, "teacher");
    browser.type_into("#pin", PIN);
    browser.touch("form button.main");
    browser.with_app("app.sync(); return app.state.unsent === 0");
    assert_eq!(tablet.records().len(), 1);
}

#[test]
fn a_full_tablet_says_so_and_loses_nothing() {
    let tablet = Tablet::new();
    let browser = tablet.ready();
    tablet.line.is(Weather::Cut);
    // As browsers refuse: how full a test's disk is, is nobody's to say.
    browser.until(
        "window.put = IDBObjectStore.prototype.put;
         IDBObjectStore.prototype.put = () => { throw new DOMException('', 'QuotaExceededError'); };
         return true",
        &none(),
    );
    browser.touch(&format!("a[href='#/groups/{}/log']", tablet.group));
    browser.touch("#save");
    browser.reads("no room left");
    assert_eq!(state(&browser, "unsent"), json!(0));
    browser.until("IDBObjectStore.prototype.put = window.put; return true", &none());
    browser.touch("#save");
    browser.reads("Saved here, waiting to be sent");
    assert_eq!(state(&browser, "unsent"), json!(1));
}

#[test]
fn a_new_version_is_taken_with_what_is_unsent() {
    let tablet = Tablet::new();
    let worker = tablet.school.nobody().send("GET", "/sw.js", None, &[]).text;
    let version = worker.split('"').nth(1).unwrap().to_owned();
    let browser = tablet.ready();
    tablet.line.is(Weather::Cut);
    tablet.log(&browser);
    let next: String = version.chars().rev().collect();
    tablet.line.is(Weather::NewClient(version, next.clone()));
    browser.until("await (await navigator.serviceWorker.getRegistration()).update(); return true", &none());
    browser.reads("A new version is ready");
    browser.touch("#update");
    browser.reads("teacher person");
    unlock(&browser, PIN);
    browser.reads("Saved here, waiting to be sent");
    assert_eq!(browser.until("return caches.keys()", &none()), json!([format!("plumbline {next}")]));
    tablet.line.is(Weather::Clear);
    all_sent(&browser);
    assert_eq!(tablet.records().len(), 1);
}

/// WCAG 2.2 AA and good practice, as far as a program can tell.
#[test]
fn every_screen_passes_axe() {
    let tablet = Tablet::new();
    let found = walk::violations(&tablet);
    assert!(found.is_empty(), "{} violations:\n{}", found.len(), found.join("\n"));
}

/// What a screen says in red ink where a program can tell: nothing.
fn passes_axe(browser: &Browser) {
    assert_eq!(browser.axe(), Vec::<String>::new());
}

#[test]
fn a_revoked_tablet_says_so_and_keeps_nothing_of_anybody() {
    let tablet = Tablet::new();
    let browser = tablet.ready();
    tablet.line.is(Weather::Cut);
    tablet.log(&browser);
    browser.touch("#lock");
    tablet.line.is(Weather::Clear);
    tablet.school.staff("teacher:2");
    browser.press("Sign in with a password");
    sign_in(&browser, "teacher:2");
    choose_pin(&browser, "");
    browser.with_app("await app.sync(); return app.state.synced !== null");
    let lead = tablet.school.lead();
    let id = browser.with_app("return app.tablet.id");
    lead.post(&format!("/tablets/{}/revoke", id.as_str().unwrap()), json!({})).expect(200);
    // Nobody touches anything: the stream that ends says it.
    browser.reads("This tablet was cut off");
    browser.reads("“Tablet 5”");
    browser.reads("only they can open it");
    passes_axe(&browser);
    let all = kept(&browser);
    assert!(all.contains("teacher person"), "the search finds what is there");
    assert!(!all.contains(&tablet.school.staff_id("teacher:2")));
    for word in [CHILD, "Cyrus", "Bell", "m and o", "Blue"] {
        assert!(!all.contains(word), "{word}");
    }
    // What is sealed goes to the lead once its owner opens it, and into no record.
    assert_eq!(lead.get("/sync/held-ops").expect(200)["items"], json!([]));
    browser.press("teacher person");
    sign_in(&browser, "teacher");
    browser.type_into("#pin", PIN);
    browser.touch("form button.main");
    browser.reads("1 thing done here and not sent yet went to the phonics lead");
    let held = lead.get("/sync/held-ops").expect(200)["items"].clone();
    assert_eq!((held.as_array().unwrap().len(), &held[0]["op"]["set"]["on"]), (1, &json!(TODAY)));
    assert_eq!(held[0]["staff_id"], tablet.school.staff_id("teacher").as_str());
    assert!(tablet.records().is_empty());
    assert!(!kept(&browser).contains("teacher person"));
    // Found again, it is another tablet.
    sign_in(&browser, "teacher");
    choose_pin(&browser, "Tablet 6");
    browser.reads("Blue");
    all_sent(&browser);
    assert_eq!(column(&lead.get("/tablets").expect(200)["items"], "name"), ["Tablet 6", "Tablet 5"]);
}

#[test]
fn what_lost_a_clash_is_shown_where_it_happened_and_can_be_taken_over() {
    let tablet = Tablet::new();
    let browser = tablet.ready();
    tablet.line.is(Weather::Cut);
    tablet.log(&browser);
    let lead = tablet.school.lead();
    let lesson = browser.with_app("return app.store.list('lesson_record')[0].lesson_id");
    let drill = json!({"reason": "fire_drill"});
    let lesson = lesson.as_str().unwrap();
    tablet.school.log_lesson(&lead, &tablet.group, TODAY, lesson, "not_delivered", &drill).expect(201);
    tablet.line.is(Weather::Clear);
    all_sent(&browser);
    browser.reads("Not taught today");
    browser.press("Another version is kept");
    browser.reads("Another record of this lesson was set aside");
    browser.reads("everybody here");
    passes_axe(&browser);
    // Nothing changes before it is saved.
    browser.press("Fill in what it says");
    browser.until("return document.querySelector('[name=outcome]:checked').value === 'delivered'", &none());
    assert_eq!(tablet.records()[0]["outcome"], "not_delivered");
    browser.touch("#save");
    browser.reads("Taught today");
    all_sent(&browser);
    assert_eq!(tablet.records()[0]["outcome"], "delivered");
    assert!(!browser.shows("Another version is kept"));
}

#[test]
fn a_second_lesson_of_the_day_begins_with_who_was_away_in_the_first() {
    let tablet = Tablet::new();
    let browser = tablet.ready();
    let log = format!("a[href='#/groups/{}/log']", tablet.group);
    browser.touch(&log);
    // Bo, and nobody else; what is to be touched lies under its label.
    browser.until("document.querySelectorAll('[value=absent]')[0].click(); return true", &none());
    browser.touch("#save");
    browser.reads("Taught today: m and o. 1 away");
    browser.touch(&log);
    browser.reads("second lesson of the day, lesson 2 of step 1");
    browser.reads("marked away here too");
    browser.touch("#save");
    browser.reads("second lesson of the day. 1 away");
    all_sent(&browser);
    let away = |record: &Value| {
        let lines = record["register"].as_array().unwrap().clone();
        let those: Vec<Value> = lines.into_iter().filter(|line| line["mark"] == "absent").collect();
        column(&json!(those), "pupil_id")
    };
    let records = tablet.records();
    assert_eq!(records.len(), 2);
    assert_eq!((away(&records[0]).len(), away(&records[0])), (1, away(&records[1])));
}

#[test]
fn catch_up_is_undone_with_a_touch_without_a_network() {
    let tablet = Tablet::new();
    let lead = tablet.school.lead();
    let group = lead.get(&format!("/groups/{}", tablet.group)).expect(200);
    let (pupil, sequence) = (&column(&group["members"], "id")[0], text(&group["sequence_id"]));
    let version = format!("/sequences/{sequence}/versions/{}", text(&group["version"]["id"]));
    let first = &lesson_ids(&lead.get(&version).expect(200))[0];
    let away = json!({"register": [{"pupil_id": pupil, "mark": "absent"}]});
    tablet.school.log_lesson(&lead, &tablet.group, "2026-11-24", first, "delivered", &away).expect(201);
    let open = || {
        let list = lead.get(&format!("/groups/{}/catch-up", tablet.group)).expect(200);
        let stages: Vec<String> =
            list["pupils"][0]["items"].as_array().unwrap().iter().map(|one| text(&one["stage"])).collect();
        stages.iter().filter(|stage| *stage == "to_teach").count()
    };
    let missed = open();
    let browser = tablet.start();
    sign_in(&browser, "teacher");
    choose_pin(&browser, "Tablet 5");
    browser.reads("Blue");
    all_sent(&browser);
    browser.until("location.hash = given; return true", &json!(format!("/groups/{}/catch-up", tablet.group)));
    browser.touch(".card button");
    all_sent(&browser);
    assert_eq!(open(), missed - 1);
    tablet.line.is(Weather::Cut);
    browser.touch("#undo");
    let cards = format!("return document.querySelectorAll('.card').length === {missed}");
    browser.until(&cards, &none());
    // Neither was the next one, which nobody but this tablet ever hears of.
    browser.touch(".card button");
    browser.reads("2 waiting");
    browser.touch("#undo");
    browser.until(&cards, &none());
    tablet.line.is(Weather::Clear);
    all_sent(&browser);
    assert_eq!(open(), missed);
    browser.until(&cards, &none());
}
