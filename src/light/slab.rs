//! A layer that absorbs and scatters between two surfaces, and what pieces measured at some thicknesses leave open at another.
//!
//! Two-flux (S. Q. Duntley, J. Opt. Soc. Am. 32 (1942) 61–70; P. Kubelka, ibid. 38 (1948) 448–457) with what the
//! surfaces send back outside and inside (J. L. Saunderson, ibid. 32 (1942) 727–736), from memory. Inside, a surface sends
//! back r₁ = 1 − (1 − r₀)/n² of diffuse light, which is mostly beyond the critical angle; light that was not yet scattered
//! is not. The way from the one to the other by 1 − e^(−2Sd) is our own, settled on the slabs of
//! `tests/outside/light/slabs.py`, no source; so is [`MODEL`]. A stone over a panel gets back what the panel sends back
//! of the light that the stone returns: τ/(1 − ρR).

/// The index of stone, where nobody says another: calcite, gypsum and quartz lie between 1.45 and 1.65. Common practice,
/// no source.
pub(crate) const USUAL_INDEX: f64 = 1.55;
/// How well a reading of one piece repeats beside one of another, relative, one deviation. Common practice, no source.
pub(crate) const REPEATS: f64 = 0.02;
/// How far the layer misses a slab of twice or half the thickness, relative, one deviation.
const MODEL: f64 = 0.03;
/// The most scattering that a stone is taken to have, of the most that what it lets through leaves room for: some light
/// is always absorbed.
const MOST_SCATTERING: f64 = 0.95;
/// Shares of scattering that are tried.
const SHARES: usize = 11;
/// The shares of light that a panel may send back to the stone over it. Common practice, no source.
const SENT_BACK: [f64; 3] = [0.38, 0.55, 0.72];
/// Keeps logarithms finite where a detector read nothing.
const DARKEST: f64 = 1e-6;
/// 5 and 95 of a hundred of a normal error lie so many deviations out.
const NINE_OF_TEN: f64 = 1.645;

/// What the surfaces of a stone are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Surfaces {
    outside: f64,
    inside: f64,
    /// The share of light that what lies behind sends back.
    sent_back: f64,
}

impl Surfaces {
    /// Of a stone of an index above 1 in air, alone or over a panel: each that may be.
    #[must_use]
    pub(crate) fn all(index: f64, over_panel: bool) -> Vec<Surfaces> {
        let one = Surfaces::new(index);
        if !over_panel {
            return vec![one];
        }
        SENT_BACK.map(|sent_back| Surfaces { sent_back, ..one }).to_vec()
    }

    fn new(index: f64) -> Surfaces {
        const STEPS: usize = 256;
        // Fresnel, over the half space: in s = sin²θ an even mean.
        let reflected = |s: f64| {
            let (cos, inner) = ((1.0 - s).sqrt(), (1.0 - s / (index * index)).sqrt());
            let across = (cos - index * inner) / (cos + index * inner);
            let along = (index * cos - inner) / (index * cos + inner);
            0.5 * (across * across + along * along)
        };
        let sum: f64 = (0..STEPS)
            .map(|i| {
                // Steps that thicken towards grazing light, where most changes.
                let left = 1.0 - (i as f64 + 0.5) / STEPS as f64;
                2.0 * left * reflected(1.0 - left * left)
            })
            .sum();
        let outside = sum / STEPS as f64;
        Surfaces { outside, inside: 1.0 - (1.0 - outside) / (index * index), sent_back: 0.0 }
    }

    /// What passes a layer of absorption `k` and scattering `s` per mm, `d` mm thick.
    fn through(self, k: f64, s: f64, d: f64) -> f64 {
        let (p, m) = ((k * (k + 2.0 * s)).sqrt(), k + s);
        let passed = layer(p, m, d);
        let returned =
            if p * d < 1e-6 { s * d * passed } else { s * (p * d).tanh() / (p + m * (p * d).tanh()) };
        let inside = self.outside + (self.inside - self.outside) * (1.0 - (-2.0 * s * d).exp());
        let again = (1.0 - inside * returned).powi(2) - (inside * passed).powi(2);
        let leaves = (1.0 - self.outside) * (1.0 - inside) / again;
        let below = returned * (1.0 - inside * returned) + inside * passed * passed;
        leaves * passed / (1.0 - self.sent_back * (self.outside + leaves * below))
    }

    /// The most scattering per mm that lets so much through where nothing is absorbed.
    fn most_scattering(self, t: f64, d: f64) -> f64 {
        crossing(30.0 / (t * d), |s| self.through(0.0, s, d).ln() - t.ln())
    }

