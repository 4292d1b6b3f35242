//! Whether panels that could share drivers are better fed by drivers of several models.
//!
//! All drivers of one panel are of one model, so that its record names one. The panels are divided into lots, each
//! on its own model: with the fewest drivers that are not listed Class 2, then the fewest in all, then the fewest
//! outputs, then the smallest rating, then the fewest models. Up to [`TRY_ALL`] panels every
//! division is tried; beyond that the panels that share a driver are moved to a smaller model where one does, and what no
//! model serves together is divided greedily.

use super::class2::Class2Standing;
use super::driver_choice::{DriverChoice, Requirement, choose, judge};
use super::drivers::{Driver, Drivers};
use super::grouping::PanelLoad;

/// Up to so many panels every division is tried.
pub(crate) const TRY_ALL: usize = 6;

/// What a division costs, in the order in which it counts.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Cost {
    not_listed: usize,
    drivers: usize,
    extra_outputs: usize,
    rating_w: f64,
    models: usize,
}

impl Cost {
    const NOTHING: Cost = Cost { not_listed: 0, drivers: 0, extra_outputs: 0, rating_w: 0.0, models: 0 };

    fn and(self, other: Cost) -> Cost {
        Cost {
            not_listed: self.not_listed + other.not_listed,
            drivers: self.drivers + other.drivers,
            extra_outputs: self.extra_outputs + other.extra_outputs,
            rating_w: self.rating_w + other.rating_w,
            models: self.models + other.models,
        }
    }

    fn is_below(&self, other: &Cost) -> bool {
        (self.not_listed, self.drivers, self.extra_outputs)
            .cmp(&(other.not_listed, other.drivers, other.extra_outputs))
            // Rounding of sums is no saving.
            .then(if (self.rating_w - other.rating_w).abs() <= 1e-6 {
                self.models.cmp(&other.models)
            } else {
                self.rating_w.total_cmp(&other.rating_w)
            })
            .is_lt()
    }
}

/// Divides panels into lots that are each fed by drivers of one model; one lot where that is best, and also where
/// no division feeds them all, so that the choice for them says why.
///
/// `drivers` are those of the shop, held to what a controller carries where there is one.
#[must_use]
pub fn divide(drivers: &Drivers, asked: &Requirement, loads: &[PanelLoad]) -> Vec<Vec<usize>> {
    let all: Vec<usize> = (0..loads.len()).collect();
    if loads.len() < 2 {
        return vec![all];
    }
    let lots = if loads.len() <= TRY_ALL {
        try_all(drivers, asked, loads)
    } else {
        match choose(drivers, asked, loads) {
            Ok(choice) => downsized(drivers, asked, loads, &choice),
            Err(_) => greedy(drivers, asked, loads),
        }
    };
    match lots {
        Some(lots) if lots.len() > 1 && is_better(drivers, asked, loads, &lots) => lots,
        _ => vec![all],
    }
}

/// True where lots, each on the model that is chosen for it, cost less than one model for all.
fn is_better(drivers: &Drivers, asked: &Requirement, loads: &[PanelLoad], lots: &[Vec<usize>]) -> bool {
    let chosen = |loads: &[PanelLoad]| {
        let choice = choose(drivers, asked, loads).ok()?;
        cost(drivers, choice.driver, asked, loads)
    };
    let divided = lots.iter().try_fold(Cost::NOTHING, |sum, lot| Some(sum.and(chosen(&of(loads, lot))?)));
    match (divided, chosen(loads)) {
        (Some(divided), Some(one)) => divided.is_below(&one),
        (divided, None) => divided.is_some(),
        (None, Some(_)) => false,
    }
}

fn of(loads: &[PanelLoad], panels: &[usize]) -> Vec<PanelLoad> {
    panels.iter().map(|panel| loads[*panel].clone()).collect()
}

/// What it costs to feed panels by one model; none where it does not suit them.
fn cost(drivers: &Drivers, driver: &Driver, asked: &Requirement, loads: &[PanelLoad]) -> Option<Cost> {
    let grouping = judge(driver, drivers.largest_load_share, asked, loads).ok()?;
    let listed = Class2Standing::of_driver(driver).may_be_wired_as_class2();
    Some(Cost {
        not_listed: if listed { 0 } else { grouping.drivers },
        drivers: grouping.drivers,
        extra_outputs: grouping.extra_outputs,
        rating_w: driver.rating_w.get() * grouping.drivers as f64,
        models: 1,
    })
}

