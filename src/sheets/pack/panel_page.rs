//! The page of a panel, or of panels that are alike: what it is, what was chosen, light and power, sheets, edges, service.

use super::super::tables::{Column, Table};
use super::alike;
use super::amounts::{amperes, kilograms, length, luminance, metres, square_metres, volts, watts};
use super::chapters::{chapter, coded, pair_table, pairs};
use super::input::PackInput;
use super::pages::{Block, Chapter};
use crate::job::pack::data::{PanelData, PowerData, SupplyData};
use crate::power::class2;
use crate::units::{Millimetres, trimmed};

/// The page of panels that are alike, or of one.
pub(super) fn page(input: &PackInput<'_>, group: &[&PanelData]) -> Option<Chapter> {
    let panel = *group.first()?;
    let show = |um: i64| length(um, input.units);
    let words = input.words.panels.get(&panel.id).cloned().unwrap_or_default();
    let stone = input.data.stones.iter().find(|s| s.swatch == panel.swatch);
    let lit: Vec<String> = panel.edges.iter().filter(|e| e.lit).map(|e| e.number.to_string()).collect();
    let size = format!("{} × {}", show(panel.width_um), show(panel.height_um));
    let mut is = vec![
        ("Shape", panel.shape.clone()),
        ("Size", size),
        ("Area", format!("{} net of {} cut-outs", square_metres(panel.area_mm2), panel.cutouts)),
        ("Length to cut", show(panel.cut_length_um)),
        ("Least inside radius", panel.least_inside_radius_um.map(show).unwrap_or_default()),
        ("Pieces", if panel.pieces > 1 { format!("{} butted pieces", panel.pieces) } else { "one".into() }),
        (
            "Stone",
            stone.map_or_else(
                || panel.swatch.clone(),
                |s| format!("{}, {} thick", s.stone, show(s.slab_thickness_um)),
            ),
        ),
        ("Place", panel.place.clone()),
        ("Route", panel.route.as_ref().map(|r| format!("{} ({})", r.name, r.id)).unwrap_or_default()),
    ];
    if let Some(count) = panel.quantity {
        is.insert(0, ("How many", format!("{count} alike; all figures are of one")));
    }
    if let Some(sizes) = &panel.sizes {
        for size in &sizes.each {
            let label = match size.id.as_str() {
                "stone-edge" => "Stone edge",
                "clear-opening" => "Clear opening",
                "finished-panel" => "Finished panel",
                _ => "Light guide",
            };
            let drawn = if size.id == sizes.outline_is { ", as drawn" } else { "" };
            is.push((label, format!("{} × {}{drawn}", show(size.width_um), show(size.height_um))));
        }
        let grows = format!("{} at most; {} free across it", show(sizes.movement_um), show(sizes.room_um));
        is.push(("Grows and shrinks by", grows));
    }
    if let Some(bend) = &panel.bend {
        let formed = if bend.formed == "cold" { "cold" } else { "by heat" };
        let axis = if bend.axis == "level" { "x" } else { "y" };
        let face = bend.face.as_ref().map_or_else(String::new, |face| format!("; the face is {face}"));
        is.push((
            "Bent",
            format!(
                "{formed}, to a radius of {} about an axis along {axis} of the flat outline; {}° of a turn, {} across \
                 the chord, {} deep{face}",
                show(bend.radius_um),
                trimmed(bend.turn_mdeg as f64 / 1000.0, 1),
                show(bend.chord_um),
                show(bend.rise_um)
            ),
        ));
    }
    if let Some(floor) = &panel.floor {
        is.push(("Walked on", floor.clone()));
    }
    if let Some(etching) = &panel.etching {
        let (depth, length) = (show(etching.depth_um), show(etching.length_um));
        is.push(("Etched", format!("{}; {depth} deep, {length} of line", etching.words)));
    }
    if !panel.rooms.is_empty() && group.len() == 1 {
        is.insert(1.min(is.len()), ("Rooms, in the order of serial numbers", panel.rooms.join(", ")));
    }
    let light = [panel.light.clone(), panel.cct_k.map(|k| format!("{k} K"))];
    let chosen = vec![
        ("Light", light.into_iter().flatten().collect::<Vec<_>>().join(", ")),
        ("Face", panel.face.clone().unwrap_or_default()),
        ("Lit edges", lit.join(", ")),
        ("Mount", panel.mount.clone().unwrap_or_default()),
        ("Control", panel.control.clone().unwrap_or_else(|| "none: switched only".into())),
        ("Driver stands", supply(input, &panel.supply)),
    ];
    let of_stone = panel.sizes.as_ref().and_then(|sizes| sizes.each.first());
    let stone_mm2 = of_stone.map_or(panel.area_mm2, |size| size.area_mm2);
    let mass = vec![
        (
            "Mass of the panel",
            panel
                .mass_g
                .map(|g| {
                    let of = if panel.mass_of_sheets { "with its sheets" } else { "as if solid acrylic" };
                    let heaviest = panel.piece_mass_g.iter().max().filter(|_| panel.piece_mass_g.len() > 1);
                    let piece = heaviest.map(|g| format!(", heaviest piece {}", kilograms(*g)));
                    format!("{}, {of}{}", kilograms(g), piece.unwrap_or_default())
                })
                .unwrap_or_default(),
        ),
        (
            "Mass of the stone",
            panel
                .stone_mass_g
                .map(|g| {
                    format!(
                        "{} if one piece of {} covers it; plan the lift",
                        kilograms(g),
                        square_metres(stone_mm2)
                    )
                })
                .unwrap_or_default(),
        ),
        ("Outline, SHA-256", panel.outline_sha256.clone()),
    ];
    let mut blocks = vec![
        Block::Beside(pair_table("What it is", is), pair_table("What was chosen", chosen)),
        coded("Mass and drawing", mass),
    ];
    blocks.extend(alike::each_of(input, group));
    let open = alike::said(input, group, |words| &words.open);
    if !open.is_empty() {
        blocks.push(Block::Table(Table::numbered("Still open", &open)));
    }
    if let Some(power) = &panel.power {
        blocks.extend(light_and_power(input, power, group.len() > 1));
    }
    let remarks = alike::said(input, group, |words| &words.remarks);
    if !remarks.is_empty() {
        blocks.push(Block::Table(Table::numbered("Also note", &remarks)));
    }
    if !panel.sheets.is_empty() {
        blocks.push(Block::Table(sheets(input, panel)));
    }
    let edges = panel.edges.iter().map(|e| {
        vec![
            e.number.to_string(),
            e.kind.replace('-', " "),
            show(e.length_um),
            e.least_radius_um.map_or_else(|| "–".into(), show),
            if e.lit { "LIT".into() } else { "–".into() },
        ]
    });
    let edge_table = Table {
        heading: "Edges, counter-clockwise from the lowest corner".into(),
        columns: vec![
            Column::numbers("No."),
            Column::words("Kind"),
            Column::numbers("Length"),
            Column::numbers("Least radius"),
            Column::words("Lit"),
        ],
        rows: edges.collect(),
    };
    blocks.push(match (&panel.service, &words.service) {
        (None, _) | (_, None) => Block::Table(edge_table),
        (Some(service), Some(said)) => {
            let room = |um: i64| if um > 0 { show(um) } else { String::new() };
            let heaviest = alike::of_each(group, panel, &said.heaviest);
            let heaviest = format!("{heaviest}: {}, {}", kilograms(service.heaviest_g), said.lift);
            let needs = vec![
                ("Access", said.access.clone()),
                ("Free space", room(service.clearance_um)),
                ("Loose cable", room(service.cable_slack_um)),
                ("Heaviest to move", heaviest),
            ];
            Block::Beside(edge_table, pair_table("Service", needs))
        }
    });
    Some(chapter(&format!("Panel {}", alike::named(input, group)), true, blocks))
}

