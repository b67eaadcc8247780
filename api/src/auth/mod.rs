//! Signing in: passwords, tokens, secrets, and holding off guesses.

pub mod password;
pub mod private_file;
pub mod secret;
pub mod throttle;
pub mod token;
