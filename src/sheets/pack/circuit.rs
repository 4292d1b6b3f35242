//! The circuit diagram of one driver output: mains, driver, control, each conductor of each lead, panel.
//!
//! Drawn from the data alone; which lengths, currents and sizes are right was decided before.

use super::super::canvas::{Anchor, Canvas, Reading, number};
use super::super::ink::{CELL_HEADING, LEADING, Lettering, LineStyle, SMALL, SMALL_BOLD};
use super::super::lettering::{fitted, printable, wrapped};
use super::super::paper::Area;
use super::amounts::{amperes, metres, permille, permyriad, volts, watts};
use super::control_wiring::lines_of;
use crate::job::pack::data::{CircuitData, ControlData, DriverData, LeadData, TapeData};
use crate::job::pack::words::{class2, led_to, protection};
use crate::power::control_line::{ControlLine, in_words};
use crate::power::vocabulary::CodeRegion;
use crate::shape::Point;

/// From one conductor to the next, in millimetres.
const STEP_MM: f64 = 6.0;
/// From one line of text to the next, in millimetres.
const LINE_MM: f64 = LEADING * SMALL.size_mm;
/// Space above the first conductor of a lead, where its cable is named, in millimetres.
const LEAD_HEAD_MM: f64 = 20.0;
/// Space between two leads, in millimetres.
const BETWEEN_MM: f64 = 4.0;
/// Height of the heading, in millimetres.
const TOP_MM: f64 = 7.0;
/// Width of the mains stub, of a box before the driver, of the driver, of a control after it, and of a panel.
const MAINS_MM: f64 = 13.0;
const BEFORE_MM: f64 = 29.0;
const DRIVER_MM: f64 = 36.0;
const CONTROL_MM: f64 = 32.0;
const PANEL_MM: f64 = 42.0;
/// From one conductor of a control line to the next, and what a line takes of its controller's height.
const LED_STEP_MM: f64 = 2.8;
const LED_MM: f64 = 4.0 * LED_STEP_MM + 2.0;
/// Between boxes that stand beside one another.
const GAP_MM: f64 = 9.0;

/// A lead with the tapes that it feeds.
#[derive(Clone, Debug)]
pub(super) struct DrawnLead {
    /// The lead.
    pub(super) lead: LeadData,
    /// Its tapes.
    pub(super) tapes: Vec<TapeData>,
    /// What stands under the panel's name: light and voltage.
    pub(super) light: String,
}

/// One driver output with all that hangs on it.
#[derive(Clone, Debug)]
pub(super) struct Diagram {
    /// How many times it is wired so: once for each panel that is alike.
    pub(super) times: i64,
    /// The family of codes, in whose words it speaks.
    pub(super) region: Option<CodeRegion>,
    /// The output.
    pub(super) circuit: CircuitData,
    /// The wired lines that lead its controller, each with what is set there.
    pub(super) led: Vec<(ControlLine, String)>,
    /// Its driver.
    pub(super) driver: DriverData,
    /// The leads to draw.
    pub(super) leads: Vec<DrawnLead>,
    /// True where earlier leads of this output stand on another page.
    pub(super) continued: bool,
    /// The other drivers that the same dimmer leads.
    pub(super) also_leads: Vec<i64>,
    /// True where the driver's mains side is drawn with another of its outputs.
    pub(super) mains_elsewhere: bool,
}

/// Where the parts stand across the page.
struct Columns {
    before: Option<f64>,
    driver: f64,
    control: Option<f64>,
    /// From where the leads start, and where the panels stand.
    cable: (f64, f64),
}

impl Diagram {
    fn after_driver(&self) -> Option<&ControlData> {
        self.circuit.control.as_ref().filter(|c| c.at == "after-driver")
    }

    fn before_driver(&self) -> Option<&ControlData> {
        self.circuit.control.as_ref().filter(|c| c.at != "after-driver")
    }

    fn columns(&self, left: f64, width: f64) -> Columns {
        let mut x = left + MAINS_MM;
        let before = self.before_driver().map(|_| {
            let at = x;
            x += BEFORE_MM + GAP_MM;
            at
        });
        let driver = x;
        x += DRIVER_MM;
        let control = self.after_driver().map(|_| {
            let at = x + GAP_MM;
            x = at + CONTROL_MM;
            at
        });
        Columns { before, driver, control, cable: (x, left + width - PANEL_MM) }
    }

