//! A walk through every screen of the client, each with enough on it.

use plumbline_tests::{Browser, TODAY, Value, column, json, lesson_ids, text};

use super::{Tablet, all_sent, choose_pin, none, sign_in};

/// Goes to an address, and is there once the router has heard of it.
const GO: &str = "
    if (location.hash !== '#' + given) {
        const heard = new Promise((resolve) => addEventListener('hashchange', resolve, { once: true }));
        location.hash = given;
        await heard;
    }
    return true;
";

/// What there is besides the group: a round of two checks, one of them to be marked a second time by the teacher.
struct Furnished {
    pupils: Vec<String>,
    round: String,
    sounds: String,
    words: String,
}

/// A lesson that somebody missed, a round that is open, whom the teacher is to check and to mark a second time.
fn furnish(tablet: &Tablet) -> Furnished {
    let (school, lead, teacher) = (&tablet.school, tablet.school.lead(), tablet.teacher());
    let group = lead.get(&format!("/groups/{}", tablet.group)).expect(200);
    let pupils = column(&group["members"], "id");
    let sequence = text(&group["sequence_id"]);
    let version = format!("/sequences/{sequence}/versions/{}", text(&group["version"]["id"]));
    let content = lead.get(&version).expect(200);
    let away = json!({"register": [{"pupil_id": pupils[0], "mark": "absent"}]});
    let first = &lesson_ids(&content)[0];
    school.log_lesson(&teacher, &tablet.group, "2026-11-24", first, "delivered", &away).expect(201);
    let (sounds, _) = school.gpc_check("Sounds", &[("m", "m"), ("o", "ɒ")]);
    let (words, items) = school.word_check("Words", &["mop", "dot"]);
    let me = school.staff_id("teacher");
    let asked = json!({"name": "Autumn 2", "opens_on": "2026-11-16", "closes_on": "2026-11-27",
                       "check_ids": [sounds, words], "checkers": [{"staff_id": me, "group_id": tablet.group}]});
    let round = text(&lead.post("/check-rounds", asked).expect(201)["id"]);
    let sample = json!({"check_id": words, "seed": 11, "percent": 100, "staff_ids": [me]});
    lead.post(&format!("/check-rounds/{round}/second-markings"), sample).expect(201);
    let first = [(items[0].as_str(), "right"), (items[1].as_str(), "right")];
    school.answer(&lead, (&round, &pupils[2], &words), TODAY, &first).expect(201);
    Furnished { pupils, round, sounds, words }
}

/// One walk: where it is, and what was found so far.
struct Walk<'a> {
    browser: &'a Browser,
    found: Vec<String>,
}

impl Walk<'_> {
    /// Looks at what is shown, once this is to be read.
    #[track_caller]
    fn look(&mut self, screen: &str, reads: &str) {
        self.browser.reads(reads);
        self.found.extend(self.browser.axe().into_iter().map(|line| format!("{screen}: {line}")));
    }

    /// Goes to a screen and looks at it.
    #[track_caller]
    fn at(&mut self, path: &str, reads: &str) {
        self.browser.until(GO, &json!(path));
        self.look(path, reads);
    }

    /// Chooses one of several: what is to be touched lies under its label.
    #[track_caller]
    fn choose(&self, css: &str) {
        self.browser.until("document.querySelector(given).click(); return true", &json!(css));
    }
}

/// What axe finds wrong on all screens: which, which rule, which element.
pub fn violations(tablet: &Tablet) -> Vec<String> {
    let browser = tablet.start();
    let mut walk = Walk { browser: &browser, found: Vec::new() };
    doors(tablet, &mut walk);
    let there = furnish(tablet);
    all_sent(&browser);
    lessons(tablet, &mut walk);
    checks(&there, &mut walk);
    child(&there, &mut walk);
    around(&mut walk);
    locked(tablet, &mut walk);
    lead(tablet, &there, &mut walk);
    walk.found
}

