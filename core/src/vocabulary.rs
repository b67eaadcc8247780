//! Closed vocabularies: enums whose one spelling serves the wire, the store and the rules.

/// Declares an enum with a fixed snake_case spelling per variant, used by JSON, the
/// database and messages alike. `parse` answers `None` for any other spelling.
#[cfg(not(feature = "schema"))]
#[macro_export]
macro_rules! vocabulary {
    ($($body:tt)*) => { $crate::vocabulary_with! { [] $($body)* } };
}

/// Declares an enum with a fixed snake_case spelling per variant, used by JSON, the
/// database and messages alike. `parse` answers `None` for any other spelling.
#[cfg(feature = "schema")]
#[macro_export]
macro_rules! vocabulary {
    ($($body:tt)*) => { $crate::vocabulary_with! { [utoipa::ToSchema] $($body)* } };
}

/// Lets the words of a vocabulary be bound to statements, where a store is built.
#[cfg(not(feature = "bind"))]
#[doc(hidden)]
#[macro_export]
macro_rules! bindable_words {
    ($name:ident) => {};
}

/// Lets the words of a vocabulary be bound to statements, where a store is built.
#[cfg(feature = "bind")]
#[doc(hidden)]
#[macro_export]
macro_rules! bindable_words {
    ($name:ident) => {
        $crate::bindable!([] $name);
    };
}

#[doc(hidden)]
#[macro_export]
macro_rules! vocabulary_with {
    ([$($derive:path)?] $(#[$meta:meta])* $vis:vis enum $name:ident { $($(#[$vmeta:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
        $(#[derive($derive)])?
        $vis enum $name { $($(#[$vmeta])* #[serde(rename = $word)] $variant),+ }

        impl $name {
            /// Every value, in the order declared.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The one spelling of this value.
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }

            /// The value with this exact spelling.
            pub fn parse(word: &str) -> Option<Self> {
                match word { $($word => Some(Self::$variant),)+ _ => None }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.as_str())
            }
        }

        $crate::bindable_words!($name);
    };
}
