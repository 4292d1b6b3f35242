//! The lights known by name: the CIE illuminants of CIE 15:2018, and black-body and daylight by CCT.
//!
//! A panel's own light is measured and read from a file; these stand in where none has been measured, and
//! the answer then says so.

use colorimetry::illuminant::{CieIlluminant, Illuminant};

use super::mixing;
use super::spectrum::Spd;

/// Every named light with its usual spelling.
const NAMED: &[(&str, CieIlluminant)] = &[
    ("LED-B1", CieIlluminant::LED_B1),
    ("LED-B2", CieIlluminant::LED_B2),
    ("LED-B3", CieIlluminant::LED_B3),
    ("LED-B4", CieIlluminant::LED_B4),
    ("LED-B5", CieIlluminant::LED_B5),
    ("LED-BH1", CieIlluminant::LED_BH1),
    ("LED-RGB1", CieIlluminant::LED_RGB1),
    ("LED-V1", CieIlluminant::LED_V1),
    ("LED-V2", CieIlluminant::LED_V2),
    ("A", CieIlluminant::A),
    ("D50", CieIlluminant::D50),
    ("D65", CieIlluminant::D65),
    ("E", CieIlluminant::E),
    ("F1", CieIlluminant::F1),
    ("F2", CieIlluminant::F2),
    ("F3", CieIlluminant::F3),
    ("F4", CieIlluminant::F4),
    ("F5", CieIlluminant::F5),
    ("F6", CieIlluminant::F6),
    ("F7", CieIlluminant::F7),
    ("F8", CieIlluminant::F8),
    ("F9", CieIlluminant::F9),
    ("F10", CieIlluminant::F10),
    ("F11", CieIlluminant::F11),
    ("F12", CieIlluminant::F12),
    ("F3.1", CieIlluminant::F3_1),
    ("F3.2", CieIlluminant::F3_2),
    ("F3.3", CieIlluminant::F3_3),
    ("F3.4", CieIlluminant::F3_4),
    ("F3.5", CieIlluminant::F3_5),
    ("F3.6", CieIlluminant::F3_6),
    ("F3.7", CieIlluminant::F3_7),
    ("F3.8", CieIlluminant::F3_8),
    ("F3.9", CieIlluminant::F3_9),
    ("F3.10", CieIlluminant::F3_10),
    ("F3.11", CieIlluminant::F3_11),
    ("F3.12", CieIlluminant::F3_12),
    ("F3.13", CieIlluminant::F3_13),
    ("F3.14", CieIlluminant::F3_14),
    ("F3.15", CieIlluminant::F3_15),
];

/// A name that no light has.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnknownLight {
    /// What was written.
    pub name: String,
}

impl UnknownLight {
    /// A stable code for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        "light-unknown"
    }

    /// How to mend it.
    #[must_use]
    pub fn remedy(&self) -> String {
        format!(
            "name one of {}; or planck-3000, daylight-6500, white-4000 with the CCT in kelvin; or give the \
             light's measured spectrum",
            names().join(", ")
        )
    }
}

impl std::fmt::Display for UnknownLight {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "no light is named `{}`", self.name)
    }
}

impl std::error::Error for UnknownLight {}

/// The names of all CIE illuminants known, in their usual spelling.
#[must_use]
pub fn names() -> Vec<&'static str> {
    NAMED.iter().map(|(name, _)| *name).collect()
}

/// A light by name: a CIE illuminant of CIE 15:2018 (`LED-B3`, `F3.10`; case, `_`, `FL2` and a missing dash
/// do not matter), a black body (`planck-3000`), a CIE daylight (`daylight-6500`, 4000 to 25000 K) or
/// [`typical_white`] (`white-4000`).
///
/// # Errors
/// Refuses a name that is none of these, and a CCT outside 1000 to 25000 K.
pub fn named(name: &str) -> Result<Spd, UnknownLight> {
    let unknown = || UnknownLight { name: name.into() };
    let plain = |text: &str| {
        let text: String =
            text.chars().filter(char::is_ascii_alphanumeric).collect::<String>().to_uppercase();
        text
    };
    let lower = name.trim().to_lowercase();
    if let Some((kind, cct)) = lower.split_once('-')
        && let Ok(cct_k) = cct.trim_end_matches('k').parse::<f64>()
        && (1000.0..=25_000.0).contains(&cct_k)
    {
        match kind {
            "planck" => return Ok(planck(cct_k)),
            "daylight" => return daylight(cct_k).ok_or_else(unknown),
            "white" => return typical_white(cct_k).ok_or_else(unknown),
            _ => {}
        }
    }
    // `F3.1` and `F31` must stay apart from each other's neighbours, so the dot is kept as `_`.
    let spelled = plain(&name.replace(['.', '_'], "X"));
    NAMED
        .iter()
        .find(|(known, _)| {
            let known = plain(&known.replace('.', "X"));
            spelled == known
                || spelled == known.replacen('F', "FL", 1) && known.starts_with('F')
                || spelled.replace('X', "") == known && known.starts_with("LED")
        })
        .map(|(_, light)| Spd::from_illuminant(light.illuminant()))
        .ok_or_else(unknown)
}

