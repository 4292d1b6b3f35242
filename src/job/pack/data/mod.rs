//! What a pack's data are: whole numbers and short words, so that one job has one digest on every machine.
//!
//! Every length is in micrometres, every power in milliwatts; the unit stands in the name. Names that people
//! may change without changing what is built, dates and signatures are no part of it. Nor are sentences: cautions,
//! bases and what is taken for granted are keys with their figures, so that better words change no digest.

mod panel;
mod stone;
mod wiring;

pub use panel::{
    BendData, ChannelData, EdgeData, EtchingData, LuminanceData, PanelData, PowerData, ServiceData,
    SheetData, SizeData, SizesData, SupplyData, TapeData,
};
pub use stone::{MeasuredData, MeasuredFrom, StoneData};
pub use wiring::{
    BreakerData, CableData, CircuitData, ConductorData, ControlData, DriverData, JointData, LeadData,
    ProtectionData, ToControlData,
};

use serde::Serialize;

use super::notes::{Assumption, Basis};
use crate::job::cautions::Caution;
use crate::power::vocabulary::CodeRegion;

/// The form of the data, stepped when a field changes its meaning.
///
/// Form 3: a drop is one sum from driver to the darkest place of a tape, slack included; pieces have leads of their own;
/// cables name what protects them; masses are those of the sheets that are there, piece by piece. Form 4: how bright a
/// stone is rests on the lux pairs of its trials too, on spectra and on photos, and each is named. Form 5: at a thickness that
/// was not measured the stone's surfaces count. A release that was
/// sealed in an earlier form stands for the moves made on it; to build by it today the engineer signs the release anew.
pub(crate) const FORMAT: i64 = 5;

/// Everything that is built, powered and installed, as the release seals it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PackData {
    /// [`FORMAT`].
    pub format: i64,
    /// The book's short name.
    pub book: String,
    /// The project's short name.
    pub project: String,
    /// The release group that all of it is of; left out for the whole job.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub group: Option<String>,
    /// Where it is built in.
    pub site: SiteData,
    /// The panels, by name.
    pub panels: Vec<PanelData>,
    /// The drivers, by their numbers in the job.
    pub drivers: Vec<DriverData>,
    /// The driver outputs in use.
    pub circuits: Vec<CircuitData>,
    /// What to buy, without waste.
    pub bill: Vec<BillData>,
    /// The stones that panels use, by name.
    pub stones: Vec<StoneData>,
    /// What the sums rest on.
    pub bases: Vec<Basis>,
    /// What the sums take for granted.
    pub assumptions: Vec<Assumption>,
    /// What can hurt somebody.
    pub cautions: Vec<Caution>,
}

/// Where the job is built in.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SiteData {
    /// What the place is called.
    pub name: String,
    /// Where it is.
    pub address: Option<String>,
    /// The electrical code that governs there.
    pub electrical_code: Option<String>,
    /// The mains voltage there, in thousandths; none where it is not recorded.
    pub mains_mv: Option<i64>,
    /// The family of codes, in whose words the pack speaks; no part of what is sealed here.
    #[serde(skip)]
    pub code_region: Option<CodeRegion>,
}

impl PackData {
    /// How many times a driver and all that hangs on it are built: once for each panel that is alike.
    #[must_use]
    pub(crate) fn times(&self, driver: i64) -> i64 {
        let of_driver = |circuit: &&CircuitData| circuit.driver == driver;
        let lead = self.circuits.iter().find(of_driver).and_then(|circuit| circuit.leads.first());
        let panel = lead.and_then(|lead| self.panels.iter().find(|panel| panel.id == lead.panel));
        panel.map_or(1, PanelData::count)
    }
}

/// A thing of the shop's lists.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ItemData {
    /// Its short name.
    pub id: String,
    /// Its name for people.
    pub name: String,
}

/// One line of what to buy.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BillData {
    /// `tape`, `driver`, `controller`, `dimmer`, `cable`, `fuse`, `light-guide`, `diffuser`, `reflector` or `connector`.
    pub what: String,
    /// The thing.
    pub item: ItemData,
    /// How much, in thousandths of the unit.
    pub quantity_thousandths: i64,
    /// `pieces`, `m` or `m2`.
    pub unit: String,
    /// The panel that a sheet is for; none for what panels share.
    pub panel: Option<String>,
}
