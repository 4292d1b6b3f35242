//! Which cable of the shop's stock a run takes: the smallest that keeps drop, current and marking in order.
//!
//! All legs of a run are in one size; a leg may use a cable with more conductors than it needs. Heat is
//! judged by the current that the cable's supplier allows, as the shop recorded it; grouping, ambient
//! temperature and the code's own rules remain with the licensed person.

use std::fmt;

use super::conductor::Conductor;
use super::wire_run::{Run, SizeRow, WireFault};
use super::wire_stock::{Cable, WireStock};
use crate::units::{Amperes, Metres, trimmed};

/// Why a size of the stock was passed over.
#[derive(Clone, Debug, PartialEq)]
pub enum CableAgainst {
    /// The drop is above the limit.
    Drop {
        /// The drop, percent.
        drop_pct: f64,
        /// The limit, percent.
        largest_pct: f64,
        /// How long the run may be in this size, metres one way.
        longest_m: Metres,
    },
    /// A conductor would carry more than the supplier allows.
    Current {
        /// The largest current of a conductor, the common's as a rule, amperes.
        conductor_a: Amperes,
        /// What the supplier allows, amperes.
        allowed_a: Amperes,
    },
    /// The stock has it with fewer conductors only.
    Conductors {
        /// How many are needed.
        needed: usize,
    },
    /// The wiring is Class 2 and no cable of this size is marked for it.
    NotMarkedClass2,
}

impl CableAgainst {
    /// A stable name for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::Drop { .. } => "drop",
            Self::Current { .. } => "current",
            Self::Conductors { .. } => "conductors",
            Self::NotMarkedClass2 => "not-marked-class2",
        }
    }
}

impl fmt::Display for CableAgainst {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Drop { drop_pct, largest_pct, longest_m } => write!(
                f,
                "it drops {} %, the limit is {} %; it reaches {} m",
                trimmed(*drop_pct, 2),
                trimmed(*largest_pct, 2),
                trimmed(longest_m.get(), 1)
            ),
            Self::Current { conductor_a, allowed_a } => {
                write!(f, "one conductor would carry {conductor_a}, its supplier allows {allowed_a}")
            }
            Self::Conductors { needed } => write!(f, "the stock has none with {needed} conductors"),
            Self::NotMarkedClass2 => f.write_str("it is not marked for Class 2 wiring"),
        }
    }
}

/// The cable for a run.
#[derive(Clone, Debug, PartialEq)]
pub struct CableChoice<'a> {
    /// The cable of each leg.
    pub cables: Vec<&'a Cable>,
    /// The drop in that size.
    pub size: SizeRow,
    /// The sizes passed over, from thin to thick: name and every reason.
    pub passed_over: Vec<(String, Vec<CableAgainst>)>,
}

/// Why no cable was chosen.
#[derive(Clone, Debug, PartialEq)]
pub enum CableFault {
    /// The run itself makes no sense.
    Run(WireFault),
    /// No cable of the stock does.
    NoneFits {
        /// Every size of the stock, from thin to thick, with every reason against it.
        passed_over: Vec<(String, Vec<CableAgainst>)>,
    },
}

impl CableFault {
    /// A stable name for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::Run(fault) => fault.code(),
            Self::NoneFits { .. } => "wire-none-fits",
        }
    }

    /// What to do about it.
    #[must_use]
    pub fn remedy(&self) -> String {
        match self {
            Self::Run(fault) => fault.remedy(),
            Self::NoneFits { passed_over } => match passed_over.last() {
                None => "add cables to shop/wire.json".into(),
                Some((size, reasons)) => {
                    let reasons: Vec<String> = reasons.iter().map(ToString::to_string).collect();
                    format!(
                        "bring the driver nearer, divide the circuit, or add a cable to shop/wire.json; \
                         thickest in stock is {size}: {}",
                        reasons.join("; ")
                    )
                }
            },
        }
    }
}

impl fmt::Display for CableFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Run(fault) => fault.fmt(f),
            Self::NoneFits { .. } => f.write_str("no cable of the shop's stock suits the run"),
        }
    }
}

impl std::error::Error for CableFault {}

/// Chooses the smallest suitable size of the stock for a run; `class2` asks for cable marked for Class 2 wiring.
///
/// # Errors
/// A run that makes no sense, or no cable that suits, with every reason.
pub fn choose<'a>(stock: &'a WireStock, run: &Run, class2: bool) -> Result<CableChoice<'a>, CableFault> {
    let mut sizes: Vec<Conductor> = Vec::new();
    for cable in &stock.cables {
        if let Some(conductor) = Conductor::find(cable.table, &cable.size)
            && !sizes.contains(&conductor)
        {
            sizes.push(conductor);
        }
    }
    sizes.sort_by(|a, b| b.ohm_per_m_at(run.conductor_c).total_cmp(&a.ohm_per_m_at(run.conductor_c)));
    let mut passed_over = Vec::new();
    for conductor in sizes {
        let row = run.judge(conductor).map_err(CableFault::Run)?;
        match of_size(stock, run, conductor, &row, class2) {
            Ok(cables) => return Ok(CableChoice { cables, size: row, passed_over }),
            Err(reasons) => passed_over.push((conductor.size().into(), reasons)),
        }
    }
    Err(CableFault::NoneFits { passed_over })
}

/// A cable of one size for every leg, or every reason against the size.
fn of_size<'a>(
    stock: &'a WireStock,
    run: &Run,
    conductor: Conductor,
    row: &SizeRow,
    class2: bool,
) -> Result<Vec<&'a Cable>, Vec<CableAgainst>> {
    let mut against = Vec::new();
    if !row.within_limit {
        against.push(CableAgainst::Drop {
            drop_pct: row.drop_pct,
            largest_pct: run.largest_drop_pct,
            longest_m: row.longest_m,
        });
    }
    let mut cables = Vec::new();
    for leg in &run.legs {
        let enough: Vec<&Cable> = stock
            .cables
            .iter()
            .filter(|c| c.table == conductor.table() && c.size == conductor.size())
            .filter(|c| c.conductors as usize >= leg.conductors())
            .collect();
        let marked: Vec<&Cable> =
            enough.iter().copied().filter(|c| !class2 || c.class2_type.is_some()).collect();
        let carries: Vec<&Cable> = marked
            .iter()
            .copied()
            .filter(|c| leg.common_a().get() <= c.conductor_a.get() * (1.0 + 1e-9))
            .collect();
        let reason = if enough.is_empty() {
            CableAgainst::Conductors { needed: leg.conductors() }
        } else if marked.is_empty() {
            CableAgainst::NotMarkedClass2
        } else if let Some(cable) = carries.iter().copied().min_by_key(|c| c.conductors) {
            cables.push(cable);
            continue;
        } else {
            let allowed = marked.iter().map(|c| c.conductor_a.get()).fold(0.0, f64::max);
            CableAgainst::Current { conductor_a: leg.common_a(), allowed_a: Amperes(allowed) }
        };
        if !against.contains(&reason) {
            against.push(reason);
        }
    }
    if against.is_empty() { Ok(cables) } else { Err(against) }
}
