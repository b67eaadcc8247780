//! How operations on a colleague, and on passwords, are asked for.

use plumbline_tests::{School, json};

use super::Call;

/// The request of an operation; a changed password stays the suite's.
pub fn call(operation: &str, colleague: &str) -> Option<Call> {
    Some(match operation {
        "get_staff" => Call::get(format!("/staff/{colleague}")),
        "change_password" => {
            let body = json!({"password": School::password(), "new_password": School::password()});
            Call { body: Some(body), ..Call::new("PUT", "/me/password".into()) }.fresh_sign_in()
        }
        "offer_new_password" => Call::new("POST", format!("/staff/{colleague}/new-password")),
        _ => return None,
    })
}
