//! underlit.
fn main() {}
