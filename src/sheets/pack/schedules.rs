//! Circuits, drivers, wire and bill as tables.

use super::super::canvas::Anchor;
use super::super::tables::{Column, Table};
use super::amounts::{amperes, length, metres, permille, permyriad, volts, watts};
use super::breakers::{breakers, inrush};
use super::circuit::{Diagram, DrawnLead};
use super::control_wiring::{self, Led};
use super::input::PackInput;
use crate::job::pack::data::{CableData, CircuitData, ControlData, JointData, LeadData, PackData};
use crate::job::pack::words::{class2, led_to, protection};
use crate::power::control_line::{ControlLine, in_words};
use crate::power::vocabulary::CodeRegion;

fn table(heading: &str, columns: Vec<Column>, rows: Vec<Vec<String>>) -> Table {
    Table { heading: heading.into(), columns, rows }
}

/// One diagram for each driver output in use.
pub(super) fn diagrams(data: &PackData) -> Vec<Diagram> {
    let mut seen: Vec<i64> = Vec::new();
    let led = control_wiring::led(data);
    let mut all = Vec::new();
    for circuit in &data.circuits {
        let Some(driver) = data.drivers.iter().find(|d| d.number == circuit.driver) else { continue };
        let leads = circuit.leads.iter().map(|lead| {
            let panel = data.panels.iter().find(|p| p.id == lead.panel);
            let power = panel.and_then(|p| p.power.as_ref());
            let kind = panel.and_then(|p| p.light.clone()).unwrap_or_default();
            DrawnLead {
                lead: lead.clone(),
                tapes: power
                    .map(|p| p.tapes.iter().filter(|t| lead.tapes.contains(&t.number)).cloned().collect())
                    .unwrap_or_default(),
                light: format!(
                    "{kind}, {}, {} place",
                    watts(lead.power_mw),
                    panel.map_or("", |p| p.place.as_str())
                ),
            }
        });
        all.push(Diagram {
            times: data.times(circuit.driver),
            region: data.site.code_region,
            circuit: circuit.clone(),
            led: led_by(&led, circuit),
            driver: driver.clone(),
            leads: leads.collect(),
            also_leads: also_led(data, circuit),
            continued: false,
            mains_elsewhere: seen.contains(&circuit.driver),
        });
        seen.push(circuit.driver);
    }
    all
}

/// The wired lines that lead the controller of a circuit.
fn led_by(led: &[Led], circuit: &CircuitData) -> Vec<(ControlLine, String)> {
    let Some(control) = circuit.control.as_ref().filter(|c| c.at == "after-driver") else {
        return Vec::new();
    };
    led.iter().filter(|one| one.to == control.label).map(|one| (one.line, one.set.clone())).collect()
}

/// The drivers of other outputs that the same dimmer leads.
fn also_led(data: &PackData, circuit: &CircuitData) -> Vec<i64> {
    let Some(control) = circuit.control.as_ref().filter(|c| c.at != "after-driver") else {
        return Vec::new();
    };
    let same = |c: &&CircuitData| c.control.as_ref().is_some_and(|other| other.label == control.label);
    let mut others: Vec<i64> =
        data.circuits.iter().filter(same).map(|c| c.driver).filter(|d| *d != circuit.driver).collect();
    others.dedup();
    others
}

/// Driver, controls, wire, conductors and joints, one table each.
pub(super) fn feeding(data: &PackData) -> Vec<Table> {
    let mut all = vec![drivers(data)];
    all.extend(breakers(data));
    if data.circuits.iter().any(|c| c.control.is_some()) {
        all.push(controls(data));
    }
    all.extend(control_wiring::tables(data));
    all.extend([runs(data), conductors(data), joints(data)]);
    all
}

