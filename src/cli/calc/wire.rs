//! `calc wire`: the drop in a run of two-conductor cable, and what each size may carry, size by size.

use serde_json::{Value, json};

use super::fault_of;
use crate::cli::failure::{Exit, Outcome};
use crate::cli::printer::Printer;
use crate::fault::Fault;
use crate::power::conductor::{Conductor, table_temperature_c};
use crate::power::vocabulary::WireTable;
use crate::power::wire_run::{Run, SizeRow};
use crate::units::{Amperes, Metres, Volts, trimmed};
use crate::words::UnknownWord;

/// Judge every wire size of a table for a run: its drop, whether it may carry the current, how far it reaches.
///
/// The drop is there and back, 2·R·L·I, with the largest resistance that the table allows the size. `use` is
/// the smallest size that is within the limit and may carry the current; the table of its current is named. The
/// resistance is free to give: per length, or as a resistivity. Fuse, grouping, heat and marking are for the
/// licensed person.
///
/// Example: underlit calc wire --volts 24 --amps 4 --length-m 10 --max-drop-pct 3
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Nominal voltage, volts direct current.
    #[arg(long, value_name = "V", allow_negative_numbers = true)]
    volts: f64,
    /// Current of each of the two conductors, amperes.
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
    /// Temperature of the conductors, degrees Celsius; by default that for which their resistance is stated.
    #[arg(long, value_name = "C", allow_negative_numbers = true)]
    conductor_c: Option<f64>,
    /// Judge one conductor of this resistance instead of a table, ohms per kilometre.
    #[arg(long, value_name = "OHMS", allow_negative_numbers = true, conflicts_with_all = ["ohm_per_kft", "resistivity", "table"])]
    ohm_per_km: Option<f64>,
    /// The same in ohms per 1000 ft.
    #[arg(long, value_name = "OHMS", allow_negative_numbers = true, conflicts_with_all = ["resistivity", "table"])]
    ohm_per_kft: Option<f64>,
    /// Take the sizes with this resistivity, ohms·mm² per metre (copper: about 0.0175 at 20 °C).
    #[arg(long, value_name = "RHO", allow_negative_numbers = true)]
    resistivity: Option<f64>,
    /// Judge one conductor of this area instead of a table, mm²; with `--resistivity`.
    #[arg(
        long,
        value_name = "MM2",
        allow_negative_numbers = true,
        requires = "resistivity",
        conflicts_with = "table"
    )]
    area_mm2: Option<f64>,
    /// The temperature for which a resistance that is given is stated, degrees Celsius.
    #[arg(long, value_name = "C", default_value_t = 20.0, allow_negative_numbers = true)]
    stated_at_c: f64,
    /// The continuous current that a given conductor may carry, amperes, by its supplier or the local code.
    #[arg(long, value_name = "A", allow_negative_numbers = true)]
    ampacity_a: Option<f64>,
}

fn table(text: &str) -> Result<WireTable, UnknownWord> {
    let text = text.to_lowercase();
    if text == "mm2" { Ok(WireTable::Class2) } else { text.parse() }
}

/// One size with what it drops and what it may carry.
struct Judged {
    row: SizeRow,
    ohm_per_km: f64,
    /// What it may carry, amperes, and by what; none where nobody says.
    ampacity: Option<(f64, String)>,
    carries: Option<bool>,
}

impl Judged {
    fn is_enough(&self) -> bool {
        self.row.within_limit && self.carries == Some(true)
    }
}

pub(crate) fn run(args: &Args, printer: &Printer) -> Outcome {
    let (conductors, stated_at_c) = conductors(args)?;
    let (volts, amps, length) = (Volts(args.volts), Amperes(args.amps), Metres(args.length_m));
    let mut run = Run::plain(volts, amps, length, args.table, args.max_drop_pct);
    run.conductor_c = args.conductor_c.unwrap_or(stated_at_c);
    let judged: Vec<Judged> = conductors
        .into_iter()
        .map(|conductor| judge(args, &run, conductor))
        .collect::<Result<_, Vec<Fault>>>()?;
    let smallest = judged.iter().position(Judged::is_enough);
    for (at, size) in judged.iter().enumerate() {
        let mark = if smallest == Some(at) { "use" } else { "" };
        printer.line(format!("{mark:3} {}", in_words(size)));
    }
    let mut bases: Vec<&str> =
        judged.iter().filter_map(|size| size.ampacity.as_ref()).map(|(_, basis)| basis.as_str()).collect();
    bases.dedup();
    let base =
        format!("ampacity by {}; grouping, heat and the local code may ask for less", bases.join("; "));
    let none = smallest.is_none().then(|| why_none(args, &judged));
    if !bases.is_empty() {
        printer.line(format!("    {base}"));
    }
    if let Some(none) = &none {
        printer.line(none);
    }
    printer.json(&json!({
        "voltage_v": volts,
        "conductor_a": amps,
        "power_va": without_noise(args.volts * args.amps),
        "length_m": length,
        "largest_drop_pct": args.max_drop_pct,
        "conductor_c": run.conductor_c,
        "sizes": judged.iter().map(as_json).collect::<Vec<Value>>(),
        "use": smallest.map(|at| judged[at].row.conductor.size()),
        "why_none": none,
    }));
    Ok(Exit::Done)
}

