//! `calc driver`: how many drivers a load takes at the least, and what may be said about Class 2.

use serde_json::json;

use super::fault_of;
use crate::cli::failure::{Exit, Outcome};
use crate::cli::printer::Printer;
use crate::fault::Fault;
use crate::power::class2::{Class2Standing, limit, limit_in_words};
use crate::power::driver_choice::{least_count, usable};
use crate::units::{Amperes, Volts, Watts, trimmed};
use crate::words::counted;

/// Work out how many drivers of one rating a load takes, and whether one exceeds the Class 2 limit.
///
/// The count is a minimum: tape cannot be divided anywhere, so a job's runs may take more. Class 2 is a
/// listing: a driver that does not exceed the limit is Class 2 only where its listing says so.
///
/// Example: underlit calc driver --volts 24 --watts 86.4 --rating-w 96
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Output voltage, volts direct current; the highest that the driver's data sheet states, for the Class 2 limit.
    #[arg(long, value_name = "V", allow_negative_numbers = true)]
    volts: f64,
    /// The load, watts.
    #[arg(long, value_name = "W", allow_negative_numbers = true)]
    watts: f64,
    /// Rating of one driver, watts.
    #[arg(long, value_name = "W", allow_negative_numbers = true)]
    rating_w: f64,
    /// The largest share of its rating to put on a driver, above 0 and at most 1; 0.8 is common practice.
    #[arg(long, value_name = "SHARE", default_value_t = 0.8, allow_negative_numbers = true)]
    load_share: f64,
}

pub(crate) fn run(args: &Args, printer: &Printer) -> Outcome {
    let wrong: Vec<Fault> = [
        ("--volts", args.volts),
        ("--watts", args.watts),
        ("--rating-w", args.rating_w),
        ("--load-share", args.load_share),
    ]
    .into_iter()
    .filter(|(_, value)| !(value.is_finite() && *value > 0.0))
    .map(|(option, value)| {
        Fault::usage("driver-not-positive", format!("{option} is {value}")).fix("give a number above 0")
    })
    .collect();
    if !wrong.is_empty() {
        return Err(wrong);
    }
    if args.load_share > 1.0 {
        let message = format!("--load-share is {}, more than the whole rating", args.load_share);
        return Err(vec![
            Fault::usage("driver-load-share", message).fix("give a share above 0 and at most 1"),
        ]);
    }
    let (load, rating) = (Watts(args.watts), Watts(args.rating_w));
    let drivers = least_count(load, rating, args.load_share)
        .map_err(|f| fault_of(f.code(), &f, f.remedy().to_owned()))?;
    let usable_w = usable(rating, args.load_share);
    let amps = args.watts / args.volts;
    let rated_a = args.rating_w / args.volts;
    let class2 = limit(Volts(args.volts));
    let standing = Class2Standing::of(Volts(args.volts), Amperes(args.rating_w / args.volts), false);
    printer.line(format!(
        "at least {} for {} W: each may carry {} W; {} A in all",
        counted(drivers, "driver", "drivers"),
        trimmed(args.watts, 2),
        trimmed(usable_w.get(), 2),
        trimmed(amps, 3)
    ));
    printer.line(format!(
        "{} A from one driver {standing}. {}",
        trimmed(rated_a, 3),
        limit_in_words(Volts(args.volts))
    ));
    printer.json(&json!({
        "drivers": drivers,
        "usable_w": Watts(without_noise(usable_w.get())),
        "class2": standing.to_string(),
        "class2_code": standing.code(),
        "class2_limit_a": class2.map(|limit| without_noise(limit.amps.get())),
        "class2_limit_va": class2.map(|limit| without_noise(limit.watts.get())),
        "driver_rated_a": without_noise(rated_a),
        "load_a": Amperes(without_noise(amps)),
    }));
    Ok(Exit::Done)
}

/// To a billionth: 0.8 × 96 reads 76.8 and not 76.80000000000001.
fn without_noise(value: f64) -> f64 {
    (value * 1e9).round() / 1e9
}
