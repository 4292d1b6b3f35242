//! What the data say of a panel: its sizes, its sheets, its light and power, and how it is served.

use serde::Serialize;

use super::ItemData;

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
