//! From lit edges to light, watts and amperes: what one panel's tape comes to.
//!
//! Lengths come from the real outline, cut down to the tape's cut interval. What is not here: how evenly the
//! light spreads over the face (the light room), drivers and cable (`driver_choice`, `wire_run`).

use std::fmt;

use super::lights::Light;
use super::tape_drop::{Feed, largest};
use super::vocabulary::Basis;
use crate::units::{Amperes, DisplayUnits, Lux, Metres, Millimetres, Volts, Watts, trimmed};
use crate::words::Face;

/// Lengths closer than this are the same length: a hundredth of a millimetre, well below any saw.
const SAME_LENGTH_MM: f64 = 0.01;

/// One lit edge of the outline.
#[derive(Clone, Debug, PartialEq)]
pub struct LitEdge {
    /// Its name on the drawing.
    pub id: String,
    /// Its length along the outline, millimetres; above 0.
    pub length_mm: Millimetres,
    /// The smallest radius along it, millimetres; none for a straight edge.
    pub least_radius_mm: Option<Millimetres>,
    /// How its tape is fed.
    pub feed: Feed,
    /// Into how many tapes it is divided, each fed by itself; 1 as a rule.
    pub tapes: u32,
    /// The piece of a split panel that it is on, from 1; 0 where the panel is whole.
    pub piece: usize,
}

/// The panel round the tape.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LitFace {
    /// The face towards the stone.
    pub face: Face,
    /// The lit area, square millimetres, net of cut-outs; above 0.
    pub area_mm2: f64,
}

/// One tape of the panel.
#[derive(Clone, Debug, PartialEq)]
pub struct Tape {
    /// The lit edge that it lies on.
    pub edge: String,
    /// Its number on that edge, from 1.
    pub number: u32,
    /// The piece of a split panel that it is on, from 1; 0 where the panel is whole.
    pub piece: usize,
    /// Its length, cut to the cut interval, metres.
    pub length_m: Metres,
    /// How it is fed.
    pub feed: Feed,
    /// Power with all channels full, watts.
    pub watts: Watts,
    /// Current of each channel at full, in the light's order, amperes.
    pub channel_a: Vec<Amperes>,
    /// The drop along the tape at its worst point with all channels full, volts, were its far end fed without any
    /// resistance; none where the tape's resistance is not stated.
    pub drop_v: Option<Volts>,
    /// Resistance of its common rail and of one channel's rail from end to end, ohms; none where it is not stated.
    pub rails_ohm: Option<[f64; 2]>,
}

/// One channel of the whole panel at full.
#[derive(Clone, Debug, PartialEq)]
pub struct ChannelLoad {
    /// What it is: `white`, `warm`, `red`…
    pub name: String,
    /// The mark at its pad.
    pub mark: String,
    /// Power, watts.
    pub watts: Watts,
    /// Light of the bare tape, lumens.
    pub lumens: f64,
    /// Light that leaves the face, per area, lumens per square metre.
    pub exitance_lx: Lux,
    /// Current, amperes.
    pub amps: Amperes,
}

/// One conductor of the panel's lead.
#[derive(Clone, Debug, PartialEq)]
pub struct ConductorCurrent {
    /// The mark at its pad; `+` or `−` for the common.
    pub mark: String,
    /// True for the conductor that all channels share.
    pub common: bool,
    /// Largest current, amperes; the common carries the sum of the channels.
    pub amps: Amperes,
}

/// What a panel's tape comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct LightBuild {
    /// Every tape, edge by edge.
    pub tapes: Vec<Tape>,
    /// Length of each edge that stays dark because the tape ends at a cut mark, by edge, in the order given.
    pub dark_mm: Vec<(String, Millimetres)>,
    /// All tapes together, metres.
    pub tape_m: Metres,
    /// The channels, in the light's order.
    pub channels: Vec<ChannelLoad>,
    /// Power with all channels full, watts.
    pub watts: Watts,
    /// Light that leaves the face per area with all channels full, lumens per square metre.
    pub exitance_lx: Lux,
    /// The panel's lead: the common first, then the channels.
    pub conductors: Vec<ConductorCurrent>,
    /// Depth of the panel, without stone or air gap, millimetres.
    pub depth_mm: Millimetres,
    /// Where the light's figures come from.
    pub basis: Basis,
}

