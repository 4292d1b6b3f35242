//! Names of things: each kind of name has its own type, made only by a constructor that checks it.
//!
//! A name is also a file or folder name, on any disk: lower-case letters, digits and single hyphens, at
//! most 48 of them, and none of the names that Windows keeps for devices.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize};

use crate::paths::is_device;

/// The longest name, in characters.
pub const LONGEST: usize = 48;

/// Why a name was refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct IdError {
    /// What was written.
    pub text: String,
    /// What is wrong with it.
    pub reason: &'static str,
}

impl fmt::Display for IdError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "`{}` cannot be a name: {}; use lower-case letters, digits and single hyphens, like quay-bar",
            self.text.escape_debug(),
            self.reason
        )
    }
}

impl std::error::Error for IdError {}

/// Checks a name against the rules of this file.
///
/// # Errors
/// The first rule that it breaks.
pub fn check_name(text: &str) -> Result<(), IdError> {
    let refuse = |reason| Err(IdError { text: text.into(), reason });
    if text.is_empty() {
        return refuse("it is empty");
    }
    if text.contains(['/', '\\']) || text.contains("..") {
        return refuse("it looks like a path");
    }
    if text.len() > LONGEST {
        return refuse("it is longer than 48 characters");
    }
    if !text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-') {
        return refuse("it has a character outside a-z, 0-9 and -");
    }
    if text.starts_with('-') || text.ends_with('-') || text.contains("--") {
        return refuse("a hyphen stands only singly between letters or digits");
    }
    if is_device(text) {
        return refuse("Windows keeps that name for a device");
    }
    Ok(())
}

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident),+ $(,)?) => { $(
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
        #[serde(transparent)]
        pub struct $name(String);

        impl $name {
            /// The name as text.
            #[must_use]
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl FromStr for $name {
            type Err = IdError;

            fn from_str(text: &str) -> Result<Self, IdError> {
                check_name(text)?;
                Ok($name(text.into()))
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.pad(&self.0)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
            }
        }
    )+ };
}

ids! {
    /// The name of a book, which every statement in it carries.
    BookId,
    /// The name of a project: its folder under `projects/`.
    ProjectId,
    /// The name of a swatch within its project.
    SwatchId,
    /// The name of a test-panel request within its project.
    RequestId,
    /// The name of a trial within its project.
    TrialId,
    /// The name of a consignment within its project.
    DeliveryId,
    /// The name of a note within its project.
    NoteId,
    /// The name of a panel within its project.
    PanelId,
    /// The name of a release group within its project: panels that are released together.
    GroupId,
    /// The name of a room that panels go to.
    RoomId,
    /// The name of a control zone within its project: panels that are switched, dimmed and coloured together.
    ZoneId,
    /// The name of a person on the roster.
    PersonId,
    /// The name of an entry of the shop's lists: a route, a light, a driver, a control, a wire.
    StockId,
}

impl ProjectId {
    /// The project in whose folder a path of the book lies; none for any other path.
    #[must_use]
    pub(crate) fn of_path(path: &str) -> Option<ProjectId> {
        path.strip_prefix("projects/")?.split('/').next()?.parse().ok()
    }
}

/// The name of a file that lies beside its record: one path component, safe on any disk.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(transparent)]
pub struct FileName(String);

impl FileName {
    /// The name as text.
    #[must_use]
    pub(crate) fn as_str(&self) -> &str {
        &self.0
    }
}

impl FromStr for FileName {
    type Err = IdError;

    fn from_str(text: &str) -> Result<Self, IdError> {
        let refuse = |reason| Err(IdError { text: text.into(), reason });
        if text.is_empty() || text.len() > 100 {
            return refuse("a file name has 1 to 100 characters");
        }
        if !text
            .bytes()
            .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || matches!(b, b'-' | b'.' | b'_'))
        {
            return refuse("a file name has only a-z, 0-9, -, _ and .");
        }
        if text.starts_with(['.', '-']) || text.ends_with('.') || text.contains("..") {
            return refuse("its dots or hyphens stand where a path could hide");
        }
        if is_device(text) {
            return refuse("Windows keeps that name for a device");
        }
        Ok(FileName(text.into()))
    }
}

impl fmt::Display for FileName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

impl<'de> Deserialize<'de> for FileName {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn good_names() {
        for text in ["quay-bar", "a", "0", "wall-2b", &"x".repeat(48)] {
            assert_eq!(check_name(text), Ok(()), "{text}");
        }
        for text in ["front.outline.json", "honey.jpg", "a_b-c.csv"] {
            assert!(text.parse::<FileName>().is_ok(), "{text}");
        }
    }

    #[test]
    fn names_that_would_hurt_on_some_disk() {
        for text in [
            "",
            "..",
            "a/b",
            "a\\b",
            "../x",
            "Quay",
            "con",
            "lpt1",
            "a--b",
            "-a",
            "a-",
            "a b",
            "*",
            "é",
            "аbc",
            "a.json",
            &"x".repeat(49),
        ] {
            assert!(check_name(text).is_err(), "{text} was taken");
        }
        for text in ["", ".hidden", "a..b", "con.json", "a/b", "A.jpg", "x.", "-rf"] {
            assert!(text.parse::<FileName>().is_err(), "{text} was taken");
        }
    }
}
