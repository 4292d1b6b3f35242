//! Lux, luminance and their ratios: how bright the stone will be, and whether a room will notice.
//!
//! Luminance only. A lux meter weighs all colours into one number, so nothing here says anything about
//! colour, and [`LuxPair`] refuses to.

use std::f64::consts::PI;
use std::fmt;

use crate::units::Lux;

/// Luminance in cd/m² of a face that sends out `exitance` alike in all directions (Lambertian): M/π.
#[must_use]
pub(crate) fn luminance_cd_m2(exitance: Lux) -> f64 {
    exitance.get() / PI
}

/// Luminance in cd/m² of a matt surface of this reflectance (0 to 1) under this illuminance: E·ρ/π.
#[must_use]
pub(crate) fn reflected_luminance_cd_m2(illuminance: Lux, reflectance: f64) -> f64 {
    illuminance.get() * reflectance / PI
}

/// How a lit face stands out from its surroundings. Common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Prominence {
    /// Below 2:1.
    Lost,
    /// From 2:1.
    BarelySeen,
    /// From 3:1.
    Seen,
    /// From 10:1.
    FocalAccent,
}

impl Prominence {
    /// What a luminance ratio to the surroundings is usually taken for. Common practice, no source.
    #[must_use]
    pub(crate) fn of(ratio: f64) -> Prominence {
        match ratio {
            r if r >= 10.0 => Prominence::FocalAccent,
            r if r >= 3.0 => Prominence::Seen,
            r if r >= 2.0 => Prominence::BarelySeen,
            _ => Prominence::Lost,
        }
    }

    /// From the darkest to the brightest that is left open, in words: `barely seen`, or `barely seen to seen`.
    #[must_use]
    pub(crate) fn between([low, high]: [f64; 2]) -> String {
        let [low, high] = [low, high].map(|ratio| Prominence::of(ratio).words());
        if low == high { low.into() } else { format!("{low} to {high}") }
    }

    /// In words.
    #[must_use]
    pub(crate) fn words(self) -> &'static str {
        match self {
            Prominence::Lost => "lost in the room's light",
            Prominence::BarelySeen => "barely seen",
            Prominence::Seen => "seen",
            Prominence::FocalAccent => "a focal accent",
        }
    }
}

/// Two readings of a lux meter held on the panel: bare, and through the stone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct LuxPair {
    bare: Lux,
    through: Lux,
}

impl LuxPair {
    /// Why a lux pair gives no colour, as shown wherever one is asked for.
    pub(crate) const NO_COLOUR: &'static str = "two lux readings give how bright the stone is, never its colour: \
        take a photo with the bare panel in it, or a spectrum";

    /// Two readings in lux.
    ///
    /// # Errors
    /// Refuses readings that are not finite or negative, a dark bare panel, and more light through the
    /// stone than without it.
    pub(crate) fn new(bare: Lux, through: Lux) -> Result<LuxPair, LuxError> {
        let sound = |v: f64| v.is_finite() && v >= 0.0;
        if !sound(bare.get()) || !sound(through.get()) {
            return Err(LuxError::NotAReading);
        }
        if bare.get() <= 0.0 {
            return Err(LuxError::PanelDark);
        }
        if through > bare {
            return Err(LuxError::MoreThrough { bare, through });
        }
        Ok(LuxPair { bare, through })
    }

    /// The bare panel's reading.
    #[must_use]
    pub(crate) fn bare(self) -> Lux {
        self.bare
    }

    /// The reading through the stone.
    #[must_use]
    pub(crate) fn through(self) -> Lux {
        self.through
    }

    /// The luminous transmittance as laid on this panel, returned light included, 0 to 1.
    #[must_use]
    pub(crate) fn transmittance(self) -> f64 {
        self.through.get() / self.bare.get()
    }
}

/// Why two lux readings were not taken as a pair.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum LuxError {
    /// A reading that is negative or no number.
    NotAReading,
    /// No light on the bare panel.
    PanelDark,
    /// More light through the stone than without it.
    MoreThrough {
        /// The bare panel's reading.
        bare: Lux,
        /// The reading through the stone.
        through: Lux,
    },
}

impl LuxError {
    /// A stable code for programs.
    #[must_use]
    pub(crate) fn code(self) -> &'static str {
        match self {
            LuxError::NotAReading => "lux-not-a-reading",
            LuxError::PanelDark => "lux-panel-dark",
            LuxError::MoreThrough { .. } => "lux-more-through",
        }
    }

    /// How to fix it.
    #[must_use]
    pub(crate) fn remedy(self) -> &'static str {
        match self {
            LuxError::NotAReading => "give what the meter shows, in lux, from 0 up",
            LuxError::PanelDark => "switch the panel on and hold the meter on its bare face",
            LuxError::MoreThrough { .. } => {
                "check that the two readings are not swapped (the bare panel's is bare_lx), shade the meter \
                 from the room's light, and read both again"
            }
        }
    }
}

impl fmt::Display for LuxError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            LuxError::NotAReading => f.write_str("a lux reading is negative or not a number"),
            LuxError::PanelDark => f.write_str("the reading of the bare panel is 0"),
            LuxError::MoreThrough { bare, through } => {
                write!(
                    f,
                    "{through} through the stone is more than the {bare} of the bare panel, and no stone adds light"
                )
            }
        }
    }
}

impl std::error::Error for LuxError {}

#[cfg(test)]
mod tests {
    use super::*;

    /// Definitions of lux, exitance and luminance (CIE S 017).
    #[test]
    fn worked_examples() {
        assert!((luminance_cd_m2(Lux(1000.0 * 0.10)) - 31.83).abs() < 0.005);
        assert!((reflected_luminance_cd_m2(Lux(300.0), 0.7) - 66.85).abs() < 0.005);
    }

    /// Common practice, no source.
    #[test]
    fn prominence_by_ratio() {
        assert_eq!(Prominence::of(1.9), Prominence::Lost);
        assert_eq!(Prominence::of(2.0), Prominence::BarelySeen);
        assert_eq!(Prominence::of(3.0), Prominence::Seen);
        assert_eq!(Prominence::of(10.0), Prominence::FocalAccent);
        assert_eq!(Prominence::between([3.0, 3.0]), "seen");
        assert_eq!(Prominence::between([2.27, 4.45]), "barely seen to seen");
    }

    #[test]
    fn a_lux_pair_gives_transmittance_and_refuses_nonsense() {
        let pair = LuxPair::new(Lux(2400.0), Lux(218.0)).expect("sound readings");
        assert!((pair.transmittance() - 0.0908).abs() < 1e-4);
        for (bare, through, code) in [
            (0.0, 0.0, "lux-panel-dark"),
            (-1.0, 0.0, "lux-not-a-reading"),
            (f64::NAN, 1.0, "lux-not-a-reading"),
            (100.0, 200.0, "lux-more-through"),
        ] {
            assert_eq!(LuxPair::new(Lux(bare), Lux(through)).err().map(LuxError::code), Some(code));
        }
    }
}
