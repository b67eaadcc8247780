//! `plumbline setup certificate`: an authority of the school's own, whose root certificate its devices install, and a
//! certificate for the server by it. The root holds for the server's names alone: whoever got hold of its key could
//! pass for no other site. A renewal is by the same root, so that devices trust it as they are.

use std::{
    net::IpAddr,
    path::{Path, PathBuf},
    sync::Arc,
};

use chrono::{Datelike as _, Days};
use clap::Args;
use plumbline_core::time::Date;
use rcgen::{
    BasicConstraints, Certificate, CertificateParams, CidrSubnet, DistinguishedName, DnType,
    ExtendedKeyUsagePurpose, GeneralSubtree, IsCa, Issuer, KeyPair, KeyUsagePurpose, NameConstraints,
    date_time_ymd,
};
use rustls::{
    RootCertStore,
    client::{WebPkiServerVerifier, danger::ServerCertVerifier as _},
    crypto::aws_lc_rs,
    pki_types::{CertificateDer, ServerName, UnixTime, pem::PemObject as _},
};

use crate::{
    auth::private_file,
    cli::Failure,
    clock::{Clock, date_in},
    config::Config,
};

/// How long the root holds, in days: ten years.
const ROOT_DAYS: u64 = 3652;
/// How long the server's own certificate holds, in days: browsers take none that holds longer than 398.
const SERVER_DAYS: u64 = 397;

#[derive(Args)]
pub(in crate::cli) struct Options {
    /// A name or an address people reach the server by; give each.
    #[arg(long = "name", value_name = "NAME", required = true)]
    names: Vec<String>,
    /// Where the files are kept; the data folder's `tls` unless told.
    #[arg(long, value_name = "FOLDER")]
    folder: Option<PathBuf>,
}

pub(super) fn run(config: &Config, options: &Options) -> Result<(), Failure> {
    let folder = options.folder.clone().unwrap_or_else(|| config.data_dir.join("tls"));
    std::fs::create_dir_all(&folder)?;
    let at = |name: &str| folder.join(name);
    let today = date_in("UTC", Clock::system().now());
    let names = &options.names;
    let known = at("authority.pem").exists();
    let (root, authority) = if known { kept(&at, names)? } else { new_authority(&at, names, today)? };
    let (server, key) = by_authority(&authority, names, today)?;
    holds(&root, &server, names).map_err(|what| {
        format!(
            "the authority in {} does not hold for {}: {what}. Give the names it was made for, or move \
             authority.pem and authority-key.pem away; devices then have to trust the new one",
            folder.display(),
            names.join(", ")
        )
    })?;
    // The key comes first: until the certificate is there too, a running server goes on with what it has.
    private_file::replace(&at("server-key.pem"), &key.serialize_pem())?;
    private_file::replace(&at("server.pem"), &server.pem())?;
    tell(&at, known, today);
    Ok(())
}

/// The names as the authority's own: sorted, so that their order does not matter when it is renewed.
fn authority(names: &[String]) -> Result<CertificateParams, Failure> {
    let mut params = CertificateParams::new([])?;
    let mut sorted = names.to_vec();
    sorted.sort();
    params.distinguished_name = DistinguishedName::new();
    params.distinguished_name.push(DnType::CommonName, format!("Authority for {}", sorted.join(", ")));
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    Ok(params)
}

fn new_authority(
    at: &impl Fn(&str) -> PathBuf,
    names: &[String],
    today: Date,
) -> Result<(CertificateDer<'static>, Issuer<'static, KeyPair>), Failure> {
    let mut params = authority(names)?;
    lasting(&mut params, today, ROOT_DAYS);
    params.name_constraints = Some(only(names));
    let key = KeyPair::generate()?;
    let root = params.self_signed(&key)?;
    private_file::make(&at("authority-key.pem"), &key.serialize_pem())?;
    private_file::make(&at("authority.pem"), &root.pem())?;
    Ok((root.der().clone(), Issuer::new(params, key)))
}