/// Where the driver and the control of a panel stand.
fn supply(input: &PackInput<'_>, supply: &SupplyData) -> String {
    let place = match supply.location.as_str() {
        "in-wall-box" => format!("in a box in the wall, {} place", supply.place),
        _ => format!("remote, ventilated, accessible, {} place", supply.place),
    };
    let mut parts = vec![if supply.recorded { place } else { format!("not recorded; taken: {place}") }];
    if supply.control_place != supply.place {
        parts.push(format!("its control in a {} place", supply.control_place));
    }
    if let Some(sides) = supply.space_um {
        let sides = sides.map(|um| input.units.show(Millimetres(um as f64 / 1000.0)));
        parts.push(format!("space {}", sides.join(" × ")));
    }
    if supply.class2_wiring {
        parts.push(class2::wiring(input.data.site.code_region).into());
    }
    parts.join("; ")
}

/// The sheets that a panel is made up of.
fn sheets(input: &PackInput<'_>, panel: &PanelData) -> Table {
    let rows = panel.sheets.iter().map(|sheet| {
        vec![
            sheet.what.replace('-', " "),
            format!("{} ({})", sheet.item.name, sheet.item.id),
            length(sheet.thickness_um, input.units),
            square_metres(sheet.area_mm2),
        ]
    });
    Table {
        heading: "Sheets, from the back to the face".into(),
        columns: vec![
            Column::words("What"),
            Column::sentences("Sheet"),
            Column::numbers("Thickness"),
            Column::numbers("Net area"),
        ],
        rows: rows.collect(),
    }
}

