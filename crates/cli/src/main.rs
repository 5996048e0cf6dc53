//! The `stillwell` command.

fn main() {}
