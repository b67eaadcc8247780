//! Column types shared by both stores, and how core's types are written to them.
//!
//! The SQL types are ours, so that core's types can be given their store form here without
//! core knowing a store exists.

use std::io::Write as _;

use diesel::{
    deserialize::{self, FromSql},
    pg::{Pg, PgValue},
    serialize::{self, IsNull, Output, ToSql},
    sqlite::{Sqlite, SqliteValue},
};
use plumbline_core::{
    access::Role,
    book::Source,
    calendar::{ClosureKind, DayPart},
    check::{CheckKind, CorrectionReason, Outcome as Answer, ResponseMode, second::Basis},
    disclosure::Audience,
    id::Id,
    lesson::{Mark, Outcome},
    roster::{Field, Verdict},
    sequence::ProposalStatus,
    time::Instant,
};
use uuid::Uuid;

use super::change::ChangeKind;
use super::earlier_result::ResultSource;
use super::pupil_answering::AnsweringSubject;
use super::rollover::RolloverStatus;
use super::roster_import::ImportStatus;

/// The SQL types of the schema.
pub mod sql {
    pub use diesel::sql_types::{BigInt, Binary, Bool, Date, Integer, Json, Nullable, SmallInt, Text};

    /// A UUID: `uuid` in PostgreSQL, a blob of 16 bytes in SQLite.
    #[derive(Clone, Copy, Debug, Default, diesel::sql_types::SqlType, diesel::query_builder::QueryId)]
    #[diesel(sqlite_type(name = "Binary"), postgres_type(oid = 2950, array_oid = 2951))]
    pub struct Uid;

    /// A moment: `timestamptz` in PostgreSQL, microseconds since 1970 in SQLite.
    #[derive(Clone, Copy, Debug, Default, diesel::sql_types::SqlType, diesel::query_builder::QueryId)]
    #[diesel(sqlite_type(name = "Long"), postgres_type(oid = 1184, array_oid = 1185))]
    pub struct Moment;

    /// A word of a closed vocabulary, as text.
    #[derive(Clone, Copy, Debug, Default, diesel::sql_types::SqlType, diesel::query_builder::QueryId)]
    #[diesel(sqlite_type(name = "Text"), postgres_type(oid = 25, array_oid = 1009))]
    pub struct Word;
}

/// Gives a type of core its form in a row, for a column type of ours.
macro_rules! column {
    ($sql:ty => [$($generics:tt)*] $rust:ty) => {
        impl<Store: diesel::backend::Backend, $($generics)*> diesel::deserialize::Queryable<$sql, Store> for $rust
        where
            Self: FromSql<$sql, Store>,
        {
            type Row = Self;
            fn build(row: Self) -> deserialize::Result<Self> {
                Ok(row)
            }
        }
    };
}

column!(sql::Uid => [K: 'static] Id<K>);
column!(sql::Moment => [] Instant);

impl<K> ToSql<sql::Uid, Pg> for Id<K> {
    fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, Pg>) -> serialize::Result {
        out.write_all(self.uuid().as_bytes())?;
        Ok(IsNull::No)
    }
}

impl<K> ToSql<sql::Uid, Sqlite> for Id<K> {
    fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, Sqlite>) -> serialize::Result {
        out.set_value(self.uuid().as_bytes().to_vec());
        Ok(IsNull::No)
    }
}

impl<K> FromSql<sql::Uid, Pg> for Id<K> {
    fn from_sql(value: PgValue<'_>) -> deserialize::Result<Self> {
        Ok(Self::from_uuid(Uuid::from_slice(value.as_bytes())?))
    }
}

impl<K> FromSql<sql::Uid, Sqlite> for Id<K> {
    fn from_sql(value: SqliteValue<'_, '_, '_>) -> deserialize::Result<Self> {
        let bytes = <Vec<u8> as FromSql<diesel::sql_types::Binary, Sqlite>>::from_sql(value)?;
        Ok(Self::from_uuid(Uuid::from_slice(&bytes)?))
    }
}

/// Microseconds between 1970-01-01 and 2000-01-01, where PostgreSQL counts from.
const PG_EPOCH: i64 = 946_684_800_000_000;

impl ToSql<sql::Moment, Pg> for Instant {
    fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, Pg>) -> serialize::Result {
        out.write_all(&(self.micros() - PG_EPOCH).to_be_bytes())?;
        Ok(IsNull::No)
    }
}

impl ToSql<sql::Moment, Sqlite> for Instant {
    fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, Sqlite>) -> serialize::Result {
        out.set_value(self.micros());
        Ok(IsNull::No)
    }
}

impl FromSql<sql::Moment, Pg> for Instant {
    fn from_sql(value: PgValue<'_>) -> deserialize::Result<Self> {
        let micros = i64::from_be_bytes(value.as_bytes().try_into()?);
        Ok(Self::from_micros(micros + PG_EPOCH))
    }
}

impl FromSql<sql::Moment, Sqlite> for Instant {
    fn from_sql(value: SqliteValue<'_, '_, '_>) -> deserialize::Result<Self> {
        <i64 as FromSql<diesel::sql_types::BigInt, Sqlite>>::from_sql(value).map(Self::from_micros)
    }
}

macro_rules! words {
    ($($rust:ty),+ $(,)?) => {
        $(
            column!(sql::Word => [] $rust);

            impl ToSql<sql::Word, Pg> for $rust {
                fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, Pg>) -> serialize::Result {
                    out.write_all(self.as_str().as_bytes())?;
                    Ok(IsNull::No)
                }
            }

            impl ToSql<sql::Word, Sqlite> for $rust {
                fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, Sqlite>) -> serialize::Result {
                    out.set_value(self.as_str());
                    Ok(IsNull::No)
                }
            }

            impl FromSql<sql::Word, Pg> for $rust {
                fn from_sql(value: PgValue<'_>) -> deserialize::Result<Self> {
                    let word = std::str::from_utf8(value.as_bytes())?;
                    Self::parse(word).ok_or_else(|| format!("unknown word {word}").into())
                }
            }

            impl FromSql<sql::Word, Sqlite> for $rust {
                fn from_sql(value: SqliteValue<'_, '_, '_>) -> deserialize::Result<Self> {
                    let word = <String as FromSql<diesel::sql_types::Text, Sqlite>>::from_sql(value)?;
                    Self::parse(&word).ok_or_else(|| format!("unknown word {word}").into())
                }
            }
        )+
    };
}

words!(
    Audience,
    Role,
    Source,
    ClosureKind,
    DayPart,
    CheckKind,
    ResponseMode,
    CorrectionReason,
    Basis,
    AnsweringSubject,
    Answer,
    Mark,
    Outcome,
    ChangeKind,
    ImportStatus,
    RolloverStatus,
    ProposalStatus,
    ResultSource,
    Field,
    Verdict
);
