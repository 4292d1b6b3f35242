//! What a new book starts with: the shop's lists with invented figures, and rules to begin from.
//!
//! Every figure says that it is invented: a shop replaces it with its own before it relies on it.

/// The starter files by their paths in the book.
pub const FILES: &[(&str, &str)] = &[
    ("rules.json", include_str!("../starter/rules.json")),
    ("shop/calendar.json", include_str!("../starter/shop/calendar.json")),
    ("shop/controls.json", include_str!("../starter/shop/controls.json")),
    ("shop/drivers.json", include_str!("../starter/shop/drivers.json")),
    ("shop/lights.json", include_str!("../starter/shop/lights.json")),
    ("shop/routes.json", include_str!("../starter/shop/routes.json")),
    ("shop/wire.json", include_str!("../starter/shop/wire.json")),
];
