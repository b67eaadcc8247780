//! What can be done to a resource.

/// An action the policy can allow.
pub trait Action {
    /// Name in the policy table.
    const NAME: &'static str;
    /// Whether it is of a day: then it is judged by the roles of that day too. Who writes down late what happened
    /// while a role lasted may have it no longer.
    const OF_ITS_DAY: bool;
}

macro_rules! actions {
    ($($(#[$doc:meta])* $name:ident $word:literal $(($day:ident))?;)+) => {
        $($(#[$doc])* #[derive(Debug)] pub enum $name {}
        impl Action for $name {
            const NAME: &'static str = $word;
            const OF_ITS_DAY: bool = actions!(@day $($day)?);
        })+
    };
    (@day) => { false };
    (@day day) => { true };
}

actions! {
    /// See it.
    Read "read";
    /// Change it, or add to it what belongs to it.
    Manage "manage";
    /// Write down what happened: a lesson given, a check taken.
    Record "record" (day);
    /// Put in force for the whole school what was prepared: a sequence version, a rollover.
    Publish "publish";
}
