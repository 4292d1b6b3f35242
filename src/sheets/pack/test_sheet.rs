//! The test sheet: what the licensed person measures on every lead before the work is closed in, with what the sums expect.
//!
//! The tests are common practice, no source; which are due, and how they are made, is the local code's to say.

use super::super::tables::{Column, Table};
use super::amounts::{amperes, volts, watts};
use super::chapters::chapter;
use super::control_wiring;
use super::pages::{Block, Chapter};
use crate::job::pack::data::{LeadData, PackData};

/// What is left to be written in by hand.
const BLANK: &str = "………";

/// What is looked at once for the whole job.
const ONCE: &[&str] = &[
    "Mains side: isolated, dead and locked off before anything is opened; earthing and insulation tested; who, when: ………",
    "Residual-current device or GFCI trips by its test and by an instrument, where the place needs one: ………",
    "No mains and low-voltage conductors in one sheath or box unless the local code allows it: ………",
    "Every driver is the one of the schedule, in its place, with air and a way to reach it: ………",
    "Dimmed to the lowest level and back: no flicker seen by eye; filmed at the lowest level: no bands: ………",
    "At full for an hour with the stone in place: drivers and panels no warmer than their makers allow: ………",
];

/// The chapter.
pub(super) fn test_sheet(data: &PackData) -> Chapter {
    let rows = data.circuits.iter().flat_map(|circuit| {
        circuit.leads.iter().map(move |lead| {
            let output_mv =
                data.drivers.iter().find(|d| d.number == circuit.driver).map_or(0, |d| d.output_mv);
            vec![
                format!("{}.{}", circuit.driver, circuit.output),
                format!("{}\n{}", lead.run, to(lead)),
                format!("{}\n{}", watts(lead.power_mw), amperes(common_ma(lead))),
                BLANK.into(),
                format!(
                    "{} or more\n{BLANK}",
                    volts((output_mv - (lead.drop_mv - lead.tape_drop_mv)) / 100 * 100)
                ),
                format!("{BLANK}\n{BLANK}"),
                BLANK.into(),
            ]
        })
    });
    let leads = Table {
        heading: "Each lead, with all channels full".into(),
        columns: vec![
            Column::words("Output"),
            Column::words("Lead, to"),
            Column::words("Load, current expected"),
            Column::words("Current read"),
            Column::words("Volts at the panel, expected and read"),
            Column::words("Polarity, each channel alone"),
            Column::words("By, date"),
        ],
        rows: rows.collect(),
    };
    let lines = control_wiring::tests(data, BLANK).map(Block::Table);
    let once: Vec<String> = ONCE.iter().map(|line| (*line).to_owned()).collect();
    chapter(
        "Test sheet",
        true,
        std::iter::once(Block::Table(leads))
            .chain(lines)
            .chain([Block::Table(Table::numbered(
                "Once for the job (common practice, no source; the local code decides, and the licensed person tests)",
                &once,
            ))])
            .collect(),
    )
}

/// Where a lead goes, in words.
fn to(lead: &LeadData) -> String {
    match lead.piece {
        0 => lead.panel.clone(),
        piece => format!("{}, piece {piece}", lead.panel),
    }
}

/// What the common conductor carries: the sum of the channels.
fn common_ma(lead: &LeadData) -> i64 {
    lead.conductors.iter().map(|conductor| conductor.current_ma).max().unwrap_or(0)
}
