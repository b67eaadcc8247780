//! The only road from a request to the store.
//!
//! A handler has no store, only a caller; a caller has no transaction without saying who
//! it is; a transaction gives no rows without a permit.

mod creating;

use std::sync::Arc;

use actix_web::{FromRequest, HttpRequest, dev::Payload, http::header::HeaderMap, web};
use plumbline_core::{
    access::{
        act::{Action, Read},
        policy::Permits,
        resource::SchoolWords,
    },
    attainment::{Fitted, enough, fit},
    id::{ReplicaId, SessionId},
    phonics::Engine,
    rules::EstimateRule,
};

use super::{
    Api,
    problem::{Code, Problem},
    reply::version_of,
    words::school::{self, SchoolEngine},
};
use crate::store::{AnswersThere, Following, Held, LinkKey, Locate, Reader, Sent, Tx, Who};

/// Someone with a valid access token; or, where one operation says so, whoever holds a link, who can only
/// read.
pub struct Caller {
    api: web::Data<Api>,
    reader: Reader,
    if_match: Option<String>,
    if_none_match: Option<String>,
    idempotency_key: Option<String>,
    address: String,
}

impl FromRequest for Caller {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _payload: &mut Payload) -> Self::Future {
        std::future::ready(Self::of(request))
    }
}

fn header<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    headers.get(name).and_then(|value| value.to_str().ok())
}

impl Caller {
    fn of(request: &HttpRequest) -> Result<Self, Problem> {
        let api = request.app_data::<web::Data<Api>>().ok_or_else(|| Problem::new(Code::Internal))?.clone();
        let headers = request.headers();
        let token = header(headers, "Authorization")
            .and_then(|value| value.split_once(' '))
            .filter(|(scheme, _)| scheme.eq_ignore_ascii_case("bearer"))
            .map(|(_, token)| token.trim())
            .ok_or_else(|| Problem::new(Code::Unauthenticated))?;
        let who = api.tokens.verify(token, api.store.clock().now())?;
        let text = |name| header(headers, name).map(str::to_owned);
        let idempotency_key = text("Idempotency-Key");
        let usable = idempotency_key.as_ref().is_some_and(|key| (1..=200).contains(&key.len()));
        if headers.contains_key("Idempotency-Key") && !usable {
            return Err(Problem::field("Idempotency-Key", "must be 1 to 200 ASCII characters"));
        }
        let (if_match, if_none_match) = (text("If-Match"), text("If-None-Match"));
        let address = format!("{} {}", request.method(), request.path());
        Ok(Self { api, reader: who.into(), if_match, if_none_match, idempotency_key, address })
    }

    /// Whoever holds a link to a cover page. Whether it holds shows when something is read.
    pub const fn with_link(api: web::Data<Api>, key: LinkKey) -> Self {
        let address = String::new();
        let (if_match, if_none_match, idempotency_key) = (None, None, None);
        Self { api, reader: Reader::Link(key), if_match, if_none_match, idempotency_key, address }
    }

    /// The sign-in this token belongs to.
    pub const fn session(&self) -> Option<SessionId> {
        match self.reader {
            Reader::SignedIn(who) => Some(who.session),
            Reader::Link(_) => None,
        }
    }

    /// The commits of the caller's school from now on.
    pub fn follow(&self) -> Following {
        self.api.store.follow(self.reader.school())
    }

    /// Who writes.
    fn writer(&self) -> Result<Who, Problem> {
        match self.reader {
            Reader::SignedIn(who) => Ok(who),
            Reader::Link(_) => Err(Problem::new(Code::Unauthenticated)),
        }
    }

    /// The server's settings.
    pub fn api(&self) -> &Api {
        &self.api
    }

    /// The phonics engine.
    ///
    /// # Errors
    /// `internal` if its data is damaged.
    pub async fn engine(&self) -> Result<Arc<Engine>, Problem> {
        let api = self.api.clone();
        blocking(move || api.engine()).await
    }

    /// The phonics engine as the caller's school has it. Made anew, in some milliseconds, when
    /// the school's words, strikes or choices changed.
    ///
    /// # Errors
    /// `forbidden` for someone without a role, `internal` if the engine's data is damaged.
    pub async fn words(&self) -> Result<SchoolEngine, Problem> {
        Ok(self.words_to_judge().await?.0)
    }

