//! What a pack says of its data, in words: cautions, bases, remarks, service cards. Made from the data whenever a
//! pack is shown, and no part of what its release seals.

use std::collections::BTreeMap;

use serde::Serialize;

use super::data::{CircuitData, LeadData, PackData, PanelData, ProtectionData};
use super::panels::served;
use crate::job::plan::{JobPlan, PanelPlan};
use crate::job::wording::Wording;
use crate::making::service::{self, CardFacts};
use crate::power::class2::Class2Standing;
use crate::power::protection::Protection;
use crate::power::vocabulary::CodeRegion;
use crate::units::trimmed;

/// A pack's words.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub(crate) struct PackWords {
    /// What can hurt somebody.
    pub cautions: Vec<String>,
    /// Figure, the word for its basis, and from what.
    pub bases: Vec<[String; 3]>,
    /// What the sums take for granted.
    pub assumptions: Vec<String>,
    /// What to know of what is to be bought.
    pub bill: Vec<String>,
    /// What is said of each panel.
    pub panels: BTreeMap<String, PanelWords>,
}

/// What is said of one panel.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub(crate) struct PanelWords {
    /// Everything that is still open.
    pub open: Vec<String>,
    /// What to know of its power.
    pub remarks: Vec<String>,
    /// How it is served; none while its mount or power is open.
    pub service: Option<ServiceWords>,
}

/// What serving a panel takes, in words.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct ServiceWords {
    /// From where.
    pub access: String,
    /// The heaviest single thing to be moved.
    pub heaviest: String,
    /// The least that its lift takes.
    pub lift: String,
    /// The card for the day when light fails: label and value.
    pub lines: Vec<[String; 2]>,
    /// What to do, in order.
    pub steps: Vec<String>,
    /// What to mind.
    pub cautions: Vec<String>,
}

/// The words for a job's data.
#[must_use]
pub(crate) fn of_data(data: &PackData, job: &JobPlan) -> PackWords {
    let plan = |panel: &PanelData| job.panels.iter().find(|(id, _)| id.as_str() == panel.id).map(|(_, p)| p);
    let panels = data.panels.iter().map(|panel| {
        let words = PanelWords {
            open: plan(panel).map(still_open).unwrap_or_default(),
            remarks: plan(panel)
                .and_then(|p| p.power.as_ref().ok())
                .map(|power| power.remarks.clone())
                .unwrap_or_default(),
            service: service_words(data, panel),
        };
        (panel.id.clone(), words)
    });
    PackWords {
        cautions: data.cautions.iter().map(|c| c.in_words(Wording::PRESENT)).collect(),
        bases: data.bases.iter().map(super::notes::Basis::in_words).collect(),
        assumptions: data.assumptions.iter().map(super::notes::Assumption::in_words).collect(),
        bill: job.materials.open(),
        panels: panels.collect(),
    }
}

/// What protects a cable, in words.
#[must_use]
pub(crate) fn protection(data: &ProtectionData, region: Option<CodeRegion>) -> String {
    let amps = data.limit_ma.map(|ma| format!("{} A", trimmed(ma as f64 / 1000.0, 2))).unwrap_or_default();
    match (data.by.as_str(), &data.fuse) {
        ("listed-output", _) => Protection::ListedOutput.in_words(region),
        ("limited-output", _) => format!("output limited to {amps}"),
        ("fuse-before", _) => format!("fuse of {amps} before it"),
        ("fuse", Some(fuse)) => format!("fuse {amps} ({}) at its source", fuse.id),
        _ => "NOT PROTECTED".into(),
    }
}

/// The panel that a lead goes to, and the piece where it is split.
#[must_use]
pub(crate) fn led_to(lead: &LeadData) -> String {
    match lead.piece {
        0 => format!("panel {}", lead.panel),
        piece => format!("panel {}, piece {piece}", lead.panel),
    }
}

/// What may be said of an output and Class 2, by its code in the data, in the words of the site's code.
#[must_use]
pub(crate) fn class2(code: &str, region: Option<CodeRegion>) -> String {
    let standing = Class2Standing::ALL.into_iter().find(|standing| standing.code() == code);
    standing.map_or_else(|| code.to_owned(), |standing| standing.in_words(region))
}

