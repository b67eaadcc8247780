//! Whose password may be made anew by whom: never that of somebody who may do what one may not decide oneself.

use super::Role;

/// The roles whose holders' passwords may be made anew by who holds this role.
const fn below(role: Role) -> &'static [Role] {
    match role {
        Role::Administrator => Role::ALL,
        Role::Lead => &[Role::Lead, Role::Teacher, Role::Assistant, Role::Cover, Role::Office],
        Role::Office => &[Role::Teacher, Role::Assistant, Role::Cover, Role::Office],
        _ => &[],
    }
}

/// Whether who holds some roles may have the password made anew of who holds, or will hold, others. One role has to
/// do for all of them.
pub fn may_renew<'a>(by: impl IntoIterator<Item = &'a Role>, of: &[Role]) -> bool {
    let mut whose = by.into_iter().map(|role| below(*role)).filter(|those| !those.is_empty());
    whose.any(|those| of.iter().all(|held| those.contains(held)))
}

#[cfg(test)]
mod tests {
    use super::{Role::*, *};

    #[test]
    fn nobody_above_oneself() {
        for (by, of, may) in [
            (Administrator, &[Administrator][..], true),
            (Administrator, &[Head, TrustLead], true),
            (Lead, &[Teacher], true),
            (Lead, &[Office, Lead], true),
            (Lead, &[Administrator], false),
            (Lead, &[Teacher, Administrator], false),
            (Lead, &[Head], false),
            (Lead, &[TrustLead], false),
            (Office, &[Assistant, Cover], true),
            (Office, &[Lead], false),
            (Office, &[Teacher, Head], false),
            (Head, &[Teacher], false),
            (Teacher, &[Cover], false),
            (Office, &[], true),
            (Teacher, &[], false),
        ] {
            assert_eq!(may_renew(&[by], of), may, "{by:?} {of:?}");
        }
        assert!(!may_renew(&[], &[Teacher]));
        assert!(may_renew(&[Teacher, Office], &[Cover]));
    }
}
