//! A school whose teacher works on one tablet, over a line that can fail.
#![allow(dead_code)] // each of the tests uses a part

use plumbline_tests::{Browser, Client, Line, School, Value, json};
use tempfile::TempDir;

pub mod walk;

/// The PIN everybody chooses.
pub const PIN: &str = "carpet-27";

/// A name that must not be read where its owner's teacher is not.
pub const CHILD: &str = "Zephyrine";

/// One group of three, its teacher, and a tablet.
pub struct Tablet {
    pub school: School,
    pub line: Line,
    pub group: String,
    /// The browser's folder: what a tablet keeps when it is switched off.
    pub profile: TempDir,
}

impl Tablet {
    /// A school with lessons to teach, and a browser that has never been there.
    pub fn new() -> Self {
        let school = School::start();
        school.calendar();
        let pupils = school.pupils(&[(CHILD, "1A"), ("Bo", "1A"), ("Cyrus", "1A")]);
        let (sequence, _) = school.sequence();
        let all: Vec<&String> = pupils.values().collect();
        let group = school.group("Blue", &sequence, &all);
        let line = Line::to(&school.server.base);
        Self { school, line, group, profile: tempfile::tempdir().unwrap() }
    }

    /// Switches the browser on, on the first page.
    pub fn start(&self) -> Browser {
        let browser = Browser::start(self.profile.path());
        browser.open(&self.line.base);
        browser
    }

    /// The teacher has signed in on the tablet, and it has everything.
    pub fn ready(&self) -> Browser {
        let browser = self.start();
        sign_in(&browser, "teacher");
        choose_pin(&browser, "Tablet 5");
        browser.reads("Blue");
        browser.reads("m and o");
        // The page is kept by its worker from now on.
        browser.until("return Boolean(navigator.serviceWorker.controller)", &Value::Null);
        browser
    }

    /// The records of the group's lessons, as the lead has them from the server.
    pub fn records(&self) -> Vec<Value> {
        let listed = self.school.lead().get(&format!("/groups/{}/lesson-records", self.group)).expect(200);
        listed["items"].as_array().unwrap().clone()
    }

    /// Logs the next lesson as it is offered: three touches from Home, the last of them Save.
    pub fn log(&self, browser: &Browser) {
        browser.touch(&format!("a[href='#/groups/{}/log']", self.group));
        browser.touch("#save");
        browser.reads("Taught today");
    }

    /// The teacher over the API.
    pub fn teacher(&self) -> Client {
        self.school.staff("teacher")
    }
}

/// Signs a member of staff in with the password.
pub fn sign_in(browser: &Browser, key: &str) {
    browser.type_into("#email", &School::email(key));
    browser.type_into("#password", School::password());
    browser.touch("form button.main");
    browser.until("return Boolean(document.querySelector('#pin'))", &Value::Null);
}

/// Chooses the PIN, on a tablet that has no name yet where one is given.
pub fn choose_pin(browser: &Browser, name: &str) {
    browser.type_into("#pin", PIN);
    browser.type_into("#again", PIN);
    if !name.is_empty() {
        browser.type_into("#tablet", name);
    }
    browser.touch("form button.main");
}

/// Opens a locked store with a PIN.
pub fn unlock(browser: &Browser, pin: &str) {
    browser.type_into("#pin", pin);
    browser.touch("form button.main");
}

/// Everything the browser keeps of this origin, as text: databases, storages and caches.
pub fn kept(browser: &Browser) -> String {
    let script = r"
        const text = (value) => {
            if (value instanceof ArrayBuffer || ArrayBuffer.isView(value)) {
                return new TextDecoder('latin1').decode(value);
            }
            return value && typeof value === 'object' ? Object.values(value).map(text).join(' ') : String(value);
        };
        const request = (one) => new Promise((done, fail) => { one.onsuccess = () => done(one.result); one.onerror = fail; });
        const out = [JSON.stringify({ ...localStorage }), JSON.stringify({ ...sessionStorage }), document.cookie];
        for (const { name } of await indexedDB.databases()) {
            const db = await request(indexedDB.open(name));
            for (const store of db.objectStoreNames) {
                const rows = db.transaction(store).objectStore(store);
                out.push(name, store, text(await request(rows.getAllKeys())), text(await request(rows.getAll())));
            }
            db.close();
        }
        for (const name of await caches.keys()) {
            out.push((await (await caches.open(name)).keys()).map((one) => one.url).join(' '));
        }
        return out.join('\n');";
    browser.until(script, &Value::Null).as_str().unwrap().to_owned()
}

/// What `app.state` says.
pub fn state(browser: &Browser, field: &str) -> Value {
    browser.with_app(&format!("return [app.state.{field}]"))[0].clone()
}

/// Waits until everything done on the tablet is acknowledged.
pub fn all_sent(browser: &Browser) {
    browser.with_app("await app.sync(); return app.state.unsent === 0 && app.state.online");
    // Where something was not taken, not all is sent.
    browser.until("return /All sent|Nothing waits/.test(document.body.innerText)", &none());
}

/// Nothing given.
pub fn none() -> Value {
    json!(null)
}
