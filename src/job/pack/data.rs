//! What a pack's data are: whole numbers and short words, so that one job has one digest on every machine.
//!
//! Every length is in micrometres, every power in milliwatts; the unit stands in the name. Names that people
//! may change without changing what is built, dates and signatures are no part of it. Nor are sentences: cautions,
//! bases and what is taken for granted are keys with their figures, so that better words change no digest.

use serde::Serialize;

use super::notes::{Assumption, Basis};
use crate::job::cautions::Caution;
use crate::job::masses::DensityFrom;
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

/// One panel.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PanelData {
    /// Its name.
    pub id: String,
    /// How many are alike, each with drivers, controls and wiring of its own; left out for one. All else is of one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub quantity: Option<i64>,
    /// Where they go, in the order of their serial numbers; left out where no release group says.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub rooms: Vec<String>,
    /// Its sizes from the stone in, where its record says what lies between them: all else is of the light guide.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sizes: Option<SizesData>,
    /// How it is bent, where its record says how it is formed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bend: Option<BendData>,
    /// What it bears as a floor, and whose word that is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub floor: Option<String>,
    /// What is etched into its face, where its record says how deep.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub etching: Option<EtchingData>,
    /// The digest of its outline's file.
    pub outline_sha256: String,
    /// Its shape in plain words.
    pub shape: String,
    /// Width of the upright box round it.
    pub width_um: i64,
    /// Height of the upright box round it.
    pub height_um: i64,
    /// Longer side of the smallest rectangle round it.
    pub long_um: i64,
    /// Shorter side of the smallest rectangle round it.
    pub short_um: i64,
    /// Area net of cut-outs.
    pub area_mm2: i64,
    /// Length of all that is cut.
    pub cut_length_um: i64,
    /// How many cut-outs.
    pub cutouts: i64,
    /// The least radius of an inward curve; none where there is none.
    pub least_inside_radius_um: Option<i64>,
    /// The edges of the outline.
    pub edges: Vec<EdgeData>,
    /// Butted pieces; 1 where it is whole.
    pub pieces: i64,
    /// The swatch of its stone.
    pub swatch: String,
    /// How wet its place is.
    pub place: String,
    /// What its light can do.
    pub light: Option<String>,
    /// The colour temperature chosen.
    pub cct_k: Option<i64>,
    /// The face towards the stone.
    pub face: Option<String>,
    /// How it is held.
    pub mount: Option<String>,
    /// How it is opened for service, in words; left out where that is not chosen.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub opening: Option<String>,
    /// The control, by its name in the shop's list.
    pub control: Option<String>,
    /// The supply voltage of the tape that was chosen.
    pub chosen_mv: Option<i64>,
    /// Where its driver and control stand.
    pub supply: SupplyData,
    /// The route that builds it.
    pub route: Option<ItemData>,
    /// The sheets that it is made up of, from the back to the face; empty where its route lists none.
    pub sheets: Vec<SheetData>,
    /// Mass of the panel with its sheets and frame, all pieces together.
    pub mass_g: Option<i64>,
    /// Mass of each piece, in order; one where it is whole.
    pub piece_mass_g: Vec<i64>,
    /// True where that is of the sheets that its route lists; false as if it were solid acrylic.
    pub mass_of_sheets: bool,
    /// Mass of the stone in front of it, at the most.
    pub stone_mass_g: Option<i64>,
    /// The same at the least.
    pub stone_least_mass_g: Option<i64>,
    /// Its light and power; none where they are not worked out.
    pub power: Option<PowerData>,
    /// What serving it takes; none while its mount is not chosen.
    pub service: Option<ServiceData>,
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

impl PanelData {
    /// How many of it are built.
    #[must_use]
    pub(crate) fn count(&self) -> i64 {
        self.quantity.unwrap_or(1)
    }
}

/// How a panel is bent; its outline is flat.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BendData {
    /// How it is formed: `cold` or `heat`.
    pub formed: String,
    /// The way of the axis on the drawing: `upright` or `level`.
    pub axis: String,
    /// The radius of the face.
    pub radius_um: i64,
    /// How far round it goes, in thousandths of a degree.
    pub turn_mdeg: i64,
    /// From end to end in a straight line.
    pub chord_um: i64,
    /// From there to the crown.
    pub rise_um: i64,
    /// Which way its face looks: `hollow` or `bulging`; left out where nobody says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub face: Option<String>,
}

