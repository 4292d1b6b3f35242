//! `calc wire`: the drop in a run of two-conductor cable, size by size.

use serde_json::{Value, json};

use super::fault_of;
use crate::cli::failure::{Exit, Outcome};
use crate::cli::printer::Printer;
use crate::power::conductor::overcurrent_limit_a;
use crate::power::vocabulary::WireTable;
use crate::power::wire_run::{Run, SizeRow};
use crate::units::{Amperes, Metres, Volts, trimmed};
use crate::words::UnknownWord;

/// Judge every wire size of a table for a run: its drop, whether that is within the limit, how far it reaches.
///
/// The drop is there and back, 2·R·L·I, with the largest resistance that the table allows the size. `use` is
/// the smallest size within the limit, by its drop alone: fuse, heat and marking are for the licensed person.
///
/// Example: underlit calc wire --volts 24 --amps 4 --length-m 10 --max-drop-pct 3
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Nominal voltage, volts direct current.
    #[arg(long, value_name = "V", allow_negative_numbers = true)]
    volts: f64,
    /// Current, amperes.
    #[arg(long, value_name = "A", allow_negative_numbers = true)]
    amps: f64,
    /// Length one way, metres.
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    length_m: f64,
    /// The largest drop to allow, percent of the voltage; 3 is a common design target.
    #[arg(long, value_name = "PCT", default_value_t = 3.0, allow_negative_numbers = true)]
    max_drop_pct: f64,
    /// The sizes to judge: awg (NEC Chapter 9 Table 8, stranded, 75 °C), mm2-class-2 or mm2-class-5 (IEC 60228,
    /// stranded or flexible, 20 °C); mm2 is short for mm2-class-2.
    #[arg(long, value_name = "TABLE", default_value = "awg", value_parser = table)]
    table: WireTable,
    /// Temperature of the conductors, degrees Celsius; by default that of the table.
    #[arg(long, value_name = "C", allow_negative_numbers = true)]
    conductor_c: Option<f64>,
}

fn table(text: &str) -> Result<WireTable, UnknownWord> {
    let text = text.to_lowercase();
    if text == "mm2" { Ok(WireTable::Class2) } else { text.parse() }
}

pub(crate) fn run(args: &Args, printer: &Printer) -> Outcome {
    let (volts, amps, length) = (Volts(args.volts), Amperes(args.amps), Metres(args.length_m));
    let mut run = Run::plain(volts, amps, length, args.table, args.max_drop_pct);
    if let Some(conductor_c) = args.conductor_c {
        run.conductor_c = conductor_c;
    }
    let sizing = run.size(args.table).map_err(|f| fault_of(f.code(), &f, f.remedy()))?;
    let smallest = sizing.smallest();
    for row in &sizing.sizes {
        let mark = if smallest == Some(row) { "use" } else { "" };
        printer.line(format!("{mark:3} {}", in_words(row)));
    }
    if smallest.is_none() {
        printer.line(format!(
            "No size of this table stays within {} %: shorten the run, divide the load, or raise the voltage.",
            trimmed(args.max_drop_pct, 2)
        ));
    }
    if let Some(size) = smallest.map(|row| row.conductor)
        && let Some(limit) = overcurrent_limit_a(size).filter(|limit| args.amps > *limit)
    {
        printer.remark(format!(
            "{} A is above the {} A to which {} is to be protected (NEC 240.4(D), from memory): take a thicker wire or divide the load.",
            trimmed(args.amps, 2),
            trimmed(limit, 0),
            size.size()
        ));
    }
    printer.json(&json!({
        "sizes": sizing.sizes.iter().map(as_json).collect::<Vec<Value>>(),
        "use": smallest.map(|row| row.conductor.size()),
    }));
    Ok(Exit::Done)
}

fn in_words(row: &SizeRow) -> String {
    format!(
        "{:8} {:>7} V {:>7} %  {}  reaches {} m",
        row.conductor.size(),
        format!("{:.3}", row.drop_v.get()),
        format!("{:.2}", row.drop_pct),
        if row.within_limit { "within" } else { "above " },
        trimmed(row.longest_m.get(), 1)
    )
}

fn as_json(row: &SizeRow) -> Value {
    json!({
        "size": row.conductor.size(),
        "drop_v": row.drop_v,
        "drop_pct": row.drop_pct,
        "within_limit": row.within_limit,
        "longest_m": row.longest_m,
    })
}