fn light_and_power(input: &PackInput<'_>, power: &PowerData, one_of_many: bool) -> Vec<Block> {
    let show = |um: i64| length(um, input.units);
    let through = match &power.luminance {
        Some(l) if l.low_mcd_m2 == l.high_mcd_m2 => {
            format!("{} through the stone, as measured at the slab's thickness", luminance(l.low_mcd_m2))
        }
        Some(l) => format!(
            "{} to {} through the stone, from {} measured",
            luminance(l.low_mcd_m2),
            luminance(l.high_mcd_m2),
            if l.thicknesses == 1 {
                "one thickness".into()
            } else {
                format!("{} thicknesses", l.thicknesses)
            }
        ),
        None => "not known: no light through the swatch was measured".into(),
    };
    let ra = power
        .cri_tenths
        .map_or_else(|| "not stated".into(), |t| format!("Ra {}", trimmed(t as f64 / 10.0, 1)));
    let figures = pairs(
        "Light and power, all channels at full",
        vec![
            (
                "Tape",
                format!(
                    "{} ({}), {} DC, cut every {}",
                    power.tape.name,
                    power.tape.id,
                    volts(power.voltage_mv),
                    show(power.cut_interval_um)
                ),
            ),
            ("Length of tape", metres(power.tape_um)),
            (
                "Power",
                format!(
                    "{}, {} on the common conductor",
                    watts(power.power_mw),
                    amperes(power.channels.iter().map(|c| c.current_ma).sum())
                ),
            ),
            ("Light at the bare face", format!("{} lm/m² ({} figures)", power.exitance_lm_m2, power.basis)),
            ("Luminance", through),
            ("Colour rendering", ra),
            ("Depth", format!("{}, without stone or air gap", show(power.depth_um))),
            (
                "Lead",
                match one_of_many {
                    true => {
                        format!("{} conductors; length and drop stand with each of them", power.conductors)
                    }
                    false => format!(
                        "{} conductors, {} from driver or control, drop {}",
                        power.conductors,
                        metres(power.feed_um),
                        volts(power.drop_mv)
                    ),
                },
            ),
        ],
    );
    let channels = power.channels.iter().map(|c| {
        vec![
            c.mark.clone(),
            c.name.clone(),
            watts(c.power_mw),
            amperes(c.current_ma),
            format!("{} lm", c.lumens),
            format!("{} lm/m²", c.exitance_lm_m2),
        ]
    });
    let tapes = power.tapes.iter().map(|t| {
        vec![
            t.number.to_string(),
            t.edge.clone(),
            metres(t.length_um),
            if t.fed_ends == 2 { "both ends".into() } else { "one end".into() },
            watts(t.power_mw),
            t.drop_mv.map_or_else(|| "not stated".into(), volts),
            input.units.show(Millimetres(t.dark_um as f64 / 1000.0)),
        ]
    });
    let channels = Table {
        heading: "Channels".into(),
        columns: vec![
            Column::words("Pad"),
            Column::words("Channel"),
            Column::numbers("Power"),
            Column::numbers("Current"),
            Column::numbers("Bare tape"),
            Column::numbers("At the face"),
        ],
        rows: channels.collect(),
    };
    let tapes = Table {
        heading: "Tapes".into(),
        columns: vec![
            Column::numbers("No."),
            Column::words("Edge"),
            Column::numbers("Length"),
            Column::words("Fed at"),
            Column::numbers("Power"),
            Column::numbers("Drop"),
            Column::numbers("Dark"),
        ],
        rows: tapes.collect(),
    };
    vec![figures, Block::Beside(channels, tapes)]
}
