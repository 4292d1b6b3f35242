//! The drop along a tape, which gives its load away evenly as it goes.
//!
//! The load is taken as the same current per metre everywhere. A real tape draws a little less where its
//! voltage has fallen, so these drops are the largest to expect. The drop in the cable before the tape is
//! in `wire_run`, which adds the two up.

use crate::units::Volts;

/// How a length of tape is fed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Feed {
    /// At one end.
    OneEnd,
    /// At both ends, from the same supply.
    BothEnds,
}

impl Feed {
    /// How many ends are fed.
    #[must_use]
    pub(crate) fn ends(self) -> u32 {
        match self {
            Feed::OneEnd => 1,
            Feed::BothEnds => 2,
        }
    }
}

/// Drop at a fraction of the way along an evenly loaded tape, 0 at its first fed end and 1 at its other end, volts.
///
/// Fed at one end I·R·(s − s²/2); fed at both ends I·R·(s − s²)/2, from integrating the current that is left
/// at each point.
#[must_use]
pub fn at_fraction(feed: Feed, amps: f64, ohms: f64, fraction: f64) -> Volts {
    let s = fraction.clamp(0.0, 1.0);
    Volts(match feed {
        Feed::OneEnd => amps * ohms * (s - s * s / 2.0),
        Feed::BothEnds => amps * ohms * (s - s * s) / 2.0,
    })
}

/// The largest drop along an evenly loaded tape, volts: I·R/2 at the end of one fed at one end, I·R/8 in the
/// middle of one fed at both.
#[must_use]
pub fn largest(feed: Feed, amps: f64, ohms: f64) -> Volts {
    match feed {
        Feed::OneEnd => at_fraction(feed, amps, ohms, 1.0),
        Feed::BothEnds => at_fraction(feed, amps, ohms, 0.5),
    }
}

/// The current that enters at the far end of an evenly loaded tape fed at both, amperes, where the way to the far end
/// has a resistance of its own: I/2 · R/(R + R far), since both ways to the far end drop the same.
#[must_use]
pub(crate) fn far_amps(amps: f64, ohms: f64, far_ohms: f64) -> f64 {
    if ohms > 0.0 { amps / 2.0 * ohms / (ohms + far_ohms) } else { 0.0 }
}

/// The largest drop along an evenly loaded tape whose far end is fed through a conductor of its own, volts, counted
/// from its near end: I near² · R / 2 I, where the current from either side meets. I·R/8 for a conductor without
/// resistance, I·R/2 for none.
#[must_use]
pub(crate) fn largest_with_far_feed(amps: f64, ohms: f64, far_ohms: f64) -> Volts {
    let near = amps - far_amps(amps, ohms, far_ohms);
    Volts(if amps > 0.0 { near * near * ohms / (2.0 * amps) } else { 0.0 })
}
