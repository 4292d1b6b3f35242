//! The search behind `grouping`: bin packing in whole microwatts, exact up to a fixed amount of work.
//!
//! Two best-fit orders give a first answer; a depth-first search with a lower bound betters it or proves it.
//! Costs compare drivers first, then outputs beyond one for each panel. Every item must go on an empty output.

use std::collections::{BTreeMap, BTreeSet};

/// Search steps after which the best grouping so far is taken.
const LARGEST_SEARCH: u32 = 20_000;
/// Tapes beyond which no search is tried.
const LARGEST_COUNT: usize = 300;

/// One tape to be placed.
#[derive(Clone, Copy)]
pub(super) struct Item {
    /// Index of its panel.
    pub(super) panel: usize,
    /// Index within its panel.
    pub(super) tape: usize,
    /// Milliwatts, above 0.
    pub(super) load: u64,
}

/// Every item on an output; output `i` is of driver `i / outputs`.
pub(super) struct Packed {
    /// Drivers in use.
    pub(super) drivers: usize,
    /// Outputs beyond one for each panel.
    pub(super) extra_outputs: usize,
    /// Item and output.
    pub(super) chosen: Vec<(Item, usize)>,
    /// True where nothing cheaper exists.
    pub(super) proven_least: bool,
}

/// Packs items of so many panels on as few drivers as it can find.
pub(super) fn pack(items: Vec<Item>, panels: usize, limits: Limits) -> Packed {
    let totals: Vec<u64> = (0..panels)
        .map(|panel| items.iter().filter(|item| item.panel == panel).map(|item| item.load).sum())
        .collect();
    let mut by_load = items.clone();
    by_load.sort_by_key(|item| std::cmp::Reverse(item.load));
    let mut by_panel = items;
    by_panel
        .sort_by_key(|i| (std::cmp::Reverse(totals[i.panel]), i.panel, std::cmp::Reverse(i.load), i.tape));

    let least = limits.least(&by_panel, &totals);
    let mut best = best_fit(&by_panel, limits);
    let other = best_fit(&by_load, limits);
    if other.cost() < best.cost() {
        best = other;
    }
    let mut proven = best.cost() == least;
    if !proven && by_panel.len() <= LARGEST_COUNT {
        let mut left: Vec<u64> = by_panel
            .iter()
            .rev()
            .scan(0, |sum, item| {
                *sum += item.load;
                Some(*sum)
            })
            .collect();
        left.reverse();
        let mut search = Search { items: &by_panel, left, limits, least, best, steps: 0, over: false };
        search.descend(0, &mut State::default());
        proven = !search.over;
        best = search.best;
    }
    Packed {
        drivers: best.driver_loads.len(),
        extra_outputs: best.extra,
        chosen: best.chosen,
        proven_least: proven,
    }
}

/// What one driver and its outputs carry.
#[derive(Clone, Copy)]
pub(super) struct Limits {
    /// Milliwatts of one output.
    pub(super) output: u64,
    /// Milliwatts of the whole driver.
    pub(super) driver: u64,
    /// Outputs of one driver.
    pub(super) outputs: usize,
}

impl Limits {
    /// No grouping costs less: total load over a driver's, and each panel's over an output's.
    fn least(self, items: &[Item], totals: &[u64]) -> (usize, usize) {
        let total: u64 = items.iter().map(|item| item.load).sum();
        let extra = totals.iter().map(|&t| (t.div_ceil(self.output.max(1)) as usize).saturating_sub(1)).sum();
        (total.div_ceil(self.driver.max(1)) as usize, extra)
    }
}

/// Outputs filled so far; output `i` belongs to driver `i / outputs`.
#[derive(Clone, Default)]
struct State {
    /// How many tapes of each panel are placed.
    started: BTreeMap<usize, usize>,
    output_loads: Vec<u64>,
    driver_loads: Vec<u64>,
    /// By output: how many tapes of each panel it feeds.
    panels: Vec<BTreeMap<usize, usize>>,
    chosen: Vec<(Item, usize)>,
    extra: usize,
}

impl State {
    fn cost(&self) -> (usize, usize) {
        (self.driver_loads.len(), self.extra)
    }

    fn room(&self, at: usize, limits: Limits) -> u64 {
        if at == self.output_loads.len() {
            return limits.output;
        }
        let of_output = limits.output - self.output_loads[at];
        of_output.min(limits.driver - self.driver_loads[at / limits.outputs])
    }