    fn tape_lines(lead: &DrawnLead) -> Vec<String> {
        let each = |t: &TapeData| {
            let ends = if t.fed_ends == 2 { ", fed at both ends" } else { "" };
            format!("tape {}: edge {}, {}{ends}", t.number, t.edge, metres(t.length_um))
        };
        lead.tapes.iter().flat_map(|t| wrapped(&printable(&each(t)), SMALL, PANEL_MM - 12.0)).collect()
    }

    /// What stands under the panel's name.
    fn light_lines(lead: &DrawnLead) -> Vec<String> {
        wrapped(&printable(&lead.light), SMALL, PANEL_MM - 3.0)
    }

    /// How far below its panel's upper edge the first tape of a lead is named, in millimetres.
    fn tapes_mm(lead: &DrawnLead) -> f64 {
        9.2 + Self::light_lines(lead).len() as f64 * LINE_MM
    }

    fn lead_mm(lead: &DrawnLead) -> f64 {
        let conductors = LEAD_HEAD_MM + lead.lead.conductors.len() as f64 * STEP_MM - STEP_MM / 2.0;
        let tapes = Self::tapes_mm(lead) + (Self::tape_lines(lead).len() as f64 - 0.5) * LINE_MM + 2.0;
        conductors.max(tapes)
    }

    fn driver_lines(&self) -> Vec<String> {
        let (c, d) = (&self.circuit, &self.driver);
        let mut lines = vec![
            d.model.name.clone(),
            d.model.id.clone(),
            format!("output {} of {}: {} DC", c.output, d.outputs, volts(d.output_mv)),
            format!("{} of {}", watts(c.load_mw), watts(d.output_rating_mw)),
            format!("{}, at most {}", permille(c.share_permille), permille(c.largest_share_permille)),
            amperes(c.current_ma),
            class2(&d.class2, self.region),
        ];
        if self.times > 1 {
            lines.insert(0, format!("WIRED SO {} TIMES, once for each", self.times));
        }
        lines.iter().flat_map(|line| wrapped(&printable(line), SMALL, DRIVER_MM - 10.0)).collect()
    }

    fn control_lines(control: &ControlData, width: f64) -> Vec<String> {
        let mut lines = vec![control.model.name.clone(), control.model.id.clone(), in_words(&control.how)];
        if let (Some(channel), Some(total)) = (control.channel_ma, control.total_ma) {
            lines.push(format!("{} a channel", amperes(channel)));
            lines.push(format!("{} in all", amperes(total)));
        }
        if !control.untried.is_empty() {
            lines.push(format!("not tried with {}: try first", control.untried.join(", ")));
        }
        lines.iter().flat_map(|line| wrapped(&printable(line), SMALL, width)).collect()
    }

    fn body_mm(&self) -> f64 {
        let leads: f64 = self.leads.iter().map(|l| Self::lead_mm(l) + BETWEEN_MM).sum();
        let mut least = 8.0 + self.driver_lines().len() as f64 * LINE_MM;
        if let Some(control) = self.after_driver() {
            let lines = Self::control_lines(control, CONTROL_MM - 12.0).len();
            least = least.max(22.0 + lines as f64 * LINE_MM + self.led.len() as f64 * LED_MM + 2.0);
        }
        if let Some(control) = self.before_driver() {
            let lines = Self::control_lines(control, BEFORE_MM - 3.0).len();
            least = least.max(26.0 + (lines + 2) as f64 * LINE_MM);
        }
        leads.max(least)
    }

    /// How high it stands.
    pub(super) fn height_mm(&self, _width: f64) -> f64 {
        TOP_MM + self.body_mm() + 6.0
    }

    /// As many leads as a page holds, and the rest.
    pub(super) fn fitting(self, width: f64, height: f64) -> (Diagram, Option<Diagram>) {
        let mut count = self.leads.len();
        while count > 1
            && (Diagram { leads: self.leads[..count].to_vec(), ..self.clone() }).height_mm(width) > height
        {
            count -= 1;
        }
        let rest = self.leads[count..].to_vec();
        let later = (!rest.is_empty()).then(|| Diagram {
            leads: rest,
            continued: true,
            mains_elsewhere: true,
            ..self.clone()
        });
        (Diagram { leads: self.leads[..count].to_vec(), ..self }, later)
    }

