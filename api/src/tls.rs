//! TLS as the server itself speaks it. The certificate and its key are files, looked at again whenever somebody
//! connects, so that a renewed pair is taken without a restart. A pair that cannot be used leaves the one before it
//! in place, and says so in the log.

use std::{
    fs, io,
    path::{Path, PathBuf},
    sync::{Arc, Mutex, PoisonError},
    time::SystemTime,
};

use rustls::{
    ServerConfig,
    crypto::{CryptoProvider, aws_lc_rs},
    pki_types::{CertificateDer, PrivateKeyDer, pem::PemObject as _},
    server::{ClientHello, ResolvesServerCert},
    sign::CertifiedKey,
};

use crate::{auth::private_file, config::Config};

/// Why a certificate cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum TlsError {
    /// A file that is not there or cannot be read.
    #[error("{path}: {error}")]
    Io {
        /// Where.
        path: String,
        /// What.
        error: io::Error,
    },
    /// Others on the machine could read the key.
    #[error("{0} can be read by others: run chmod 600 on it")]
    Exposed(String),
    /// Not what it should be.
    #[error("{0} holds no {1} in PEM form")]
    Malformed(String, &'static str),
    /// The two do not belong together, or no TLS can be made of them.
    #[error("{certificate} with {key}: {error}")]
    Unusable {
        /// The certificate's file.
        certificate: String,
        /// The key's.
        key: String,
        /// What.
        error: rustls::Error,
    },
}

/// How the server speaks TLS, if the settings say that it does.
///
/// # Errors
/// If the certificate or its key cannot be used.
pub fn of(config: &Config) -> Result<Option<ServerConfig>, TlsError> {
    let (Some(certificate), Some(key)) = (&config.tls_certificate, &config.tls_key) else { return Ok(None) };
    let provider = Arc::new(aws_lc_rs::default_provider());
    let watched = Watched::open(certificate.clone(), key.clone(), provider.clone())?;
    let versions = ServerConfig::builder_with_provider(provider).with_safe_default_protocol_versions();
    let versions = versions.map_err(|error| unusable(certificate, key, error))?;
    Ok(Some(versions.with_no_client_auth().with_cert_resolver(Arc::new(watched))))
}

fn unusable(certificate: &Path, key: &Path, error: rustls::Error) -> TlsError {
    let (certificate, key) = (certificate.display().to_string(), key.display().to_string());
    TlsError::Unusable { certificate, key, error }
}

/// What tells one state of a file from the next. A renewal that is renamed into place is another file, though it may
/// have the same length and, on some file systems, the same second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Stamp {
    changed: SystemTime,
    length: u64,
    file: u64,
}

impl Stamp {
    fn of(path: &Path) -> io::Result<Self> {
        let about = fs::metadata(path)?;
        #[cfg(unix)]
        let file = std::os::unix::fs::MetadataExt::ino(&about);
        #[cfg(not(unix))]
        let file = 0;
        Ok(Self { changed: about.modified()?, length: about.len(), file })
    }
}

#[derive(Debug)]
struct Watched {
    certificate: PathBuf,
    key: PathBuf,
    provider: Arc<CryptoProvider>,
    held: Mutex<Held>,
}

#[derive(Debug)]
struct Held {
    /// What the files were when they were last read, with or without success; none where they were not there.
    seen: Option<[Stamp; 2]>,
    pair: Arc<CertifiedKey>,
}

impl Watched {
    fn open(certificate: PathBuf, key: PathBuf, provider: Arc<CryptoProvider>) -> Result<Self, TlsError> {
        // Before the files are read: what changes meanwhile is read again.
        let seen = stamps(&certificate, &key);
        let pair = Arc::new(read(&certificate, &key, &provider)?);
        Ok(Self { certificate, key, provider, held: Mutex::new(Held { seen, pair }) })
    }

    fn now(&self) -> Arc<CertifiedKey> {
        let seen = stamps(&self.certificate, &self.key);
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        if seen != held.seen {
            held.seen = seen;
            match read(&self.certificate, &self.key, &self.provider) {
                Ok(pair) => {
                    held.pair = Arc::new(pair);
                    tracing::info!("the certificate was renewed");
                }
                Err(error) => tracing::warn!(%error, "the certificate stays as it was"),
            }
        }
        held.pair.clone()
    }
}

impl ResolvesServerCert for Watched {
    fn resolve(&self, _hello: ClientHello<'_>) -> Option<Arc<CertifiedKey>> {
        Some(self.now())
    }
}

fn stamps(certificate: &Path, key: &Path) -> Option<[Stamp; 2]> {
    Some([Stamp::of(certificate).ok()?, Stamp::of(key).ok()?])
}

fn read(certificate: &Path, key: &Path, provider: &CryptoProvider) -> Result<CertifiedKey, TlsError> {
    let io = |path: &Path| {
        let path = path.display().to_string();
        move |error| TlsError::Io { path, error }
    };
    if private_file::is_exposed(key).map_err(io(key))? {
        return Err(TlsError::Exposed(key.display().to_string()));
    }
    let malformed = |path: &Path, what| TlsError::Malformed(path.display().to_string(), what);
    let chain = fs::read(certificate).map_err(io(certificate))?;
    let chain = CertificateDer::pem_slice_iter(&chain).collect::<Result<Vec<_>, _>>();
    let chain = chain.ok().filter(|chain| !chain.is_empty());
    let chain = chain.ok_or_else(|| malformed(certificate, "certificate"))?;
    let private = fs::read(key).map_err(io(key))?;
    let private = PrivateKeyDer::from_pem_slice(&private).map_err(|_| malformed(key, "private key"))?;
    CertifiedKey::from_der(chain, private, provider).map_err(|error| unusable(certificate, key, error))
}
