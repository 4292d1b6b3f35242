//! The options of `panel` for how a panel is bent, etched, fitted and fed.

use crate::fault::Fault;
use crate::model::panel::{Bend, BendAxis, MOST_ALIKE, Panel, Position};
use crate::shape::Outline;
use crate::units::Millimetres;

/// A fact that can be taken out of a panel's record again.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum Taken {
    /// How it is bent.
    Bent,
    /// What is etched.
    Etching,
    /// How its face stands.
    Position,
    /// Which edge is up.
    UpEdge,
    /// Where the lead leaves.
    LeadEdge,
    /// Which way the veins run.
    Veins,
    /// How many are alike.
    Quantity,
}

/// How a panel is bent, etched, fitted and fed.
#[derive(Debug, clap::Args)]
pub(crate) struct FactArgs {
    /// The finished panel is bent to this radius; its outline is drawn flat. A bent panel needs a signed rendering.
    #[arg(long, value_name = "RADIUS")]
    bent: Option<Millimetres>,
    /// Which way the axis of the bend runs on the drawing: upright or level; upright by default.
    #[arg(long, value_name = "AXIS", requires = "bent")]
    bend_axis: Option<BendAxis>,
    /// What is etched into the face, in words. An etched panel needs a signed rendering.
    #[arg(long, value_name = "TEXT")]
    etching: Option<String>,
    /// How the face stands once fitted: upright, level (a table or vanity top) or overhead.
    #[arg(long)]
    position: Option<Position>,
    /// The number of the edge that is up once fitted.
    #[arg(long, value_name = "EDGE")]
    up_edge: Option<u32>,
    /// The number of the edge at which the lead leaves.
    #[arg(long, value_name = "EDGE")]
    lead_edge: Option<u32>,
    /// The direction of the stone's veins, in degrees counter-clockwise from the outline's x axis.
    #[arg(long, value_name = "DEGREES", allow_hyphen_values = true)]
    veins: Option<f64>,
    /// How many are alike, each with drivers, controls and wiring of its own: one drawing, one choice and one release
    /// for all of them.
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u32).range(1..=i64::from(MOST_ALIKE)))]
    quantity: Option<u32>,
    /// Take facts out again: bent, etching, position, up-edge, lead-edge, veins, quantity.
    #[arg(long, value_name = "FACT", value_delimiter = ',')]
    without: Vec<Taken>,
}

impl FactArgs {
    /// Puts what is given into a panel's record; `outline` is its drawing as it will be, where that is known.
    pub(crate) fn put_into(&self, panel: &mut Panel, outline: Option<&Outline>) -> Result<(), Fault> {
        for fact in &self.without {
            match fact {
                Taken::Bent => panel.bent = None,
                Taken::Etching => panel.etching = None,
                Taken::Position => panel.position = None,
                Taken::UpEdge => panel.up_edge = None,
                Taken::LeadEdge => panel.lead_edge = None,
                Taken::Veins => panel.vein_deg = None,
                Taken::Quantity => panel.quantity = None,
            }
        }
        if let Some(quantity) = self.quantity {
            panel.quantity = (quantity > 1).then_some(quantity);
        }
        if let Some(radius_mm) = self.bent {
            panel.bent = Some(Bend { radius_mm, axis: self.bend_axis.unwrap_or(BendAxis::Upright) });
        }
        if self.etching.is_some() {
            panel.etching.clone_from(&self.etching);
        } else if panel.etching.is_none()
            && !self.without.contains(&Taken::Etching)
            && outline.is_some_and(|o| !o.etchings.is_empty())
        {
            panel.etching = Some("the lines of the drawing".into());
        }
        panel.position = self.position.or(panel.position);
        let count = outline.map(|o| crate::shape::edges(&o.outer).len());
        for (given, place) in [(self.up_edge, &mut panel.up_edge), (self.lead_edge, &mut panel.lead_edge)] {
            let Some(number) = given else { continue };
            if let Some(count) = count.filter(|count| number == 0 || number as usize > *count) {
                return Err(Fault::usage("unknown-edge", format!("the outline has no edge {number}"))
                    .fix(format!("its edges are numbered 1 to {count}")));
            }
            *place = Some(number);
        }
        if let Some(degrees) = self.veins {
            if !degrees.is_finite() {
                return Err(Fault::usage("vein-direction", "the direction of the veins is not a number")
                    .fix("give degrees from 0 up to 180, such as 45"));
            }
            panel.vein_deg = Some(degrees.rem_euclid(180.0));
        }
        Ok(())
    }
}
