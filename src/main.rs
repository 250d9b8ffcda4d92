//! The command. Everything it does is in the library.
fn main() {}
