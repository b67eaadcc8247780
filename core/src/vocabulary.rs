//! Closed vocabularies: enums whose one spelling serves the wire, the store and the rules.

/// Declares an enum with a fixed snake_case spelling per variant, used by JSON, the
/// database and messages alike. `parse` answers `None` for any other spelling.
#[macro_export]
macro_rules! vocabulary {
    ($(#[$meta:meta])* $vis:vis enum $name:ident { $($(#[$vmeta:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
        #[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
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
    };
}
