//! `lowbrass profiles`: the list, or one instrument with its registers and sources.

use std::fmt::Write as _;

use anstyle::Style;
use lowbrass::profile::{Profile, Profiles};
use lowbrass::report::{profile_page, write_instrument_page};

use super::args::{ProfileFormat, ProfilesArgs};
use super::{Failure, Outcome, print, printed, terminal};

const STRONG: Style = Style::new().bold();

pub(super) fn run(args: &ProfilesArgs) -> Outcome {
    let mut profiles = Profiles::embedded().map_err(Failure::of)?;
    if let Some(folder) = &args.profiles {
        profiles = profiles.with_folder(folder).map_err(Failure::of)?;
    }
    match &args.profile {
        None => print(&list(&profiles)),
        Some(name) => {
            let profile = profiles.named(name).map_err(Failure::of)?;
            match args.format {
                ProfileFormat::Text => print(&profile_page(&profile).text(terminal::look().unicode)),
                ProfileFormat::Html => printed(|out| write_instrument_page(&profile, out)),
            }
        }
    }
}

fn list(profiles: &Profiles) -> String {
    let mut all: Vec<&Profile> = profiles.iter().map(|profile| &**profile).collect();
    all.sort_by(|a, b| (a.family, &a.name).cmp(&(b.family, &b.name)));
    let widest = all.iter().map(|profile| profile.name.len()).max().unwrap_or(0);
    let mut text = String::new();
    let mut family = None;
    for profile in all {
        if family != Some(profile.family) {
            if family.is_some() {
                text.push('\n');
            }
            let _ = writeln!(text, "{STRONG}{}{STRONG:#}", profile.family);
            family = Some(profile.family);
        }
        let compass = format!("{} to {}", profile.range.bottom(), profile.range.top);
        let indent = format!("  {:widest$}  {compass:12}  ", profile.name);
        text.push_str(&terminal::wrapped(&profile.title, &indent, indent.len()));
    }
    text.push_str("\nSounding pitches, C4 = middle C. 'lowbrass profiles PROFILE' shows one with its registers and sources.\n");
    text
}