/// What is etched into a face.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EtchingData {
    /// What it is, in words.
    pub words: String,
    /// How deep.
    pub depth_um: i64,
    /// Length of all its lines.
    pub length_um: i64,
}

/// The sizes of a panel that lie within each other.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SizesData {
    /// Which of them the drawing is.
    pub outline_is: String,
    /// Each, from the outermost in.
    pub each: Vec<SizeData>,
    /// The room that the panel has to grow by, across it, in all.
    pub room_um: i64,
    /// How far its longest piece grows and shrinks.
    pub movement_um: i64,
}

/// One size of a panel.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SizeData {
    /// Which: `stone-edge`, `clear-opening`, `finished-panel` or `light-guide`.
    pub id: String,
    /// Width of the upright box round it.
    pub width_um: i64,
    /// Height of the upright box round it.
    pub height_um: i64,
    /// Its area, net of cut-outs.
    pub area_mm2: i64,
}

/// Where the driver and the control of a panel stand.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SupplyData {
    /// True where the panel's record says so; false where it is what is taken without one.
    pub recorded: bool,
    /// Where the driver is put.
    pub location: String,
    /// How wet that place is.
    pub place: String,
    /// Free space for one driver; none where there is enough.
    pub space_um: Option<[i64; 3]>,
    /// True where the low-voltage side must be wired as Class 2.
    pub class2_wiring: bool,
    /// How wet the place of the controller or in-line dimmer is.
    pub control_place: String,
}

/// One sheet of a panel.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SheetData {
    /// What it does.
    pub what: String,
    /// The sheet.
    pub item: ItemData,
    /// Its thickness.
    pub thickness_um: i64,
    /// Its area, net of cut-outs.
    pub area_mm2: i64,
}

/// A thing of the shop's lists.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ItemData {
    /// Its short name.
    pub id: String,
    /// Its name for people.
    pub name: String,
}

/// One edge of an outline.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EdgeData {
    /// Its number.
    pub number: i64,
    /// How it runs.
    pub kind: String,
    /// Its length.
    pub length_um: i64,
    /// The least radius along it.
    pub least_radius_um: Option<i64>,
    /// True where it carries tape.
    pub lit: bool,
}

/// The light and power of one panel.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PowerData {
    /// The tape.
    pub tape: ItemData,
    /// Where the tape's figures come from.
    pub basis: String,
    /// Nominal voltage of the tape.
    pub voltage_mv: i64,
    /// The tape's cut interval.
    pub cut_interval_um: i64,
    /// Colour rendering index of its white, in tenths.
    pub cri_tenths: Option<i64>,
    /// All tapes, edge by edge.
    pub tapes: Vec<TapeData>,
    /// Length of all tapes.
    pub tape_um: i64,
    /// The channels at full.
    pub channels: Vec<ChannelData>,
    /// Power with all channels full.
    pub power_mw: i64,
    /// Light that leaves the bare face with all channels full.
    pub exitance_lm_m2: i64,
    /// Luminance through the stone with all channels full; none where the stone was not measured.
    pub luminance: Option<LuminanceData>,
    /// Depth without stone or air gap.
    pub depth_um: i64,
    /// Conductors of the panel's lead.
    pub conductors: i64,
    /// From driver or control to panel, one way.
    pub feed_um: i64,
    /// Cable left loose behind the panel, or behind the piece whose lead drops most.
    pub slack_um: i64,
    /// The largest drop from driver to the darkest place of a tape.
    pub drop_mv: i64,
    /// The part of it along the tape.
    pub tape_drop_mv: i64,
}

/// One tape.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TapeData {
    /// Its number in the panel, from 1.
    pub number: i64,
    /// The edge that it lies on.
    pub edge: String,
    /// Its length, cut to the cut interval.
    pub length_um: i64,
    /// How many ends are fed.
    pub fed_ends: i64,
    /// Power with all channels full.
    pub power_mw: i64,
    /// The drop along it at its worst point, with the cable to its far end where that is fed too; none where the shop does
    /// not state its resistance.
    pub drop_mv: Option<i64>,
    /// How much of the edge stays dark because tape ends at a cut mark.
    pub dark_um: i64,
}

/// One channel of a panel.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ChannelData {
    /// What it is.
    pub name: String,
    /// The mark at its pad.
    pub mark: String,
    /// Power at full.
    pub power_mw: i64,
    /// Current at full.
    pub current_ma: i64,
    /// Light of the bare tape.
    pub lumens: i64,
    /// Light that leaves the face.
    pub exitance_lm_m2: i64,
}