/// The outputs in use at a glance.
pub(super) fn circuits(data: &PackData) -> Table {
    let rows = data.circuits.iter().map(|c| {
        let mut panels: Vec<&str> = c.leads.iter().map(|l| l.panel.as_str()).collect();
        panels.dedup();
        let alike = alike(data, c.driver).map(|alike| format!(" ({alike})")).unwrap_or_default();
        let control =
            c.control.as_ref().map_or_else(|| "none".into(), |k| format!("{} {}", k.label, k.model.id));
        let zone = c.zone.as_ref().map_or_else(String::new, |zone| format!("\nzone {zone}"));
        vec![
            c.driver.to_string(),
            c.output.to_string(),
            control + &zone,
            panels.join(", ") + &alike,
            watts(c.load_mw),
            amperes(c.current_ma),
            permille(c.share_permille),
        ]
    });
    table(
        "Driver outputs in use: every watt of every panel is on exactly one",
        vec![
            Column::numbers("Driver"),
            Column::numbers("Output"),
            Column::words("Control"),
            Column::sentences("Panels"),
            Column::numbers("Load"),
            Column::numbers("Current"),
            Column::numbers("Of its rating"),
        ],
        rows.collect(),
    )
}

/// That a driver is one of several that are wired alike, in words.
fn alike(data: &PackData, driver: i64) -> Option<String> {
    Some(data.times(driver)).filter(|times| *times > 1).map(|times| format!("{times} alike"))
}

/// Every driver with what its maker states.
pub(super) fn drivers(data: &PackData) -> Table {
    let rows = data.drivers.iter().map(|d| {
        let case: Vec<String> =
            d.case_um.iter().map(|um| crate::units::trimmed(*um as f64 / 1000.0, 0)).collect();
        vec![
            d.number.to_string(),
            format!(
                "{}\n{}{}",
                d.model.name,
                d.model.id,
                alike(data, d.number).map(|alike| format!("\n{alike}")).unwrap_or_default()
            ),
            format!("{} DC\n{}", volts(d.output_mv), watts(d.rating_mw)),
            format!("{} × {}", d.outputs, watts(d.output_rating_mw)),
            watts(d.load_mw),
            format!("{}–{} V\n{} at most{}", d.mains_least_v, d.mains_most_v, amperes(d.mains_ma), inrush(d)),
            class2(&d.class2, data.site.code_region),
            format!("{} place\n{} mm", d.place, case.join(" × ")),
            format!("{} days", d.lead_business_days),
        ]
    });
    table(
        "Driver schedule",
        vec![
            Column::numbers("No."),
            Column::sentences("Model"),
            Column::words("Rating"),
            Column::words("Outputs"),
            Column::numbers("Load"),
            Column::words("Mains"),
            Column::sentences(if CodeRegion::knows_class2(data.site.code_region) {
                "Class 2"
            } else {
                "Output"
            }),
            Column::words("Rated for, case"),
            Column::numbers("To order"),
        ],
        rows.collect(),
    )
}

/// Controllers and dimmers.
pub(super) fn controls(data: &PackData) -> Table {
    let mut rows: Vec<Vec<String>> = Vec::new();
    for circuit in &data.circuits {
        let Some(control) = &circuit.control else { continue };
        let output = format!("{}.{}", circuit.driver, circuit.output);
        if let Some(row) = rows.iter_mut().find(|row| row[0] == control.label) {
            row[3] = format!("{}, {output}", row[3]);
            continue;
        }
        let limits = match (control.channel_ma, control.total_ma) {
            (Some(channel), Some(total)) => {
                format!("{} a channel, {} in all", amperes(channel), amperes(total))
            }
            _ => "–".into(),
        };
        rows.push(vec![
            control.label.clone(),
            format!("{}\n{}", control.model.name, control.model.id),
            format!("{}, {}", control.what, control.at.replace('-', " ")),
            output,
            how(control),
            limits,
            control.place.clone(),
        ]);
    }
    table(
        "Control schedule",
        vec![
            Column::words("No."),
            Column::sentences("Model"),
            Column::words("What, where"),
            Column::words("Outputs"),
            Column::sentences("How"),
            Column::words("Carries"),
            Column::words("Rated for"),
        ],
        rows,
    )
}