    /// The same with the version of the school's words it was made of, for what is judged before it
    /// is written down.
    ///
    /// # Errors
    /// As [`Self::words`].
    pub async fn words_to_judge(&self) -> Result<(SchoolEngine, i64), Problem> {
        let school = self.reader.school();
        let version = self
            .read(|tx| {
                let permit = tx.permit::<Read, _>(SchoolWords)?;
                Ok(tx.words_version(&permit)?)
            })
            .await?;
        let engines = &self.api.school_engines;
        if let Some(kept) = engines.since(school, version) {
            return Ok(kept);
        }
        // One request makes it, the others that came meanwhile wait for that.
        let _making = engines.making(school).lock_owned().await;
        if let Some(kept) = engines.since(school, version) {
            return Ok(kept);
        }
        let vocabulary = self
            .read(|tx| {
                let permit = tx.permit::<Read, _>(SchoolWords)?;
                Ok(tx.vocabulary(&permit)?)
            })
            .await?;
        let api = self.api.clone();
        self.compute(move || {
            let version = vocabulary.version;
            let made = school::make(&api.engine()?, vocabulary);
            api.school_engines.keep(school, version, &made);
            Ok((made, version))
        })
        .await
    }

    /// The values of the estimate for the caller's school: fitted to its own answers of the days before where there
    /// are enough, and then as long as no more such answers are there; otherwise the rule pack's. What is `there` was
    /// read by who may read this resource.
    ///
    /// # Errors
    /// As the policy says, or `busy` when no turn came in time.
    pub async fn estimate_values<R>(
        &self,
        resource: R,
        rule: &'static EstimateRule,
        there: AnswersThere,
    ) -> Result<Fitted, Problem>
    where
        R: Locate + Permits<Read> + Send + 'static,
    {
        if !enough(rule, there.pupils, there.answers) {
            return Ok(Fitted::pack(rule, there.pupils, there.answers));
        }
        let (school, estimates) = (self.reader.school(), &self.api.estimates);
        if let Some((kept, _)) = estimates.since(school, there.version) {
            return Ok(kept);
        }
        // One request fits them, the others that came meanwhile wait for that.
        let _making = estimates.making(school).lock_owned().await;
        if let Some((kept, _)) = estimates.since(school, there.version) {
            return Ok(kept);
        }
        let histories = self
            .read(move |tx| {
                let permit = tx.permit::<Read, _>(resource)?;
                Ok(tx.histories(&permit)?)
            })
            .await?;
        let api = self.api.clone();
        self.compute(move || {
            let made = fit(rule, &histories);
            api.estimates.keep(school, there.version, &made);
            Ok(made)
        })
        .await
    }

    /// Computes in the school's turn, off the async workers. Nothing that waits for the store
    /// belongs in it: that would keep others from computing.
    ///
    /// # Errors
    /// What the work answers, or `busy` when no turn came in time.
    pub async fn compute<T, F>(&self, work: F) -> Result<T, Problem>
    where
        T: Send + 'static,
        F: FnOnce() -> Result<T, Problem> + Send + 'static,
    {
        // Kept by the work: a request that is gone does not end what it computes.
        let turn = self.api.computing.turn(self.reader.school()).await?;
        blocking(move || {
            let done = work();
            drop(turn);
            done
        })
        .await
    }

    /// The version an edit is based on, from If-Match. What is wrong with it is said by [`same_version`], after the
    /// policy: nobody is asked for the version of what they may not change.
    pub fn base_version(&self) -> Base {
        Base(self.if_match.as_deref().map(version_of))
    }

    /// The same where an edit need not be based on one.
    pub fn base_version_if_told(&self) -> Option<Base> {
        self.if_match.as_ref().map(|_| self.base_version())
    }

