//! What a server does by itself: once a day it drops what is no longer to be kept, once a minute it signs the end of
//! the audit log.

use std::{sync::Arc, time::Duration};

use crate::{auth::token::Tokens, store::Store};

const A_DAY: Duration = Duration::from_secs(86_400);
const A_MINUTE: Duration = Duration::from_secs(60);

/// Drops what is no longer to be kept. A failure is logged: the next day brings the next try.
pub fn once(store: &Store) {
    let dropped = [
        ("the rows of pupil files", store.drop_old_files()),
        ("what undoing would put back", store.drop_old_undo()),
        ("proposals of groups", store.drop_old_group_proposals()),
        ("pupils frozen for reports", store.drop_old_report_snapshots()),
        ("ledgers of releases", store.empty_old_ledgers()),
        ("answers remembered for repeats", store.drop_old_answers()),
        ("links whose day is over", store.drop_old_links()),
        ("what tablets sent", store.drop_old_ops()),
        ("departures that devices were told of", store.drop_old_departures()),
    ];
    for (what, done) in dropped {
        match done {
            Ok(0) => {}
            Ok(many) => tracing::info!(many, "dropped {what}"),
            Err(error) => tracing::error!(%error, "dropping {what}"),
        }
    }
}

/// Signs the ends of the audit log that are not signed yet. One that does not go on from what was signed is logged,
/// each time anew, and `plumbline audit verify` says more.
pub fn seal(store: &Store, keys: &Arc<Tokens>) {
    let sealed = store
        .audit_is_unsealed()
        .and_then(|unsealed| if unsealed { store.seal_audit(keys) } else { Ok(Vec::new()) });
    match sealed {
        Ok(ends) => {
            for end in ends {
                if let Err(fault) = end.end {
                    tracing::error!(school = %end.school, %fault, "the audit log is not what was signed");
                }
            }
        }
        Err(error) => tracing::error!(%error, "signing the end of the audit log"),
    }
}

/// Does both, each in its time. Call it on the server's runtime.
pub fn keep(store: &Store, keys: &Arc<Tokens>) {
    let (dropping, sealing, keys) = (store.clone(), store.clone(), keys.clone());
    every(A_DAY, move || once(&dropping));
    every(A_MINUTE, move || seal(&sealing, &keys));
}

fn every(time: Duration, work: impl Fn() + Clone + Send + 'static) {
    actix_web::rt::spawn(async move {
        loop {
            tokio::time::sleep(time).await;
            if actix_web::web::block(work.clone()).await.is_err() {
                tracing::error!("the server's own work broke down");
            }
        }
    });
}
