//! `lowbrass man`: the manual page, or one page for each command.

use clap::CommandFactory;

use super::args::{Cli, ManArgs};
use super::{Failure, Outcome, Status, print};

pub(super) fn run(args: &ManArgs) -> Outcome {
    let command = Cli::command();
    let Some(folder) = &args.dir else {
        let mut page = Vec::new();
        clap_mangen::Man::new(command).render(&mut page).map_err(Failure::Output)?;
        return print(&String::from_utf8_lossy(&page));
    };
    std::fs::create_dir_all(folder)
        .and_then(|()| clap_mangen::generate_to(command, folder))
        .map_err(|error| Failure::of(format!("{}: cannot be written: {error}", folder.display())))?;
    Ok(Status::Clean)
}
