//! `plumbline account`: a school and its first administrator, and a new password where nobody is left who could give
//! one, by the operator.

use clap::Subcommand;
use plumbline_core::{
    text::{Email, Name},
    time::Date,
};

use super::Failure;
use crate::{
    auth::secret::{Secret, invitation_token},
    clock::{Clock, is_zone},
    config::Config,
    store::{Error, Store, gate::NewSchool},
};

#[derive(Subcommand)]
pub(super) enum Command {
    /// Make a school and invite its first administrator. Prints a link that works once.
    Create {
        /// Name of the school.
        #[arg(long)]
        school: String,
        /// Make the school although one of this name is there.
        #[arg(long)]
        another: bool,
        /// Name of the administrator.
        #[arg(long)]
        name: String,
        /// E-mail address of the administrator.
        #[arg(long)]
        email: String,
        /// Time zone of the school.
        #[arg(long, default_value = "Europe/London")]
        time_zone: String,
        /// Pretend it is nine on this date, as `serve --today` does.
        #[arg(long, value_name = "DATE", hide = true)]
        today: Option<Date>,
    },
    /// Let somebody choose a new password, for when nobody at the school can. Prints a link that works once.
    Reset {
        /// E-mail address of the account.
        #[arg(long)]
        email: String,
        /// Pretend it is nine on this date, as `serve --today` does.
        #[arg(long, value_name = "DATE", hide = true)]
        today: Option<Date>,
    },
}

pub(super) fn run(config: &Config, command: Command) -> Result<(), Failure> {
    let (school, another, name, email, time_zone, today) = match command {
        Command::Create { school, another, name, email, time_zone, today } => {
            (school, another, name, email, time_zone, today)
        }
        Command::Reset { email, today } => return reset(config, &email, today),
    };
    if !is_zone(&time_zone) {
        return Err(format!("{time_zone} is not a time zone such as Europe/London").into());
    }
    let store = Store::open(&config.place()?, today.map_or_else(Clock::system, Clock::starting), 1)?;
    let school = Name::new(&school).map_err(|error| format!("--school {error}"))?;
    let name = Name::new(&name).map_err(|error| format!("--name {error}"))?;
    let email = Email::new(&email).map_err(|error| format!("--email {error}"))?;
    if !another && store.schools()?.iter().any(|(_, known)| *known == school.to_string()) {
        return Err(
            format!("a school named {school} is there already; to make another, add --another").into()
        );
    }
    let token = found_school(&store, config, &school, &name, email, &time_zone)?;
    println!("Made {school}. {name} joins with this link, once, within {} days:", config.invitation_days);
    println!("{}/#/invitation/{token}", config.public_url);
    println!(
        "Without a browser: POST /api/v1/invitations/accept {{\"token\": \"{token}\", \"password\": \"...\"}}"
    );
    Ok(())
}

fn reset(config: &Config, email: &str, today: Option<Date>) -> Result<(), Failure> {
    let store = Store::open(&config.place()?, today.map_or_else(Clock::system, Clock::starting), 1)?;
    let email = Email::new(email).map_err(|error| format!("--email {error}"))?;
    let secret = Secret::new()?;
    let minutes = config.new_password_minutes;
    let ends = store.clock().now().plus_seconds(i64::from(minutes) * 60);
    let (place, id) = store.renew(&email.key(), secret.hash(), ends).map_err(|error| match error {
        Error::Missing => Failure::from(format!("nobody who can sign in has the address {}", email.as_str())),
        other => other.into(),
    })?;
    let token = invitation_token(place.school, id, &secret);
    println!("A new password is chosen with this link, once, within {minutes} minutes:");
    println!("{}/#/new-password/{token}", config.public_url);
    println!(
        "Without a browser: POST /api/v1/invitations/accept {{\"token\": \"{token}\", \"password\": \"...\"}}"
    );
    Ok(())
}

/// Makes a school; returns the token of its first administrator's invitation.
pub fn found_school(
    store: &Store,
    config: &Config,
    school: &Name,
    admin: &Name,
    email: Email,
    time_zone: &str,
) -> Result<String, Failure> {
    let secret = Secret::new()?;
    let new = NewSchool {
        name: school.to_string(),
        rule_pack: config.rule_pack.clone(),
        time_zone: time_zone.to_owned(),
        admin_name: admin.to_string(),
        admin_email: email,
        secret_hash: secret.hash(),
        expires_at: store.clock().now().plus_seconds(i64::from(config.invitation_days) * 86_400),
    };
    let (school, id) = store.create_school(new)?;
    Ok(invitation_token(school, id, &secret))
}
