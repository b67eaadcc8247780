//! The client in a real browser: ways back, and ways out where the server takes nothing.
#![allow(clippy::unwrap_used)]

use plumbline_tests::json;

use tablet::{Tablet, all_sent, none, state};

mod tablet;

#[test]
fn the_way_back_leads_to_where_one_came_from() {
    let tablet = Tablet::new();
    let browser = tablet.ready();
    browser.touch(&format!("a[href='#/groups/{}']", tablet.group));
    browser.reads("Pupils due today");
    browser.press("Lesson");
    browser.reads("In this lesson");
    browser.press("Log this lesson");
    browser.reads("Who was here?");
    for (title, reads) in [("Lesson", "In this lesson"), ("Group", "Pupils due today"), ("Home", "Today, ")] {
        browser.press(&format!("‹ {title}"));
        browser.reads(reads);
    }
}

#[test]
fn what_a_server_takes_nothing_of_is_saved_sealed_or_set_aside_knowingly() {
    let tablet = Tablet::new();
    let browser = tablet.ready();
    // As from a server that never heard of this tablet.
    let strange = r"
        window.real = window.fetch;
        const not = JSON.stringify({ code: 'not_found', title: 'Not found', status: 404, detail: 'No such tablet.' });
        const type = { 'Content-Type': 'application/problem+json' };
        window.fetch = (url, how) => /sync.(push|pull|replicas)|tablets/.test(String(url))
            ? Promise.resolve(new Response(not, { status: 404, headers: type })) : window.real(url, how);
        return true";
    browser.until(strange, &none());
    tablet.log(&browser);
    browser.reads("takes nothing of what waits here");
    browser.touch("#unsent");
    browser.reads("If it cannot be sent");
    assert_eq!(browser.axe(), Vec::<String>::new());
    browser.touch("#parcel");
    browser.reads("This code opens it");
    assert_eq!(browser.axe(), Vec::<String>::new());
    browser.touch("#aside");
    browser.reads("It is then never sent");
    assert_eq!(state(&browser, "unsent"), json!(1));
    browser.touch("#aside-now");
    browser.reads("You set it aside");
    browser.until("window.fetch = window.real; return true", &none());
    all_sent(&browser);
    assert!(tablet.records().is_empty());
}
