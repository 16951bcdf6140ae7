//! The command line: parse, run, status.

mod cli;

fn main() -> std::process::ExitCode {
    cli::run()
}
