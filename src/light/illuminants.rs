//! The lights known by name: the CIE illuminants of CIE 15:2018, and black-body and daylight by CCT.
//!
//! A panel's own light is measured and read from a file; these stand in where none has been measured, and
//! the answer then says so.

use std::collections::BTreeMap;
use std::sync::{LazyLock, Mutex, PoisonError};

use colorimetry::illuminant::CieIlluminant;

use super::mixing;
use super::reference::{daylight, planck};
use super::spectrum::{FIRST_NM, Spd};

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
    pub(crate) fn code(&self) -> &'static str {
        "light-unknown"
    }

    /// How to fix it.
    #[must_use]
    pub(crate) fn remedy(&self) -> String {
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
pub(crate) fn names() -> Vec<&'static str> {
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

/// Typical red, green and blue channels: the three peaks of CIE LED-RGB1 (CIE 15:2018), parted where its power is
/// least between them, at 475 and 570 nm, gradually over 40 nm. They stand in for channels that nobody has measured.
#[must_use]
pub fn typical_primaries() -> [Spd; 3] {
    const WIDTH_NM: f64 = 40.0;
    let whole = Spd::from_illuminant(CieIlluminant::LED_RGB1.illuminant());
    // The share of a wavelength that belongs to the peak above the parting.
    let above = |i: usize, parting_nm: f64| {
        let t = (((i + FIRST_NM) as f64 - parting_nm) / WIDTH_NM + 0.5).clamp(0.0, 1.0);
        t * t * (3.0 - 2.0 * t)
    };
    let (low, high) = (475.0, 570.0);
    [
        whole.weighted(|i| above(i, high)),
        whole.weighted(|i| above(i, low) - above(i, high)),
        whole.weighted(|i| 1.0 - above(i, low)),
    ]
}

/// The white of pictures that share one white, and the one that coloured light is seen against: a typical LED white
/// in the middle of the range, so that warm light looks warm and cool light cool. Tristimulus values, Y = 1.
#[must_use]
pub(crate) fn common_white() -> [f64; 3] {
    const MIDDLE_K: f64 = 4000.0;
    static COMMON: LazyLock<[f64; 3]> =
        LazyLock::new(|| typical_white(MIDDLE_K).map_or([1.0; 3], |white| white.at_unit_flux().xyz()));
    *COMMON
}

/// A white of `cct_k` that stands in for one channel of a mixture: a typical LED white where there is one; beyond,
/// LED-B1 or LED-B5 tinted as a black body of that CCT differs from one of their own, so that it keeps the shape of an
/// LED's light. None outside 1000 to 25000 K.
#[must_use]
pub(crate) fn channel_white(cct_k: f64) -> Option<Spd> {
    // A book asks for the same few ends of tapes again and again.
    static KNOWN: Mutex<BTreeMap<u64, Option<Spd>>> = Mutex::new(BTreeMap::new());
    const MOST: usize = 1000;
    let known = || KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(white) = known().get(&cct_k.to_bits()) {
        return white.clone();
    }
    let white = mixed_or_tinted(cct_k);
    let mut known = known();
    if known.len() < MOST {
        known.insert(cct_k.to_bits(), white.clone());
    }
    white
}

fn mixed_or_tinted(cct_k: f64) -> Option<Spd> {
    if let Some(light) = typical_white(cct_k) {
        return Some(light);
    }
    if !(1000.0..=25_000.0).contains(&cct_k) {
        return None;
    }
    let nearest = if cct_k < 4000.0 { CieIlluminant::LED_B1 } else { CieIlluminant::LED_B5 };
    let white = Spd::from_illuminant(nearest.illuminant());
    let own_k = super::figures::white_point(&white).cct_k?;
    let own = planck(own_k);
    let tinted = |body_k: f64| {
        let body = planck(body_k);
        white.weighted(|i| body.values()[i] / own.values()[i])
    };
    // Reciprocal temperatures, in which a step looks alike everywhere: the tint that meets the CCT lies between.
    let (mut warm, mut cool) = (1e6 / 700.0, 0.0);
    for _ in 0..40 {
        let middle = (warm + cool) / 2.0;
        match super::figures::white_point(&tinted(1e6 / middle)).cct_k {
            Some(found) if found < cct_k => warm = middle,
            Some(_) => cool = middle,
            // Beyond the end of what has a CCT on the side that is asked for.
            None if cct_k < 4000.0 => warm = middle,
            None => cool = middle,
        }
    }
    let light = tinted(2e6 / (warm + cool));
    let met = super::figures::white_point(&light).cct_k.is_some_and(|k: f64| (k / cct_k - 1.0).abs() < 0.01);
    met.then_some(light)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_channel_stands_in_beyond_the_typical_whites() {
        for cct in [1800.0, 2200.0, 2400.0, 2700.0, 4000.0, 6500.0, 7000.0, 9000.0] {
            let light = channel_white(cct).unwrap_or_else(|| panic!("{cct}"));
            let found = crate::light::figures::white_point(&light).cct_k;
            assert!(found.is_some_and(|k: f64| (k - cct).abs() <= 60.0), "{cct}: {found:?}");
            let last = light.values()[400] / light.values().iter().copied().fold(0.0, f64::max);
            assert!(last < 0.1, "{cct}: an LED's light falls off in the deep red, {last}");
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
    fn the_primaries_together_are_the_whole_light() {
        let whole = named("LED-RGB1").expect("known");
        let [red, green, blue] = typical_primaries();
        for (i, v) in whole.values().iter().enumerate() {
            assert!((red.values()[i] + green.values()[i] + blue.values()[i] - v).abs() < 1e-9 * v.max(1.0));
        }
        let dominant = |light: &Spd| crate::light::figures::white_point(light).dominant_nm.unwrap_or(0.0);
        assert!(
            dominant(&red) > 600.0 && (500.0..560.0).contains(&dominant(&green)) && dominant(&blue) < 480.0
        );
    }

    #[test]
    fn every_name_listed_is_found() {
        for name in names() {
            assert!(named(name).is_ok(), "{name}");
        }
    }
}