    /// The absorption per mm at which so much passes; 0 where even that is too much.
    fn absorption(self, t: f64, s: f64, d: f64) -> f64 {
        crossing((3.0 - t.ln()) / d, |k| self.through(k, s, d).max(DARKEST * 1e-3).ln() - t.ln())
    }
}

/// Where a falling function crosses 0 between 0 and `high`; 0 where it does not begin above. Regula falsi after Illinois
/// (M. Dowell & P. Jarratt, BIT 11 (1971) 168–174).
fn crossing(high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let (mut a, mut b) = (0.0, high);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa <= 0.0 || fb >= 0.0 {
        return if fa <= 0.0 { a } else { b };
    }
    let mut last = 0i8;
    let mut c = b;
    for _ in 0..60 {
        c = (a * fb - b * fa) / (fb - fa);
        let fc = f(c);
        if fc.abs() < 1e-10 {
            break;
        }
        if fc > 0.0 {
            (a, fa) = (c, fc);
            fb *= if last == 1 { 0.5 } else { 1.0 };
            last = 1;
        } else {
            (b, fb) = (c, fc);
            fa *= if last == -1 { 0.5 } else { 1.0 };
            last = -1;
        }
    }
    c
}

/// Transmittance of a layer without surfaces by Kubelka's p = bS and m = aS, which stays finite where K or S is zero.
pub(super) fn layer(p: f64, m: f64, d: f64) -> f64 {
    let pd = p * d;
    if pd > 300.0 {
        return 0.0;
    }
    // sinh(pd)/p tends to d.
    let sinh_over_p = if pd < 1e-6 { d } else { pd.sinh() / p };
    1.0 / (pd.cosh() + m * sinh_over_p)
}

/// What pieces leave open at a thickness.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Open {
    /// What passes in 5 of a hundred cases or fewer.
    pub(super) low: f64,
    /// The mean in ln T.
    pub(super) middle: f64,
    /// What passes in 95 of a hundred cases or fewer.
    pub(super) high: f64,
    /// Sum of squared errors in ln T of the stone that fits best.
    pub(super) squared: f64,
}

/// One share of scattering, fitted.
#[derive(Clone, Copy)]
struct Tried {
    ln_t: f64,
    squared: f64,
    /// How the variance of a reading goes on to `ln_t`.
    gain: f64,
    weight: f64,
}

/// What `pieces`, pairs of thickness and transmittance, leave open at `wanted`: each share of scattering counts as much
/// as the readings bear it out, and none more than another by itself; likewise each of `all` the surfaces that may be.
pub(super) fn open(pieces: &[(f64, f64)], wanted: f64, all: &[Surfaces]) -> Open {
    let read: Vec<(f64, f64)> = pieces.iter().map(|(d, t)| (*d, t.clamp(DARKEST, 0.95))).collect();
    let mut tried = Vec::with_capacity(all.len() * SHARES);
    for surfaces in all {
        let room = read.iter().map(|(d, t)| surfaces.most_scattering(*t, *d)).fold(f64::INFINITY, f64::min);
        tried.extend((0..SHARES).map(|i| {
            let s = room * MOST_SCATTERING * (i as f64 + 0.5) / SHARES as f64;
            fitted(&read, wanted, *surfaces, s)
        }));
    }
    let squared = tried.iter().map(|t| t.squared).fold(f64::INFINITY, f64::min);
    // What no stone fits, the readings are off by.
    let beside_two = read.len().saturating_sub(2).max(1) as f64;
    let variance = (REPEATS * REPEATS).max(if read.len() > 2 { squared / beside_two } else { 0.0 });
    for one in &mut tried {
        one.weight = (-0.5 * (one.squared - squared) / variance).exp();
    }
    let whole: f64 = tried.iter().map(|t| t.weight).sum();
    let mean = |of: fn(&Tried) -> f64| tried.iter().map(|t| t.weight * of(t)).sum::<f64>() / whole;
    let (middle, gain) = (mean(|t| t.ln_t), mean(|t| t.gain));
    let far = read.iter().map(|(d, _)| (wanted / d).ln().abs()).fold(f64::INFINITY, f64::min) / 2f64.ln();
    let readings = NINE_OF_TEN * (gain * variance + (MODEL * far).powi(2)).sqrt();
    tried.sort_by(|a, b| a.ln_t.total_cmp(&b.ln_t));
    let [low, high] = [0.05, 0.95].map(|share| (quantile(&tried, share * whole) - middle).hypot(readings));
    Open { low: (middle - low).exp(), middle: middle.exp(), high: (middle + high).exp().min(1.0), squared }
}

