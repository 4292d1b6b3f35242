//! The drop along a tape, which gives its load away evenly as it goes.
//!
//! The load is taken as the same current per metre everywhere. A real tape draws a little less where its
//! voltage has fallen, so these drops are the largest to expect. The drop in the cable before the tape is
//! in `wire_run`.

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
    pub fn ends(self) -> u32 {
        match self {
            Feed::OneEnd => 1,
            Feed::BothEnds => 2,
        }
    }
}

/// Drop with the whole load at the far end, volts: I·R.
#[must_use]
pub fn lumped(amps: f64, ohms: f64) -> Volts {
    Volts(amps * ohms)
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
