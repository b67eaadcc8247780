//! One morning with the client in each engine: signed in, the lesson looked at, logged without a network, sent.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Browser, Engine, Weather};

use tablet::{PIN, Tablet, all_sent, choose_pin, none, sign_in, unlock};

mod tablet;

fn a_morning_in(engine: Engine) {
    let tablet = Tablet::new();
    let browser = Browser::start_in(engine, tablet.profile.path());
    browser.open(&tablet.line.base);
    sign_in(&browser, "teacher");
    choose_pin(&browser, "Tablet 5");
    browser.reads("m and o");
    browser.press("Lesson");
    browser.reads("In this lesson");
    browser.press("‹ Home");
    // Once the next lesson is there, the page stays as it is.
    browser.reads("m and o");
    browser.until("return Boolean(navigator.serviceWorker.controller)", &none());
    tablet.line.is(Weather::Cut);
    browser.with_app("await app.sync(); return !app.state.online");
    browser.reads("No connection");
    tablet.log(&browser);
    browser.reads("Saved here, waiting to be sent");
    // Loaded anew, the page comes from the tablet, and so does what was done.
    browser.reload();
    unlock(&browser, PIN);
    browser.reads("1 waiting");
    tablet.line.is(Weather::Clear);
    all_sent(&browser);
    assert_eq!(tablet.records().len(), 1);
}

#[test]
fn a_morning_in_chromium() {
    a_morning_in(Engine::Chromium);
}

#[test]
fn a_morning_in_webkit() {
    a_morning_in(Engine::WebKit);
}
