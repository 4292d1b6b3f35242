//! A sketch of where each driver stands: how far its panels and its controller are along the wire, and what the place is
//! like. The further away, the longer the line; it is drawn to no scale.

use super::super::canvas::{Anchor, Canvas, Reading};
use super::super::ink::{LEADING, LineStyle, SMALL, SMALL_BOLD};
use super::super::lettering::{fitted, printable, wrapped};
use super::super::paper::Area;
use super::amounts::{length, metres};
use super::input::PackInput;
use crate::job::pack::data::{CircuitData, DriverData, LeadData, PackData, SupplyData};
use crate::job::pack::words::led_to;
use crate::shape::Point;
use crate::units::{DisplayUnits, trimmed};

/// Width of a driver's box and of a panel's, and the shortest line between them, in millimetres.
const DRIVER_MM: f64 = 56.0;
const PANEL_MM: f64 = 50.0;
const SHORTEST_MM: f64 = 40.0;
/// Height of a panel's box with the space below it, and of the heading, in millimetres.
const PANEL_HEIGHT_MM: f64 = 14.0;
const BETWEEN_MM: f64 = 3.0;
const TOP_MM: f64 = 7.0;
/// As many leads as one sketch shows; a driver with more has a second.
const MOST_LEADS: usize = 10;
const LINE_MM: f64 = LEADING * SMALL.size_mm;

/// A driver with the leads that go out from it.
#[derive(Clone, Debug)]
pub(super) struct DriverPlace {
    /// What stands above it.
    title: String,
    /// What is said of the place.
    says: Vec<String>,
    /// Each lead: what is said on its line, the panel's name, and what is said of the panel.
    leads: Vec<PlacedLead>,
    /// The longest way of all drivers of the job, micrometres.
    longest_um: i64,
}

#[derive(Clone, Debug)]
struct PlacedLead {
    on_line: String,
    panel: String,
    says: Vec<String>,
    /// From driver to panel, and of it to the controller, micrometres.
    way_um: i64,
    to_control: Option<(String, i64)>,
}

/// The sketches of a job, one for each driver, or more where it has many leads.
pub(super) fn places(input: &PackInput<'_>) -> Vec<DriverPlace> {
    let data = input.data;
    let to_control = |circuit: &CircuitData| circuit.to_control.as_ref().map_or(0, |to| to.length_um);
    let ways = data.circuits.iter().flat_map(|c| c.leads.iter().map(move |l| l.length_um + to_control(c)));
    let longest_um = ways.max().unwrap_or(1).max(1);
    let mut all = Vec::new();
    for driver in &data.drivers {
        let circuits = data.circuits.iter().filter(|circuit| circuit.driver == driver.number);
        let leads: Vec<PlacedLead> =
            circuits.clone().flat_map(|c| c.leads.iter().map(move |lead| placed(input, c, lead))).collect();
        let zone = circuits.clone().find_map(|c| c.zone.clone());
        let first = circuits
            .flat_map(|c| &c.leads)
            .next()
            .and_then(|lead| data.panels.iter().find(|p| p.id == lead.panel));
        let Some(supply) = first.map(|panel| &panel.supply) else { continue };
        for (at, leads) in leads.chunks(MOST_LEADS).enumerate() {
            let more = if at > 0 { " (continued)" } else { "" };
            let zone = zone.as_ref().map_or_else(String::new, |zone| format!(", zone {zone}"));
            all.push(DriverPlace {
                title: format!("Driver {}{zone}{more}", driver.number),
                says: of_driver(data, driver, supply, input.units),
                leads: leads.to_vec(),
                longest_um,
            });
        }
    }
    all
}

/// What is said of a driver's place.
fn of_driver(data: &PackData, driver: &DriverData, supply: &SupplyData, units: DisplayUnits) -> Vec<String> {
    let place = match supply.location.as_str() {
        "in-wall-box" => "in a box in the wall",
        _ => "remote: air round it, and a way to reach it",
    };
    let case = driver.case_um.map(|um| trimmed(um as f64 / 1000.0, 0)).join(" × ");
    let taken = if supply.recorded { "" } else { " (not recorded: taken)" };
    let mut says = vec![
        driver.model.name.clone(),
        format!("{place}{taken}"),
        format!("{} place; {case} mm", supply.place),
    ];
    says.extend(
        supply.space_um.map(|sides| format!("space {}", sides.map(|um| length(um, units)).join(" × "))),
    );
    let times = data.times(driver.number);
    if times > 1 {
        says.push(format!("{times} times, once for each alike"));
    }
    says.push("which cupboard or box: ………".into());
    says
}

