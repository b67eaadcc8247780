//! OneRoster archives made by hand.

use std::io::{Cursor, Write as _};

use zip::{ZipWriter, write::SimpleFileOptions};

pub const USERS_1_1: &str = "sourcedId,status,dateLastModified,enabledUser,orgSourcedIds,role,username,userIds,\
    givenName,familyName,middleName,identifier,email,sms,phone,agentSourcedIds,grades,password";
pub const USERS_1_2: &str = "sourcedId,status,dateLastModified,enabledUser,username,userIds,givenName,familyName,\
    middleName,identifier,email,sms,phone,agentSourcedIds,grades,password,userMasterIdentifier,\
    preferredGivenName,preferredMiddleName,preferredFamilyName,primaryOrgSourcedId,pronouns";
pub const ROLES: &str = "sourcedId,status,dateLastModified,userSourcedId,roleType,role,beginDate,endDate,orgSourcedId,userProfileSourcedId";
pub const CLASSES: &str = "sourcedId,status,dateLastModified,title,grades,courseSourcedId,classCode,classType,\
    location,schoolSourcedId,termSourcedIds,subjects,subjectCodes,periods";
pub const ENROLLMENTS: &str = "sourcedId,status,dateLastModified,classSourcedId,schoolSourcedId,userSourcedId,role,primary,beginDate,endDate";
pub const DEMOGRAPHICS: &str = "sourcedId,status,dateLastModified,birthDate,sex,white";

/// An archive of files, packed.
pub fn zip(files: &[(&str, String)]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, text) in files {
        zip.start_file(*name, SimpleFileOptions::default()).unwrap();
        zip.write_all(text.as_bytes()).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

/// A file: its name, its header and its rows.
pub type File<'a> = (&'a str, &'a str, &'a [&'a str]);

/// An archive of one version whose files are all of one mode, with the manifest that says so.
pub fn archive(version: &str, mode: &str, files: &[File<'_>]) -> Vec<u8> {
    let mut manifest =
        format!("propertyName,value\r\nmanifest.version,1.0\r\noneroster.version,{version}\r\n");
    let mut written = Vec::new();
    for (name, header, rows) in files {
        manifest.push_str(&format!("file.{name},{mode}\r\n"));
        let rows: String = rows.iter().map(|row| format!("{row}\r\n")).collect();
        written.push((format!("{name}.csv"), format!("{header}\r\n{rows}")));
    }
    written.push(("manifest.csv".into(), manifest));
    let files: Vec<(&str, String)> =
        written.iter().map(|(name, text)| (name.as_str(), text.clone())).collect();
    zip(&files)
}