/// What is shown before anybody is known.
fn doors(tablet: &Tablet, walk: &mut Walk<'_>) {
    walk.look("/sign-in", "Sign in");
    walk.at("/invitation/none", "Join your school");
    walk.at("/new-password/none", "Choose a new password");
    walk.at("/sign-in", "E-mail address");
    sign_in(walk.browser, "teacher");
    walk.look("/pin", "Choose a PIN");
    choose_pin(walk.browser, "Tablet 5");
    walk.browser.reads("Blue");
    walk.at("/", "m and o");
    assert_eq!(tablet.records(), Vec::<Value>::new());
}

fn lessons(tablet: &Tablet, walk: &mut Walk<'_>) {
    let group = format!("/groups/{}", tablet.group);
    walk.at(&group, "Latest lessons");
    walk.at(&format!("{group}/lesson"), "Words to read");
    walk.at(&format!("{group}/board"), "At a time");
    walk.browser.press("Whole screen");
    walk.look("/groups/:group_id/board, whole", "Close");
    walk.browser.touch("#close");
    walk.at(&format!("{group}/log"), "Who was here?");
    walk.choose("[value='late']");
    walk.browser.touch("summary");
    walk.look("/groups/:group_id/log, late, more", "Came after the new part");
    walk.choose("[value='retaught']");
    walk.look("/groups/:group_id/log, again", "Which lesson was taught again?");
    walk.choose("[value='not_delivered']");
    walk.look("/groups/:group_id/log, not taught", "Why was it not taught?");
    walk.at("/", "Log this lesson");
    walk.at(&format!("{group}/log"), "This goes on where you left it");
    walk.browser.press("Begin again");
    walk.browser.until("return !document.querySelector('#anew')", &none());
    walk.at("/", "Log this lesson");
    tablet.log(walk.browser);
    walk.look("/, logged", "Taught today");
    all_sent(walk.browser);
    walk.at(&format!("{group}/log/{TODAY}/1"), "Delete this record");
    // It is beneath what is saved with, which stays in sight.
    walk.browser.until("scrollTo(0, document.body.scrollHeight); return true", &none());
    walk.browser.press("Delete this record");
    walk.look("/groups/:group_id/log/:on/:slot, deleting", "Keep it");
    walk.at(&format!("{group}/log/{TODAY}/9"), "not on this tablet any more");
    walk.at(&format!("{group}/catch-up"), "Missed, to be taught");
    walk.browser.touch("#make");
    walk.look("/groups/:group_id/catch-up, a set", "For these minutes");
    for (sheet, reads) in
        [("", "Register for a week"), ("/register", "register of the week"), ("/words", "Page 1 of 1")]
    {
        walk.at(&format!("{group}/print{sheet}"), reads);
    }
    walk.at(&format!("{group}/print/cover"), "Cover page");
    walk.browser.until("return Boolean(document.querySelector('.served'))", &none());
    walk.look("/groups/:group_id/print/cover, made", "Cover page");
}

fn checks(there: &Furnished, walk: &mut Walk<'_>) {
    let Furnished { pupils, round, sounds, words } = there;
    walk.at("/checks", "Autumn 2");
    walk.at(&format!("/rounds/{round}"), "On paper");
    let place = format!("/rounds/{round}/pupils/{}/checks/{sounds}", pupils[1]);
    walk.at(&place, "Begin");
    walk.browser.press("Begin");
    walk.look("a check, asking", "Item 1 of 2");
    walk.browser.touch("#heard");
    walk.look("a check, sounds", "What was heard?");
    walk.browser.press("Not wrong after all");
    walk.browser.press("Pause");
    walk.look("a check, paused", "Paused.");
    walk.browser.press("Go on");
    walk.browser.touch("#wrong");
    walk.browser.reads("Item 2 of 2");
    walk.browser.touch("#right");
    walk.look("a check, ending", "Every item was asked.");
    walk.browser.press("Finish");
    walk.look("a check, over", "This check is finished.");
    walk.browser.press("Put an answer right");
    walk.look("answers", "What was there first stays on record");
    walk.browser.press("Put right");
    walk.look("answers, one open", "Leave it as it is");
    walk.browser.touch("#no_response");
    walk.look("answers, one put right", "At first: wrong");
    all_sent(walk.browser);
    walk.at("/checks", "To mark a second time");
    walk.at(&format!("/rounds/{round}/pupils/{}/checks/{words}/second", pupils[2]), "rest on");
    walk.browser.press("Begin");
    walk.look("second marking", "Item 1 of 2");
    walk.browser.touch("#right");
    walk.browser.reads("Item 2 of 2");
    walk.browser.touch("#wrong");
    walk.look("second marking, whole", "Once given, they are not changed");
    walk.browser.press("Give these marks");
    walk.look("second marking, given", "Differs.");
    walk.browser.press("Wrong stands");
    walk.look("second marking, settled", "Wrong stands. First");
    for sheet in ["sheet", "log"] {
        let path = format!("/rounds/{round}/print/{words}/{sheet}");
        walk.at(&path, "Print");
        walk.browser.until("return Boolean(document.querySelector('.served'))", &none());
        walk.look(&path, "Print");
    }
}

