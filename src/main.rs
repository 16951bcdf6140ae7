//! The command line: parse, run, status.

fn main() {}
