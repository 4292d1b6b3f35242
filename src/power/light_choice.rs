//! Which of the shop's lights gives what a panel asks for, why the others do not, and how its tape is fed.
//!
//! What the tape then comes to is in `light_build`.

use std::fmt;

use super::light_build::LitEdge;
use super::lights::{CctRange, Light, Lights};
use super::tape_drop::Feed;
use super::vocabulary::Place;
use crate::units::{Millimetres, Volts, trimmed};
use crate::words::LightKind;

/// What a panel asks of its light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LightRequirement {
    /// What it can do.
    pub kind: LightKind,
    /// Its voltage, volts direct current; none where either does.
    pub voltage_v: Option<Volts>,
    /// Its colour temperature, or one that it can be set to, kelvins; none for light without white.
    pub cct_k: Option<u32>,
    /// The colour rendering index Ra asked for, 0 to 100; none where it does not matter.
    pub cri_ra: Option<f64>,
    /// The colour temperatures over which it is to be set; none where one is enough.
    pub cct_range_k: Option<CctRange>,
    /// How wet the panel's place is.
    pub place: Place,
}

/// Why a light was passed over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LightAgainst {
    /// It is of another kind.
    Kind(LightKind),
    /// It runs at another voltage.
    Voltage(Volts),
    /// It cannot be ordered at or set to the colour temperature.
    Cct(u32),
    /// It cannot be set over the whole range that is asked for.
    Range(CctRange),
    /// It renders colours less well than asked, or its record does not say how well.
    ColourRendering {
        /// Asked for, Ra.
        asked: f64,
        /// Its own, Ra.
        light: Option<f64>,
    },
    /// A panel built with it is sealed for a drier place only.
    Place(Place),
}

impl LightAgainst {
    /// A stable name for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::Kind(_) => "kind",
            Self::Voltage(_) => "voltage",
            Self::Cct(_) => "cct",
            Self::Range(_) => "cct-range",
            Self::ColourRendering { .. } => "colour-rendering",
            Self::Place(_) => "place",
        }
    }
}

impl fmt::Display for LightAgainst {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Kind(kind) => write!(f, "it is {kind}"),
            Self::Voltage(volts) => write!(f, "it runs at {volts}"),
            Self::Cct(cct_k) => write!(f, "it does not give {cct_k} K"),
            Self::Range(range) => {
                write!(f, "it does not run from {} K to {} K", range.warmest, range.coolest)
            }
            Self::ColourRendering { asked, light: Some(light) } => {
                write!(f, "Ra {} is asked for, it has {}", trimmed(*asked, 0), trimmed(*light, 0))
            }
            Self::ColourRendering { asked, light: None } => {
                write!(f, "Ra {} is asked for, its record states none", trimmed(*asked, 0))
            }
            Self::Place(place) => write!(f, "a panel built with it is sealed for a {place} place only"),
        }
    }
}

/// The light for a panel.
#[derive(Clone, Debug, PartialEq)]
pub struct LightChoice<'a> {
    /// The first of the shop's list that suits.
    pub light: &'a Light,
    /// Those before it that do not, with every reason.
    pub passed_over: Vec<(&'a Light, Vec<LightAgainst>)>,
}

/// No light of the list suits: each with every reason against it, in the shop's order.
#[derive(Clone, Debug, PartialEq)]
pub struct NoLight {
    /// Id and reasons.
    pub passed_over: Vec<(String, Vec<LightAgainst>)>,
}

impl NoLight {
    /// What to do about it: what the light with the fewest reasons against it lacks.
    #[must_use]
    pub fn remedy(&self) -> String {
        match self.passed_over.iter().min_by_key(|(_, reasons)| reasons.len()) {
            None => "add lights to shop/lights.json".into(),
            Some((id, reasons)) => {
                let reasons: Vec<String> = reasons.iter().map(ToString::to_string).collect();
                format!(
                    "add a light to shop/lights.json, or change what is asked; nearest is `{id}`: {}",
                    reasons.join("; ")
                )
            }
        }
    }
}

impl fmt::Display for NoLight {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("no light of the shop's list suits the panel")
    }
}

impl std::error::Error for NoLight {}

