//! What is to be done when the process is told to end, beside what the server does itself.

/// Does something once the process is told to end. Called inside the server's runtime.
pub fn when_told(done: impl Fn() + Clone + 'static) {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        for kind in [SignalKind::terminate(), SignalKind::interrupt(), SignalKind::quit()] {
            let done = done.clone();
            if let Ok(mut told) = signal(kind) {
                actix_web::rt::spawn(async move {
                    told.recv().await;
                    done();
                });
            }
        }
    }
}
