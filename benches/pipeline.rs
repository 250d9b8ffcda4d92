//! What each step costs.
fn main() {}
