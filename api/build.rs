//! Rebuilds when a migration or a file of the web client changes: they are embedded. The client's files become a table
//! of addresses and bytes.

use std::{env, fmt::Write as _, fs, io, path::Path};

/// The client's folders, the first its own.
const FOLDERS: [&str; 3] = ["", "lib/", "screens/"];

fn main() -> io::Result<()> {
    println!("cargo:rerun-if-changed=../migrations");
    println!("cargo:rerun-if-changed=client");
    let root = Path::new(&env::var("CARGO_MANIFEST_DIR").map_err(io::Error::other)?).join("client");
    let mut paths = Vec::new();
    for folder in FOLDERS {
        for entry in fs::read_dir(root.join(folder))? {
            let name = entry?.file_name().to_string_lossy().into_owned();
            if [".html", ".css", ".js"].iter().any(|ending| name.ends_with(ending)) {
                paths.push(format!("{folder}{name}"));
            }
        }
    }
    paths.sort();
    let mut table = String::from("[\n");
    for path in &paths {
        let file = root.join(path);
        let _ = writeln!(table, "    ({path:?}, include_bytes!({file:?})),");
    }
    table.push(']');
    fs::write(Path::new(&env::var("OUT_DIR").map_err(io::Error::other)?).join("client.rs"), table)
}