/// Luminance of the stone.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LuminanceData {
    /// The least that the measurements allow.
    pub low_mcd_m2: i64,
    /// The most that they allow.
    pub high_mcd_m2: i64,
    /// Of how many thicknesses measured.
    pub thicknesses: i64,
}

/// What serving a panel takes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ServiceData {
    /// From where: `tray-end`, `face` or `none`.
    pub access: String,
    /// Free space on that side.
    pub clearance_um: i64,
    /// Cable left loose behind the panel.
    pub cable_slack_um: i64,
    /// The mass of the heaviest single thing to be moved.
    pub heaviest_g: i64,
    /// The least that its lift takes: `people-1`, `people-2` or `gear`.
    pub lift: String,
}

/// One driver of the job.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DriverData {
    /// Its number in the job, from 1.
    pub number: i64,
    /// Its model.
    pub model: ItemData,
    /// Nominal output voltage.
    pub output_mv: i64,
    /// Rating of the whole driver.
    pub rating_mw: i64,
    /// How many outputs it has.
    pub outputs: i64,
    /// Rating of one output.
    pub output_rating_mw: i64,
    /// What may be said of an output and Class 2: `listed`, `listed-yet-exceeds`, `exceeds`, `does-not-exceed` or
    /// `no-limit-held`.
    pub class2: String,
    /// True where an output may be wired as Class 2.
    pub wired_as_class2: bool,
    /// All load on it.
    pub load_mw: i64,
    /// Lowest mains voltage.
    pub mains_least_v: i64,
    /// Highest mains voltage.
    pub mains_most_v: i64,
    /// Mains current at full load and lowest voltage.
    pub mains_ma: i64,
    /// Its current in the moment it is switched on; left out where its data sheet does not say.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inrush_ma: Option<i64>,
    /// How long that is above its half.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inrush_half_us: Option<i64>,
    /// The most of its model on one breaker, by breaker.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub breakers: Vec<BreakerData>,
    /// The wettest place it is rated for.
    pub place: String,
    /// Its case, length by width by height.
    pub case_um: [i64; 3],
    /// Business days from ordering it to having it.
    pub lead_business_days: i64,
}

/// The most drivers of a model on one breaker.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BreakerData {
    /// The breaker by its curve and rating.
    pub breaker: String,
    /// The most drivers.
    pub most: i64,
}

/// One driver output with all that hangs on it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CircuitData {
    /// The driver's number.
    pub driver: i64,
    /// The output, from 1.
    pub output: i64,
    /// The zone that it is controlled with; left out where all of one control are one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub zone: Option<String>,
    /// The load.
    pub load_mw: i64,
    /// The load's current.
    pub current_ma: i64,
    /// The load in thousandths of the output's rating.
    pub share_permille: i64,
    /// The largest share that the shop allows, in thousandths.
    pub largest_share_permille: i64,
    /// True where the common of tape and controller is the positive rail.
    pub common_positive: bool,
    /// What controls or dims it; none where it is only switched.
    pub control: Option<ControlData>,
    /// The cable from driver to controller; none where the controller stands beside it or there is none.
    pub to_control: Option<ToControlData>,
    /// The leads from it.
    pub leads: Vec<LeadData>,
}

/// A controller or a dimmer on a circuit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ControlData {
    /// Its number in the job: `C1`, `D1`. Circuits that share a dimmer name the same one.
    pub label: String,
    /// Its model.
    pub model: ItemData,
    /// `controller` or `dimmer`.
    pub what: String,
    /// Where it sits: `after-driver`, `mains-side` or `control-pair`.
    pub at: String,
    /// How it dims, or how people reach it.
    pub how: String,
    /// The lowest level to which it dims, in thousandths; left out where its data sheet does not say.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lowest_permille: Option<i64>,
    /// How often the light is switched; left out where its data sheet does not say.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pwm_hz: Option<i64>,
    /// The standard by which it is led; left out where there is none, or neither of the two above is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub standard: Option<String>,
    /// The wettest place it is rated for.
    pub place: String,
    /// Largest current of one channel; none for a dimmer.
    pub channel_ma: Option<i64>,
    /// Largest current in all; none for a dimmer.
    pub total_ma: Option<i64>,
    /// Drivers of the job that it has not been tried with.
    pub untried: Vec<String>,
}

/// The cable between a driver and its controller.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ToControlData {
    /// The cable.
    pub cable: CableData,
    /// One way.
    pub length_um: i64,
    /// What protects it.
    pub protection: ProtectionData,
}