/// The conductors to judge, and the temperature for which their resistance is stated.
fn conductors(args: &Args) -> Result<(Vec<Conductor>, f64), Vec<Fault>> {
    let given = [
        ("--ohm-per-km", args.ohm_per_km),
        ("--ohm-per-kft", args.ohm_per_kft),
        ("--resistivity", args.resistivity),
        ("--area-mm2", args.area_mm2),
        ("--ampacity-a", args.ampacity_a),
    ];
    let wrong: Vec<Fault> = given
        .into_iter()
        .filter_map(|(option, value)| Some((option, value?)))
        .filter(|(_, value)| !(value.is_finite() && *value > 0.0))
        .map(|(option, value)| {
            Fault::usage("wire-not-positive", format!("{option} is {value}")).fix("give a number above 0")
        })
        .collect();
    if !wrong.is_empty() {
        return Err(wrong);
    }
    if !(-40.0..=150.0).contains(&args.stated_at_c) {
        let message = format!("--stated-at-c is {}, outside -40 to 150 °C", args.stated_at_c);
        return Err(vec![Fault::usage("wire-temperature", message).fix("give a temperature within it")]);
    }
    let at = args.stated_at_c;
    let per_m = match (args.ohm_per_km, args.ohm_per_kft, args.resistivity, args.area_mm2) {
        (Some(ohms), ..) => Some(ohms / 1000.0),
        (_, Some(ohms), ..) => Some(ohms / 304.8),
        (_, _, Some(rho), Some(area)) => Some(rho / area),
        _ => None,
    };
    Ok(match (per_m, args.resistivity) {
        (Some(ohms), _) => (vec![Conductor::given(ohms, at)], at),
        (None, Some(rho)) => {
            (Conductor::all(args.table).map(|one| one.of_resistivity(rho, at)).collect(), at)
        }
        (None, None) => (Conductor::all(args.table).collect(), table_temperature_c(args.table)),
    })
}

fn judge(args: &Args, run: &Run, conductor: Conductor) -> Result<Judged, Vec<Fault>> {
    let row = run.judge(conductor).map_err(|f| fault_of(f.code(), &f, f.remedy()))?;
    let ampacity = match args.ampacity_a {
        Some(amps) => Some((amps, "what was given".to_owned())),
        None => conductor.ampacity().map(|one| (one.amps, one.basis.to_owned())),
    };
    let carries = ampacity.as_ref().map(|(amps, _)| args.amps <= amps * (1.0 + 1e-9));
    Ok(Judged {
        row,
        ohm_per_km: without_noise(conductor.ohm_per_m_at(run.conductor_c) * 1000.0),
        ampacity,
        carries,
    })
}

/// Why no size is named.
fn why_none(args: &Args, judged: &[Judged]) -> String {
    let drops = judged.iter().any(|size| size.row.within_limit);
    let carries = judged.iter().any(|size| size.carries == Some(true));
    let limit = trimmed(args.max_drop_pct, 2);
    let amps = trimmed(args.amps, 2);
    if judged.iter().all(|size| size.carries.is_none()) {
        return format!(
            "What this conductor may carry is not known here: give --ampacity-a; its drop is {}.",
            if drops { "within the limit" } else { "above the limit" }
        );
    }
    match (drops, carries) {
        (_, false) => format!(
            "No size of this table may carry {amps} A: divide the load, or take a thicker conductor by its supplier's \
             figures."
        ),
        (false, true) => format!(
            "No size of this table stays within {limit} %: shorten the run, divide the load, or raise the voltage."
        ),
        (true, true) => format!("No size of this table both stays within {limit} % and may carry {amps} A."),
    }
}

fn in_words(size: &Judged) -> String {
    let row = &size.row;
    let carries = match (&size.ampacity, size.carries) {
        (Some((amps, _)), Some(true)) => format!("carries {} A", trimmed(*amps, 1)),
        (Some((amps, _)), _) => format!("carries {} A only", trimmed(*amps, 1)),
        (None, _) => "ampacity not known".into(),
    };
    format!(
        "{:8} {:>7} V {:>7} %  {}  {:17}  reaches {}",
        row.conductor.size(),
        format!("{:.3}", row.drop_v.get()),
        format!("{:.2}", row.drop_pct),
        if row.within_limit { "within" } else { "above " },
        carries,
        row.longest_m.both()
    )
}

fn as_json(size: &Judged) -> Value {
    json!({
        "size": size.row.conductor.size(),
        "ohm_per_km": size.ohm_per_km,
        "drop_v": size.row.drop_v,
        "drop_pct": size.row.drop_pct,
        "within_limit": size.row.within_limit,
        "ampacity_a": size.ampacity.as_ref().map(|(amps, _)| amps),
        "ampacity_basis": size.ampacity.as_ref().map(|(_, basis)| basis),
        "carries": size.carries,
        "longest_m": size.row.longest_m,
    })
}

/// To a billionth: 24 × 4.1 reads 98.4 and not 98.39999999999999.
fn without_noise(value: f64) -> f64 {
    (value * 1e9).round() / 1e9
}
