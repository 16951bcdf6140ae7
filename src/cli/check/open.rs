//! `--open`: the page in the browser.

use std::path::Path;

use crate::cli::Failure;

/// Shows a page that was written.
///
/// # Errors
///
/// There is no screen to show it on, or no program to show it with.
pub(super) fn page(path: &Path) -> Result<(), Failure> {
    let cannot = |why: &str| {
        Failure::of(format!(
            "{}: was written, and cannot be shown here: {why}; open it in a browser",
            path.display()
        ))
    };
    if !has_screen() {
        return Err(cannot("there is no screen"));
    }
    // A path that begins like an option or an address is a file all the same.
    let whole = std::path::absolute(path).map_err(Failure::of)?;
    open::that_detached(whole).map_err(|error| cannot(&error.to_string()))
}

/// On Unix but macOS the desktop says where it is; over a remote shell there is none.
fn has_screen() -> bool {
    let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    cfg!(not(unix))
        || cfg!(target_os = "macos")
        || ["DISPLAY", "WAYLAND_DISPLAY", "BROWSER", "WSL_DISTRO_NAME"].into_iter().any(set)
}
