//! One panel's lead on a circuit: its cable and the controller's, what protects them, and every volt from driver to tape.

use super::cable_choice::{self, CableFault, CableNeeds};
use super::circuit_plan::{Lead, PanelFeed, Shop, Trouble};
use super::conductor::Conductor;
use super::light_build::ConductorCurrent;
use super::protection::{CableEnds, Protection, Source};
use super::tape_drop::Feed;
use super::wire_run::{Leg, Run, RunTape};
use super::wire_stock::{Cable, LeadEnd, WireStock};
use crate::units::{Amperes, Metres, Watts};

/// What a circuit asks of its leads.
#[derive(Clone, Copy)]
pub(super) struct LeadAsked {
    /// All that the circuit carries.
    pub(super) circuit_a: Amperes,
    /// True where a controller stands on it.
    pub(super) controlled: bool,
    /// Its output.
    pub(super) source: Source,
    /// The size that all of its cables are in; none to choose one.
    pub(super) size: Option<Conductor>,
}

/// Works out the lead of one panel, or of one piece of a split one.
pub(super) fn lead(
    shop: Shop<'_>,
    panel: &PanelFeed<'_>,
    piece: usize,
    tapes: &[usize],
    channel_a: &[f64],
    asked: LeadAsked,
) -> Result<Lead, Trouble> {
    let to_controller = panel.controller_m.filter(|length| asked.controlled && length.get() > 0.0);
    let slack_m = panel.slack_m.get(piece.saturating_sub(1)).copied().unwrap_or(Metres(0.0));
    let legs_with = |slack: f64| {
        let feed = Leg {
            length_m: Metres(panel.feed_m.get() + slack),
            channel_a: channel_a.iter().map(|a| Amperes(*a)).collect(),
            joints: 2,
        };
        let controller =
            to_controller.map(|length_m| Leg { length_m, channel_a: vec![asked.circuit_a], joints: 2 });
        controller.into_iter().chain([feed]).collect::<Vec<_>>()
    };
    let of_tape = |index: &usize| {
        let tape = &panel.build.tapes[*index];
        let [common_ohm, channel_ohm] = tape.rails_ohm.unwrap_or_default();
        RunTape {
            common_a: tape.channel_a.iter().map(|a| a.get()).sum(),
            channel_a: tape.channel_a.iter().map(|a| a.get()).fold(0.0, f64::max),
            common_ohm,
            channel_ohm,
            feed: tape.feed,
            far_m: if tape.feed == Feed::BothEnds { tape.length_m.get() } else { 0.0 },
        }
    };
    let run = Run {
        nominal_v: panel.asked.voltage_v,
        legs: legs_with(slack_m.get()),
        tapes: tapes.iter().map(of_tape).collect(),
        conductor_c: shop.wire.conductor_c,
        joint_mohm: shop.wire.joint_mohm,
        largest_drop_pct: shop.wire.largest_drop_pct,
    };
    let ends = |source_place, end, end_place| CableEnds { source_place, end, end_place };
    let begins = if to_controller.is_some() { panel.control_place } else { panel.asked.place };
    let to_panel = ends(begins, LeadEnd::AtPanel, panel.place);
    let to_control = to_controller.map(|_| ends(panel.asked.place, LeadEnd::AtSource, panel.control_place));
    let needs = CableNeeds {
        class2: panel.asked.class2,
        region: panel.asked.region,
        protected: Some((asked.source, to_control.into_iter().chain([to_panel]).collect())),
    };
    let stock = stock_for(shop, panel, to_controller.is_some(), asked.size)?;
    let trouble = |fault| match (&panel.cable, fault) {
        (Some(id), CableFault::NoneFits { passed_over }) => Trouble::SettledCable {
            id: id.clone(),
            reasons: passed_over.into_iter().flat_map(|(_, reasons)| reasons).collect(),
        },
        (_, fault) => Trouble::Cable(fault),
    };
    let mut against = Vec::new();
    let choice = match cable_choice::choose(&stock, &run, &needs) {
        Ok(choice) => choice,
        // What was settled before more was asked for stands by its leads alone, and says what stands against it.
        Err(CableFault::NoneFits { passed_over }) if !shop.strict && panel.cable.is_some() => {
            let leads_alone = Run { legs: legs_with(0.0), tapes: Vec::new(), ..run.clone() };
            let mut choice =
                cable_choice::choose(&stock, &leads_alone, &CableNeeds { protected: None, ..needs.clone() })
                    .map_err(trouble)?;
            against.extend(passed_over.iter().flat_map(|(_, reasons)| reasons).map(ToString::to_string));
            choice.size = run.judge(choice.size.conductor).map_err(|f| Trouble::Cable(CableFault::Run(f)))?;
            choice
        }
        Err(fault) => return Err(trouble(fault)),
    };
    let ids: Vec<String> = choice.cables.iter().map(|cable| cable.id.clone()).collect();
    let sum: f64 = channel_a.iter().sum();
    let mut channel = channel_a.iter().copied();
    let conductors = panel
        .build
        .conductors
        .iter()
        .map(|conductor| ConductorCurrent {
            amps: Amperes(if conductor.common { sum } else { channel.next().unwrap_or(0.0) }),
            ..conductor.clone()
        })
        .collect();
    let size = &choice.size;
    // What a metre more to the panel would drop.
    let length = panel.feed_m.get() + slack_m.get();
    let per_m = size.legs.last().map_or(0.0, |leg| leg.conductors_v.get()) / length;
    let limit_v = run.nominal_v.get() * run.largest_drop_pct / 100.0;
    let longest = panel.feed_m.get() + (limit_v - size.drop_v.get()) / per_m;
    let stated = |index: &usize| panel.build.tapes[*index].rails_ohm.is_some();
    let mut protection = choice.protection.iter().cloned();
    let controller_protection = to_controller.and_then(|_| protection.next());
    Ok(Lead {
        panel: panel.panel.clone(),
        piece,
        tapes: tapes.to_vec(),
        watts: Watts(tapes.iter().map(|tape| panel.build.tapes[*tape].watts.get()).sum()),
        conductors,
        cable: panel.cable.clone().or_else(|| ids.last().cloned()).unwrap_or_default(),
        controller_cable: to_controller.and_then(|_| ids.first().cloned()),
        controller_m: to_controller.unwrap_or(Metres(0.0)),
        feed_m: panel.feed_m,
        slack_m,
        far_m: Metres(run.tapes.iter().map(|tape| tape.far_m).sum()),
        drop_v: size.drop_v,
        tape_drop_v: size.tape_v,
        tapes_v: tapes.iter().zip(&size.tapes_v).map(|(tape, v)| stated(tape).then_some(*v)).collect(),
        drop_pct: size.drop_pct,
        longest_m: Metres(longest.max(0.0)),
        protection: protection.next().unwrap_or(Protection::Nothing),
        controller_protection,
        against,
    })
}

/// The cables that a lead may take: the one that is settled, those of a size, or all.
fn stock_for(
    shop: Shop<'_>,
    panel: &PanelFeed<'_>,
    to_controller: bool,
    size: Option<Conductor>,
) -> Result<WireStock, Trouble> {
    let settled = match &panel.cable {
        None => None,
        Some(id) => {
            Some(shop.wire.get(id).ok_or_else(|| Trouble::Unknown { what: "cable", id: id.clone() })?)
        }
    };
    let keep = |c: &&Cable| {
        // The feed's cable is settled; the leg to the controller may take any of the same size.
        let as_settled = settled.is_none_or(|one| {
            c.id == one.id || (to_controller && c.table == one.table && c.size == one.size)
        });
        as_settled && size.is_none_or(|size| c.table == size.table() && c.size == size.size())
    };
    Ok(WireStock { cables: shop.wire.cables.iter().filter(keep).cloned().collect(), ..shop.wire.clone() })
}