    /// Puts an item on an output; the output just past the last one opens another driver.
    fn put(&mut self, item: Item, at: usize, limits: Limits) {
        if at == self.output_loads.len() {
            self.driver_loads.push(0);
            self.output_loads.extend(std::iter::repeat_n(0, limits.outputs));
            self.panels.extend(std::iter::repeat_n(BTreeMap::new(), limits.outputs));
        }
        let placed = self.started.entry(item.panel).or_default();
        let fed = self.panels[at].entry(item.panel).or_default();
        if *fed == 0 && *placed > 0 {
            self.extra += 1;
        }
        *placed += 1;
        *fed += 1;
        self.output_loads[at] += item.load;
        self.driver_loads[at / limits.outputs] += item.load;
        self.chosen.push((item, at));
    }

    fn take_back(&mut self, limits: Limits) {
        let Some((item, at)) = self.chosen.pop() else { return };
        self.output_loads[at] -= item.load;
        self.driver_loads[at / limits.outputs] -= item.load;
        let fed_still = one_less(&mut self.panels[at], item.panel);
        let placed_still = one_less(&mut self.started, item.panel);
        if !fed_still && placed_still {
            self.extra -= 1;
        }
        if self.driver_loads.last() == Some(&0) {
            self.driver_loads.pop();
            let keep = self.driver_loads.len() * limits.outputs;
            self.output_loads.truncate(keep);
            self.panels.truncate(keep);
        }
    }

    /// The outputs that can take an item, best first: those that feed its panel already, then the tightest,
    /// then a new driver.
    fn candidates(&self, item: Item, limits: Limits) -> Vec<usize> {
        let mut fit: Vec<usize> =
            (0..=self.output_loads.len()).filter(|&at| self.room(at, limits) >= item.load).collect();
        fit.sort_by_key(|&at| {
            let new = at == self.output_loads.len();
            let feeds = !new && self.panels[at].contains_key(&item.panel);
            (new, !feeds, self.room(at, limits), at)
        });
        fit
    }
}

/// Counts one down and drops it at none; true where some are left.
fn one_less(counts: &mut BTreeMap<usize, usize>, panel: usize) -> bool {
    let left = counts.get(&panel).map_or(0, |count| count.saturating_sub(1));
    if left == 0 {
        counts.remove(&panel);
    } else {
        counts.insert(panel, left);
    }
    left > 0
}

fn best_fit(items: &[Item], limits: Limits) -> State {
    let mut state = State::default();
    for &item in items {
        // A new driver always fits an item, so there is always a first candidate.
        let at = state.candidates(item, limits).first().copied().unwrap_or(state.output_loads.len());
        state.put(item, at, limits);
    }
    state
}

/// An output's load and whether it feeds the panel in hand; then the same of all its driver's outputs.
type Look = ((u64, bool), Vec<(u64, bool)>);

struct Search<'a> {
    /// Panel by panel, so that an output's older panels no longer matter to what follows.
    items: &'a [Item],
    /// Load of the items from each position on.
    left: Vec<u64>,
    limits: Limits,
    least: (usize, usize),
    best: State,
    steps: u32,
    over: bool,
}

impl Search<'_> {
    fn done(&self) -> bool {
        self.over || self.best.cost() == self.least
    }

    fn descend(&mut self, next: usize, state: &mut State) {
        if self.done() {
            return;
        }
        self.steps += 1;
        if self.steps > LARGEST_SEARCH {
            self.over = true;
            return;
        }
        let Some(&item) = self.items.get(next) else {
            if state.cost() < self.best.cost() {
                self.best = state.clone();
            }
            return;
        };
        if self.bound(next, state) >= self.best.cost() {
            return;
        }
        let mut seen = BTreeSet::new();
        for at in state.candidates(item, self.limits) {
            if !seen.insert(self.look(state, item.panel, at)) {
                continue;
            }
            state.put(item, at, self.limits);
            self.descend(next + 1, state);
            state.take_back(self.limits);
            if self.done() {
                return;
            }
        }
    }

    /// No grouping that goes on from here costs less.
    fn bound(&self, next: usize, state: &State) -> (usize, usize) {
        let left = self.left[next];
        let free: u64 = state.driver_loads.iter().map(|load| self.limits.driver - load).sum();
        let more = left.saturating_sub(free).div_ceil(self.limits.driver.max(1)) as usize;
        (state.driver_loads.len() + more, state.extra)
    }

    /// Two outputs that look the same to what is still to come need only one trial: same load, feeding this
    /// panel or not, on drivers whose outputs look the same.
    fn look(&self, state: &State, panel: usize, at: usize) -> Option<Look> {
        if at == state.output_loads.len() {
            return None;
        }
        let of = |i: usize| (state.output_loads[i], state.panels[i].contains_key(&panel));
        let first = at / self.limits.outputs * self.limits.outputs;
        let mut driver: Vec<_> = (first..first + self.limits.outputs).map(of).collect();
        driver.sort_unstable();
        Some((of(at), driver))
    }
}
