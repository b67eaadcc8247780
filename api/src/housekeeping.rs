//! What a server does by itself once a day: it drops what is no longer to be kept.

use std::time::Duration;

use crate::store::Store;

const A_DAY: Duration = Duration::from_secs(86_400);

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

/// Does so every day from tomorrow on. Call it on the server's runtime.
pub fn daily(store: Store) {
    actix_web::rt::spawn(async move {
        loop {
            tokio::time::sleep(A_DAY).await;
            let store = store.clone();
            if actix_web::web::block(move || once(&store)).await.is_err() {
                tracing::error!("dropping what is no longer kept broke down");
            }
        }
    });
}
