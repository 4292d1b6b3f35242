//! The trade's words that more than one room needs: light kinds, faces, stone tones and textures.
//!
//! Each is a closed list. A word is written in files and on the command line exactly as shown in its doc.

use std::fmt;

/// A count with its words: `1 stone is`, `3 stones are`.
#[must_use]
pub(crate) fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// A span of business days, without its sign: `1 business day`, `12 business days`.
#[must_use]
pub(crate) fn business_days(days: i64) -> String {
    format!("{} business day{}", days.unsigned_abs(), if days.abs() == 1 { "" } else { "s" })
}

/// What to say to somebody who wrote a name that is not there: the nearest names where some are near, else those that there
/// are, else what to do where there is none.
#[must_use]
pub(crate) fn instead_of<'k>(
    name: &str,
    known: impl IntoIterator<Item = &'k str>,
    where_none: &str,
) -> String {
    const MOST: usize = 20;
    let known: Vec<&str> = known.into_iter().collect();
    let slips = |other: &str| strsim::osa_distance(other, name);
    let near = |other: &&&str| {
        other.contains(name) || name.contains(*other) || slips(other) <= (name.len() / 3).min(2)
    };
    let close: Vec<&str> = known.iter().filter(near).copied().collect();
    match (close.as_slice(), known.len()) {
        ([], 0) => where_none.to_owned(),
        ([], count) if count > MOST => {
            format!("one of {} and {} more", known[..MOST].join(", "), count - MOST)
        }
        ([], _) => format!("there are: {}", known.join(", ")),
        (close, _) => format!("did you mean {}?", close.join(" or ")),
    }
}

/// Declares a closed list of trade words with one spelling for files, arguments and output.
macro_rules! words {
    ($(#[$doc:meta])* $name:ident, $what:literal { $($(#[$vdoc:meta])* $variant:ident = $text:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, ::serde::Serialize, ::serde::Deserialize)]
        pub enum $name { $($(#[$vdoc])* #[serde(rename = $text)] $variant),+ }

        impl $name {
            /// Every word of the list, in its usual order.
            pub const ALL: &'static [$name] = &[$($name::$variant),+];

            /// The word as it is written in files, arguments and output.
            #[must_use]
            pub fn word(self) -> &'static str {
                match self { $($name::$variant => $text),+ }
            }
        }

        impl ::std::fmt::Display for $name {
            fn fmt(&self, f: &mut ::std::fmt::Formatter<'_>) -> ::std::fmt::Result {
                f.pad(self.word())
            }
        }

        impl ::std::str::FromStr for $name {
            type Err = $crate::words::UnknownWord;

            fn from_str(text: &str) -> Result<Self, $crate::words::UnknownWord> {
                Self::ALL.iter().copied().find(|w| w.word() == text).ok_or_else(|| $crate::words::UnknownWord {
                    text: text.into(),
                    what: $what,
                    known: Self::ALL.iter().map(|w| w.word()).collect::<Vec<_>>().join(", "),
                })
            }
        }
    };
}
pub(crate) use words;

/// A word that is not on its list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnknownWord {
    /// What was written.
    pub text: String,
    /// What the list is of.
    pub what: &'static str,
    /// The words of the list.
    pub known: String,
}

impl fmt::Display for UnknownWord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "`{}` is not a {}; one of {}", self.text, self.what, self.known)
    }
}

impl std::error::Error for UnknownWord {}

words! {
    /// What a panel's light can do.
    LightKind, "light kind" {
        /// One white, fixed.
        StaticWhite = "static-white",
        /// One white that grows warmer as it is dimmed, of itself, on one channel.
        WarmDim = "warm-dim",
        /// Two whites mixed: the colour temperature can be set.
        TunableWhite = "tunable-white",
        /// Red, green and blue.
        Rgb = "rgb",
        /// Red, green, blue and white.
        Rgbw = "rgbw",
        /// Red, green, blue and two whites: colours, and a white whose colour temperature can be set.
        RgbTunableWhite = "rgb-tunable-white",
    }
}

