//! The chapters of a pack and their tables.

use super::super::tables::{Column, Table};
use super::alike::{alike, card};
use super::amounts::{length, volts};
use super::input::PackInput;
use super::pages::{Block, Chapter};
use super::panel_page;
use super::places::places;
use super::schedules;
use super::test_sheet::test_sheet;
use crate::job::masses::DensityFrom;
use crate::job::pack::data::{MeasuredData, MeasuredFrom};
use crate::units::trimmed;

/// Label and value, one a line.
pub(super) fn pairs(heading: &str, rows: Vec<(&str, String)>) -> Block {
    Block::Table(pair_table(heading, rows))
}

/// The same with the pack's code beside it.
pub(super) fn coded(heading: &str, rows: Vec<(&str, String)>) -> Block {
    Block::Coded(pair_table(heading, rows))
}

pub(super) fn pair_table(heading: &str, rows: Vec<(&str, String)>) -> Table {
    Table {
        heading: heading.into(),
        columns: vec![Column::words(""), Column::sentences("")],
        rows: rows.into_iter().filter(|(_, v)| !v.is_empty()).map(|(k, v)| vec![k.to_owned(), v]).collect(),
    }
}

pub(super) fn chapter(title: &str, own_page: bool, blocks: Vec<Block>) -> Chapter {
    Chapter { title: title.into(), own_page, blocks }
}

/// Every chapter, in order.
pub(super) fn chapters(input: &PackInput<'_>) -> Vec<Chapter> {
    // Behind the cover, where whoever opens the pack on site meets them first, and all on one page.
    let cautions =
        Table::numbered("Read before anything is built, powered or installed", &input.words.cautions);
    let mut all = vec![cover(input), chapter("Cautions", true, vec![Block::Table(cautions)])];
    let panels = alike(input);
    all.extend(panels.iter().filter_map(|group| panel_page::page(input, group)));
    all.extend(power(input));
    all.push(stones(input));
    all.push(dates(input));
    all.push(sign_offs(input));
    if !input.built.is_empty() {
        let built = Table::numbered("What was built, against the plan", &input.built);
        all.push(chapter("As built", false, vec![Block::Table(built)]));
    }
    if !input.installed.is_empty() {
        let rows = input.installed.iter().map(|(label, value)| (label.as_str(), value.clone())).collect();
        all.push(chapter("Installation", false, vec![pairs("As it was put in", rows)]));
    }
    all.push(bases(input));
    all.extend(panels.iter().filter_map(|group| card(input, group)));
    all
}

/// Circuits, schedules and bill; where no panel is fed yet, a page that says so.
fn power(input: &PackInput<'_>) -> Vec<Chapter> {
    let data = input.data;
    if data.circuits.is_empty() {
        let open = ["No panel is on a driver yet: what is open stands with each panel.".to_owned()];
        let table = Table::numbered("Power is not worked out", &open);
        return vec![chapter("Circuit diagram", true, vec![Block::Table(table)])];
    }
    let mut all = Vec::new();
    let mut diagrams = vec![Block::Table(schedules::circuits(data))];
    diagrams.extend(schedules::diagrams(data).into_iter().map(|d| Block::Circuit(Box::new(d))));
    all.push(chapter("Circuit diagram", true, diagrams));
    let sketches = places(input).into_iter().map(|driver| Block::Place(Box::new(driver))).collect();
    all.push(chapter("Driver places, not to scale", false, sketches));
    let schedule = schedules::feeding(data).into_iter().map(Block::Table).collect();
    all.push(chapter("Wire and driver schedule", true, schedule));
    all.push(test_sheet(data));
    let mut bill = vec![Block::Table(schedules::bill(data)), Block::Table(schedules::order(input))];
    if !input.words.bill.is_empty() {
        bill.push(Block::Table(Table::numbered("Notes on what to buy", &input.words.bill)));
    }
    all.push(chapter("Bill of materials", true, bill));
    all
}