/// Why a panel's tape cannot be worked out, with what to do.
#[derive(Clone, Debug, PartialEq)]
pub enum LightBuildFault {
    /// No edge is lit.
    NoLitEdge,
    /// The lit area is not above 0.
    NoArea,
    /// A lit edge is not a length above 0, or is divided into no tapes.
    NoLength {
        /// The edge.
        edge: String,
    },
    /// A tape would be shorter than one cut interval.
    ShorterThanCut {
        /// The edge.
        edge: String,
        /// The length that one tape would have, millimetres.
        length_mm: Millimetres,
        /// The light's cut interval, millimetres.
        cut_interval_mm: Millimetres,
    },
    /// A tape is longer than its largest run.
    LongerThanRun {
        /// The edge.
        edge: String,
        /// The tape's length, metres.
        length_m: Metres,
        /// The largest run for its feed, metres.
        largest_m: Metres,
        /// True where feeding both ends would be enough.
        both_ends_would_do: bool,
        /// The fewest tapes into which the edge must be divided as it is fed now.
        tapes_needed: u32,
    },
    /// The edge bends more tightly than the tape may.
    BendTooTight {
        /// The edge.
        edge: String,
        /// Its smallest radius, millimetres.
        radius_mm: Millimetres,
        /// The tape's least bend radius, millimetres.
        least_mm: Millimetres,
    },
}

impl LightBuildFault {
    /// A stable name for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::NoLitEdge => "light-no-lit-edge",
            Self::NoArea => "light-no-area",
            Self::NoLength { .. } => "light-edge-no-length",
            Self::ShorterThanCut { .. } => "tape-shorter-than-cut",
            Self::LongerThanRun { .. } => "tape-longer-than-run",
            Self::BendTooTight { .. } => "tape-bend-too-tight",
        }
    }

    /// What to do about it.
    #[must_use]
    pub fn remedy(&self) -> String {
        match self {
            Self::NoLitEdge => "name at least one lit edge of the panel".into(),
            Self::NoArea => "give the panel an outline that encloses an area".into(),
            Self::NoLength { .. } => "correct the edge's length, and divide it into at least one tape".into(),
            Self::ShorterThanCut { .. } => {
                "light a longer edge, divide it into fewer tapes, or choose a tape with a shorter cut interval".into()
            }
            Self::LongerThanRun { both_ends_would_do: true, .. } => "feed the tape at both ends".into(),
            Self::LongerThanRun { tapes_needed, .. } => {
                format!("divide the edge into {tapes_needed} tapes, each fed by itself")
            }
            Self::BendTooTight { .. } => "light a straighter edge, or choose a tape that bends more tightly".into(),
        }
    }
}

impl fmt::Display for LightBuildFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoLitEdge => f.write_str("no edge is lit"),
            Self::NoArea => f.write_str("the lit area is not above 0"),
            Self::NoLength { edge } => write!(f, "lit edge `{edge}` has no length to put tape on"),
            Self::ShorterThanCut { edge, length_mm, cut_interval_mm } => write!(
                f,
                "lit edge `{edge}` gives each tape {length_mm}, less than the tape's cut interval of {cut_interval_mm}"
            ),
            Self::LongerThanRun { edge, length_m, largest_m, .. } => {
                write!(
                    f,
                    "the tape on lit edge `{edge}` is {length_m} long; its largest run so fed is {largest_m}"
                )
            }
            Self::BendTooTight { edge, radius_mm, least_mm } => write!(
                f,
                "lit edge `{edge}` bends to a radius of {radius_mm}; the tape bends to {least_mm} at the tightest"
            ),
        }
    }
}

impl std::error::Error for LightBuildFault {}

/// Works out a panel's tape from its lit edges.
///
/// # Errors
/// Everything that stands in the way, edge by edge.
pub fn work_out(light: &Light, edges: &[LitEdge], lit: LitFace) -> Result<LightBuild, Vec<LightBuildFault>> {
    let mut faults = Vec::new();
    if edges.is_empty() {
        faults.push(LightBuildFault::NoLitEdge);
    }
    if !(lit.area_mm2.is_finite() && lit.area_mm2 > 0.0) {
        faults.push(LightBuildFault::NoArea);
    }
    let mut tapes = Vec::new();
    let mut dark_mm = Vec::new();
    for edge in edges {
        match cut_tape(light, edge) {
            Ok(length_mm) => {
                dark_mm.push((
                    edge.id.clone(),
                    Millimetres((edge.length_mm.get() - length_mm * f64::from(edge.tapes)).max(0.0)),
                ));
                tapes
                    .extend((1..=edge.tapes).map(|number| one_tape(light, edge, number, length_mm / 1000.0)));
            }
            Err(of_edge) => faults.extend(of_edge),
        }
    }
    if faults.is_empty() { Ok(sum_up(light, tapes, dark_mm, lit)) } else { Err(faults) }
}

