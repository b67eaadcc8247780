//! What can be done to a resource.

/// An action the policy can allow.
pub trait Action {
    /// Name in the policy table.
    const NAME: &'static str;
}

macro_rules! actions {
    ($($(#[$doc:meta])* $name:ident $word:literal;)+) => {
        $($(#[$doc])* #[derive(Debug)] pub enum $name {}
        impl Action for $name { const NAME: &'static str = $word; })+
    };
}

actions! {
    /// See it.
    Read "read";
    /// Change it, or add to it what belongs to it.
    Manage "manage";
    /// Write down what happened: a lesson given, a check taken.
    Record "record";
    /// Put in force for the whole school what was prepared: a sequence version, a rollover.
    Publish "publish";
}
