//! The table on the terminal, and the same with a plot of cost against size in `target/scale/`.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::io::Write as _;
use std::path::Path;

use super::timed::{Measured, Unit, middle};

/// Says a line.
pub(crate) fn say(line: &str) {
    writeln!(std::io::stdout().lock(), "{line}").unwrap();
}

/// Prints the table, and writes it as Markdown with its plot.
pub(crate) fn write(all: &[Measured]) {
    let mut table = String::from(
        "| jobs | what | beside | ours min / middle / max | theirs min / middle / max | ratio | aim | |\n|---:|---|---|---:|---:|---:|---:|---|\n",
    );
    for one in all {
        let range = |of: &[f64]| {
            let (least, most) = of.iter().fold((f64::MAX, 0.0_f64), |(a, b), v| (a.min(*v), b.max(*v)));
            if of.is_empty() {
                String::new()
            } else {
                format!("{} / {} / {}", short(least), short(middle(of)), short(most))
            }
        };
        let unit = if one.unit == Unit::Megabytes { " MB" } else { "×" };
        let met = if one.is_met() { "met" } else { "**short**" };
        let (ours, theirs) = (range(&one.ours), range(&one.theirs));
        let (ratio, aim) = (short(one.ratio()), short(one.aim));
        writeln!(
            table,
            "| {} | {} | {} | {ours} | {theirs} | {ratio}{unit} | {aim}{unit} | {met} |",
            one.jobs, one.what, one.beside
        )
        .unwrap();
    }
    say(&table);
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/scale");
    fs::create_dir_all(&folder).unwrap();
    fs::write(folder.join("table.md"), format!("Milliseconds, but for memory.\n\n{table}")).unwrap();
    fs::write(folder.join("cost.svg"), plot(all)).unwrap();
    say(&format!("written to {}: table.md, cost.svg", folder.display()));
}

fn short(number: f64) -> String {
    match number {
        n if n >= 100.0 => format!("{n:.0}"),
        n if n >= 10.0 => format!("{n:.1}"),
        n => format!("{n:.2}"),
    }
}

/// Time against the number of jobs, both by powers of ten.
fn plot(all: &[Measured]) -> String {
    let mut lines: BTreeMap<&str, Vec<(f64, f64)>> = BTreeMap::new();
    for one in all.iter().filter(|one| one.unit == Unit::Milliseconds) {
        lines.entry(one.what).or_default().push((one.jobs as f64, middle(&one.ours)));
    }
    let (left, top, width, height) = (70.0, 20.0, 520.0, 420.0);
    // 10 to 100,000 jobs, 1 ms to 100 s.
    let x = |jobs: f64| left + (jobs.max(10.0).log10() - 1.0) / 4.0 * width;
    let y = |ms: f64| top + height - ms.max(1.0).log10() / 5.0 * height;
    let mut svg = String::from(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 900 500\" font-family=\"sans-serif\" font-size=\"12\">\n<rect width=\"900\" height=\"500\" fill=\"#fff\"/>\n",
    );
    for power in 0..=5 {
        let (at_y, at_x) = (y(10f64.powi(power)), x(10f64.powi(power.max(1))));
        let (time, jobs) = (10f64.powi(power), 10f64.powi(power.max(1)));
        writeln!(svg, "<path d=\"M{left} {at_y}h{width}M{at_x} {top}v{height}\" stroke=\"#ddd\"/>").unwrap();
        writeln!(svg, "<text x=\"{}\" y=\"{}\" text-anchor=\"end\">{time} ms</text>", left - 6.0, at_y + 4.0)
            .unwrap();
        writeln!(
            svg,
            "<text x=\"{at_x}\" y=\"{}\" text-anchor=\"middle\">{jobs} jobs</text>",
            top + height + 18.0
        )
        .unwrap();
    }
    for (nth, (what, points)) in lines.iter().enumerate() {
        let colour = format!("hsl({} 70% 40%)", nth * 360 / lines.len().max(1));
        let path: String =
            points.iter().map(|(jobs, ms)| format!("{:.1},{:.1} ", x(*jobs), y(*ms))).collect();
        writeln!(svg, "<polyline points=\"{path}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"2\"/>")
            .unwrap();
        for (jobs, ms) in points {
            writeln!(svg, "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"3\" fill=\"{colour}\"/>", x(*jobs), y(*ms))
                .unwrap();
        }
        writeln!(svg, "<text x=\"610\" y=\"{}\" fill=\"{colour}\">{what}</text>", 34 + nth * 20).unwrap();
    }
    svg + "</svg>\n"
}