fn cover(input: &PackInput<'_>) -> Chapter {
    let (heading, data) = (&input.heading, input.data);
    let released = match &input.release {
        Some(r) => format!("released by {} on {}; statement {}", r.who, r.when, r.sha256),
        None => "NOT RELEASED. What is missing stands below.".into(),
    };
    let mut blocks = vec![coded(
        "This pack",
        vec![
            ("Job", format!("{} ({})", heading.title, data.project)),
            ("Shop", heading.shop.clone()),
            ("Client", heading.client.clone()),
            (
                "Site",
                [Some(data.site.name.clone()), data.site.address.clone()]
                    .into_iter()
                    .flatten()
                    .collect::<Vec<_>>()
                    .join(", "),
            ),
            (
                "Electrical code",
                data.site
                    .electrical_code
                    .clone()
                    .unwrap_or_else(|| "not named yet: the licensed person names it".into()),
            ),
            (
                "Mains",
                data.site.mains_mv.map_or_else(
                    || "voltage not recorded: check that every driver accepts it".into(),
                    |mv| format!("{} AC", volts(mv)),
                ),
            ),
            ("Install date", heading.install_date.clone()),
            ("Stage", heading.stage.clone()),
            ("Status", released),
            ("Data, SHA-256", input.sha256.clone()),
        ],
    )];
    if !input.missing.is_empty() {
        blocks.push(Block::Table(Table::numbered("Missing before this job may be built", &input.missing)));
    }
    blocks.push(Block::Table(schedules::panels(input)));
    blocks.push(Block::Table(schedules::circuits(data)));
    let people = heading.people.iter().map(|(role, name)| (role.as_str(), name.clone())).collect();
    let folder = Table {
        heading: "In the folder beside this document".into(),
        columns: vec![Column::words(""), Column::sentences("")],
        rows: input.files.iter().map(|(path, what)| vec![path.clone(), what.clone()]).collect(),
    };
    blocks.push(Block::Beside(pair_table("Who is who", people), folder));
    let proof = vec![
        "The digest above is over the data in pack.json. The release seals it: made again from the book, the pack of a released job has the same digest. Check it with: underlit pack --prove PROJECT.".to_owned(),
        "Titles, people, dates and signatures stand outside that digest: they may change without changing what is built.".to_owned(),
        "The tool computes; the licensed person decides.".to_owned(),
    ];
    blocks.push(Block::Table(Table::numbered("How to trust it", &proof)));
    chapter(&heading.title, true, blocks)
}

fn stones(input: &PackInput<'_>) -> Chapter {
    let show = |um: i64| length(um, input.units);
    let mut blocks = Vec::new();
    for stone in &input.data.stones {
        let measured: Vec<String> = stone
            .measured
            .iter()
            .map(|m| {
                let trial = if m.from == MeasuredFrom::Trial { "trial " } else { "" };
                format!("{trial}{} ({}): {} thick, {}", m.id, m.date, show(m.thickness_um), ways(m))
            })
            .collect();
        let density = match stone.density_from {
            DensityFrom::Slab => "as recorded",
            DensityFrom::Shop => "the shop's for the material",
            DensityFrom::Handbook => "handbooks' range, from memory: weigh a piece",
        };
        let range = match stone.density_least_kg_m3 == stone.density_kg_m3 {
            true => stone.density_kg_m3.to_string(),
            false => format!("{} to {}", stone.density_least_kg_m3, stone.density_kg_m3),
        };
        blocks.push(pairs(
            &format!("{} ({})", stone.stone, stone.swatch),
            vec![
                ("Material", stone.material.clone()),
                ("Lot", stone.lot.clone().unwrap_or_else(|| "not recorded".into())),
                ("Finish", stone.finish.clone().unwrap_or_else(|| "not recorded".into())),
                ("Swatch", format!("{} thick", show(stone.swatch_thickness_um))),
                ("Slab", format!("{} thick", show(stone.slab_thickness_um))),
                ("Density", format!("{range} kg/m³, {density}")),
                ("Measured", if measured.is_empty() { "nothing".into() } else { measured.join("\n") }),
                ("Panels", stone.panels.join(", ")),
            ],
        ));
    }
    chapter("Stones", false, blocks)
}

