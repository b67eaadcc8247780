//! Closed vocabularies: enums whose one spelling serves the wire, the store and the rules.

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

/// Describes the words of a vocabulary in the OpenAPI document, where one is written.
#[cfg(not(feature = "schema"))]
#[doc(hidden)]
#[macro_export]
macro_rules! described_words {
    ($($body:tt)*) => {};
}

/// Describes the words of a vocabulary in the OpenAPI document, where one is written. By
/// hand, because the derive macro cannot read a spelling that came through a macro.
#[cfg(feature = "schema")]
#[doc(hidden)]
#[macro_export]
macro_rules! described_words {
    ($name:ident $shown:expr; $doc:expr; $($word:literal $vdoc:expr;)+) => {
        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
                let mut description = String::from($doc.trim());
                $(description.push_str(concat!("\n- `", $word, "`:", $vdoc));)+
                utoipa::openapi::schema::ObjectBuilder::new()
                    .schema_type(utoipa::openapi::schema::Type::String)
                    .enum_values(Some([$($word),+]))
                    .description(Some(description))
                    .into()
            }
        }
        impl utoipa::ToSchema for $name {
            fn name() -> std::borrow::Cow<'static, str> {
                $shown.into()
            }
        }
    };
}

/// The name a vocabulary has in the OpenAPI document: its own unless told.
#[doc(hidden)]
#[macro_export]
macro_rules! shown_name {
    ($name:ident) => {
        stringify!($name)
    };
    ($name:ident $shown:literal) => {
        $shown
    };
}

/// Declares an enum with a fixed snake_case spelling per variant, used by JSON, the
/// database and messages alike. `parse` answers `None` for any other spelling. A name
/// after `as` is the one in the OpenAPI document, where its own would stand twice.
#[macro_export]
macro_rules! vocabulary {
    ($(#[doc = $doc:literal])* $vis:vis enum $name:ident $(as $shown:literal)? { $($(#[doc = $vdoc:literal])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[doc = $doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
        $vis enum $name { $($(#[doc = $vdoc])* #[serde(rename = $word)] $variant),+ }

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
        $crate::described_words!($name $crate::shown_name!($name $($shown)?); concat!($($doc),*); $($word concat!($($vdoc),*);)+);
    };
}
