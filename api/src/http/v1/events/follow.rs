//! GET /sync/events

use std::time::Duration;

use actix_web::{
    HttpResponse, get,
    http::header::{CONTENT_ENCODING, CONTENT_TYPE},
    rt,
    web::Bytes,
};
use plumbline_core::access::{act::Read, resource::OwnSessions};
use tokio::{
    sync::{mpsc, oneshot},
    time::{Instant, sleep, sleep_until},
};

use super::{Lines, lasts};
use crate::{
    http::{
        caller::Caller,
        problem::{Code, Problem},
        problems::ReadProblems,
    },
    store::Following,
};

/// How long nothing is sent at most. What another node committed is found out then, too.
const PING: Duration = Duration::from_secs(20);
/// Lines that may wait for a slow reader.
const WAITING: usize = 4;

/// Follow what happens at the school
///
/// A stream of server-sent events (`text/event-stream`), read with `fetch`, as it takes the access token. Each event is a
/// `head` whose id is `<epoch>:<version>`: something was written, so pull. It holds no data, it is a hint and no more,
/// and several writes may be one event. The first one is sent at once. A comment is sent when nothing happens for 20
/// seconds. The stream ends within a second of the end of the sign-in, the revocation of its tablet and the disabling of
/// its owner, and within the hour in any case; it does not end with the access token. Six of one sign-in are open at
/// most: the oldest gives way. Where several nodes serve one database, what another node commits shows within 20
/// seconds.
#[utoipa::path(
    tag = "sync", operation_id = "follow_events",
    responses((status = 200, description = "The events", body = String, content_type = "text/event-stream",
               example = json!("event: head\nid: 0199f2c4-0000-7000-8000-00000000000e:812\n\n")), ReadProblems)
)]
#[get("/sync/events")]
pub async fn follow_events(caller: Caller) -> Result<HttpResponse, Problem> {
    // Followed before the first look, so that nothing falls between.
    let following = caller.follow();
    let first = head(&caller).await?;
    let session = caller.session().ok_or_else(|| Problem::new(Code::Unauthenticated))?;
    let one_too_many = caller.api().streams.open(session);
    let chance = getrandom::u32().map_err(|_| Problem::new(Code::Internal))?;
    let (out, lines) = mpsc::channel(WAITING);
    rt::spawn(feed(caller, first, following, out, one_too_many, lasts(chance)));
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, "text/event-stream"))
        // What packs bodies would keep an event until there are enough of them.
        .insert_header((CONTENT_ENCODING, "identity"))
        .body(Lines(lines)))
}

async fn feed(
    caller: Caller,
    first: (uuid::Uuid, i64),
    mut following: Following,
    out: mpsc::Sender<Bytes>,
    mut one_too_many: oneshot::Receiver<()>,
    lasts: Duration,
) {
    let end = Instant::now() + lasts;
    let (mut now, mut told, mut quiet) = (Some(first), 0, false);
    loop {
        let line = match now {
            Some((epoch, version)) if version > told => {
                told = version;
                format!("event: head\nid: {epoch}:{version}\n\n")
            }
            _ if quiet => ": nothing new\n\n".to_owned(),
            _ => String::new(),
        };
        if !line.is_empty() && out.send(line.into()).await.is_err() {
            return;
        }
        quiet = tokio::select! {
            more = following.stirred() => if more { false } else { return },
            () = sleep(PING) => true,
            () = sleep_until(end) => return,
            () = out.closed() => return,
            _ = &mut one_too_many => return,
        };
        now = match head(&caller).await {
            Ok(head) => Some(head),
            // It is asked again at the next wake-up.
            Err(problem) if problem.code() == Code::Busy => None,
            // Whoever may not ask any more is told nothing more.
            Err(_) => return,
        };
    }
}

/// The school's epoch and version, for whoever is still signed in.
async fn head(caller: &Caller) -> Result<(uuid::Uuid, i64), Problem> {
    caller
        .read(|tx| {
            let permit = tx.permit::<Read, _>(OwnSessions(None))?;
            Ok(tx.head(&permit)?)
        })
        .await
}
