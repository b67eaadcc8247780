//! What happens at the school, as it happens.

pub mod follow;

use std::{
    collections::HashMap,
    convert::Infallible,
    pin::Pin,
    sync::{Mutex, PoisonError},
    task::{Context, Poll},
    time::Duration,
};

use actix_web::{
    body::{BodySize, MessageBody},
    web::Bytes,
};
use plumbline_core::id::SessionId;
use tokio::sync::{mpsc, oneshot};

/// Most streams of one sign-in. A browser has one; those of connections that broke without a word are still there
/// for a while.
const MOST: usize = 6;

/// The streams that are open: one too many ends the oldest of its sign-in, so that nobody is ever kept out.
#[derive(Default)]
pub struct Streams(Mutex<HashMap<SessionId, Vec<oneshot::Sender<()>>>>);

impl Streams {
    /// One more of this sign-in; what comes back ends once it is one too many.
    fn open(&self, session: SessionId) -> oneshot::Receiver<()> {
        let mut open = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        open.retain(|_, of_one| {
            of_one.retain(|stream| !stream.is_closed());
            !of_one.is_empty()
        });
        let of_one = open.entry(session).or_default();
        if of_one.len() >= MOST {
            of_one.remove(0);
        }
        let (stream, ends) = oneshot::channel();
        of_one.push(stream);
        ends
    }
}

/// A body that is sent as it is made.
struct Lines(mpsc::Receiver<Bytes>);

impl MessageBody for Lines {
    type Error = Infallible;

    fn size(&self) -> BodySize {
        BodySize::Stream
    }

    fn poll_next(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Bytes, Infallible>>> {
        self.0.poll_recv(context).map(|line| line.map(Ok))
    }
}

/// How long a stream lasts at most: within the hour, and not all that began together at the same moment.
fn lasts(chance: u32) -> Duration {
    Duration::from_secs(2700 + u64::from(chance % 900))
}

#[cfg(test)]
mod tests {
    use super::*;
    use uuid::Uuid;

    #[test]
    fn a_stream_lasts_no_longer_than_an_hour() {
        for chance in [0, 1, 899, 900, u32::MAX] {
            assert!((2700..3600).contains(&lasts(chance).as_secs()), "{chance}");
        }
        assert_ne!(lasts(1), lasts(2));
    }

    #[test]
    fn one_too_many_ends_the_oldest_of_its_sign_in_and_no_other() {
        let (streams, session) = (Streams::default(), |n| SessionId::from_uuid(Uuid::from_u128(n)));
        let mut other = streams.open(session(2));
        let mut open: Vec<_> = (0..MOST).map(|_| streams.open(session(1))).collect();
        let ended = |stream: &mut oneshot::Receiver<()>| {
            matches!(stream.try_recv(), Err(oneshot::error::TryRecvError::Closed))
        };
        assert!(!open.iter_mut().any(ended));
        // One that is gone makes room.
        drop(open.remove(2));
        open.push(streams.open(session(1)));
        assert!(!open.iter_mut().any(ended));
        open.push(streams.open(session(1)));
        assert!(ended(&mut open[0]) && !open[1..].iter_mut().any(ended) && !ended(&mut other));
    }
}
