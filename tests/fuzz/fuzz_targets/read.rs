//! Any bytes: read or refused, never a panic.
#![no_main]

use libfuzzer_sys::fuzz_target;
use lowbrass::musicxml::Document;

fuzz_target!(|bytes: &[u8]| {
    if let Ok(document) = Document::open(bytes.to_vec()) {
        let _ = document.read(&|infos| infos.iter().map(|info| info.index % 2 == 0).collect());
    }
});