impl LightKind {
    /// How many light channels the kind has: 1 to 5.
    #[must_use]
    pub(crate) fn channels(self) -> usize {
        match self {
            LightKind::StaticWhite | LightKind::WarmDim => 1,
            LightKind::TunableWhite => 2,
            LightKind::Rgb => 3,
            LightKind::Rgbw => 4,
            LightKind::RgbTunableWhite => 5,
        }
    }

    /// How many conductors its tape needs: a common and one for each channel, so 2 to 6.
    /// Common practice, no source.
    #[must_use]
    pub fn conductors(self) -> usize {
        self.channels() + 1
    }

    /// True where it has several channels, so that a controller stands between its driver and them; light of one channel
    /// takes a dimmer.
    #[must_use]
    pub fn takes_controller(self) -> bool {
        self.channels() > 1
    }

    /// True where it does what it was chosen for only with a control: a controller or, for warm-dim, a dimmer.
    #[must_use]
    pub(crate) fn needs_control(self) -> bool {
        self != LightKind::StaticWhite
    }

    /// True where its colour temperature can be set, over a range.
    #[must_use]
    pub(crate) fn cct_can_be_set(self) -> bool {
        matches!(self, LightKind::TunableWhite | LightKind::RgbTunableWhite)
    }

    /// True where its white runs over a range of colour temperatures, set or by dimming.
    #[must_use]
    pub(crate) fn has_cct_range(self) -> bool {
        self.cct_can_be_set() || self == LightKind::WarmDim
    }

    /// True where it has a white that is not mixed from its colours.
    #[must_use]
    pub(crate) fn has_white_of_its_own(self) -> bool {
        !matches!(self, LightKind::Rgb | LightKind::Rgbw)
    }
}

words! {
    /// The face of a panel, towards the stone.
    Face, "face" {
        /// Evens the light; for thin stone.
        Diffused = "diffused",
        /// Gives more light, less even; for thick stone.
        Clear = "clear",
    }
}

words! {
    /// The overall tone of a stone, as a person would name it.
    Tone, "stone tone" {
        /// White or near white.
        White = "white",
        /// Cream or ivory.
        Cream = "cream",
        /// Honey, a light yellow-brown.
        Honey = "honey",
        /// Amber, a deep orange-yellow.
        Amber = "amber",
        /// Brown.
        Brown = "brown",
        /// Red.
        Red = "red",
        /// Pink or rose.
        Pink = "pink",
        /// Green.
        Green = "green",
        /// Blue.
        Blue = "blue",
        /// Grey.
        Grey = "grey",
        /// Black or near black.
        Black = "black",
        /// Several strong colours at once.
        Mixed = "mixed",
    }
}

impl Tone {
    /// True for a stone whose warmth is what it is bought for: honey, amber, brown or red.
    #[must_use]
    pub(crate) fn is_warm(self) -> bool {
        matches!(self, Tone::Honey | Tone::Amber | Tone::Brown | Tone::Red)
    }
}

words! {
    /// The pattern of a stone, as a person would name it.
    Texture, "stone texture" {
        /// Even, nearly without pattern.
        Plain = "plain",
        /// Soft clouds without edges.
        Cloudy = "cloudy",
        /// Parallel bands.
        Banded = "banded",
        /// Veins through a calmer body.
        Veined = "veined",
        /// Crystals, fossils or other strong grain.
        Textured = "textured",
    }
}

impl Texture {
    /// True where pattern is what the stone is bought for: banded, veined or textured.
    #[must_use]
    pub(crate) fn has_pattern(self) -> bool {
        matches!(self, Texture::Banded | Texture::Veined | Texture::Textured)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_to_say_instead_of_a_name_that_is_not_there() {
        let said = |name: &str, known: &[&str]| instead_of(name, known.iter().copied(), "add it first");
        assert_eq!(said("qauy-bar", &["niche", "quay-bar"]), "did you mean quay-bar?");
        assert_eq!(said("quay", &["niche", "quay-bar"]), "did you mean quay-bar?");
        assert_eq!(said("wall", &["niche", "quay-bar"]), "there are: niche, quay-bar");
        assert_eq!(said("a", &["b"]), "there are: b");
        assert_eq!(said("a", &[]), "add it first");
    }
}