    /// Draws it with its upper left corner there.
    pub(super) fn draw(&self, canvas: &mut Canvas, left: f64, top: f64, width: f64) {
        let c = &self.circuit;
        let more = if self.continued { " (continued)" } else { "" };
        let zone = c.zone.as_ref().map_or_else(String::new, |zone| format!(", zone {zone}"));
        let title = format!("Driver {}, output {}{zone}{more}", c.driver, c.output);
        canvas.open(&format!(
            "circuit-{}-{}{}",
            c.driver,
            c.output,
            if self.continued { "-more" } else { "" }
        ));
        let at = Point::new(left, top + 4.0);
        canvas.write(&title, at, Anchor::Start, SMALL_BOLD, Reading::Level);
        let columns = self.columns(left, width);
        let top = top + TOP_MM;
        let bottom = top + self.body_mm();
        let driver = Area { left: columns.driver, top, right: columns.driver + DRIVER_MM, bottom };
        canvas.rectangle(driver, LineStyle::Outline);
        name(canvas, &format!("Driver {}", c.driver), driver);
        lines(canvas, &self.driver_lines(), Point::new(driver.left + 1.5, driver.top + 8.0));
        self.mains(canvas, left, driver, columns.before);
        let from = match (columns.control, self.after_driver()) {
            (Some(x), Some(control)) => {
                let area = Area { left: x, top, right: x + CONTROL_MM, bottom };
                self.control_after(canvas, control, driver, area);
                area
            }
            _ => driver,
        };
        let mut y = top;
        for lead in &self.leads {
            self.lead(canvas, lead, y, columns.cable, from);
            y += Self::lead_mm(lead) + BETWEEN_MM;
        }
        canvas.close();
    }

    fn mains(&self, canvas: &mut Canvas, left: f64, driver: Area, before: Option<f64>) {
        if self.mains_elsewhere {
            let room = driver.left - left - 2.0;
            let text = wrapped("mains side: see this driver's first drawing", CELL_HEADING, room);
            for (i, line) in text.iter().enumerate() {
                let at = Point::new(left, driver.top + 6.0 + 2.7 * i as f64);
                canvas.write(line, at, Anchor::Start, CELL_HEADING, Reading::Level);
            }
            return;
        }
        let control = self.before_driver();
        for (i, mark) in ["L", "N", "PE"].iter().enumerate() {
            let y = driver.top + 6.0 + 4.5 * i as f64;
            canvas.write(mark, Point::new(left, y + 0.9), Anchor::Start, SMALL, Reading::Level);
            canvas.disc(Point::new(left + 6.0, y), 0.6);
            let through = control.filter(|c| i == 0 && c.at == "mains-side").and(before);
            match through {
                Some(x) => {
                    canvas.line(Point::new(left + 6.0, y), Point::new(x, y), LineStyle::Narrow);
                    canvas.line(Point::new(x + BEFORE_MM, y), Point::new(driver.left, y), LineStyle::Narrow);
                }
                None => canvas.line(Point::new(left + 6.0, y), Point::new(driver.left, y), LineStyle::Narrow),
            }
        }
        let (Some(control), Some(x)) = (control, before) else { return };
        let mut text = Self::control_lines(control, BEFORE_MM - 3.0);
        if !self.also_leads.is_empty() {
            let others: Vec<String> = self.also_leads.iter().map(ToString::to_string).collect();
            text.extend(wrapped(&format!("leads driver {} too", others.join(", ")), SMALL, BEFORE_MM - 3.0));
        }
        // The dimmer stands in the live wire; a control pair has a box of its own below the mains.
        let (top, label) = match control.at.as_str() {
            "mains-side" => (driver.top + 3.5, None),
            _ => (driver.top + 20.0, Some("control pair")),
        };
        if label.is_none() {
            let narrow = Area::new(x, top, BEFORE_MM, 5.0);
            canvas.rectangle(narrow, LineStyle::Outline);
            let at = Point::new((narrow.left + narrow.right) / 2.0, narrow.top + 3.5);
            canvas.write(
                &format!("Dimmer {}", control.label),
                at,
                Anchor::Middle,
                SMALL_BOLD,
                Reading::Level,
            );
            lines(canvas, &text, Point::new(x, driver.top + 23.0));
            return;
        }
        let area = Area::new(x, top, BEFORE_MM, 7.0 + text.len() as f64 * LINE_MM);
        canvas.rectangle(area, LineStyle::Outline);
        name(canvas, &format!("Control {}", control.label), area);
        lines(canvas, &text, Point::new(area.left + 1.5, area.top + 8.0));
        let marks: &[&str] = lines_of(control).first().map_or(&["", ""], |line| line.terminals());
        for (i, mark) in marks.iter().enumerate() {
            let y = area.top + 3.5 + 3.4 * i as f64;
            canvas.line(Point::new(area.right, y), Point::new(driver.left, y), LineStyle::Narrow);
            let at = Point::new((area.right + driver.left) / 2.0, y - 0.6);
            canvas.write(mark, at, Anchor::Middle, CELL_HEADING, Reading::Level);
        }
    }

