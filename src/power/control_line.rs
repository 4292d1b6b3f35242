//! The wired lines by which controls are led: their terminals, how they are laid, and what is set on each device.
//!
//! From memory, with the standard of each beside it, compared with makers' public manuals; the maker's sheet and the local
//! code decide.

use super::controls::ControlInput;
use crate::words::words;

words! {
    /// A line that leads controllers or drivers.
    ControlLine, "control line" {
        /// DMX512 from a lighting desk or building system.
        Dmx = "dmx",
        /// DALI from a building system or a DALI control.
        Dali = "dali",
        /// 0–10 V: one pair for each channel that is led.
        ZeroToTen = "0-10v",
    }
}

/// How many addresses one DMX line has.
pub(crate) const DMX_ADDRESSES: usize = 512;

impl ControlLine {
    /// The standard that says how it speaks.
    #[must_use]
    pub(crate) fn standard(self) -> &'static str {
        let as_input = match self {
            ControlLine::Dmx => ControlInput::Dmx,
            ControlLine::Dali => ControlInput::Dali,
            ControlLine::ZeroToTen => ControlInput::ZeroToTen,
        };
        as_input.standard().unwrap_or_default()
    }

    /// Its terminals at a device, in the order of its conductors; 0–10 V has as many pairs as channels.
    #[must_use]
    pub(crate) fn terminals(self) -> &'static [&'static str] {
        match self {
            ControlLine::Dmx => &["common", "data −", "data +"],
            ControlLine::Dali => &["DA", "DA"],
            ControlLine::ZeroToTen => &["+", "−"],
        }
    }

    /// How it is laid from device to device.
    #[must_use]
    pub(crate) fn laid(self) -> &'static str {
        match self {
            ControlLine::Dmx => {
                "from device to device in one line, in and out, no branch; shielded twisted pair; 120 Ω between data + and \
                 data − at the last; at most 32 devices before a splitter; a start address on each"
            }
            ControlLine::Dali => {
                "in any form but a ring; either way round at drivers; at most 64 addresses and 300 m (1.5 mm²), 2 V of drop; \
                 needs one supply of at most 250 mA; insulated as mains, it is no safety extra-low voltage"
            }
            ControlLine::ZeroToTen => {
                "all drivers of one pair side by side, + to + and − to −; the drivers give its current, the control takes it; \
                 never to earth or mains; insulated as the driver's maker says"
            }
        }
    }
}

/// How a control is led, as people write it, from the words of the shop's list: `wall-panel, dmx` is `wall panel, DMX`.
#[must_use]
pub(crate) fn in_words(how: &str) -> String {
    let word = |word: &str| match word {
        "dmx" => "DMX".to_owned(),
        "dali" => "DALI".to_owned(),
        "0-10v" => "0–10 V".to_owned(),
        "low-voltage-pwm" => "low-voltage PWM".to_owned(),
        other => other.replace('-', " "),
    };
    how.split(", ").map(word).collect::<Vec<_>>().join(", ")
}