/// What protects a cable.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ProtectionData {
    /// `listed-output`, `limited-output`, `fuse`, `fuse-before` or `nothing`.
    pub by: String,
    /// The fuse that stands where the cable begins, in the conductor that all channels share.
    pub fuse: Option<ItemData>,
    /// The rating of the fuse, or the limit of the output.
    pub limit_ma: Option<i64>,
}

/// One lead, from an output or its controller to a panel.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LeadData {
    /// Its number in the job: `W1`.
    pub run: String,
    /// The panel.
    pub panel: String,
    /// The piece of a split panel, from 1; 0 where it is whole.
    pub piece: i64,
    /// The tapes that it feeds, by number in the panel.
    pub tapes: Vec<i64>,
    /// Its load.
    pub power_mw: i64,
    /// Its conductors, the common first.
    pub conductors: Vec<ConductorData>,
    /// The cable.
    pub cable: CableData,
    /// One way.
    pub length_um: i64,
    /// Left loose behind the panel.
    pub slack_um: i64,
    /// The same cable on within the panel to the far ends of tapes that are fed at both.
    pub far_um: i64,
    /// What protects it.
    pub protection: ProtectionData,
    /// The drop from driver to the darkest place of its tapes.
    pub drop_mv: i64,
    /// The part of it along the tape.
    pub tape_drop_mv: i64,
    /// The whole drop in hundredths of a percent of the nominal voltage.
    pub drop_permyriad: i64,
    /// The largest drop that the shop plans for, in hundredths of a percent.
    pub largest_drop_permyriad: i64,
    /// How far it may be to the panel in this cable, one way, with all else as it is.
    pub longest_um: i64,
    /// What joins it, from the source on.
    pub joints: Vec<JointData>,
}

/// One joint of a lead.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct JointData {
    /// The end: `at-source` or `at-panel`.
    pub at: String,
    /// How many conductors it joins.
    pub conductors: i64,
    /// What joins them; none where the shop lists nothing that suits.
    pub connector: Option<ItemData>,
}

/// One conductor of a lead.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ConductorData {
    /// The mark at the pad.
    pub mark: String,
    /// What it carries: `common`, or the channel's name.
    pub carries: String,
    /// Largest current.
    pub current_ma: i64,
}

/// A cable.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CableData {
    /// The cable of the shop's list.
    pub item: ItemData,
    /// Its size by its table.
    pub size: String,
    /// How many conductors it has.
    pub conductors: i64,
    /// The largest current of one conductor that its supplier allows.
    pub conductor_ma: i64,
    /// The Class 2 marking on its jacket.
    pub class2_type: Option<String>,
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

/// A stone that panels use.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StoneData {
    /// The swatch.
    pub swatch: String,
    /// What the stone is called.
    pub stone: String,
    /// What it is.
    pub material: String,
    /// The lot or bundle.
    pub lot: Option<String>,
    /// Its surface.
    pub finish: Option<String>,
    /// Thickness of the swatch.
    pub swatch_thickness_um: i64,
    /// Thickness of the slab.
    pub slab_thickness_um: i64,
    /// Its density, at the most.
    pub density_kg_m3: i64,
    /// The same at the least.
    pub density_least_kg_m3: i64,
    /// Where that comes from.
    pub density_from: DensityFrom,
    /// What was measured on the swatch.
    pub measured: Vec<MeasuredData>,
    /// The panels that it covers.
    pub panels: Vec<String>,
}

/// Where a measurement was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum MeasuredFrom {
    /// On the swatch.
    Swatch,
    /// In a trial over a test panel.
    Trial,
}

/// One measurement of a swatch.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MeasuredData {
    /// Where it was made.
    pub from: MeasuredFrom,
    /// Its short name.
    pub id: String,
    /// The day.
    pub date: String,
    /// Thickness of the measured piece.
    pub thickness_um: i64,
    /// Bare lux, in thousandths.
    pub bare_mlx: Option<i64>,
    /// Lux through the stone, in thousandths.
    pub through_mlx: Option<i64>,
    /// The digest of its spectral file.
    pub spectrum_sha256: Option<String>,
    /// The digest of its photo.
    pub photo_sha256: Option<String>,
    /// The digest of the photo of the chart that told what its camera does to colours. Sealed only where there is one, so
    /// that packs of before stay as they were signed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chart_sha256: Option<String>,
    /// The digest of the table of linear values that stands in place of a photo; sealed likewise.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub values_sha256: Option<String>,
}