    /// The control after the driver, and the two wires between them.
    fn control_after(&self, canvas: &mut Canvas, control: &ControlData, driver: Area, area: Area) {
        canvas.rectangle(area, LineStyle::Outline);
        let what = if control.what == "controller" { "Controller" } else { "Dimmer" };
        name(canvas, &format!("{what} {}", control.label), area);
        for (i, mark) in ["+", "−"].iter().enumerate() {
            let y = area.top + 9.5 + STEP_MM * i as f64;
            canvas.line(Point::new(driver.right, y), Point::new(area.left, y), LineStyle::Outline);
            let common = i == usize::from(!self.circuit.common_positive);
            if common && self.circuit.to_control.as_ref().is_some_and(|to| to.protection.fuse.is_some()) {
                fuse(canvas, Point::new((driver.right + area.left) / 2.0, y));
            }
            canvas.disc(Point::new(driver.right, y), 0.8);
            canvas.disc(Point::new(area.left, y), 0.8);
            canvas.write(
                mark,
                Point::new(driver.right - 1.8, y + 0.9),
                Anchor::End,
                SMALL_BOLD,
                Reading::Level,
            );
            canvas.write(
                mark,
                Point::new(area.left + 1.8, y + 0.9),
                Anchor::Start,
                SMALL_BOLD,
                Reading::Level,
            );
        }
        if let Some(to) = &self.circuit.to_control {
            let said = [to.cable.item.id.clone(), metres(to.length_um)]
                .into_iter()
                .chain(to.protection.fuse.as_ref().map(|fuse| fuse.id.clone()))
                .collect::<Vec<_>>();
            for (i, line) in said.iter().enumerate() {
                let at = Point::new((driver.right + area.left) / 2.0, area.top + 18.0 + 2.7 * i as f64);
                if let Some(set) = fitted(&printable(line), CELL_HEADING, 1.0, GAP_MM - 0.6, 2.7) {
                    canvas.write(&set.lines.join(" "), at, Anchor::Middle, set.lettering, Reading::Level);
                }
            }
        }
        let middle = Point::new((driver.right + area.left) / 2.0, area.top + 7.8);
        canvas.write(&amperes(self.circuit.current_ma), middle, Anchor::Middle, CELL_HEADING, Reading::Level);
        let text = Self::control_lines(control, CONTROL_MM - 12.0);
        lines(canvas, &text, Point::new(area.left + 1.5, area.top + 22.0));
        let mut y = area.top + 22.0 + text.len() as f64 * LINE_MM + 2.0;
        for (line, set) in &self.led {
            self.led_by(canvas, *line, set, area, y);
            y += LED_MM;
        }
    }

    /// The conductors of a control line as they come to a controller, with their terminals and what is set there.
    fn led_by(&self, canvas: &mut Canvas, line: ControlLine, set: &str, area: Area, top: f64) {
        let name = in_words(line.word());
        for (i, terminal) in line.terminals().iter().enumerate() {
            let y = top + LED_STEP_MM * i as f64;
            canvas.line(Point::new(area.left - 5.0, y), Point::new(area.left, y), LineStyle::Narrow);
            canvas.disc(Point::new(area.left, y), 0.6);
            let at = Point::new(area.left + 1.5, y + 0.8);
            canvas.write(terminal, at, Anchor::Start, CELL_HEADING, Reading::Level);
        }
        let at = Point::new(area.left - 0.8, top - 1.0);
        canvas.write(&name, at, Anchor::End, CELL_HEADING, Reading::Level);
        let below = top + LED_STEP_MM * line.terminals().len() as f64 + 0.6;
        let at = Point::new(area.left + 1.5, below);
        canvas.write(&printable(set), at, Anchor::Start, CELL_HEADING, Reading::Level);
    }

