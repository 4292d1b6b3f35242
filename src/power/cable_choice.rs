//! Which cable of the shop's stock a run takes: the smallest that keeps drop, current, marking and protection in order.
//!
//! All legs of a run are in one size; a leg may use a cable with more conductors than it needs. Heat is
//! judged by the current that the cable's supplier allows, as the shop recorded it; grouping, ambient
//! temperature and the code's own rules remain with the licensed person.

use std::fmt;

use super::class2;
use super::conductor::Conductor;
use super::protection::{CableEnds, Protection, ProtectionAgainst, Source, protect};
use super::vocabulary::CodeRegion;
use super::wire_run::{Leg, Run, SizeRow, WireFault};
use super::wire_stock::{Cable, WireStock};
use crate::units::{Amperes, Metres, trimmed};

/// What is asked of the cable of a run besides its drop.
#[derive(Clone, Debug, PartialEq)]
pub struct CableNeeds {
    /// True where the wiring must be Class 2, and so the cable marked for it.
    pub class2: bool,
    /// The code that is named for the site: in its words it is said why a cable does not do.
    pub region: Option<CodeRegion>,
    /// What the run begins at and where each of its legs runs; none where protection is not asked about.
    pub protected: Option<(Source, Vec<CableEnds>)>,
}

impl CableNeeds {
    /// Nothing but marking.
    #[must_use]
    pub fn marking(class2: bool) -> CableNeeds {
        CableNeeds { class2, region: None, protected: None }
    }
}

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
    /// The wiring is Class 2 and no cable of this size is marked for it; with the code that is named for the site.
    NotMarkedClass2(Option<CodeRegion>),
    /// The output is not listed Class 2 and every cable of this size is marked for Class 2 wiring only; with that code.
    ForClass2Only(Option<CodeRegion>),
    /// Nothing protects it; with that code.
    Protection(ProtectionAgainst, Option<CodeRegion>),
}

impl fmt::Display for CableAgainst {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Drop { drop_pct, largest_pct, longest_m } => write!(
                f,
                "it drops {} % with the tape, the limit is {} %; it reaches {}",
                trimmed(*drop_pct, 2),
                trimmed(*largest_pct, 2),
                longest_m.both()
            ),
            Self::Current { conductor_a, allowed_a } => {
                write!(f, "one conductor would carry {conductor_a}, its supplier allows {allowed_a}")
            }
            Self::Conductors { needed } => write!(f, "the stock has none with {needed} conductors"),
            Self::NotMarkedClass2(region) => write!(f, "it is not marked for {}", class2::wiring(*region)),
            Self::ForClass2Only(region) => write!(
                f,
                "it is marked for {} only, and the output is not {} (where its jacket says more, record it as \
                 `general_type`)",
                class2::wiring(*region),
                class2::listed(*region)
            ),
            Self::Protection(why, region) => f.write_str(&why.in_words(*region)),
        }
    }
}

/// The cable for a run.
#[derive(Clone, Debug, PartialEq)]
pub struct CableChoice<'a> {
    /// The cable of each leg.
    pub cables: Vec<&'a Cable>,
    /// What protects each leg.
    pub protection: Vec<Protection>,
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
    pub(crate) fn remedy(&self) -> String {
        match self {
            Self::Run(fault) => fault.remedy(),
            Self::NoneFits { .. } => {
                "bring the driver nearer, divide the circuit, or add a cable to shop/wire.json".into()
            }
        }
    }
}

/// The size that comes nearest: with the fewest reasons besides its drop, then the least drop.
fn nearest(passed_over: &[(String, Vec<CableAgainst>)]) -> Option<&(String, Vec<CableAgainst>)> {
    let other = |reasons: &[CableAgainst]| {
        reasons.iter().filter(|why| !matches!(why, CableAgainst::Drop { .. })).count()
    };
    let drop = |reasons: &[CableAgainst]| {
        let pct = |why: &CableAgainst| match why {
            CableAgainst::Drop { drop_pct, .. } => Some(*drop_pct),
            _ => None,
        };
        reasons.iter().find_map(pct).unwrap_or(0.0)
    };
    passed_over.iter().min_by(|(_, a), (_, b)| other(a).cmp(&other(b)).then(drop(a).total_cmp(&drop(b))))
}

impl fmt::Display for CableFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Run(fault) => fault.fmt(f),
            Self::NoneFits { passed_over } => {
                f.write_str("no cable of the shop's stock suits the run")?;
                let Some((size, reasons)) = nearest(passed_over) else { return Ok(()) };
                let reasons: Vec<String> = reasons.iter().map(ToString::to_string).collect();
                write!(f, "; nearest is {size}: {}", reasons.join("; "))
            }
        }
    }
}

