//! Which control line goes where: from the desk, the wall or the building system to each controller and driver, terminal by
//! terminal, and what is set there.
//!
//! The start addresses of DMX are a proposal: zone after zone, so many as a controller has channels in use.

use super::super::tables::{Column, Table};
use crate::job::pack::data::{CircuitData, ControlData, PackData};
use crate::power::control_line::{ControlLine, DMX_ADDRESSES, in_words};

/// What a controller is led by, where nobody has said what it is.
const LEADS: &str = "desk or system";

/// One device on a control line.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Led {
    /// The line.
    pub(super) line: ControlLine,
    /// What it comes from: the device before it, or what leads them all.
    from: String,
    /// The device.
    pub(super) to: String,
    /// Its zone; empty where there is but one.
    zone: String,
    /// What is set on it; empty where nothing is.
    pub(super) set: String,
    /// How many pairs lead to it.
    pairs: usize,
    /// How many are alike.
    times: i64,
}

impl Led {
    /// The device in words: `C1`, or `C1 (14 alike)`.
    fn to_in_words(&self) -> String {
        match self.times {
            1 => self.to.clone(),
            times => format!("{} ({times} alike)", self.to),
        }
    }
}

/// Every device that a wired line leads, in the order of the circuits; a controller that can be reached several ways has one
/// for each.
pub(super) fn led(data: &PackData) -> Vec<Led> {
    let mut all: Vec<Led> = Vec::new();
    // Controllers of one zone, light and line are set alike, so that they keep in step.
    let mut addresses: Vec<((String, usize), usize)> = Vec::new();
    let mut next = 1;
    for circuit in &data.circuits {
        let Some(control) = &circuit.control else { continue };
        let zone = circuit.zone.clone().unwrap_or_default();
        for line in lines_of(control) {
            let channels = channels(circuit);
            let (to, origin, pairs) = match control.at.as_str() {
                "control-pair" => (format!("driver {}", circuit.driver), control.label.clone(), 1),
                _ if line == ControlLine::ZeroToTen => (control.label.clone(), LEADS.into(), channels),
                _ => (control.label.clone(), LEADS.into(), 1),
            };
            if all.iter().any(|led| led.line == line && led.to == to) {
                continue;
            }
            // DMX goes on from the device before; the others lie side by side.
            let before = all.iter().rev().find(|led| led.line == line);
            let from = match before {
                Some(before) if line == ControlLine::Dmx => before.to.clone(),
                _ => origin,
            };
            let set = match line {
                ControlLine::Dmx => {
                    let key = (zone.clone(), channels);
                    let known = addresses.iter().find(|(of, _)| *of == key).map(|(_, at)| *at);
                    let at = known.unwrap_or_else(|| {
                        let at = next;
                        addresses.push((key, at));
                        next += channels;
                        at
                    });
                    address(at, channels)
                }
                ControlLine::Dali => {
                    if zone.is_empty() {
                        "one group".into()
                    } else {
                        format!("group {zone}")
                    }
                }
                ControlLine::ZeroToTen => String::new(),
            };
            all.push(Led {
                line,
                from,
                to,
                zone: zone.clone(),
                set,
                pairs,
                times: data.times(circuit.driver),
            });
        }
    }
    all
}

/// Start address and last, on the line that has them.
fn address(at: usize, channels: usize) -> String {
    let (line, first) = ((at - 1) / DMX_ADDRESSES, (at - 1) % DMX_ADDRESSES + 1);
    let on = if line == 0 { String::new() } else { format!(" of line {}", line + 1) };
    match channels {
        1 => format!("start {first}{on}"),
        _ => format!("start {first}{on}, to {}", first + channels - 1),
    }
}

/// How many channels the leads of a circuit have.
fn channels(circuit: &CircuitData) -> usize {
    circuit.leads.first().map_or(1, |lead| lead.conductors.len().saturating_sub(1).max(1))
}

/// The wired lines by which a control is led, or leads its drivers.
pub(super) fn lines_of(control: &ControlData) -> Vec<ControlLine> {
    control.how.split(", ").filter_map(|word| word.parse().ok()).collect()
}

/// Terminals in words: `+, −`, or several pairs.
fn terminals(led: &Led) -> String {
    let names = led.line.terminals().join(", ");
    if led.pairs > 1 { format!("{} pairs: {names}", led.pairs) } else { names }
}

/// The tables: where each line goes, and how each kind is laid; none where no line is wired.
pub(super) fn tables(data: &PackData) -> Vec<Table> {
    let all = led(data);
    if all.is_empty() {
        return Vec::new();
    }
    let rows = all.iter().map(|led| {
        vec![
            in_words(led.line.word()),
            led.from.clone(),
            led.to_in_words(),
            led.zone.clone(),
            terminals(led),
            led.set.clone(),
        ]
    });
    let each = Table {
        heading: "Control wiring, device by device (addresses are a proposal)".into(),
        columns: vec![
            Column::words("Line"),
            Column::words("From"),
            Column::words("To"),
            Column::words("Zone"),
            Column::sentences("Terminals"),
            Column::words("Set to"),
        ],
        rows: rows.collect(),
    };
    let laid = ControlLine::ALL
        .iter()
        .filter(|line| all.iter().any(|led| led.line == **line))
        .map(|line| vec![in_words(line.word()), line.standard().to_owned(), line.laid().to_owned()]);
    let how = Table {
        heading: "How a control line is laid (from memory; its maker and the local code decide)".into(),
        columns: vec![Column::words("Line"), Column::sentences("Standard"), Column::sentences("Laid")],
        rows: laid.collect(),
    };
    vec![each, how]
}

/// A line for each device to be tested; none where no line is wired.
pub(super) fn tests(data: &PackData, blank: &str) -> Option<Table> {
    let all = led(data);
    let last = |led: &Led| all.iter().rev().find(|one| one.line == led.line).is_some_and(|one| one == led);
    let rows: Vec<Vec<String>> = all
        .iter()
        .map(|led| {
            let end = match led.line {
                ControlLine::Dmx if last(led) => format!("120 Ω here\n{blank}"),
                _ => "–".into(),
            };
            vec![
                format!("{}\nto {}", in_words(led.line.word()), led.to_in_words()),
                terminals(led),
                if led.set.is_empty() { "–".into() } else { format!("{}\n{blank}", led.set) },
                end,
                blank.to_owned(),
                blank.to_owned(),
            ]
        })
        .collect();
    (!rows.is_empty()).then(|| Table {
        heading: "Each control line".into(),
        columns: vec![
            Column::words("Line, to"),
            Column::sentences("Terminals"),
            Column::words("Set to, and found"),
            Column::words("End of line"),
            Column::words("Answers alone, and with its zone"),
            Column::words("By, date"),
        ],
        rows,
    })
}
