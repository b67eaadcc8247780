//! The server speaks TLS itself, with a certificate by the school's own authority or any other.
#![allow(clippy::unwrap_used)]

use std::{
    io::{Read as _, Write as _},
    net::TcpStream,
    os::unix::fs::PermissionsExt,
    path::{Path, PathBuf},
    sync::Arc,
};

use plumbline_tests::{Server, TODAY, run};
use rcgen::{CertificateParams, DnType, Issuer, KeyPair};
use rustls::{
    ClientConfig, ClientConnection, RootCertStore, StreamOwned,
    client::{WebPkiServerVerifier, danger::ServerCertVerifier as _},
    pki_types::{CertificateDer, ServerName, UnixTime, pem::PemObject as _},
};
use tempfile::TempDir;

const NAMES: &[&str] = &["localhost", "127.0.0.1"];

/// Files that `setup certificate` made.
struct Made {
    folder: TempDir,
}

impl Made {
    fn new(names: &[&str]) -> Self {
        let made = Self { folder: tempfile::tempdir().unwrap() };
        let (done, said) = made.again(names);
        assert!(done, "{said}");
        made
    }

    /// Runs the command; whether it did what it should, and what it said.
    fn again(&self, names: &[&str]) -> (bool, String) {
        let folder = self.folder.path().to_str().unwrap();
        let names = names.iter().flat_map(|name| ["--name", name]);
        let arguments: Vec<&str> =
            ["setup", "certificate", "--folder", folder].into_iter().chain(names).collect();
        let output = run(&arguments, &[]);
        let said = [output.stdout, output.stderr].concat();
        (output.status.success(), String::from_utf8(said).unwrap())
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn text(&self, name: &str) -> String {
        std::fs::read_to_string(self.at(name)).unwrap()
    }

    fn serve(&self) -> Server {
        let path = |name: &str| self.at(name).to_str().unwrap().to_owned();
        let settings = [
            ("PLUMBLINE_TLS_CERTIFICATE", path("server.pem")),
            ("PLUMBLINE_TLS_KEY", path("server-key.pem")),
            ("PLUMBLINE_PUBLIC_URL", "https://localhost".into()),
        ];
        Server::start_with(TODAY, &settings.each_ref().map(|(key, value)| (*key, value.as_str())))
    }

    /// What `serve` says that does not start with these files.
    fn refused(&self) -> String {
        let path = |name: &str| self.at(name).to_str().unwrap().to_owned();
        let settings = [
            ("PLUMBLINE_LISTEN", "127.0.0.1:0".to_owned()),
            ("PLUMBLINE_DATA_DIR", path("data")),
            ("PLUMBLINE_TLS_CERTIFICATE", path("server.pem")),
            ("PLUMBLINE_TLS_KEY", path("server-key.pem")),
            ("PLUMBLINE_PUBLIC_URL", "https://localhost".into()),
        ];
        let settings = settings.each_ref().map(|(key, value)| (*key, value.as_str()));
        let output = run(&["serve"], &settings);
        assert!(!output.status.success());
        String::from_utf8(output.stderr).unwrap()
    }
}

/// A connection of somebody who trusts this root alone.
struct Connection(StreamOwned<ClientConnection, TcpStream>);

impl Connection {
    fn to(server: &Server, name: &str, root: &Path) -> Self {
        let provider = Arc::new(rustls::crypto::aws_lc_rs::default_provider());
        let config =
            ClientConfig::builder_with_provider(provider).with_safe_default_protocol_versions().unwrap();
        let config = config.with_root_certificates(roots(root)).with_no_client_auth();
        let name = ServerName::try_from(name.to_owned()).unwrap();
        let stream = TcpStream::connect(server.base.strip_prefix("https://").unwrap()).unwrap();
        Self(StreamOwned::new(ClientConnection::new(Arc::new(config), name).unwrap(), stream))
    }

