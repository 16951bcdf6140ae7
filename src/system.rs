//! What a system's error means, in words for people: without numbers and without the words of a library.

use std::io::{self, ErrorKind};

/// "there is no such file", "permission denied".
pub fn in_words(error: &io::Error) -> String {
    let known = match error.kind() {
        ErrorKind::NotFound => "there is no such file or folder",
        ErrorKind::PermissionDenied => "permission denied",
        ErrorKind::AlreadyExists => "it is already there",
        ErrorKind::IsADirectory => "it is a folder",
        ErrorKind::NotADirectory => "a file stands where a folder should",
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => "no room is left on the disk",
        ErrorKind::ReadOnlyFilesystem => "the disk may only be read",
        ErrorKind::InvalidFilename => "the name is too long, or no name at all",
        ErrorKind::InvalidData => "it is not text in UTF-8",
        ErrorKind::BrokenPipe => "nobody reads it any more",
        kind => return kind_or_words(kind, error),
    };
    known.to_owned()
}

/// The system's own sentence without its number.
fn kind_or_words(kind: ErrorKind, error: &io::Error) -> String {
    let words = error.to_string();
    let words = words.split(" (os error").next().unwrap_or_default();
    if words.is_empty() { kind.to_string() } else { words.to_lowercase() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_number_of_the_system_is_told() {
        assert_eq!(in_words(&io::Error::from_raw_os_error(2)), "there is no such file or folder");
        assert_eq!(in_words(&io::Error::from_raw_os_error(28)), "no room is left on the disk");
        for number in 1..132 {
            let words = in_words(&io::Error::from_raw_os_error(number));
            assert!(!words.contains("os error") && !words.is_empty(), "{number}: {words}");
        }
    }
}