/// How a control is led, how low it dims and how fast it switches.
fn how(control: &ControlData) -> String {
    let mut parts = vec![in_words(&control.how)];
    parts.extend(control.standard.as_ref().map(|standard| format!("{standard} (from memory)")));
    let low = |permille: i64| format!("down to {} %", crate::units::trimmed(permille as f64 / 10.0, 1));
    parts.extend(control.lowest_permille.map(low));
    parts.extend(control.pwm_hz.map(|hz| format!("switched at {hz} Hz: a camera may show bands")));
    parts.join("; ")
}

/// A cable by its name and size.
fn cable(cable: &CableData) -> String {
    format!("{}\n{}", cable.item.id, cable.size)
}

/// How long a lead is, one way, with what is left loose and what runs on within the panel.
fn lengths(lead: &LeadData) -> String {
    let more = |um: i64, what: &str| match um {
        0 => String::new(),
        um => format!("\n+ {} {what}", metres(um)),
    };
    format!("{}{}{}", metres(lead.length_um), more(lead.slack_um, "slack"), more(lead.far_um, "far feed"))
}

/// Every run of wire: from an output to its controller where that stands apart, and to each panel.
pub(super) fn runs(data: &PackData) -> Table {
    let region = data.site.code_region;
    let mut rows = Vec::new();
    for c in &data.circuits {
        let after = c.control.as_ref().filter(|k| k.at == "after-driver");
        let driver = format!("driver {}.{}", c.driver, c.output);
        if let (Some(to), Some(control)) = (&c.to_control, after) {
            rows.push(vec![
                format!("to {}", control.label),
                driver.clone(),
                control.label.clone(),
                cable(&to.cable),
                format!("2 of {}", to.cable.conductors),
                to.cable.class2_type.clone().unwrap_or_else(|| "not marked".into()),
                protection(&to.protection, region),
                metres(to.length_um),
                "with the leads".into(),
                "–".into(),
            ]);
        }
        for lead in &c.leads {
            rows.push(vec![
                lead.run.clone(),
                after.map_or_else(|| driver.clone(), |control| control.label.clone()),
                led_to(lead),
                cable(&lead.cable),
                format!("{} of {}", lead.conductors.len(), lead.cable.conductors),
                lead.cable.class2_type.clone().unwrap_or_else(|| "not marked".into()),
                protection(&lead.protection, region),
                lengths(lead),
                format!("{}\n{}", volts(lead.drop_mv), permyriad(lead.drop_permyriad)),
                format!("{}\n{}", metres(lead.longest_um), permyriad(lead.largest_drop_permyriad)),
            ]);
        }
    }
    table(
        "Wire schedule",
        vec![
            Column::words("Run"),
            Column::words("From"),
            Column::words("To"),
            Column::words("Cable"),
            Column::words("Conductors"),
            Column::words(if CodeRegion::knows_class2(region) { "Class 2 mark" } else { "Marked" }),
            Column::sentences("Protected by"),
            Column::numbers("One way"),
            Column::numbers("Drop with tape"),
            Column::numbers("Longest at limit"),
        ],
        rows,
    )
}

/// What joins every run.
pub(super) fn joints(data: &PackData) -> Table {
    let said = |joint: &JointData| match &joint.connector {
        Some(item) => format!("{} ({})", item.name, item.id),
        None => "none of the shop's list suits".into(),
    };
    let rows = data.circuits.iter().flat_map(|c| &c.leads).flat_map(|lead| {
        lead.joints.iter().map(move |joint| {
            vec![lead.run.clone(), joint.at.replace('-', " "), joint.conductors.to_string(), said(joint)]
        })
    });
    table(
        "Joints",
        vec![
            Column::words("Run"),
            Column::words("Where"),
            Column::numbers("Conductors"),
            Column::sentences("Connector"),
        ],
        rows.collect(),
    )
}