/// The reasons against one light; none where it suits.
#[must_use]
pub(crate) fn against(light: &Light, asked: &LightRequirement) -> Vec<LightAgainst> {
    let mut against = Vec::new();
    if light.kind != asked.kind {
        against.push(LightAgainst::Kind(light.kind));
    }
    if asked.voltage_v.is_some_and(|volts| (volts.get() - light.voltage_v.get()).abs() > 1e-6) {
        against.push(LightAgainst::Voltage(light.voltage_v));
    }
    if let Some(cct_k) = asked.cct_k.filter(|cct_k| !light.gives_cct(*cct_k)) {
        against.push(LightAgainst::Cct(cct_k));
    }
    if let Some(range) = asked.cct_range_k.filter(|range| !light.reaches(*range)) {
        against.push(LightAgainst::Range(range));
    }
    if let Some(wanted) = asked.cri_ra.filter(|wanted| light.cri_ra.is_none_or(|has| has < *wanted)) {
        against.push(LightAgainst::ColourRendering { asked: wanted, light: light.cri_ra });
    }
    if !light.suits_place(asked.place) {
        against.push(LightAgainst::Place(light.place));
    }
    against
}

/// Chooses the first light of the shop's list that suits.
///
/// # Errors
/// No light that suits, with every reason.
pub fn choose<'a>(lights: &'a Lights, asked: &LightRequirement) -> Result<LightChoice<'a>, NoLight> {
    let mut passed_over = Vec::new();
    for light in &lights.lights {
        let reasons = against(light, asked);
        if reasons.is_empty() {
            return Ok(LightChoice { light, passed_over });
        }
        passed_over.push((light, reasons));
    }
    Err(NoLight { passed_over: passed_over.into_iter().map(|(l, why)| (l.id.clone(), why)).collect() })
}

/// Lays tape along an edge with the fewest feeds: fed at one end where that reaches, at both where that does,
/// else divided into the fewest tapes that reach, each fed at both ends only where the tape gains by it.
#[must_use]
pub fn lay(light: &Light, id: &str, length_mm: Millimetres, least_radius_mm: Option<Millimetres>) -> LitEdge {
    let length_m = length_mm.get() / 1000.0;
    let (one, both) = (light.largest_run(false).get(), light.largest_run(true).get());
    // A hundredth of a millimetre is no reason for another feed.
    let tapes = |run: f64| ((length_m - 1e-5) / run).ceil().clamp(1.0, f64::from(u32::MAX)) as u32;
    let (feed, tapes) =
        if tapes(one) <= tapes(both) { (Feed::OneEnd, tapes(one)) } else { (Feed::BothEnds, tapes(both)) };
    LitEdge { id: id.into(), length_mm, least_radius_mm, feed, tapes, piece: 0 }
}

/// Into how many more tapes an edge is divided for the sake of its drop.
const MORE_TAPES: u32 = 2;

/// Ways to lay the same edges with less drop along their tapes, the smallest change first: the long ones fed at both
/// ends, then divided into one more tape, and so on.
#[must_use]
pub(crate) fn lay_with_less_drop(light: &Light, edges: &[LitEdge]) -> Vec<Vec<LitEdge>> {
    let tape_mm = |edge: &LitEdge| edge.length_mm.get() / f64::from(edge.tapes.max(1));
    let longest = edges.iter().map(tape_mm).fold(0.0, f64::max);
    let with = |more: u32, feed: Option<Feed>| -> Vec<LitEdge> {
        let change = |edge: &LitEdge| match tape_mm(edge) * 2.0 > longest {
            true => LitEdge { tapes: edge.tapes + more, feed: feed.unwrap_or(edge.feed), ..edge.clone() },
            false => edge.clone(),
        };
        edges.iter().map(change).collect()
    };
    // A tape shorter than its cut interval is none.
    let long_enough =
        |way: &Vec<LitEdge>| way.iter().all(|edge| tape_mm(edge) >= light.cut_interval_mm.get());
    let ways = (0..=MORE_TAPES).flat_map(|more| [with(more, None), with(more, Some(Feed::BothEnds))]);
    ways.filter(|way| way != edges && long_enough(way)).collect()
}
