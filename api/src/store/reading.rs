//! Reading: in one snapshot, and what concerns pupils with an entry in the audit log.

use super::{Error, Failure, Reader, Store, Subject, Tx, audit};

impl Store {
    /// Reads in one snapshot, as someone. Blocks; call it off the async workers.
    ///
    /// # Errors
    /// What the closure answers, or [`Error::SignedOut`].
    pub fn read<T, E, F>(&self, reader: impl Into<Reader>, work: F) -> Result<T, E>
    where
        E: From<Error>,
        F: for<'tx> FnOnce(&mut Tx<'tx>) -> Result<T, E>,
    {
        self.read_noting(reader.into(), work).map(|(value, _)| value)
    }

    /// As [`Self::read`], and returns what the read was about, for the audit log.
    fn read_noting<T, E, F>(&self, reader: Reader, work: F) -> Result<(T, Option<Subject>), E>
    where
        E: From<Error>,
        F: for<'tx> FnOnce(&mut Tx<'tx>) -> Result<T, E>,
    {
        let shared = &self.inner.shared;
        self.snapshot(|conn| {
            let mut tx = Tx::open_read(conn, shared, reader)?;
            let value = work(&mut tx)?;
            Ok((value, tx.subject))
        })
    }

    /// Reads something whose reading is logged: answers only after the log entry is committed.
    ///
    /// # Errors
    /// What the closure answers, or why the entry could not be written.
    pub fn read_logged<T, E, F>(
        &self,
        reader: impl Into<Reader>,
        operation: &'static str,
        work: F,
    ) -> Result<T, E>
    where
        E: Failure + Send + 'static,
        F: for<'tx> FnOnce(&mut Tx<'tx>) -> Result<T, E>,
    {
        let reader = reader.into();
        let (value, subject) = self.read_noting(reader, work)?;
        self.log_reading(reader, operation, subject)?;
        Ok(value)
    }

    /// Reads something; where the closure named what it was about, answers only after the log entry is committed.
    ///
    /// # Errors
    /// As [`Self::read_logged`].
    pub fn read_logged_if_about<T, E, F>(
        &self,
        reader: impl Into<Reader>,
        operation: &'static str,
        work: F,
    ) -> Result<T, E>
    where
        E: Failure + Send + 'static,
        F: for<'tx> FnOnce(&mut Tx<'tx>) -> Result<T, E>,
    {
        let reader = reader.into();
        let (value, subject) = self.read_noting(reader, work)?;
        if subject.is_some() {
            self.log_reading(reader, operation, subject)?;
        }
        Ok(value)
    }

    fn log_reading<E>(
        &self,
        reader: Reader,
        operation: &'static str,
        subject: Option<Subject>,
    ) -> Result<(), E>
    where
        E: Failure + Send + 'static,
    {
        let clock = self.clock();
        self.transact(move |mut conn| -> Result<(), E> {
            audit::note(&mut conn, reader.school(), clock.now(), operation, reader.staff(), subject)?;
            Ok(())
        })
    }
}