fn placed(input: &PackInput<'_>, circuit: &CircuitData, lead: &LeadData) -> PlacedLead {
    let control = circuit.control.as_ref().filter(|control| control.at == "after-driver");
    let to_control = control
        .zip(circuit.to_control.as_ref())
        .map(|(control, to)| (format!("{} at {}", control.label, metres(to.length_um)), to.length_um));
    let slack = match lead.slack_um {
        0 => String::new(),
        um => format!(" + {} loose", metres(um)),
    };
    let beside = match (&control, &to_control) {
        (Some(control), None) => format!(", {} beside the driver", control.label),
        _ => String::new(),
    };
    let panel = input.data.panels.iter().find(|panel| panel.id == lead.panel);
    let title = input.heading.panel_titles.iter().find(|(id, _)| *id == lead.panel).map(|(_, title)| title);
    let mut says: Vec<String> =
        title.into_iter().filter(|title| !title.eq_ignore_ascii_case(&lead.panel)).cloned().collect();
    says.extend(panel.map(|panel| {
        let mm = |um: i64| trimmed(um as f64 / 1000.0, 0);
        format!("{} × {} mm, {} place", mm(panel.width_um), mm(panel.height_um), panel.place)
    }));
    PlacedLead {
        on_line: format!("{}  {}{slack}{beside}", lead.run, metres(lead.length_um)),
        panel: led_to(lead).replacen("panel", "Panel", 1),
        says,
        way_um: lead.length_um + to_control.as_ref().map_or(0, |(_, um)| *um),
        to_control,
    }
}

impl DriverPlace {
    fn driver_lines(&self) -> Vec<String> {
        self.says.iter().flat_map(|line| wrapped(&printable(line), SMALL, DRIVER_MM - 3.0)).collect()
    }

    fn body_mm(&self) -> f64 {
        let leads = self.leads.len() as f64 * (PANEL_HEIGHT_MM + BETWEEN_MM) - BETWEEN_MM;
        leads.max(3.0 + self.driver_lines().len() as f64 * LINE_MM)
    }

    /// How high it stands.
    pub(super) fn height_mm(&self) -> f64 {
        TOP_MM + self.body_mm() + 5.0
    }

    /// Draws it with its upper left corner there.
    pub(super) fn draw(&self, canvas: &mut Canvas, left: f64, top: f64, width: f64) {
        let at = Point::new(left, top + 4.0);
        canvas.write(&printable(&self.title), at, Anchor::Start, SMALL_BOLD, Reading::Level);
        let top = top + TOP_MM;
        let driver = Area::new(left, top, DRIVER_MM, self.body_mm());
        canvas.rectangle(driver, LineStyle::Outline);
        text(canvas, &self.driver_lines(), Point::new(left + 1.5, top + 3.8));
        let room = width - DRIVER_MM - PANEL_MM;
        for (i, lead) in self.leads.iter().enumerate() {
            let y = top + i as f64 * (PANEL_HEIGHT_MM + BETWEEN_MM);
            let share = lead.way_um as f64 / self.longest_um as f64;
            let x = driver.right + SHORTEST_MM + (room - SHORTEST_MM) * share;
            lead.draw(canvas, driver.right, x, y);
        }
    }
}

impl PlacedLead {
    fn draw(&self, canvas: &mut Canvas, from: f64, to: f64, top: f64) {
        canvas.rectangle(Area::new(to, top, PANEL_MM, PANEL_HEIGHT_MM), LineStyle::Outline);
        let at = Point::new(to + 1.5, top + 3.8);
        canvas.write(&printable(&self.panel), at, Anchor::Start, SMALL_BOLD, Reading::Level);
        let says: Vec<String> = self
            .says
            .iter()
            .flat_map(|line| wrapped(&printable(line), SMALL, PANEL_MM - 3.0))
            .take(3)
            .collect();
        text(canvas, &says, Point::new(to + 1.5, top + 3.8 + LINE_MM));
        let y = top + 6.5;
        canvas.line(Point::new(from, y), Point::new(to, y), LineStyle::Narrow);
        if let Some(set) = fitted(&printable(&self.on_line), SMALL, 1.5, to - from - 2.0, LINE_MM) {
            let at = Point::new(from + 1.0, y - 1.0);
            canvas.write(&set.lines.join(" "), at, Anchor::Start, set.lettering, Reading::Level);
        }
        if let Some((label, um)) = &self.to_control {
            let share = *um as f64 / self.way_um.max(1) as f64;
            let x = from + (to - from) * share;
            canvas.disc(Point::new(x, y), 1.0);
            // Below the line, and inside its ends however near the control is to one of them.
            let at = Point::new(from + 1.0, y + 3.4);
            canvas.write(&printable(label), at, Anchor::Start, SMALL, Reading::Level);
        }
    }
}

fn text(canvas: &mut Canvas, lines: &[String], at: Point) {
    for (i, line) in lines.iter().enumerate() {
        canvas.write(line, Point::new(at.x, at.y + LINE_MM * i as f64), Anchor::Start, SMALL, Reading::Level);
    }
}