/// Every conductor of every run.
pub(super) fn conductors(data: &PackData) -> Table {
    let rows = data.circuits.iter().flat_map(|c| {
        c.leads.iter().flat_map(move |lead| {
            lead.conductors.iter().enumerate().map(move |(i, one)| {
                let after = c.control.as_ref().filter(|k| k.at == "after-driver");
                let (plus, minus) = if c.common_positive { ("+", "−") } else { ("−", "+") };
                let terminal = match (i, after.is_some_and(|k| k.what == "controller")) {
                    (0, _) => plus.to_owned(),
                    (_, true) => one.mark.clone(),
                    (_, false) => minus.to_owned(),
                };
                let from =
                    after.map_or_else(|| format!("driver {}.{}", c.driver, c.output), |k| k.label.clone());
                vec![
                    lead.run.clone(),
                    format!("{from}, terminal {terminal}"),
                    format!("{}, pad {}", led_to(lead), one.mark),
                    one.carries.clone(),
                    amperes(one.current_ma),
                    amperes(lead.cable.conductor_ma),
                ]
            })
        })
    });
    table(
        "Conductors, one by one",
        vec![
            Column::words("Run"),
            Column::sentences("From"),
            Column::sentences("To"),
            Column::words("Carries"),
            Column::numbers("At most"),
            Column::numbers("Cable allows"),
        ],
        rows.collect(),
    )
}

/// What to buy.
pub(super) fn bill(data: &PackData) -> Table {
    let rows = data.bill.iter().map(|line| {
        vec![
            line.what.clone(),
            line.item.id.clone(),
            line.item.name.clone(),
            crate::units::trimmed(line.quantity_thousandths as f64 / 1000.0, 3),
            if line.unit == "m2" { "m²".into() } else { line.unit.clone() },
            line.panel.clone().unwrap_or_default(),
        ]
    });
    table(
        "Bill of materials, without waste and slack",
        vec![
            Column::words("What"),
            Column::words("Id"),
            Column::sentences("Name"),
            Column::numbers("Quantity"),
            Column { anchor: Anchor::Start, ..Column::words("Unit") },
            Column::words("Panel"),
        ],
        rows.collect(),
    )
}

/// What to order for it.
pub(super) fn order(input: &PackInput<'_>) -> Table {
    let amount = |value: f64, unit: &str| {
        let (figure, unit) = crate::units::DisplayUnits::Mm.amount(value, unit);
        format!("{figure} {unit}")
    };
    let rows = input.order.iter().map(|line| {
        vec![
            line.what.clone(),
            line.id.clone(),
            amount(line.net, &line.unit),
            amount(line.order, &line.order_unit),
            line.note.clone(),
        ]
    });
    table(
        "To order: whole sheets, waste, slack, and the joints inside the panels",
        vec![
            Column::words("What"),
            Column::words("Id"),
            Column::numbers("Built in"),
            Column::numbers("Order"),
            Column::sentences("Of it"),
        ],
        rows.collect(),
    )
}

/// The panels at a glance.
pub(super) fn panels(input: &PackInput<'_>) -> Table {
    let data = input.data;
    let rows = data.panels.iter().map(|p| {
        let power = p.power.as_ref();
        let stone = data.stones.iter().find(|s| s.swatch == p.swatch);
        vec![
            p.quantity.map_or_else(|| p.id.clone(), |n| format!("{}\n{n} alike", p.id)),
            format!("{}\n× {}", length(p.width_um, input.units), length(p.height_um, input.units)),
            stone.map_or_else(|| p.swatch.clone(), |s| s.stone.clone()),
            format!(
                "{}{}",
                p.light.clone().unwrap_or_else(|| "open".into()),
                p.cct_k.map(|k| format!("\n{k} K")).unwrap_or_default()
            ),
            p.place.clone(),
            power.map_or_else(|| "open".into(), |w| watts(w.power_mw)),
            power.map_or_else(|| "open".into(), |w| format!("{} lm/m²", w.exitance_lm_m2)),
            p.route.as_ref().map_or_else(|| "open".into(), |r| r.id.clone()),
        ]
    });
    table(
        "Panels",
        vec![
            Column::words("Panel"),
            Column::words("Size"),
            Column::sentences("Stone"),
            Column::words("Light"),
            Column::words("Place"),
            Column::numbers("Power"),
            Column::numbers("At the face"),
            Column::words("Route"),
        ],
        rows.collect(),
    )
}
