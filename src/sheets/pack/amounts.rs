//! Whole micrometres, milliwatts and the like as people read them.

use crate::units::{DisplayUnits, Millimetres, trimmed};

/// A length in the book's units, the other in brackets.
pub(super) fn length(um: i64, units: DisplayUnits) -> String {
    units.show_both(Millimetres(um as f64 / 1000.0))
}

/// A long length in metres: of cable and tape.
pub(super) fn metres(um: i64) -> String {
    format!("{} m", trimmed(um as f64 / 1e6, 3))
}

/// A power in watts.
pub(super) fn watts(mw: i64) -> String {
    format!("{} W", trimmed(mw as f64 / 1000.0, 1))
}

/// A voltage in volts.
pub(super) fn volts(mv: i64) -> String {
    format!("{} V", trimmed(mv as f64 / 1000.0, 3))
}

/// A current in amperes.
pub(super) fn amperes(ma: i64) -> String {
    format!("{} A", trimmed(ma as f64 / 1000.0, 2))
}

/// Hundredths of a percent.
pub(super) fn permyriad(value: i64) -> String {
    format!("{} %", trimmed(value as f64 / 100.0, 2))
}

/// Thousandths.
pub(super) fn permille(value: i64) -> String {
    format!("{} %", trimmed(value as f64 / 10.0, 1))
}

/// A mass in kilograms.
pub(super) fn kilograms(g: i64) -> String {
    format!("{} kg", trimmed(g as f64 / 1000.0, 1))
}

/// An area in square metres.
pub(super) fn square_metres(mm2: i64) -> String {
    format!("{} m²", trimmed(mm2 as f64 / 1e6, 3))
}

/// A luminance.
pub(super) fn luminance(mcd_m2: i64) -> String {
    format!("{} cd/m²", trimmed(mcd_m2 as f64 / 1000.0, 1))
}
