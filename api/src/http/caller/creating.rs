//! Writing something new, once however often it is asked for.

use sha2::{Digest as _, Sha256};

use super::{Caller, Code, Problem};
use crate::{
    http::reply::Reply,
    store::{Remembered, Tx},
};

impl Caller {
    /// Writes something new. With an Idempotency-Key the same request is done once and
    /// answered the same again.
    ///
    /// # Errors
    /// What the work answers, or `idempotency_key_reused`.
    pub async fn create<F>(&self, operation: &'static str, body: [u8; 32], work: F) -> Result<Reply, Problem>
    where
        F: for<'tx> Fn(&mut Tx<'tx>) -> Result<Reply, Problem> + Send + 'static,
    {
        self.once(operation, body, work, Reply::clone, |_, reply| Ok(reply)).await
    }

    /// As [`Self::create`], of what tells of pupils, or may be taken back: no more than status and place is remembered, and for a
    /// repeat `again` reads anew what is there by then.
    ///
    /// # Errors
    /// As [`Self::create`], and what `again` answers.
    pub async fn create_of_pupils<F, G>(
        &self,
        operation: &'static str,
        body: [u8; 32],
        work: F,
        again: G,
    ) -> Result<Reply, Problem>
    where
        F: for<'tx> Fn(&mut Tx<'tx>) -> Result<Reply, Problem> + Send + 'static,
        G: for<'tx> Fn(&mut Tx<'tx>, Reply) -> Result<Reply, Problem> + Send + 'static,
    {
        self.once(operation, body, work, Reply::bare, again).await
    }

    /// Writes; with an Idempotency-Key once. `keep` says what of the answer is remembered, `again` makes the
    /// answer of it.
    async fn once<F, G>(
        &self,
        operation: &'static str,
        body: [u8; 32],
        work: F,
        keep: fn(&Reply) -> Reply,
        again: G,
    ) -> Result<Reply, Problem>
    where
        F: for<'tx> Fn(&mut Tx<'tx>) -> Result<Reply, Problem> + Send + 'static,
        G: for<'tx> Fn(&mut Tx<'tx>, Reply) -> Result<Reply, Problem> + Send + 'static,
    {
        let Some(key) = self.idempotency_key.clone() else { return self.write(operation, work).await };
        let request = Sha256::new().chain_update(&self.address).chain_update(body);
        self.write(operation, move |tx| {
            // The answer belongs to the roles it was given to: with others it is another request.
            let roles = tx.actor().roles.iter().map(|role| role.as_str()).collect::<Vec<_>>().join(",");
            let request: [u8; 32] = request.clone().chain_update(roles).finalize().into();
            match tx.recall(&key, &request)? {
                Remembered::Reply(reply) => again(tx, serde_json::from_value(reply)?),
                Remembered::OtherRequest => Err(Problem::new(Code::IdempotencyKeyReused)),
                Remembered::Nothing => {
                    let reply = work(tx)?;
                    tx.remember(&key, &request, serde_json::to_value(keep(&reply))?)?;
                    Ok(reply)
                }
            }
        })
        .await
    }
}
