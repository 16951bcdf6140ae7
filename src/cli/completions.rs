//! `lowbrass completions`: what a shell needs to complete commands and options.

use clap::CommandFactory;

use super::args::{Cli, CompletionsArgs};
use super::{Outcome, print};

pub(super) fn run(args: &CompletionsArgs) -> Outcome {
    // Into memory first: the generator panics when its pipe is closed.
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "lowbrass", &mut script);
    print(&String::from_utf8_lossy(&script))
}