impl std::error::Error for CableFault {}

/// Chooses the smallest suitable size of the stock for a run.
///
/// # Errors
/// A run that makes no sense, or no cable that suits, with every reason.
pub fn choose<'a>(
    stock: &'a WireStock,
    run: &Run,
    needs: &CableNeeds,
) -> Result<CableChoice<'a>, CableFault> {
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
        match of_size(stock, run, conductor, &row, needs) {
            Ok((cables, protection)) => {
                return Ok(CableChoice { cables, protection, size: row, passed_over });
            }
            Err(reasons) => passed_over.push((conductor.size().into(), reasons)),
        }
    }
    Err(CableFault::NoneFits { passed_over })
}

/// A cable of one size for every leg with what protects it, or every reason against the size.
fn of_size<'a>(
    stock: &'a WireStock,
    run: &Run,
    conductor: Conductor,
    row: &SizeRow,
    needs: &CableNeeds,
) -> Result<(Vec<&'a Cable>, Vec<Protection>), Vec<CableAgainst>> {
    let mut against = Vec::new();
    if !row.within_limit {
        against.push(CableAgainst::Drop {
            drop_pct: row.drop_pct,
            largest_pct: run.largest_drop_pct,
            longest_m: row.longest_m,
        });
    }
    let mut cables = Vec::new();
    let mut protections: Vec<Protection> = Vec::new();
    for (at, leg) in run.legs.iter().enumerate() {
        let before = needs.protected.as_ref().map(|(source, ends)| {
            let source = protections.last().map_or(*source, |before| before.as_source(*source));
            let fused = protections.last().is_some_and(|before| before.fuse().is_some());
            (source, ends.get(at).or(ends.last()).copied(), fused)
        });
        match of_leg(stock, conductor, leg, needs, before) {
            Ok((cable, protection)) => {
                cables.push(cable);
                protections.push(protection);
            }
            Err(reason) if !against.contains(&reason) => against.push(reason),
            Err(_) => {}
        }
    }
    if against.is_empty() { Ok((cables, protections)) } else { Err(against) }
}

/// The cable of one size for a leg, with the fewest conductors, and what protects it.
fn of_leg<'a>(
    stock: &'a WireStock,
    conductor: Conductor,
    leg: &Leg,
    needs: &CableNeeds,
    before: Option<(Source, Option<CableEnds>, bool)>,
) -> Result<(&'a Cable, Protection), CableAgainst> {
    let narrow = |from: Vec<&'a Cable>, keep: &dyn Fn(&Cable) -> bool, reason: CableAgainst| {
        let kept: Vec<&Cable> = from.into_iter().filter(|c| keep(c)).collect();
        if kept.is_empty() { Err(reason) } else { Ok(kept) }
    };
    let of_size: Vec<&Cable> =
        stock.cables.iter().filter(|c| c.table == conductor.table() && c.size == conductor.size()).collect();
    let enough = narrow(
        of_size,
        &|c| c.conductors as usize >= leg.conductors(),
        CableAgainst::Conductors { needed: leg.conductors() },
    )?;
    let (class2, region) = (needs.class2, needs.region);
    let not_marked = CableAgainst::NotMarkedClass2(region);
    let marked = narrow(enough, &|c| !class2 || c.class2_type.is_some(), not_marked)?;
    let not_listed = before.is_some_and(|(source, ..)| !source.listed_class2);
    let only = CableAgainst::ForClass2Only(region);
    let allowed = narrow(marked, &|c| !(not_listed && c.is_for_class2_only()), only)?;
    let most = allowed.iter().map(|c| c.conductor_a.get()).fold(0.0, f64::max);
    let mut carries = narrow(
        allowed,
        &|c| leg.common_a().get() <= c.conductor_a.get() * (1.0 + 1e-9),
        CableAgainst::Current { conductor_a: leg.common_a(), allowed_a: Amperes(most) },
    )?;
    carries.sort_by_key(|c| c.conductors);
    let Some((source, Some(ends), fused)) = before else { return Ok((carries[0], Protection::Nothing)) };
    let mut reason = None;
    for cable in carries {
        match protect(stock, cable, leg.conductors(), leg.common_a(), source, ends, fused) {
            Ok(protection) => return Ok((cable, protection)),
            Err(why) => reason = reason.or(Some(why)),
        }
    }
    Err(match reason {
        Some(why) => CableAgainst::Protection(why, region),
        None => CableAgainst::ForClass2Only(region),
    })
}
