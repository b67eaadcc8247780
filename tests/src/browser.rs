//! A real browser, driven over WebDriver (W3C): headless Chromium with a profile that outlives it, or WebKit.

use std::{
    path::Path,
    time::{Duration, Instant},
};

use serde_json::{Value, json};

use crate::{
    Client,
    engine::{Driver, Engine},
};

/// How long anything may take until the test gives up on it.
const PATIENCE: Duration = Duration::from_secs(20);

/// Runs in the page until the condition written in its place holds, or a while is over.
const UNTIL: &str = "
    const [given, done] = arguments;
    const until = Date.now() + 2000;
    const holds = async () => { CONDITION };
    const look = async () => {
        const found = await holds().catch(() => null);
        if (found || Date.now() > until) { done(found || null); } else { setTimeout(look, 20); }
    };
    look();
";

/// What `tests/client` brings from npm. It is run in pages under test and never served.
const AXE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/client/node_modules/axe-core/axe.min.js");

/// Runs in a page that has axe: a line of each element that breaks a rule, those of good practice and of the least size of
/// what can be touched among them.
const VIOLATIONS: &str = "
    const [done] = arguments;
    const line = (rule, node) => `${rule.id}: ${node.target.flat().join(' ')}: ${node.failureSummary}`.replace(/\\s+/g, ' ');
    axe.run(document, { resultTypes: ['violations'], rules: { 'target-size': { enabled: true } } }).then(
        (found) => done(found.violations.flatMap((rule) => rule.nodes.map((node) => line(rule, node)))),
        (error) => done([String(error)]),
    );
";

/// A browser with one window; killed when dropped.
pub struct Browser {
    _driver: Driver,
    client: Client,
    session: String,
}

/// The id of an element that a script returned.
fn id_of(element: &Value) -> String {
    element.as_object().unwrap().values().next().unwrap().as_str().unwrap().to_owned()
}

impl Browser {
    /// Starts Chromium with this profile: what an earlier one left there is there.
    pub fn start(profile: &Path) -> Self {
        Self::start_in(Engine::Chromium, profile)
    }

    /// Starts a browser of this kind.
    pub fn start_in(engine: Engine, profile: &Path) -> Self {
        let driver = engine.start(profile);
        let client = Client::new(&driver.base);
        let wanted = json!({"capabilities": {"alwaysMatch": driver.capabilities}});
        let made = client.send("POST", "/session", Some("application/json"), wanted.to_string().as_bytes());
        let session = made.expect(200)["value"]["sessionId"].as_str().unwrap().to_owned();
        Self { _driver: driver, client, session }
    }

    fn try_command(&self, method: &str, path: &str, body: &Value) -> Result<Value, String> {
        let path = format!("/session/{}{path}", self.session);
        let answer = match method {
            "GET" | "DELETE" => self.client.send(method, &path, None, &[]),
            _ => self.client.send(method, &path, Some("application/json"), body.to_string().as_bytes()),
        };
        let mut json = answer.json();
        if answer.status == 200 {
            Ok(json["value"].take())
        } else {
            Err(json["value"]["message"].to_string())
        }
    }

    fn command(&self, path: &str, body: &Value) -> Value {
        self.try_command("POST", path, body).unwrap_or_else(|error| panic!("{path}: {error}"))
    }

    /// Opens an address.
    pub fn open(&self, url: &str) {
        self.command("/url", &json!({ "url": url }));
    }

    /// Loads the page anew.
    pub fn reload(&self) {
        self.command("/refresh", &json!({}));
    }

    /// Waits until a script (the body of an async function of `given`) returns something; returns that.
    #[track_caller]
    pub fn until(&self, script: &str, given: &Value) -> Value {
        let deadline = Instant::now() + PATIENCE;
        loop {
            // A page that goes away under the script is no answer.
            let body = json!({"script": UNTIL.replace("CONDITION", script), "args": [given]});
            match self.try_command("POST", "/execute/async", &body) {
                Ok(found) if !found.is_null() => return found,
                last => assert!(
                    Instant::now() < deadline,
                    "never: {script}\n{last:?}\n{}",
                    self.try_command(
                        "POST",
                        "/execute/sync",
                        &json!({"script": "return document.body.innerText", "args": []})
                    )
                    .unwrap_or_default()
                ),
            }
        }
    }