/// The authority that is there.
fn kept(
    at: &impl Fn(&str) -> PathBuf,
    names: &[String],
) -> Result<(CertificateDer<'static>, Issuer<'static, KeyPair>), Failure> {
    let about = |path: &Path, error: &dyn std::fmt::Display| format!("{}: {error}", path.display());
    let (root, key) = (at("authority.pem"), at("authority-key.pem"));
    let read = CertificateDer::from_pem_file(&root).map_err(|error| about(&root, &error))?;
    let text = std::fs::read_to_string(&key).map_err(|error| about(&key, &error))?;
    let pair = KeyPair::from_pem(&text).map_err(|error| about(&key, &error))?;
    Ok((read, Issuer::new(authority(names)?, pair)))
}

/// These names and no others, of either kind.
fn only(names: &[String]) -> NameConstraints {
    let mut permitted_subtrees = Vec::new();
    let (mut any_name, mut any_v4, mut any_v6) = (false, false, false);
    for name in names {
        permitted_subtrees.push(match name.parse::<IpAddr>() {
            Ok(address) => {
                any_v4 |= address.is_ipv4();
                any_v6 |= address.is_ipv6();
                let whole = if address.is_ipv4() { 32 } else { 128 };
                GeneralSubtree::IpAddress(CidrSubnet::from_addr_prefix(address, whole))
            }
            Err(_) => {
                any_name = true;
                GeneralSubtree::DnsName(name.clone())
            }
        });
    }
    // A kind of which none is permitted would be permitted altogether.
    let mut excluded_subtrees = Vec::new();
    if !any_name {
        excluded_subtrees.push(GeneralSubtree::DnsName(String::new()));
    }
    if !any_v4 {
        excluded_subtrees.push(GeneralSubtree::IpAddress(CidrSubnet::V4([0; 4], [0; 4])));
    }
    if !any_v6 {
        excluded_subtrees.push(GeneralSubtree::IpAddress(CidrSubnet::V6([0; 16], [0; 16])));
    }
    NameConstraints { permitted_subtrees, excluded_subtrees }
}

fn by_authority(
    authority: &Issuer<'static, KeyPair>,
    names: &[String],
    today: Date,
) -> Result<(Certificate, KeyPair), Failure> {
    let mut params = CertificateParams::new(names.to_vec())?;
    params.distinguished_name = DistinguishedName::new();
    lasting(&mut params, today, SERVER_DAYS);
    params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
    params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    params.use_authority_key_identifier_extension = true;
    let key = KeyPair::generate()?;
    Ok((params.signed_by(&key, authority)?, key))
}

/// From the day before, for devices whose clocks are behind.
fn lasting(params: &mut CertificateParams, today: Date, days: u64) {
    let start_of = |day: Date| {
        let part = |number: u32| u8::try_from(number).unwrap_or(1);
        date_time_ymd(day.year(), part(day.month()), part(day.day()))
    };
    params.not_before = start_of(today - Days::new(1));
    params.not_after = start_of(today + Days::new(days - 1));
}

/// What a device does that has installed the root.
fn holds(root: &CertificateDer<'static>, server: &Certificate, names: &[String]) -> Result<(), Failure> {
    let mut roots = RootCertStore::empty();
    roots.add(root.clone())?;
    let provider = Arc::new(aws_lc_rs::default_provider());
    let verifier = WebPkiServerVerifier::builder_with_provider(Arc::new(roots), provider).build()?;
    for name in names {
        let name = ServerName::try_from(name.clone())?;
        verifier.verify_server_cert(server.der(), &[], &name, &[], UnixTime::now())?;
    }
    Ok(())
}

fn tell(at: &impl Fn(&str) -> PathBuf, known: bool, today: Date) {
    let show = |name: &str| at(name).display().to_string();
    println!("Made {}, which holds until {}.", show("server.pem"), today + Days::new(SERVER_DAYS - 1));
    println!("tls_certificate = {:?}", show("server.pem"));
    println!("tls_key = {:?}", show("server-key.pem"));
    if known {
        println!("It is by the authority that was there: devices trust it as they are.");
    } else {
        println!("Install {} on each device as a root certificate it trusts.", show("authority.pem"));
        println!("Keep {} off the machine until the next renewal.", show("authority-key.pem"));
    }
}
