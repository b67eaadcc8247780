//! SQLite's one writer. It gathers the writes that wait, gives each its own savepoint, and
//! commits them together: one sync for many. If the shared commit fails, each is tried
//! alone. An I/O error at commit ends the process, because what reached the disk is then
//! unknown.

use std::{
    panic::{AssertUnwindSafe, catch_unwind},
    sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel},
};

use diesel::{Connection as _, SqliteConnection, connection::SimpleConnection as _};

use super::{Error, conn::Conn};

/// Writes that may wait before callers are told the store is busy.
const QUEUE: usize = 1024;
/// Most writes in one commit.
const GROUP: usize = 256;

// The wait comes first: another connection that closes at this moment holds the file for an instant.
const SETTINGS: &str = "PRAGMA busy_timeout = 5000; PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; \
    PRAGMA foreign_keys = ON; PRAGMA secure_delete = ON;";

/// Runs work between a begin statement and its commit; anything but success rolls back.
/// A panic is caught and becomes an error.
pub(super) fn within<T, E: From<Error>>(
    mut conn: Conn<'_>,
    begin: &str,
    work: impl FnOnce(Conn<'_>) -> Result<T, E>,
) -> Result<T, E> {
    conn.execute(begin)?;
    let done = caught(|| work(conn.reborrow()));
    match done {
        Ok(value) => {
            // A commit that was begun and not answered may have been done: trying again
            // could do it twice.
            conn.execute("COMMIT")
                .map_err(|error| if matches!(error, Error::Busy) { Error::Unclear } else { error })?;
            Ok(value)
        }
        Err(error) => {
            // A connection that cannot even roll back is dropped by the pool's next check.
            let _ = conn.execute("ROLLBACK");
            Err(error)
        }
    }
}

fn caught<T, E: From<Error>>(work: impl FnOnce() -> Result<T, E>) -> Result<T, E> {
    catch_unwind(AssertUnwindSafe(work))
        .unwrap_or_else(|_| Err(Error::Db("the operation panicked".into()).into()))
}

trait Job: Send {
    /// Runs inside a savepoint; true if its changes stand.
    fn run(&mut self, conn: Conn<'_>) -> bool;
    /// Whether `run` found an error.
    fn failed(&self) -> bool;
    /// Answers the caller: with what `run` found, or with the failure of the commit.
    fn answer(&mut self, committed: Result<(), Error>);
}

struct Work<T, E, F> {
    work: F,
    found: Option<Result<T, E>>,
    answer: Option<SyncSender<Result<T, E>>>,
}

impl<T, E, F> Job for Work<T, E, F>
where
    T: Send,
    E: From<Error> + Send,
    F: Fn(Conn<'_>) -> Result<T, E> + Send,
{
    fn run(&mut self, conn: Conn<'_>) -> bool {
        let found = caught(|| (self.work)(conn));
        let stands = found.is_ok();
        self.found = Some(found);
        stands
    }

    fn failed(&self) -> bool {
        matches!(self.found, Some(Err(_)))
    }

    fn answer(&mut self, committed: Result<(), Error>) {
        let found = match committed {
            Ok(()) => self.found.take().unwrap_or_else(|| Err(Error::Busy.into())),
            Err(error) => Err(error.into()),
        };
        if let Some(answer) = self.answer.take() {
            // A caller that has gone does not need the answer.
            let _ = answer.send(found);
        }
    }
}

/// The way to the writer's thread, which ends when the last of these is dropped.
pub(super) struct Writer {
    queue: SyncSender<Box<dyn Job>>,
}

impl Writer {
    pub(super) fn start(path: &str) -> Result<Self, String> {
        let mut conn = SqliteConnection::establish(path).map_err(|error| error.to_string())?;
        conn.batch_execute(SETTINGS).map_err(|error| error.to_string())?;
        let (queue, jobs) = sync_channel(QUEUE);
        std::thread::Builder::new()
            .name("store-writer".into())
            .spawn(move || run(&mut conn, &jobs))
            .map_err(|error| error.to_string())?;
        Ok(Self { queue })
    }

    pub(super) fn write<T, E, F>(&self, work: F) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<Error> + Send + 'static,
        F: Fn(Conn<'_>) -> Result<T, E> + Send + 'static,
    {
        let (answer, answered) = sync_channel(1);
        let job = Box::new(Work { work, found: None, answer: Some(answer) });
        self.queue.try_send(job).map_err(|error| match error {
            TrySendError::Full(_) | TrySendError::Disconnected(_) => Error::Busy,
        })?;
        answered.recv().unwrap_or_else(|_| Err(Error::Busy.into()))
    }
}

fn run(conn: &mut SqliteConnection, jobs: &Receiver<Box<dyn Job>>) {
    while let Ok(first) = jobs.recv() {
        let mut group = vec![first];
        group.extend(jobs.try_iter().take(GROUP - 1));
        match commit(conn, &mut group) {
            Ok(()) => group.iter_mut().for_each(|job| job.answer(Ok(()))),
            Err(error) if group.len() == 1 => answer_failed(&mut group[0], error),
            Err(_) => {
                for mut job in group {
                    match commit(conn, std::slice::from_mut(&mut job)) {
                        Ok(()) => job.answer(Ok(())),
                        Err(error) => answer_failed(&mut job, error),
                    }
                }
            }
        }
    }
}

/// A full disk rolls the whole transaction back in the middle of a statement, and what follows
/// fails for want of a transaction: the first failure is the one to tell.
fn answer_failed(job: &mut Box<dyn Job>, error: Error) {
    let committed = if job.failed() { Ok(()) } else { Err(error) };
    job.answer(committed);
}

fn commit(conn: &mut SqliteConnection, group: &mut [Box<dyn Job>]) -> Result<(), Error> {
    let done = attempt(conn, group);
    if let Err(error) = &done {
        // Fails where the failure itself has rolled back.
        let _ = conn.batch_execute("ROLLBACK");
        if is_io(error) {
            tracing::error!(%error, "the disk failed at a commit; stopping");
            std::process::abort();
        }
    }
    done
}

fn attempt(conn: &mut SqliteConnection, group: &mut [Box<dyn Job>]) -> Result<(), Error> {
    conn.batch_execute("BEGIN IMMEDIATE")?;
    for job in group {
        conn.batch_execute("SAVEPOINT job")?;
        let end = if job.run(Conn::Sqlite(conn)) { "RELEASE job" } else { "ROLLBACK TO job; RELEASE job" };
        conn.batch_execute(end)?;
    }
    conn.batch_execute("COMMIT")?;
    Ok(())
}

fn is_io(error: &Error) -> bool {
    matches!(error, Error::Db(message) if message.contains("disk I/O error"))
}
