//! `lowbrass session`: a day's cues by player.

use lowbrass::check::{room_of, session};
use lowbrass::report::SessionFormat;

use super::args::{PagesFormat, SessionArgs};
use super::{Failure, Outcome, Status, check, error, printed, reading, terminal};

pub(super) fn run(args: &SessionArgs) -> Outcome {
    let mut rooms = reading::rooms(&args.reading);
    let room = room_of(&args.places, &mut rooms).map_err(Failure::of)?;
    let orders = reading::orders(&args.reading, &room.profiles)?;
    let today = check::meant::today(args.today)?;
    let done = session(&args.places, &mut rooms, &orders, today).map_err(Failure::of)?;
    let mut status = Status::Clean;
    for missing in &done.missing {
        error(missing);
        status = Status::Failed;
    }
    for unread in &done.session.unread {
        error(format!("{}: {}", unread.path, unread.message));
        status = Status::Failed;
    }
    if !done.session.cues.is_empty() {
        printed(|out| done.session.write(args.format.into(), &terminal::look(), out))?;
    }
    Ok(status)
}

impl From<PagesFormat> for SessionFormat {
    fn from(format: PagesFormat) -> SessionFormat {
        match format {
            PagesFormat::Text => SessionFormat::Text,
            PagesFormat::Json => SessionFormat::Json,
            PagesFormat::Markdown => SessionFormat::Markdown,
        }
    }
}