/// The absorption that fits all pieces best beside scattering `s`, by Gauss–Newton steps in ln T, and what it lets through.
fn fitted(read: &[(f64, f64)], wanted: f64, surfaces: Surfaces, s: f64) -> Tried {
    let ln = |k: f64, d: f64| surfaces.through(k, s, d).max(1e-300).ln();
    let slope = |k: f64, d: f64| {
        let step = 1e-4 * k + 1e-6 / d;
        (ln(k + step, d) - ln(k, d)) / step
    };
    let (d, t) = read[read.len() - 1];
    let mut k = surfaces.absorption(t, s, d);
    if read.len() > 1 {
        for _ in 0..5 {
            let (mut miss, mut size) = (0.0, 0.0);
            for (d, t) in read {
                let g = slope(k, *d);
                miss += g * (t.ln() - ln(k, *d));
                size += g * g;
            }
            k = (k + miss / size).max(0.0);
        }
    }
    let size: f64 = read.iter().map(|(d, _)| slope(k, *d).powi(2)).sum();
    Tried {
        ln_t: ln(k, wanted),
        squared: read.iter().map(|(d, t)| (ln(k, *d) - t.ln()).powi(2)).sum(),
        gain: slope(k, wanted).powi(2) / size,
        weight: 0.0,
    }
}

/// The value below which so much of the weight lies, between the middles of the steps; `sorted` rises.
fn quantile(sorted: &[Tried], weight: f64) -> f64 {
    let mut below = 0.0;
    let mut before: Option<(f64, f64)> = None;
    for one in sorted {
        let at = below + 0.5 * one.weight;
        if at >= weight {
            return before.map_or(one.ln_t, |(from, ln_t)| {
                ln_t + (one.ln_t - ln_t) * (weight - from) / (at - from).max(f64::MIN_POSITIVE)
            });
        }
        before = Some((at, one.ln_t));
        below += one.weight;
    }
    before.map_or(0.0, |(_, ln_t)| ln_t)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Diffuse reflection at index 1.5: outside 0.092, inside 0.596 (D. B. Judd, J. Res. NBS 29 (1942) 329–332, from memory).
    #[test]
    fn surfaces_of_index_one_and_a_half() {
        let found = Surfaces::new(1.5);
        assert!(
            (found.outside - 0.0918).abs() < 0.0003 && (found.inside - 0.5964).abs() < 0.0003,
            "{found:?}"
        );
    }

    /// By hand: a clear plate passes (1 − r₀)/(1 + r₀), one that scatters much (1 − r₀)(1 − r₁)/((1 + Sd)(1 − r₁R)² …) as
    /// (1 − r₀)/((1 + r₁) + Sd(1 − r₁)); as nothing is absorbed the rest returns, and half of it comes again.
    #[test]
    fn layers_by_hand() {
        let air = Surfaces::new(1.5);
        let (r0, r1) = (air.outside, air.inside);
        assert!((air.through(0.0, 0.0, 20.0) - (1.0 - r0) / (1.0 + r0)).abs() < 1e-9);
        let by_hand = (1.0 - r0) / ((1.0 + r1) + 8.0 * (1.0 - r1));
        assert!((air.through(0.0, 0.8, 10.0) - by_hand).abs() < 1e-6);
        let over = Surfaces { sent_back: 0.5, ..air }.through(0.0, 0.8, 10.0);
        assert!((over - by_hand / (1.0 - 0.5 * (1.0 - by_hand))).abs() < 1e-6, "{over}");
        let s = air.most_scattering(0.2, 10.0);
        assert!((air.through(0.0, s, 10.0) - 0.2).abs() < 1e-9);
        let k = air.absorption(0.2, 0.3 * s, 10.0);
        assert!(k > 0.0 && (air.through(k, 0.3 * s, 10.0) - 0.2).abs() < 1e-9);
    }

    #[test]
    fn more_pieces_leave_less_open_and_readings_that_disagree_leave_more() {
        let air = Surfaces::new(1.55);
        let of = |d: f64| (d, air.through(0.01, 0.3, d));
        let wide = |pieces: &[(f64, f64)]| {
            let found = open(pieces, 30.0, &[air]);
            let truth = of(30.0).1;
            assert!(found.low < truth && truth < found.high, "{found:?} {truth}");
            assert!(found.low < found.middle && found.middle < found.high);
            (found.high / found.low).ln()
        };
        let [one, two, three] =
            [&[of(15.0)][..], &[of(15.0), of(24.0)], &[of(9.0), of(15.0), of(24.0)]].map(wide);
        assert!(one > 2.0 * two && two > three, "{one} {two} {three}");
        let off = [of(9.0), (15.0, of(15.0).1 * 1.3), of(24.0)];
        let found = open(&off, 30.0, &[air]);
        assert!((found.high / found.low).ln() > 2.0 * three && found.squared > 0.01, "{found:?}");
    }
}
