//! A server behind TLS, as schools run it: what is sent there is sent to nobody else.

use std::{
    io::{BufRead as _, BufReader, Read, Write},
    net::{TcpListener, TcpStream},
    sync::Arc,
};

use plumbline_tests::{School, run};
use rcgen::{BasicConstraints, CertificateParams, IsCa, Issuer, KeyPair};
use rustls::{ServerConfig, ServerConnection, StreamOwned};

use super::{Office, Said, THREE};

/// A proxy with a certificate for `localhost`; its address, and the authority's certificate as PEM.
fn proxy(server: &str) -> (String, String) {
    let mut authority = CertificateParams::new([]).unwrap();
    authority.is_ca = IsCa::Ca(BasicConstraints::Unconstrained);
    let key = KeyPair::generate().unwrap();
    let root = authority.self_signed(&key).unwrap().pem();
    let own_key = KeyPair::generate().unwrap();
    let own = CertificateParams::new(["localhost".to_owned()]).unwrap();
    let own = own.signed_by(&own_key, &Issuer::new(authority, key)).unwrap();
    let provider = Arc::new(rustls::crypto::aws_lc_rs::default_provider());
    let config = ServerConfig::builder_with_provider(provider).with_safe_default_protocol_versions().unwrap();
    let config = config.with_no_client_auth();
    let private = own_key.serialize_der().try_into().unwrap();
    let config = Arc::new(config.with_single_cert(vec![own.der().clone()], private).unwrap());
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = format!("https://localhost:{}", listener.local_addr().unwrap().port());
    let server = server.strip_prefix("http://").unwrap().to_owned();
    std::thread::spawn(move || {
        for stream in listener.incoming().map_while(Result::ok) {
            let (config, server) = (config.clone(), server.clone());
            std::thread::spawn(move || {
                let connection = ServerConnection::new(config).unwrap();
                pass_on(StreamOwned::new(connection, stream), &TcpStream::connect(server).unwrap());
            });
        }
    });
    (address, root)
}

/// Request by request, until either side has enough.
fn pass_on(near: impl Read + Write, far: &TcpStream) {
    let (mut near, mut back) = (BufReader::new(near), BufReader::new(far));
    while let Some(request) = message(&mut near) {
        (&*far).write_all(&request).unwrap();
        let Some(answer) = message(&mut back) else { return };
        near.get_mut().write_all(&answer).unwrap();
        near.get_mut().flush().unwrap();
    }
}

/// A head and the body of the length it says; none where the other side has gone.
fn message(from: &mut BufReader<impl Read>) -> Option<Vec<u8>> {
    let (mut bytes, mut length) = (Vec::new(), 0);
    while !bytes.ends_with(b"\r\n\r\n") {
        let before = bytes.len();
        if from.read_until(b'\n', &mut bytes).ok()? == 0 {
            return None;
        }
        let line = String::from_utf8_lossy(&bytes[before..]).to_ascii_lowercase();
        length = line.strip_prefix("content-length:").map_or(length, |text| text.trim().parse().unwrap());
    }
    let head = bytes.len();
    bytes.resize(head + length, 0);
    from.read_exact(&mut bytes[head..]).ok()?;
    Some(bytes)
}

#[test]
fn a_server_is_reached_by_tls_if_the_system_trusts_it_and_not_otherwise() {
    let office = Office::new();
    let (file, email) = (office.rows(THREE), School::email("office"));
    let (address, root) = proxy(&office.school.server.base);
    let (_, stranger) = proxy(&office.school.server.base);
    let import = |server: &str, trusted: &str| -> Said {
        let environment = [
            ("PLUMBLINE_SERVER", server),
            ("PLUMBLINE_EMAIL", &email),
            ("PLUMBLINE_PASSWORD", School::password()),
            ("SSL_CERT_FILE", &office.file("trusted.pem", trusted)),
            ("NO_PROXY", "localhost"),
        ];
        run(&["import", &file], &environment).into()
    };
    let refused = import(&address, &stranger).expect(1);
    assert!(refused.err.contains("invalid peer certificate"), "{}", refused.err);
    assert!(!office.school.server.log().contains("/roster-imports"), "nothing was sent");
    let shown = import(&address, &root).expect(0);
    assert!(shown.line(&["to add", "3"]), "{}", shown.out);
}
