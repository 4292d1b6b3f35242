//! The power room's trade words: how light is dimmed, where a driver may stand, which wire table a size is of, which codes govern.
//!
//! Closed lists only; what a word means for a choice is decided in `driver_choice`, `control_choice` and `conductor`.

use crate::words::words;

words! {
    /// How a panel is dimmed.
    Dimming, "dimming method" {
        /// Switched on and off only.
        Off = "none",
        /// On the mains side, cutting the start of each half wave (leading edge, as a triac dimmer does).
        ForwardPhase = "forward-phase",
        /// On the mains side, cutting the end of each half wave (trailing edge, as an electronic low-voltage dimmer does).
        ReversePhase = "reverse-phase",
        /// A 0–10 V control pair into the driver.
        ZeroToTen = "0-10v",
        /// A DALI control pair into the driver.
        Dali = "dali",
        /// On the low-voltage side, after a plain constant-voltage driver: a dimmer or controller that switches its output fast.
        LowVoltage = "low-voltage-pwm",
    }
}

impl Dimming {
    /// The standard that says how it is done, from memory; none where there is none.
    #[must_use]
    pub(crate) fn standard(self) -> Option<&'static str> {
        match self {
            Dimming::Off | Dimming::LowVoltage => None,
            Dimming::ForwardPhase | Dimming::ReversePhase => Some("phase cut, IEC TR 63037"),
            Dimming::ZeroToTen => Some("0–10 V, IEC 60929 annex E"),
            Dimming::Dali => Some("DALI, IEC 62386"),
        }
    }

    /// True where the dimming happens after the driver, which must then be a plain constant-voltage one.
    #[must_use]
    pub(crate) fn is_low_voltage_side(self) -> bool {
        self == Dimming::LowVoltage
    }
}

words! {
    /// How wet a place is. Each word includes the ones before it: what suits `wet` suits `dry`.
    Place, "place" {
        /// Never wet in ordinary use.
        Dry = "dry",
        /// Partly sheltered or moist: under canopies, bathrooms away from spray.
        Damp = "damp",
        /// Exposed to water, spray or soaking.
        Wet = "wet",
    }
}

words! {
    /// The family of electrical codes that governs a site: it decides whose words are used, and nothing else.
    CodeRegion, "code region" {
        /// The NEC of the United States, and codes that follow it.
        Nec = "nec",
        /// National rules after IEC 60364.
        Iec = "iec",
        /// Neither: the licensed person names it.
        Other = "other",
    }
}

impl CodeRegion {
    /// True where Class 2 is a word of the code that is named for a site, or none is named.
    #[must_use]
    pub(crate) fn knows_class2(named: Option<CodeRegion>) -> bool {
        !matches!(named, Some(CodeRegion::Iec | CodeRegion::Other))
    }
}

words! {
    /// Where a driver is put.
    Location, "driver location" {
        /// In a box in the wall beside or behind the panel.
        InWallBox = "in-wall-box",
        /// Somewhere else with air and access: a cupboard, a plant room, above a ceiling hatch.
        Remote = "remote",
    }
}

words! {
    /// The table that states a conductor's resistance.
    WireTable, "wire table" {
        /// AWG, copper, stranded, uncoated, 75 °C: NEC Chapter 9 Table 8.
        Awg = "awg",
        /// Metric, stranded for fixed wiring, 20 °C: IEC 60228 class 2.
        Class2 = "mm2-class-2",
        /// Metric, flexible, 20 °C: IEC 60228 class 5.
        Class5 = "mm2-class-5",
    }
}

words! {
    /// Where a figure comes from; every sum that uses it says so.
    Basis, "basis of a figure" {
        /// Measured by the shop on its own builds.
        Measured = "measured",
        /// Stated by the supplier.
        Supplier = "supplier",
        /// Estimated; to be replaced by a measurement.
        Estimated = "estimated",
    }
}

words! {
    /// The rail that all channels of a tape share.
    CommonRail, "common rail" {
        /// The channels share the positive rail and each is switched on its negative side.
        Positive = "positive",
        /// The channels share the negative rail and each is switched on its positive side.
        Negative = "negative",
    }
}