/// Each way in which a stone was measured, with what the meter read.
fn ways(m: &MeasuredData) -> String {
    let mut ways = Vec::new();
    if let (Some(bare), Some(through)) = (m.bare_mlx, m.through_mlx) {
        let lx = |milli: i64| trimmed(milli as f64 / 1000.0, 1);
        let share = if bare > 0 { through as f64 / bare as f64 * 100.0 } else { 0.0 };
        ways.push(format!("{} lx bare, {} lx through, {} %", lx(bare), lx(through), trimmed(share, 2)));
    }
    ways.extend(m.spectrum_sha256.as_ref().map(|_| "by spectral file".to_owned()));
    ways.extend(m.photo_sha256.as_ref().map(|_| match m.chart_sha256 {
        None => "by photo".to_owned(),
        Some(_) => "by photo, with a chart".to_owned(),
    }));
    ways.extend(m.values_sha256.as_ref().map(|_| "by a camera's values".to_owned()));
    ways.join("; ")
}

fn dates(input: &PackInput<'_>) -> Chapter {
    let mut columns = vec![Column::sentences("Step"), Column::words("At the latest")];
    let forward = input.dates.iter().any(|d| !d.earliest.is_empty());
    if forward {
        columns.extend([Column::words("At the earliest"), Column::numbers("Days to spare")]);
    }
    let rows = input.dates.iter().map(|d| {
        let mut row = vec![d.what.clone(), d.latest.clone()];
        if forward {
            row.extend([d.earliest.clone(), d.spare.clone()]);
        }
        row
    });
    let mut blocks = vec![Block::Table(Table {
        heading: "Steps to the install date".into(),
        columns,
        rows: rows.collect(),
    })];
    blocks.push(Block::Table(Table::numbered("About the dates", &input.date_notes)));
    chapter("Dates", false, blocks)
}

fn sign_offs(input: &PackInput<'_>) -> Chapter {
    let rows = input.sign_offs.iter().map(|s| {
        vec![
            s.about.clone(),
            format!("{} ({})", s.who, s.role),
            s.decision.clone(),
            s.kind.clone(),
            s.when.clone(),
            s.standing.clone(),
            s.sha256.get(..12).unwrap_or(&s.sha256).to_owned(),
        ]
    });
    let table = Table {
        heading: "Approvals and their validity".into(),
        columns: vec![
            Column::sentences("About"),
            Column::sentences("Who"),
            Column::words("Decision"),
            Column::sentences("How"),
            Column::words("Recorded at"),
            Column::words("Standing"),
            Column::words("Digest"),
        ],
        rows: rows.collect(),
    };
    let mut blocks = vec![Block::Table(table)];
    if input.sign_offs.is_empty() {
        blocks = vec![Block::Table(Table::numbered(
            "Nothing is signed yet",
            &["No choice, drawing or release is signed.".into()],
        ))];
    }
    if !input.overridden.is_empty() {
        blocks.push(Block::Table(Table::numbered("Refusals that an owner overrode", &input.overridden)));
    }
    chapter("Sign-offs", false, blocks)
}

fn bases(input: &PackInput<'_>) -> Chapter {
    let rows = input.words.bases.iter().map(|row| row.to_vec());
    chapter(
        "What is measured and what is estimated",
        false,
        vec![
            Block::Table(Table {
                heading: "What the figures rest on".into(),
                columns: vec![Column::sentences("Figure"), Column::words("Basis"), Column::sentences("From")],
                rows: rows.collect(),
            }),
            Block::Table(Table::numbered("What the sums take for granted", &input.words.assumptions)),
        ],
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_measurement_names_every_way_it_was_made_and_no_other() {
        let with = |lux: Option<(i64, i64)>, spectrum: bool, photo: bool| {
            ways(&MeasuredData {
                from: MeasuredFrom::Swatch,
                id: "a".into(),
                date: "2026-09-11".into(),
                thickness_um: 20_000,
                bare_mlx: lux.map(|l| l.0),
                through_mlx: lux.map(|l| l.1),
                spectrum_sha256: spectrum.then(String::new),
                photo_sha256: photo.then(String::new),
                chart_sha256: None,
                values_sha256: None,
            })
        };
        assert_eq!(with(None, true, false), "by spectral file");
        assert_eq!(with(None, false, true), "by photo");
        assert_eq!(with(None, true, true), "by spectral file; by photo");
        assert_eq!(with(Some((1_240_000, 0)), false, false), "1240 lx bare, 0 lx through, 0 %");
        assert_eq!(
            with(Some((1_000_000, 100_000)), false, true),
            "1000 lx bare, 100 lx through, 10 %; by photo"
        );
    }
}