    fn lead(&self, canvas: &mut Canvas, drawn: &DrawnLead, top: f64, (left, right): (f64, f64), from: Area) {
        let lead = &drawn.lead;
        let bottom = top + Self::lead_mm(drawn);
        let panel = Area { left: right, top, right: right + PANEL_MM, bottom };
        canvas.rectangle(panel, LineStyle::Outline);
        let to = led_to(lead);
        name(canvas, &to.replacen("panel", "Panel", 1), panel);
        lines(canvas, &Self::light_lines(drawn), Point::new(panel.left + 1.5, top + 8.0));
        lines(canvas, &Self::tape_lines(drawn), Point::new(panel.left + 10.5, top + Self::tapes_mm(drawn)));
        let spare = lead.cable.conductors - lead.conductors.len() as i64;
        let mut head = vec![
            format!("{}  {}, {}", lead.run, lead.cable.item.id, lead.cable.size),
            format!(
                "{}, drop with tape {} ({})",
                metres(lead.length_um),
                volts(lead.drop_mv),
                permyriad(lead.drop_permyriad)
            ),
            protection(&lead.protection, self.region),
        ];
        if lead.far_um > 0 {
            head.push(format!("{} on to the far ends", metres(lead.far_um)));
        }
        if spare > 0 {
            head.push(format!("{spare} spare: insulate both ends"));
        }
        let middle = (left + right) / 2.0;
        for (i, line) in head.iter().enumerate() {
            let bold = if i == 0 { SMALL_BOLD } else { SMALL };
            if let Some(set) = fitted(&printable(line), bold, 1.7, right - left - 2.0, LINE_MM * 1.01) {
                let at = Point::new(middle, top + 2.6 + LINE_MM * i as f64);
                canvas.write(&set.lines.join(" "), at, Anchor::Middle, set.lettering, Reading::Level);
            }
        }
        let first = top + LEAD_HEAD_MM;
        for (i, conductor) in lead.conductors.iter().enumerate() {
            let y = first + STEP_MM * i as f64;
            let (a, b) = (Point::new(left, y), Point::new(right, y));
            canvas.line(a, b, LineStyle::Outline);
            canvas.disc(a, 0.8);
            canvas.disc(b, 0.8);
            if i == 0 && lead.protection.fuse.is_some() {
                fuse(canvas, Point::new(left + 12.0, y));
            }
            let terminal = self.terminal(i, &conductor.mark);
            canvas.write(
                &terminal,
                Point::new(from.right - 1.8, y + 0.9),
                Anchor::End,
                SMALL_BOLD,
                Reading::Level,
            );
            canvas.write(
                &conductor.mark,
                Point::new(right + 1.8, y + 0.9),
                Anchor::Start,
                SMALL_BOLD,
                Reading::Level,
            );
            let label = format!("{}, {}", conductor.carries, amperes(conductor.current_ma));
            canvas.write(
                &printable(&label),
                Point::new(middle, y - 0.9),
                Anchor::Middle,
                SMALL,
                Reading::Level,
            );
        }
        // The sheath round the conductors, near either end.
        let (above, below) = (first - 2.5, first + STEP_MM * (lead.conductors.len() as f64 - 1.0) + 1.5);
        for x in [left + 4.0, right - 4.0] {
            let radius = (below - above) / 2.0;
            let data = format!(
                "M{x} {a}A1.3 {r} 0 0 1 {x} {b}A1.3 {r} 0 0 1 {x} {a}Z",
                x = number(x),
                a = number(above),
                b = number(below),
                r = number(radius)
            );
            canvas.path(&data, LineStyle::Narrow);
        }
    }

    /// What the terminal is called from which a conductor leaves: a controller names its channels, a driver and
    /// an in-line dimmer have a plus and a minus.
    fn terminal(&self, at: usize, mark: &str) -> String {
        let controller = self.after_driver().is_some_and(|c| c.what == "controller");
        let (common, other) = if self.circuit.common_positive { ("+", "−") } else { ("−", "+") };
        match (at, controller) {
            (0, _) => common.into(),
            (_, true) => mark.into(),
            (_, false) => other.into(),
        }
    }
}

/// A fuse in a conductor: a box on the line (IEC 60617-7, from memory).
fn fuse(canvas: &mut Canvas, middle: Point) {
    canvas.rectangle(Area::new(middle.x - 3.0, middle.y - 1.2, 6.0, 2.4), LineStyle::Outline);
}

fn name(canvas: &mut Canvas, text: &str, area: Area) {
    if let Some(set) = fitted(&printable(text), SMALL_BOLD, 1.7, area.width() - 3.0, 4.2) {
        let at = Point::new(area.left + 1.5, area.top + 3.8);
        canvas.write(&set.lines.join(" "), at, Anchor::Start, set.lettering, Reading::Level);
    }
}

fn lines(canvas: &mut Canvas, text: &[String], at: Point) {
    let small: Lettering = SMALL;
    for (i, line) in text.iter().enumerate() {
        canvas.write(line, Point::new(at.x, at.y + LINE_MM * i as f64), Anchor::Start, small, Reading::Level);
    }
}
