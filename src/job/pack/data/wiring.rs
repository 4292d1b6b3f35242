//! What the data say of drivers, of the outputs in use, and of all that hangs on them.

use serde::Serialize;

use super::ItemData;

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