/// A black body at `cct_k` kelvin.
#[must_use]
pub fn planck(cct_k: f64) -> Spd {
    Spd::from_illuminant(&Illuminant::planckian(cct_k))
}

/// A CIE daylight (CIE 15:2018) at `cct_k` kelvin; none outside 4000 to 25000 K.
#[must_use]
pub fn daylight(cct_k: f64) -> Option<Spd> {
    Illuminant::d_illuminant(cct_k).ok().map(|d| Spd::from_illuminant(&d))
}

/// A typical phosphor-converted LED white at `cct_k`: the two nearest of LED-B1 to LED-B5 (CIE 15:2018)
/// mixed in flux until the mixture has that CCT.
///
/// It stands in for a panel whose spectrum nobody has measured; none outside 2733 to 6598 K, where there is
/// nothing to mix, save that nominal 2700 K and 6600 K (within 60 K) take the end itself.
#[must_use]
pub fn typical_white(cct_k: f64) -> Option<Spd> {
    const LADDER: [CieIlluminant; 5] = [
        CieIlluminant::LED_B1,
        CieIlluminant::LED_B2,
        CieIlluminant::LED_B3,
        CieIlluminant::LED_B4,
        CieIlluminant::LED_B5,
    ];
    let whites = LADDER.map(|light| Spd::from_illuminant(light.illuminant()));
    for pair in whites.windows(2) {
        if let Ok(mix) = mixing::white_at(&pair[0], &pair[1], cct_k) {
            return Some(mix.light);
        }
    }
    let near = |light: &Spd| {
        super::figures::white_point(light).cct_k.is_some_and(|end: f64| (end - cct_k).abs() <= 60.0)
    };
    whites.into_iter().find(near)
}

/// A white of `cct_k` that stands in for one channel of a mixture: a typical LED white where there is one, else a
/// black body below and a CIE daylight above; none outside 1000 to 25000 K.
#[must_use]
pub fn channel_white(cct_k: f64) -> Option<Spd> {
    match typical_white(cct_k) {
        Some(light) => Some(light),
        None if (1000.0..4000.0).contains(&cct_k) => Some(planck(cct_k)),
        None => daylight(cct_k),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_channel_stands_in_beyond_the_typical_whites() {
        for cct in [1800.0, 2400.0, 2700.0, 4000.0, 6500.0, 7000.0] {
            let light = channel_white(cct).unwrap_or_else(|| panic!("{cct}"));
            let found = crate::light::figures::white_point(&light).cct_k;
            assert!(found.is_some_and(|k: f64| (k - cct).abs() <= 60.0), "{cct}: {found:?}");
        }
        assert!(channel_white(500.0).is_none());
    }

    #[test]
    fn spelling_does_not_matter_but_the_light_does() {
        for (a, b) in
            [("LED-B3", "led_b3"), ("LED-B3", "LEDB3"), ("F2", "FL2"), ("F3.10", "FL3.10"), ("F3.1", "F3_1")]
        {
            assert_eq!(named(a).expect(a), named(b).expect(b), "{a} {b}");
        }
        assert_ne!(named("F3.1").expect("F3.1"), named("F3").expect("F3"));
        assert_ne!(named("F3.11").expect("F3.11"), named("F11").expect("F11"));
        for wrong in ["", "LED-B9", "planck-90", "daylight-2000", "white-9000", "F31", "led"] {
            assert!(named(wrong).is_err(), "{wrong} was taken");
        }
    }

    #[test]
    fn every_name_listed_is_found() {
        for name in names() {
            assert!(named(name).is_ok(), "{name}");
        }
    }
}