fn still_open(plan: &PanelPlan) -> Vec<String> {
    let of = |what: &str, why: Option<&Vec<String>>| {
        why.into_iter().flatten().map(|w| format!("{what}: {w}")).collect::<Vec<_>>()
    };
    let mut open = of("route", plan.route.as_ref().err());
    open.extend(of("power", plan.power.as_ref().err()));
    open
}

fn service_words(data: &PackData, panel: &PanelData) -> Option<ServiceWords> {
    let stone = data.stones.iter().find(|s| s.swatch == panel.swatch);
    let served = served(panel, stone)?;
    let needs = service::needs(&served);
    let mut card = service::card(&served, &card_facts(data, panel)?);
    if let Some(opening) = &panel.opening {
        let at = card.lines.iter().position(|(label, _)| label == "Served").unwrap_or(card.lines.len());
        card.lines.insert(at, ("Opens".to_owned(), opening.clone()));
    }
    if let Some(count) = panel.quantity {
        let id = &panel.id;
        card.lines.insert(
            0,
            ("One of".to_owned(), format!("{count} alike: {id}-1 to {id}-{count}; this is {id}-____")),
        );
    }
    Some(ServiceWords {
        access: needs.access.to_string(),
        heaviest: needs.heaviest,
        lift: needs.lift.to_string(),
        lines: card.lines.into_iter().map(|(label, value)| [label, value]).collect(),
        steps: card.steps,
        cautions: card.cautions,
    })
}

fn card_facts(data: &PackData, panel: &PanelData) -> Option<CardFacts> {
    let power = panel.power.as_ref()?;
    let mine: Vec<(&CircuitData, &LeadData)> = data
        .circuits
        .iter()
        .flat_map(|c| c.leads.iter().map(move |lead| (c, lead)))
        .filter(|(_, lead)| lead.panel == panel.id)
        .collect();
    let metres = |um: i64, decimals: usize| trimmed(um as f64 / 1e6, decimals);
    let cct = panel.cct_k.map(|k| format!(", {k} K")).unwrap_or_default();
    let outputs: Vec<String> =
        mine.iter().map(|(c, _)| format!("no. {} output {}", c.driver, c.output)).collect();
    let model = mine
        .first()
        .and_then(|(c, _)| data.drivers.iter().find(|d| d.number == c.driver))
        .map_or_else(String::new, |driver| driver.model.name.clone());
    let mut controls: Vec<String> = mine
        .iter()
        .filter_map(|(c, _)| c.control.as_ref())
        .map(|c| format!("{} ({}, {})", c.model.name, c.what, c.at.replace('-', " ")))
        .collect();
    controls.dedup();
    let cables: Vec<String> = mine
        .iter()
        .map(|(_, lead)| {
            let fuse = lead
                .protection
                .fuse
                .as_ref()
                .map(|_| format!(", {}", protection(&lead.protection, data.site.code_region)));
            format!(
                "{}: {}, {} m{}",
                lead.run,
                lead.cable.item.name,
                metres(lead.length_um, 2),
                fuse.unwrap_or_default()
            )
        })
        .collect();
    let place = match panel.supply.location.as_str() {
        "in-wall-box" => "in a box in the wall",
        _ => "remote, ventilated, accessible",
    };
    let place = if panel.supply.recorded { format!(", {place}") } else { String::new() };
    Some(CardFacts {
        project: data.project.clone(),
        light: format!(
            "{}{cct}, {} V direct current",
            panel.light.clone().unwrap_or_default(),
            trimmed(power.voltage_mv as f64 / 1000.0, 1)
        ),
        tape: format!(
            "{}, {} m in {} lengths, {} W at full",
            power.tape.id,
            metres(power.tape_um, 3),
            power.tapes.len(),
            trimmed(power.power_mw as f64 / 1000.0, 1)
        ),
        driver: format!("{model}, {}{place}", outputs.join(" and ")),
        control: controls.join("; "),
        cable: cables.join("; "),
        handed_over: None,
    })
}
