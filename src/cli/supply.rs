//! Where the driver and the control of a panel stand, as `plan` takes it.

use crate::fault::Fault;
use crate::model::panel::{Panel, Supply};
use crate::power::vocabulary::{Location, Place};
use crate::size::Sides;
use crate::units::{Metres, Millimetres};

/// Where driver and control stand. Named once, it is kept in the panel's record.
#[derive(Clone, Debug, Default, clap::Args)]
pub(crate) struct SupplyArgs {
    /// Where the driver is put: in-wall-box or remote.
    #[arg(long, value_name = "WHERE")]
    driver_at: Option<Location>,
    /// How wet the driver's place is: dry, damp or wet.
    #[arg(long, value_name = "PLACE")]
    driver_place: Option<Place>,
    /// Free space for one driver, its three sides with their units: 250mmx80mmx60mm.
    #[arg(long, value_name = "SIDES")]
    driver_space: Option<Sides>,
    /// Whether the low-voltage side must be wired as Class 2: yes or no.
    #[arg(long, value_name = "YES/NO", value_parser = yes_or_no)]
    class2_wiring: Option<bool>,
    /// How far it is from driver to controller, one way along the wire; 0mm beside it.
    #[arg(long, value_name = "LENGTH")]
    controller_length: Option<Millimetres>,
    /// How wet the place of the controller or in-line dimmer is, where it is not the driver's.
    #[arg(long, value_name = "PLACE")]
    control_place: Option<Place>,
}

fn yes_or_no(text: &str) -> Result<bool, String> {
    match text {
        "yes" => Ok(true),
        "no" => Ok(false),
        _ => Err(format!("`{text}` is neither yes nor no")),
    }
}

impl SupplyArgs {
    /// True where something of it was named.
    pub(crate) fn named(&self) -> bool {
        self.driver_at.is_some()
            || self.driver_place.is_some()
            || self.driver_space.is_some()
            || self.class2_wiring.is_some()
            || self.controller_length.is_some()
            || self.control_place.is_some()
    }

    /// The panel with what was named in its record.
    ///
    /// # Errors
    /// `supply-incomplete` where the record does not say yet where the driver stands and how wet that is.
    pub(crate) fn put_into(&self, panel: &Panel) -> Result<Panel, Fault> {
        if !self.named() {
            return Ok(panel.clone());
        }
        let known = panel.supply.as_ref();
        let location = self.driver_at.or(known.map(|s| s.location));
        let place = self.driver_place.or(known.map(|s| s.place));
        let (Some(location), Some(place)) = (location, place) else {
            return Err(Fault::usage(
                "supply-incomplete",
                format!("where the driver of panel {} stands is not said in full", panel.id),
            )
            .fix("name both: --driver-at in-wall-box|remote --driver-place dry|damp|wet"));
        };
        let before = known.cloned().unwrap_or_else(Supply::taken);
        let controller_m = match self.controller_length {
            None => before.controller_m,
            Some(length) => (length.0 > 0.0).then_some(Metres(length.0 / 1000.0)),
        };
        let supply = Supply {
            location,
            place,
            space_mm: self.driver_space.map(|sides| sides.0).or(before.space_mm),
            class2_wiring: self.class2_wiring.or(before.class2_wiring),
            controller_m,
            controller_place: self.control_place.or(before.controller_place),
        };
        Ok(Panel { supply: Some(supply), ..panel.clone() })
    }
}