fn child(there: &Furnished, walk: &mut Walk<'_>) {
    walk.at("/find", "A part of the name");
    walk.browser.type_into("#find", "Bo");
    walk.browser.touch("form button.main");
    walk.look("/find, found", "Bo Bell");
    let pupil = format!("/pupils/{}", there.pupils[1]);
    walk.at(&pupil, "Secure means");
    walk.at(&format!("{pupil}/practice"), "Page 1 of 1");
    walk.at(&format!("{pupil}/placement"), "Begin");
    walk.browser.press("Begin");
    walk.look("a placement, asking", "What to accept");
    walk.browser.press("Stop and see");
    walk.look("a placement, over", "What it suggests");
}

fn around(walk: &mut Walk<'_>) {
    walk.at("/waiting", "Everything done here");
    // What nobody has cannot be deleted: the server says so.
    walk.browser.with_app("await app.act('lesson.delete', { id: app.uuid() }, '1'); return true");
    walk.browser.with_app("await app.sync(); return app.state.refused.length > 0");
    walk.look("/waiting, refused", "Not taken");
    walk.browser.press("I have read it");
    walk.at("/saved-file", "A file that a colleague saved");
    walk.at("/settings", "How it is protected");
    walk.browser.touch("summary");
    walk.look("/settings, the PIN", "Your PIN now");
}

/// The lock, of one and of two, and the PIN that was chosen before.
fn locked(tablet: &Tablet, walk: &mut Walk<'_>) {
    walk.browser.touch("#lock");
    walk.look("/locked", "Your PIN");
    tablet.school.staff("teacher:2");
    walk.browser.press("Sign in with a password");
    sign_in(walk.browser, "teacher:2");
    choose_pin(walk.browser, "");
    walk.look("/, without a group", "No group is assigned to you today");
    walk.browser.touch("#lock");
    walk.look("/locked, of two", "Who are you?");
    walk.browser.press("Sign in with a password");
    sign_in(walk.browser, "teacher:2");
    walk.look("/pin, known", "I have forgotten it");
    walk.browser.press("I have forgotten it");
    walk.look("/pin, forgotten", "Choose another PIN");
    walk.browser.press("Choose another PIN");
    walk.look("/pin, another", "The same again");
}

/// Who sees all groups and has none, and has asked for marks of a sample.
fn lead(tablet: &Tablet, there: &Furnished, walk: &mut Walk<'_>) {
    let Furnished { round, sounds, words, .. } = there;
    walk.browser.press("I am somebody else");
    sign_in(walk.browser, "lead");
    choose_pin(walk.browser, "");
    walk.look("/, of the lead", "Look at any group");
    walk.at("/school", "Blue");
    let group = format!("/groups/{}", tablet.group);
    walk.at(&group, "Latest lessons");
    walk.at(&format!("{group}/catch-up"), "Missed, to be taught");
    walk.at(&format!("/rounds/{round}"), "Mark a sample twice");
    walk.at(&format!("/rounds/{round}/checks/{sounds}/sample"), "Who marks a second time?");
    walk.at(&format!("/rounds/{round}/checks/{words}/sample"), "How far the two agree");
}