    /// Asks whether the server is well: the answer's head, and the certificate it showed.
    fn ask(&mut self) -> std::io::Result<(String, CertificateDer<'static>)> {
        self.0.write_all(b"GET /health/live HTTP/1.1\r\nHost: localhost\r\n\r\n")?;
        let mut head = Vec::new();
        while !head.ends_with(b"\r\n\r\n") {
            let mut byte = [0];
            self.0.read_exact(&mut byte)?;
            head.extend(byte);
        }
        let shown = self.0.conn.peer_certificates().unwrap()[0].clone().into_owned();
        Ok((String::from_utf8(head).unwrap().to_lowercase(), shown))
    }
}

fn roots(root: &Path) -> RootCertStore {
    let mut roots = RootCertStore::empty();
    roots.add(CertificateDer::from_pem_file(root).unwrap()).unwrap();
    roots
}

fn shown(server: &Server, root: &Path) -> CertificateDer<'static> {
    Connection::to(server, "localhost", root).ask().unwrap().1
}

#[test]
fn who_trusts_the_schools_authority_is_served_by_each_name_and_nobody_else_is() {
    let (made, stranger) = (Made::new(NAMES), Made::new(NAMES));
    let server = made.serve();
    for name in NAMES {
        let (head, _) = Connection::to(&server, name, &made.at("authority.pem")).ask().unwrap();
        assert!(head.starts_with("http/1.1 200"), "{head}");
        assert!(head.contains("\r\nstrict-transport-security: max-age=31536000\r\n"), "{head}");
    }
    let refused = Connection::to(&server, "localhost", &stranger.at("authority.pem")).ask().unwrap_err();
    assert!(refused.to_string().contains("invalid peer certificate"), "{refused}");
    let mut plain = TcpStream::connect(server.base.strip_prefix("https://").unwrap()).unwrap();
    plain.write_all(b"GET /health/live HTTP/1.1\r\nHost: localhost\r\n\r\n").unwrap();
    let mut answer = Vec::new();
    // However the connection ends: nothing readable came back.
    let _ = plain.read_to_end(&mut answer);
    assert!(!String::from_utf8_lossy(&answer).contains("HTTP"), "{answer:?}");
}

#[test]
fn a_renewed_certificate_is_taken_without_a_restart_and_a_broken_one_is_not() {
    let made = Made::new(NAMES);
    let root = made.at("authority.pem");
    let server = made.serve();
    let mut open = Connection::to(&server, "localhost", &root);
    let first = open.ask().unwrap().1;
    assert_eq!(shown(&server, &root), first);

    let (done, said) = made.again(NAMES);
    assert!(done && said.contains("devices trust it as they are"), "{said}");
    let second = shown(&server, &root);
    assert_ne!(second, first);
    assert_eq!(second, CertificateDer::from_pem_file(made.at("server.pem")).unwrap());
    assert_eq!(open.ask().unwrap().1, first, "who is connected stays so");

    std::fs::write(made.at("server.pem"), "half a certif").unwrap();
    assert_eq!(shown(&server, &root), second);
    std::fs::remove_file(made.at("server.pem")).unwrap();
    assert_eq!(shown(&server, &root), second);
    assert!(server.log().contains("the certificate stays as it was"), "{}", server.log());
    assert!(made.again(NAMES).0);
    let third = shown(&server, &root);
    assert_ne!(third, second);

    // A key that others may read is not taken later either.
    assert!(made.again(NAMES).0);
    std::fs::set_permissions(made.at("server-key.pem"), PermissionsExt::from_mode(0o644)).unwrap();
    assert_eq!(shown(&server, &root), third);
}

#[test]
fn the_server_does_not_start_with_files_it_must_not_use() {
    let (made, other) = (Made::new(NAMES), Made::new(NAMES));
    let key = made.at("server-key.pem");
    std::fs::set_permissions(&key, PermissionsExt::from_mode(0o640)).unwrap();
    assert!(made.refused().contains("chmod 600"), "{}", made.refused());
    std::fs::set_permissions(&key, PermissionsExt::from_mode(0o600)).unwrap();
    std::fs::write(&key, other.text("server-key.pem")).unwrap();
    assert!(made.refused().contains("server-key.pem: "), "{}", made.refused());
    std::fs::write(&key, "no key").unwrap();
    assert!(made.refused().contains("holds no private key"), "{}", made.refused());
    std::fs::remove_file(&key).unwrap();
    assert!(made.refused().contains("server-key.pem"), "{}", made.refused());
}