/// The cheapest division of a few panels: model by model, over every set of panels that is still to be fed.
fn try_all(drivers: &Drivers, asked: &Requirement, loads: &[PanelLoad]) -> Option<Vec<Vec<usize>>> {
    let sets = 1_usize << loads.len();
    let panels_of = |set: usize| (0..loads.len()).filter(move |panel| set >> panel & 1 == 1);
    let mut best: Vec<Option<(Cost, Vec<usize>)>> = vec![None; sets];
    best[0] = Some((Cost::NOTHING, Vec::new()));
    for driver in &drivers.drivers {
        // A model that suits none of the panels alone suits no set of them.
        let suited: usize = (0..loads.len())
            .filter(|panel| cost(drivers, driver, asked, &loads[*panel..=*panel]).is_some())
            .map(|panel| 1 << panel)
            .sum();
        let costs: Vec<Option<Cost>> = (0..sets)
            .map(|set| match set {
                0 => None,
                set if set & !suited != 0 => None,
                set => cost(drivers, driver, asked, &of(loads, &panels_of(set).collect::<Vec<_>>())),
            })
            .collect();
        let before = best.clone();
        for whole in 1..sets {
            // Every part of the set, and the rest by the models before.
            let mut part = whole;
            while part > 0 {
                if let (Some(own), Some((rest, lots))) = (costs[part], &before[whole & !part]) {
                    let sum = own.and(*rest);
                    if best[whole].as_ref().is_none_or(|(least, _)| sum.is_below(least)) {
                        let lots = lots.iter().copied().chain([part]).collect();
                        best[whole] = Some((sum, lots));
                    }
                }
                part = (part - 1) & whole;
            }
        }
    }
    let (_, mut lots) = best.pop()??;
    lots.sort_by_key(|set| set.trailing_zeros());
    Some(lots.into_iter().map(|set| panels_of(set).collect()).collect())
}

/// The panels of one model, with those that share a driver moved to a smaller model where one does.
fn downsized(
    drivers: &Drivers,
    asked: &Requirement,
    loads: &[PanelLoad],
    choice: &DriverChoice<'_>,
) -> Option<Vec<Vec<usize>>> {
    let mut lots: Vec<(&str, Vec<usize>)> = Vec::new();
    for together in connected_components(loads.len(), choice) {
        let own = of(loads, &together);
        let before = cost(drivers, choice.driver, asked, &own)?;
        let smaller = drivers
            .drivers
            .iter()
            .filter_map(|driver| Some((driver, cost(drivers, driver, asked, &own)?)))
            .filter(|(_, cost)| cost.is_below(&before))
            .reduce(|least, one| if one.1.is_below(&least.1) { one } else { least });
        let model = smaller.map_or(choice.driver.id.as_str(), |(driver, _)| driver.id.as_str());
        match lots.iter_mut().find(|(id, _)| *id == model) {
            Some((_, lot)) => lot.extend(together),
            None => lots.push((model, together)),
        }
    }
    Some(sorted(lots.into_iter().map(|(_, lot)| lot).collect()))
}

/// The panels in sets that share no driver with one another.
fn connected_components(panels: usize, choice: &DriverChoice<'_>) -> Vec<Vec<usize>> {
    let mut set_of: Vec<usize> = (0..panels).collect();
    for driver in 1..=choice.count {
        let on_it = choice.circuits.iter().filter(|c| c.driver == driver).flat_map(|c| &c.tapes);
        let sets: Vec<usize> = on_it.map(|(panel, _)| set_of[*panel]).collect();
        if let Some(first) = sets.iter().copied().min() {
            set_of.iter_mut().filter(|set| sets.contains(set)).for_each(|set| *set = first);
        }
    }
    let mut sets: Vec<(usize, Vec<usize>)> = Vec::new();
    for (panel, set) in set_of.into_iter().enumerate() {
        match sets.iter_mut().find(|(name, _)| *name == set) {
            Some((_, members)) => members.push(panel),
            None => sets.push((set, vec![panel])),
        }
    }
    sets.into_iter().map(|(_, members)| members).collect()
}

/// Panels that no model feeds together: the model that serves most of those left takes them, again and again.
/// None where a panel is left that no model serves.
fn greedy(drivers: &Drivers, asked: &Requirement, loads: &[PanelLoad]) -> Option<Vec<Vec<usize>>> {
    let mut left: Vec<usize> = (0..loads.len()).collect();
    let mut lots = Vec::new();
    while !left.is_empty() {
        let serves = |driver: &Driver| -> Vec<usize> {
            let mut lot: Vec<usize> = Vec::new();
            for panel in &left {
                lot.push(*panel);
                if cost(drivers, driver, asked, &of(loads, &lot)).is_none() {
                    lot.pop();
                }
            }
            lot
        };
        let lot = drivers
            .drivers
            .iter()
            .map(serves)
            .reduce(|most, one| if one.len() > most.len() { one } else { most })?;
        if lot.is_empty() {
            return None;
        }
        left.retain(|panel| !lot.contains(panel));
        lots.push(lot);
    }
    Some(sorted(lots))
}

fn sorted(mut lots: Vec<Vec<usize>>) -> Vec<Vec<usize>> {
    lots.iter_mut().for_each(|lot| lot.sort_unstable());
    lots.sort_by_key(|lot| lot.first().copied());
    lots
}