/// The length of each of an edge's tapes, millimetres, cut down to the cut interval.
fn cut_tape(light: &Light, edge: &LitEdge) -> Result<f64, Vec<LightBuildFault>> {
    let length = edge.length_mm.get();
    let cut = light.cut_interval_mm.get();
    if !(length.is_finite() && length > 0.0) || edge.tapes == 0 {
        return Err(vec![LightBuildFault::NoLength { edge: edge.id.clone() }]);
    }
    let mut faults = Vec::new();
    if let Some(radius) = edge.least_radius_mm
        && radius.get() + SAME_LENGTH_MM < light.least_bend_radius_mm.get()
    {
        faults.push(LightBuildFault::BendTooTight {
            edge: edge.id.clone(),
            radius_mm: radius,
            least_mm: light.least_bend_radius_mm,
        });
    }
    let share = length / f64::from(edge.tapes);
    let tape = if cut > 0.0 { ((share + SAME_LENGTH_MM) / cut).floor() * cut } else { share };
    if tape <= 0.0 {
        faults.push(LightBuildFault::ShorterThanCut {
            edge: edge.id.clone(),
            length_mm: Millimetres(share),
            cut_interval_mm: light.cut_interval_mm,
        });
    }
    let largest_mm = |both| light.largest_run(both).get() * 1000.0 + SAME_LENGTH_MM;
    let both = edge.feed == Feed::BothEnds;
    if tape > largest_mm(both) {
        faults.push(LightBuildFault::LongerThanRun {
            edge: edge.id.clone(),
            length_m: Metres(tape / 1000.0),
            largest_m: light.largest_run(both),
            both_ends_would_do: !both && tape <= largest_mm(true),
            tapes_needed: (length / largest_mm(both)).ceil() as u32,
        });
    }
    if faults.is_empty() { Ok(tape) } else { Err(faults) }
}

fn one_tape(light: &Light, edge: &LitEdge, number: u32, length_m: f64) -> Tape {
    let volts = light.voltage_v.get();
    let channel_a: Vec<f64> = light.channels.iter().map(|c| c.watts_per_m * length_m / volts).collect();
    let sum_a: f64 = channel_a.iter().sum();
    let rails = light.common_ohm_per_m.zip(light.channel_ohm_per_m);
    let rails_ohm = rails.map(|(common, channel)| [common * length_m, channel * length_m]);
    let drop_v = rails_ohm.map(|[common, channel]| {
        let worst_channel_a = channel_a.iter().copied().fold(0.0, f64::max);
        Volts(largest(edge.feed, sum_a, common).get() + largest(edge.feed, worst_channel_a, channel).get())
    });
    Tape {
        edge: edge.id.clone(),
        number,
        piece: edge.piece,
        length_m: Metres(length_m),
        feed: edge.feed,
        watts: Watts(sum_a * volts),
        channel_a: channel_a.into_iter().map(Amperes).collect(),
        drop_v,
        rails_ohm,
    }
}

fn sum_up(light: &Light, tapes: Vec<Tape>, dark_mm: Vec<(String, Millimetres)>, lit: LitFace) -> LightBuild {
    let tape_m: f64 = tapes.iter().map(|tape| tape.length_m.get()).sum();
    let per_area = light.face_share.of(lit.face) / (lit.area_mm2 / 1e6);
    let channels: Vec<ChannelLoad> = light
        .channels
        .iter()
        .map(|channel| ChannelLoad {
            name: channel.name.clone(),
            mark: channel.mark.clone(),
            watts: Watts(channel.watts_per_m * tape_m),
            lumens: channel.lumens_per_m * tape_m,
            exitance_lx: Lux(channel.lumens_per_m * tape_m * per_area),
            amps: Amperes(channel.watts_per_m * tape_m / light.voltage_v.get()),
        })
        .collect();
    let common = ConductorCurrent {
        mark: match light.common_rail {
            super::vocabulary::CommonRail::Positive => "+".into(),
            super::vocabulary::CommonRail::Negative => "−".into(),
        },
        common: true,
        amps: Amperes(channels.iter().map(|channel| channel.amps.get()).sum()),
    };
    let conductors = std::iter::once(common)
        .chain(channels.iter().map(|channel| ConductorCurrent {
            mark: channel.mark.clone(),
            common: false,
            amps: channel.amps,
        }))
        .collect();
    LightBuild {
        tape_m: Metres(tape_m),
        watts: Watts(channels.iter().map(|channel| channel.watts.get()).sum()),
        exitance_lx: Lux(channels.iter().map(|channel| channel.exitance_lx.get()).sum()),
        depth_mm: light.panel_depth_mm,
        basis: light.basis,
        tapes,
        dark_mm,
        channels,
        conductors,
    }
}

impl LightBuild {
    /// The panel in one line: `1.75 m of tape, 25.2 W, 2940 lm/m² at the face`, in the units of a book.
    #[must_use]
    pub fn in_words(&self, units: DisplayUnits) -> String {
        format!(
            "{} of tape, {} W, {} lm/m² at the face",
            units.run(self.tape_m),
            trimmed(self.watts.get(), 1),
            trimmed(self.exitance_lx.get(), 0)
        )
    }
}
