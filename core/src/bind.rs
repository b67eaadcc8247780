//! Lets a store bind core's types as values in its statements.
//!
//! Rust's orphan rule wants these two implementations in the crate of the type. They name
//! no database, no column type and no connection: how a value is written is the store's.

/// Makes a type a value of any single column type for which the store can write it.
#[doc(hidden)]
#[macro_export]
macro_rules! bindable {
    ([$($generics:tt)*] $rust:ty) => {
        impl<ST, $($generics)*> diesel::expression::AsExpression<ST> for $rust
        where
            ST: diesel::sql_types::SqlType + diesel::sql_types::SingleValue + diesel::expression::TypedExpressionType,
        {
            type Expression = diesel::internal::derives::as_expression::Bound<ST, Self>;
            fn as_expression(self) -> Self::Expression {
                diesel::internal::derives::as_expression::Bound::new(self)
            }
        }
        impl<'expr, ST, $($generics)*> diesel::expression::AsExpression<ST> for &'expr $rust
        where
            ST: diesel::sql_types::SqlType + diesel::sql_types::SingleValue + diesel::expression::TypedExpressionType,
        {
            type Expression = diesel::internal::derives::as_expression::Bound<ST, Self>;
            fn as_expression(self) -> Self::Expression {
                diesel::internal::derives::as_expression::Bound::new(self)
            }
        }
        impl<ST, Store, $($generics)*> diesel::serialize::ToSql<diesel::sql_types::Nullable<ST>, Store> for $rust
        where
            Store: diesel::backend::Backend,
            ST: diesel::sql_types::SqlType<IsNull = diesel::sql_types::is_nullable::NotNull>,
            Self: diesel::serialize::ToSql<ST, Store>,
        {
            fn to_sql<'b>(
                &'b self,
                out: &mut diesel::serialize::Output<'b, '_, Store>,
            ) -> diesel::serialize::Result {
                <Self as diesel::serialize::ToSql<ST, Store>>::to_sql(self, out)
            }
        }
    };
}

bindable!([K: 'static] crate::id::Id<K>);
bindable!([] crate::time::Instant);