    /// Waits until this text is to be read in the window.
    #[track_caller]
    pub fn reads(&self, text: &str) {
        self.until("return document.body.innerText.replace(/\\s+/g, ' ').includes(given)", &json!(text));
    }

    fn now(&self, script: &str) -> Value {
        self.command("/execute/sync", &json!({"script": script, "args": []}))
    }

    /// What axe-core finds wrong with the page as it stands: rule, element and what to mend, a line each.
    pub fn axe(&self) -> Vec<String> {
        if self.now("return Boolean(window.axe)") != json!(true) {
            let axe = std::fs::read_to_string(AXE).expect("npm ci --prefix tests/client brings axe-core");
            self.now(&axe);
        }
        let found = self.command("/execute/async", &json!({"script": VIOLATIONS, "args": []}));
        found.as_array().unwrap().iter().map(|line| line.as_str().unwrap().to_owned()).collect()
    }

    /// Whether this text is to be read now.
    pub fn shows(&self, text: &str) -> bool {
        let script = "return document.body.innerText.replace(/\\s+/g, ' ').includes(arguments[0])";
        self.command("/execute/sync", &json!({"script": script, "args": [text]})) == json!(true)
    }

    /// As [`Self::until`], for a script that uses the client as its screens do, as `app`.
    #[track_caller]
    pub fn with_app(&self, script: &str) -> Value {
        self.until(&format!("const {{ app }} = await import('/lib/app.js'); {script}"), &Value::Null)
    }

    /// Touches the first thing that fits a selector once it is there and can be touched.
    #[track_caller]
    pub fn touch(&self, css: &str) {
        self.touch_what("return document.querySelector(given)", css);
    }

    /// Touches the button or link whose text begins with this.
    #[track_caller]
    pub fn press(&self, text: &str) {
        let found = "return [...document.querySelectorAll('button, a')].find((one) =>
            one.innerText.replace(/\\s+/g, ' ').trim().startsWith(given) && !one.disabled)";
        self.touch_what(found, text);
    }

    /// Touches what a script returns. What is drawn anew in between is looked for again.
    #[track_caller]
    fn touch_what(&self, script: &str, given: &str) {
        let deadline = Instant::now() + PATIENCE;
        loop {
            let element = id_of(&self.until(script, &json!(given)));
            match self.try_command("POST", &format!("/element/{element}/click"), &json!({})) {
                Ok(_) => return,
                Err(error) => assert!(Instant::now() < deadline, "{given}: {error}"),
            }
        }
    }

    /// Types into the field that fits a selector.
    #[track_caller]
    pub fn type_into(&self, css: &str, text: &str) {
        let element = self.element(css);
        self.command(&format!("/element/{element}/value"), &json!({ "text": text }));
    }

    fn element(&self, css: &str) -> String {
        id_of(&self.until("return document.querySelector(given)", &json!(css)))
    }

    /// Opens another window of the same browser and turns to it; returns what `turn_to` takes for the one before.
    pub fn new_window(&self) -> String {
        let made = self.command("/window/new", &json!({"type": "tab"}));
        self.turn_to(made["handle"].as_str().unwrap())
    }

    /// Turns to a window; returns the one before.
    pub fn turn_to(&self, window: &str) -> String {
        let before = self.try_command("GET", "/window", &Value::Null).unwrap();
        self.command("/window", &json!({ "handle": window }));
        before.as_str().unwrap().to_owned()
    }

    /// Closes it as its user does.
    pub fn close(self) {
        self.try_command("DELETE", "", &Value::Null).unwrap();
    }
}