    /// Whether the caller has what this ETag names, by If-None-Match.
    pub fn has(&self) -> impl Fn(&str) -> bool + Send + 'static {
        let known = self.if_none_match.clone().unwrap_or_default();
        move |etag| known.split(',').any(|one| one.trim().trim_start_matches("W/") == etag)
    }

    /// Reads in one snapshot. Long computing belongs after it: the snapshot holds one of the
    /// few connections for reading.
    ///
    /// # Errors
    /// What the work answers.
    pub async fn read<T, F>(&self, work: F) -> Result<T, Problem>
    where
        T: Send + 'static,
        F: for<'tx> FnOnce(&mut Tx<'tx>) -> Result<T, Problem> + Send + 'static,
    {
        let (store, reader) = (self.api.store.clone(), self.reader);
        blocking(move || store.read(reader, work)).await
    }

    /// Reads what concerns a pupil: answered once the reading is in the audit log. Long computing
    /// belongs after it.
    ///
    /// # Errors
    /// What the work answers.
    pub async fn read_logged<T, F>(&self, operation: &'static str, work: F) -> Result<T, Problem>
    where
        T: Send + 'static,
        F: for<'tx> FnOnce(&mut Tx<'tx>) -> Result<T, Problem> + Send + 'static,
    {
        let (store, reader) = (self.api.store.clone(), self.reader);
        blocking(move || store.read_logged(reader, operation, work)).await
    }

    /// Reads; where what was read names what it was about, answered once the reading is in the audit log.
    pub async fn read_logged_if_about<T, F>(&self, operation: &'static str, work: F) -> Result<T, Problem>
    where
        T: Send + 'static,
        F: for<'tx> FnOnce(&mut Tx<'tx>) -> Result<T, Problem> + Send + 'static,
    {
        let (store, reader) = (self.api.store.clone(), self.reader);
        blocking(move || store.read_logged_if_about(reader, operation, work)).await
    }

    /// Asks the policy alone, before anything that takes long.
    ///
    /// # Errors
    /// `forbidden` or `not_found`, as the policy says.
    pub async fn may<A, R>(&self, resource: R) -> Result<(), Problem>
    where
        A: Action + 'static,
        R: Locate + Permits<A> + Send + 'static,
    {
        self.read(move |tx| Ok(tx.permit::<A, R>(resource).map(|_| ())?)).await
    }

    /// Writes: all or nothing, answered after the commit. The work may run again.
    ///
    /// # Errors
    /// What the work answers.
    pub async fn write<T, F>(&self, operation: &'static str, work: F) -> Result<T, Problem>
    where
        T: Send + 'static,
        F: for<'tx> Fn(&mut Tx<'tx>) -> Result<T, Problem> + Send + 'static,
    {
        let (store, who) = (self.api.store.clone(), self.writer()?);
        blocking(move || store.write(who, operation, work)).await
    }

    /// The account one is signed in with: its address key and its password hash.
    pub async fn own_account(&self) -> Result<(String, String), Problem> {
        let (store, who) = (self.api.store.clone(), self.writer()?);
        blocking(move || Ok(store.own_account(who)?)).await
    }

    /// Gives that account another password hash in the place of the one that was read.
    pub async fn change_password(&self, known: String, new: String) -> Result<(), Problem> {
        let (store, who) = (self.api.store.clone(), self.writer()?);
        blocking(move || Ok(store.change_password(who, known, new)?)).await
    }

    /// Keeps what a revoked tablet still sends, for the lead.
    ///
    /// # Errors
    /// `not_found` unless the replica is the caller's own on a tablet that was revoked.
    pub async fn hold_ops(&self, replica: ReplicaId, sent: Vec<Sent>) -> Result<Held, Problem> {
        let (store, who) = (self.api.store.clone(), self.writer()?);
        blocking(move || Ok(store.hold_ops(who, replica, sent)?)).await
    }
}

/// Runs work that waits for the store, or is short, off the async workers.
///
/// # Errors
/// What the work answers.
pub async fn blocking<T, F>(work: F) -> Result<T, Problem>
where
    T: Send + 'static,
    F: FnOnce() -> Result<T, Problem> + Send + 'static,
{
    // What goes wrong on the other thread is logged under this request's id too.
    let span = tracing::Span::current();
    web::block(move || span.in_scope(work)).await.unwrap_or_else(|_| Err(Problem::new(Code::Busy).after(1)))
}

/// The version an edit is based on, as the request says: none, or something that may be no version.
#[derive(Clone, Copy, Debug)]
pub struct Base(Option<Option<i64>>);

impl From<i64> for Base {
    fn from(version: i64) -> Self {
        Self(Some(Some(version)))
    }
}

/// Refuses an edit based on another version than the one at hand, and says that version.
///
/// # Errors
/// `precondition_required` without one, `stale` for another and for one that is no version.
pub fn same_version(current: i64, base: Base) -> Result<i64, Problem> {
    match base.0 {
        None => Err(Problem::new(Code::PreconditionRequired)),
        Some(None) => {
            let detail = "If-Match is no ETag of this server: send it as read, quotes included";
            Err(Problem::saying(Code::Stale, detail))
        }
        Some(Some(base)) if base == current => Ok(base),
        Some(Some(_)) => Err(Problem::new(Code::Stale)),
    }
}