#[test]
fn what_setup_makes_is_for_its_own_user_and_a_renewal_keeps_the_root() {
    let made = Made::new(NAMES);
    let files = ["authority.pem", "authority-key.pem", "server.pem", "server-key.pem"];
    for file in files {
        let mode = std::fs::metadata(made.at(file)).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600, "{file}");
    }
    let before = files.map(|file| made.text(file));
    // Of other names than the authority's: it would be trusted by nobody.
    let (done, said) = made.again(&["localhost", "phonics.school.example"]);
    assert!(!done && said.contains("move authority.pem"), "{said}");
    assert_eq!(files.map(|file| made.text(file)), before);
    assert!(made.again(&["127.0.0.1", "localhost"]).0, "in another order");
    let after = files.map(|file| made.text(file));
    assert_eq!(after[..2], before[..2]);
    assert!(after[2] != before[2] && after[3] != before[3]);
    std::fs::remove_file(made.at("authority-key.pem")).unwrap();
    let (done, said) = made.again(NAMES);
    assert!(!done && said.contains("authority-key.pem"), "{said}");
    assert_eq!([made.text("server.pem"), made.text("server-key.pem")], after[2..]);
}

/// Whether who trusts the root would trust a certificate for this name, made with the authority's key.
fn would_pass(made: &Made, known_as: &str, name: &str) -> bool {
    let mut authority = CertificateParams::new([]).unwrap();
    authority.distinguished_name = rcgen::DistinguishedName::new();
    authority.distinguished_name.push(DnType::CommonName, format!("Authority for {known_as}"));
    let key = KeyPair::from_pem(&made.text("authority-key.pem")).unwrap();
    let own_key = KeyPair::generate().unwrap();
    let own = CertificateParams::new([name.to_owned()]).unwrap();
    let own = own.signed_by(&own_key, &Issuer::new(authority, key)).unwrap();
    let provider = Arc::new(rustls::crypto::aws_lc_rs::default_provider());
    let roots = Arc::new(roots(&made.at("authority.pem")));
    let verifier = WebPkiServerVerifier::builder_with_provider(roots, provider).build().unwrap();
    let name = ServerName::try_from(name.to_owned()).unwrap();
    verifier.verify_server_cert(own.der(), &[], &name, &[], UnixTime::now()).is_ok()
}

#[test]
fn the_authority_can_speak_for_no_other_site() {
    let named = Made::new(&["phonics.school.example"]);
    let known_as = "phonics.school.example";
    assert!(would_pass(&named, known_as, "phonics.school.example"));
    for other in ["bank.example", "school.example", "127.0.0.1", "::1"] {
        assert!(!would_pass(&named, known_as, other), "{other}");
    }
    let numbered = Made::new(&["192.168.7.5"]);
    assert!(would_pass(&numbered, "192.168.7.5", "192.168.7.5"));
    for other in ["192.168.7.6", "::1", "bank.example"] {
        assert!(!would_pass(&numbered, "192.168.7.5", other), "{other}");
    }
}

#[test]
fn browsers_are_told_to_come_by_tls_only_where_they_do() {
    let told = |environment: &[(&str, &str)]| {
        let server = Server::start_with(TODAY, environment);
        plumbline_tests::Client::new(&server.base).get("/health/live").header("Strict-Transport-Security")
    };
    assert_eq!(told(&[]), "");
    let proxy =
        [("PLUMBLINE_BEHIND_TLS_PROXY", "true"), ("PLUMBLINE_PUBLIC_URL", "https://phonics.school.example")];
    assert_eq!(told(&proxy), "max-age=31536000");
}
