//! What a backup and its restore mean to devices.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Alder, Value, json, text};

/// Copies the store, stopped for that, into a file of its own; its address. None on PostgreSQL.
fn copied(alder: &mut Alder, name: &str) -> Option<String> {
    let folder = alder.school.server.folder.path().to_owned();
    let url = alder.school.server.database.url(&alder.school.server.folder);
    let path = url.strip_prefix("sqlite://")?.to_owned();
    // A server that ends writes its log into the file.
    alder.school.server.stop_and_restart("2026-11-25");
    let copy = folder.join(name);
    let from = std::path::Path::new(&path);
    std::fs::copy(from, &copy).unwrap();
    let wal = |of: &std::path::Path| std::path::PathBuf::from(format!("{}-wal", of.display()));
    if wal(from).exists() {
        std::fs::copy(wal(from), wal(&copy)).unwrap();
    }
    Some(format!("sqlite://{}", copy.display()))
}

fn safe(page: &Value) -> (i64, i64) {
    (page["last_n"].as_i64().unwrap(), page["safe_n"].as_i64().unwrap())
}

#[test]
fn a_verified_backup_says_what_need_not_be_kept_and_a_restore_brings_back_the_rest() {
    let mut alder = Alder::new();
    let mut device = alder.school.replica("teacher");
    let first = device.op("lesson.record", None, alder.lesson(0, "2026-11-23", &json!({})));
    let second = device.op("lesson.record", None, alder.lesson(1, "2026-11-24", &json!({})));
    device.send(&[&first], 0).expect(200);
    let Some(copy) = copied(&mut alder, "backup.db") else { return };
    device.client = alder.school.signed_in("teacher");
    device.send(&[&second], 0).expect(200);
    assert_eq!(safe(&device.page(500).expect(200)), (2, 0));
    // The backup has the first operation, whatever came since.
    let run = |alder: &Alder, arguments: &[&str]| {
        let done = alder.school.server.run(arguments);
        (
            done.status.success(),
            String::from_utf8(done.stdout).unwrap(),
            String::from_utf8(done.stderr).unwrap(),
        )
    };
    let verified = |alder: &Alder, copy: &str| {
        run(alder, &["backup", "verified", "--copy", copy, "--today", "2026-11-25"])
    };
    assert!(verified(&alder, &copy).0, "{:?}", verified(&alder, &copy));
    assert_eq!(safe(&device.page(500).expect(200)), (2, 1));
    // The store itself is no backup, nor is a file that is not there.
    let url = alder.school.server.database.url(&alder.school.server.folder);
    assert!(verified(&alder, &url).2.contains("the store itself"));
    assert!(verified(&alder, "sqlite:///nowhere/at/all.db").2.contains("there is no file"));
    // Restored, the server begins another history: the device reads anew, and sends what the backup does not have.
    device.pull(500);
    let (ok, said, _) = run(&alder, &["backup", "restored", "--today", "2026-11-25"]);
    assert!(ok && said.starts_with("1 school:"), "{said}");
    device.send(&[], 2).problem(409, "epoch_changed");
    let page = device.page(500).expect(200);
    assert_ne!(text(&page["epoch"]), device.epoch);
    assert_eq!(
        (page["more"].clone(), page["reset"].as_array().unwrap().len()),
        (json!(true), device.cursors.len())
    );
    // A backup from before the restore is of another history.
    assert!(verified(&alder, &copy).2.contains("before a restore"));
}
