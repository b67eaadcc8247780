//! `plumbline`: see `plumbline help`.

fn main() -> std::process::ExitCode {
    plumbline_api::cli::main()
}
