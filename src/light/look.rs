//! What a stone will look like over each candidate light, at the slab's thickness, ranked and doubted.
//!
//! Colours are as an eye sees them that is adapted to the candidate's own bare panel, at one exposure for
//! all candidates. Nothing is a single number that is not known as one: every figure is worked out again for each draw
//! of what the stone may be (the camera's errors, the spectra that three values leave open, the thickness), and shown as
//! the range that holds nine of ten. A candidate is called the first only if it is best in more than nineteen of twenty.

use super::colour;
use super::evidence::Record;
use super::figures::{WhitePoint, white_point};
pub(crate) use super::judged::levels;
use super::judged::{Figures, judge, judge_draws};
use super::photometry::{Prominence, reflected_luminance_cd_m2};
use super::practice::{self as usual, CctPractice, Standing};
pub(crate) use super::ranking::RankedBy;
use super::ranking::{practice_sentence, ranking_sentence};
use super::recover::Method;
use super::spectrum::Spd;
pub use super::stone::Stone;
use super::stone::{AtSlab, at_slab, nine_of_ten, nine_within};
use super::thickness::{Basis, Beyond, ThicknessError};
use crate::units::{Lux, Millimetres};
use crate::words::LightKind;

/// A light to judge the stone over.
#[derive(Clone, Debug)]
pub struct Candidate {
    /// What people call it, such as `4000 K`.
    pub label: String,
    /// What kind of light it is.
    pub kind: LightKind,
    /// Its spectrum; only its shape matters.
    pub light: Spd,
    /// Exitance of the bare panel's face, in lux.
    pub bare_lx: Lux,
    /// True for a deep colour of coloured channels: it is shown and not ranked, like every light without a CCT.
    pub deep: bool,
}

impl Candidate {
    /// True where the light is ranked among the whites: it has a CCT and is no deep colour.
    pub(super) fn is_white(&self) -> bool {
        !self.deep && white_point(&self.light).cct_k.is_some()
    }
}

/// The room around the stone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Room {
    /// Illuminance on the surfaces around the stone.
    pub illuminance_lx: Lux,
    /// How much of it they reflect, 0 to 1.
    pub reflectance: f64,
}

/// A figure with the range that holds it in nine of ten cases.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    /// The figure itself.
    pub value: f64,
    /// The lower end of the range.
    pub low: f64,
    /// The upper end of the range.
    pub high: f64,
}

impl Figure {
    fn of(value: f64, draws: impl Iterator<Item = f64>) -> Figure {
        let [low, high] = nine_of_ten(draws).unwrap_or([value; 2]);
        Figure { value, low: low.min(value), high: high.max(value) }
    }

    fn over(self, divisor: f64) -> Figure {
        Figure { value: self.value / divisor, low: self.low / divisor, high: self.high / divisor }
    }
}

/// How many decimals a range bears, at most `most`: its last digit stands for a tenth of its width or more.
#[must_use]
pub fn decimals(low: f64, high: f64, most: usize) -> usize {
    let tenth = (high - low).abs() / 10.0;
    let borne = -tenth.log10();
    if tenth > 0.0 && borne < most as f64 { borne.floor().max(0.0) as usize } else { most }
}

/// The colour of a part of the stone over one light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Appearance {
    /// Where the light leaving it lies.
    pub white: WhitePoint,
    /// CIELAB against the candidate's bare panel, at the common exposure; under a coloured light against the common
    /// white.
    pub lab: [f64; 3],
    /// The same as 8-bit sRGB, for a colour chip on a screen.
    pub srgb: [u8; 3],
}

/// What is predicted for one candidate.
#[derive(Clone, Debug, PartialEq)]
pub struct Prediction {
    /// The candidate's label.
    pub label: String,
    /// The candidate's place in the list that was given, from 0.
    pub candidate: usize,
    /// The candidate's light kind.
    pub kind: LightKind,
    /// Where the candidate's light lies.
    pub light: WhitePoint,
    /// Luminous transmittance of the body.
    pub transmittance: Figure,
    /// Luminance of the body in cd/m².
    pub luminance_cd_m2: Figure,
    /// Luminance over that of the room's surfaces; none without a room.
    pub ratio: Option<Figure>,
    /// The least ratio in words; none without a room. Common practice, no source.
    pub prominence: Option<String>,
    /// The body.
    pub body: Appearance,
    /// The vein; none where the stone is even.
    pub vein: Option<Appearance>,
    /// CIEDE2000 between vein and body; none where the stone is even.
    pub vein_contrast: Option<Figure>,
    /// Luminous transmittance of all that was shown, body and vein on average; the body's where the stone is even.
    pub whole: Figure,
    /// CIELAB chroma of the body.
    pub chroma: Figure,
    /// CIEDE2000 within which the body's colour lies in nine of ten cases; 0 where nothing is open.
    pub colour_within_de00: f64,
    /// Where it stands to common practice.
    pub standing: Standing,
    /// False for a coloured light, for which a CCT has no meaning: it stands behind the whites, as it was named.
    pub ranked: bool,
    /// Its place in the ranking, from 1; the eye cannot tell those of one place apart, and 0 is not ranked.
    pub place: usize,
    /// True where it is ranked and the best, or the eye cannot tell it from the best, as found or in more than one draw
    /// of twenty.
    pub could_be_best: bool,
}

impl Prediction {
    /// The figures of brightness with the ranges that a shop's own readings give them.
    pub(crate) fn by_record(&mut self, record: &Record) {
        let own = [&mut self.transmittance, &mut self.whole, &mut self.luminance_cd_m2];
        for figure in own.into_iter().chain(&mut self.ratio) {
            [figure.low, figure.high] = record.range(figure.value, [figure.low, figure.high]);
        }
        self.transmittance.high = self.transmittance.high.min(1.0);
        self.whole.high = self.whole.high.min(1.0);
        self.prominence = self.ratio.map(|r| Prominence::between([r.low, r.high]));
    }
}

/// The predictions for all candidates.
#[derive(Clone, Debug, PartialEq)]
pub struct Look {
    /// Best first; those that the eye cannot tell from the best as they were asked for.
    pub predictions: Vec<Prediction>,
    /// What they are ranked by.
    pub ranked_by: RankedBy,
    /// The thickness they are for.
    pub thickness_mm: Millimetres,
    /// What the thickness rests on.
    pub basis: Basis,
    /// True where the thickness lies beyond half or twice what was measured.
    pub extrapolated: bool,
    /// How the spectrum was come by.
    pub method: Method,
    /// The ranking in one sentence, with what it leaves open.
    pub ranking: String,
    /// The ranking against common practice in one sentence.
    pub against_practice: String,
}

/// Chroma from which on an even stone counts as coloured.
const COLOURED: f64 = 15.0;
/// A candidate called the best in fewer draws than this share is not: one of twenty.
const SELDOM: f64 = 0.05;
/// Predicts the look of a slab over each candidate.
///
/// # Errors
/// Refuses a thickness that the measurements do not tell, and an empty list of candidates
/// ([`LookError::NoCandidate`]).
pub fn look(
    stone: &Stone,
    slab: Millimetres,
    beyond: Beyond,
    candidates: &[Candidate],
    room: Option<Room>,
    practice: &CctPractice,
) -> Result<Look, LookError> {
    if candidates.is_empty() {
        return Err(LookError::NoCandidate);
    }
    let AtSlab { main, draws, basis, extrapolated } = at_slab(stone, slab, beyond)?;
    let lights: Vec<WhitePoint> = candidates.iter().map(|c| white_point(&c.light)).collect();
    let ranked = |i: usize| !candidates[i].deep && lights[i].cct_k.is_some();
    let levels = levels(candidates);
    let main = judge(&main, candidates, &lights, &levels);
    let drawn = judge_draws(&draws, candidates, &lights, &levels);
    let whites = || main.iter().enumerate().filter(|(i, _)| ranked(*i)).map(|(_, j)| j.figures);
    let ranked_by = if main[0].figures.contrast.is_some() {
        RankedBy::VeinContrast
    } else if whites().map(|j| j.chroma).fold(0.0, f64::max) >= COLOURED {
        RankedBy::Chroma
    } else {
        RankedBy::Luminance
    };
    let worth = |j: &Figures| match ranked_by {
        RankedBy::VeinContrast => j.contrast.unwrap_or(0.0),
        RankedBy::Chroma => j.chroma,
        RankedBy::Luminance => j.luminance,
    };
    let best_in = |all: &[Figures]| {
        all.iter().enumerate().filter(|(i, _)| ranked(*i)).map(|(_, j)| worth(j)).fold(f64::MIN, f64::max)
    };
    let found: Vec<Figures> = main.iter().map(|j| j.figures).collect();
    let near_best = |all: &[Figures], i: usize| worth(&all[i]) >= ranked_by.told_apart_from(best_in(all));
    let could_be_best: Vec<bool> = (0..candidates.len())
        .map(|i| {
            let often = drawn.iter().filter(|draw| near_best(draw, i)).count();
            ranked(i) && (near_best(&found, i) || often as f64 > SELDOM * drawn.len() as f64)
        })
        .collect();
    let mut order: Vec<usize> = (0..candidates.len()).collect();
    let merit = |i: usize| match (ranked(i), could_be_best[i]) {
        (false, _) => f64::NEG_INFINITY,
        (true, true) => f64::INFINITY,
        (true, false) => worth(&found[i]),
    };
    order.sort_by(|a, b| merit(*b).total_cmp(&merit(*a)));
    let room_luminance =
        room.map(|r| reflected_luminance_cd_m2(r.illuminance_lx, r.reflectance)).filter(|l| *l > 0.0);
    let predictions: Vec<Prediction> = order
        .iter()
        .enumerate()
        .map(|(at, i)| {
            let all = || drawn.iter().map(|draw| &draw[*i]);
            let one = &main[*i];
            let luminance = Figure::of(one.figures.luminance, all().map(|j| j.luminance));
            let ratio = room_luminance.map(|l| luminance.over(l));
            let light = lights[*i];
            Prediction {
                label: candidates[*i].label.clone(),
                candidate: *i,
                kind: candidates[*i].kind,
                light,
                transmittance: Figure::of(one.figures.transmittance, all().map(|j| j.transmittance)),
                luminance_cd_m2: luminance,
                prominence: ratio.map(|r| Prominence::between([r.low, r.high])),
                ratio,
                body: one.body,
                vein: one.vein,
                vein_contrast: one.figures.contrast.map(|c| Figure::of(c, all().filter_map(|j| j.contrast))),
                whole: Figure::of(one.figures.whole, all().map(|j| j.whole)),
                chroma: Figure::of(one.figures.chroma, all().map(|j| j.chroma)),
                colour_within_de00: nine_within(all().map(|j| colour::delta_e00(j.body, one.body.lab))),
                standing: light
                    .cct_k
                    .filter(|_| ranked(*i))
                    .map_or(Standing::NoRule, |cct| practice.standing(usual::nominal(cct))),
                ranked: ranked(*i),
                place: match (ranked(*i), could_be_best[*i]) {
                    (false, _) => 0,
                    (true, true) => 1,
                    (true, false) => at + 1,
                },
                could_be_best: could_be_best[*i],
            }
        })
        .collect();
    let ranking = ranking_sentence(&predictions, ranked_by);
    let against_practice = practice_sentence(&predictions, ranked_by, practice);
    let method = stone.method().unwrap_or(Method::Measured);
    Ok(Look {
        predictions,
        ranked_by,
        thickness_mm: slab,
        basis,
        extrapolated,
        method,
        ranking,
        against_practice,
    })
}

/// Why no look was predicted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LookError {
    /// No candidate was given.
    NoCandidate,
    /// The thickness is not told by what was measured.
    Thickness(ThicknessError),
}

impl From<ThicknessError> for LookError {
    fn from(error: ThicknessError) -> LookError {
        LookError::Thickness(error)
    }
}

impl LookError {
    /// A stable code for programs.
    #[must_use]
    pub(crate) fn code(self) -> &'static str {
        match self {
            LookError::NoCandidate => "look-no-candidate",
            LookError::Thickness(error) => error.code(),
        }
    }

    /// How to fix it.
    #[must_use]
    pub(crate) fn remedy(self) -> String {
        match self {
            LookError::NoCandidate => "name at least one light, such as 3000 and 4000 K".into(),
            LookError::Thickness(error) => error.remedy(),
        }
    }
}

impl std::fmt::Display for LookError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            LookError::NoCandidate => f.write_str("there is no light to judge the stone over"),
            LookError::Thickness(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for LookError {}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::illuminants::typical_white;
    use crate::light::practice;
    use crate::light::spectrum::Transmittance;
    use crate::light::thickness::Measured;
    use crate::words::{Texture, Tone};

    fn candidates(ccts: &[u32]) -> Vec<Candidate> {
        ccts.iter()
            .map(|cct| Candidate {
                label: format!("{cct} K"),
                kind: LightKind::StaticWhite,
                light: typical_white(f64::from(*cct)).unwrap_or_else(|| panic!("{cct}")),
                bare_lx: Lux(2000.0),
                deep: false,
            })
            .collect()
    }

    /// Transmittance `low` up to the edge and `high` beyond it, smoothly.
    fn edge(low: f64, high: f64, nm: f64) -> Transmittance {
        Transmittance::from_fn(|i| low + (high - low) / (1.0 + (-((380 + i) as f64 - nm) / 25.0).exp()))
    }

    fn one(stone: Transmittance) -> Vec<Measured> {
        vec![Measured { thickness_mm: Millimetres(10.0), stone }]
    }

    fn predicted(stone: &Stone, ccts: &[u32], tone: Tone, texture: Texture) -> Look {
        let room = Some(Room { illuminance_lx: Lux(300.0), reflectance: 0.7 });
        look(stone, Millimetres(10.0), Beyond::Refuse, &candidates(ccts), room, &practice::cct(tone, texture))
            .unwrap_or_else(|e| panic!("{e}"))
    }

    #[test]
    fn yellow_veins_in_white_stone_stand_out_in_cool_light() {
        // The veins swallow blue, and only cool light has much of it.
        let stone = Stone::measured(&one(Transmittance::grey(0.15)), &one(edge(0.005, 0.15, 480.0)));
        let found = predicted(&stone, &[2700, 3000, 4000, 5000, 6500], Tone::White, Texture::Veined);
        assert_eq!(found.ranked_by, RankedBy::VeinContrast);
        // Of the three that the eye does not tell apart none comes first, and they stand as they were asked for.
        let order: Vec<(usize, &str)> =
            found.predictions.iter().map(|p| (p.place, p.label.as_str())).collect();
        let want = [(1, "4000 K"), (1, "5000 K"), (1, "6500 K"), (4, "3000 K"), (5, "2700 K")];
        assert_eq!(order, want, "warm light loses more than the eye overlooks");
        let said = &found.ranking;
        assert!(
            said.contains("cannot tell 4000 K, 5000 K and 6500 K apart, and the others show less"),
            "{said}"
        );
        assert!(
            said.contains("warmth, from 4000 K to 6500 K") && said.contains("none comes first"),
            "{said}"
        );
        let one = predicted(&stone, &[2700, 6500], Tone::White, Texture::Veined);
        assert!(one.ranking.contains("6500 K comes first"), "{}", one.ranking);
    }

    #[test]
    fn a_disagreement_with_practice_is_one_sentence_that_names_both() {
        // Veins that swallow red are darkest in warm light, but practice for veined stone is 4000 to 5000 K.
        let stone = Stone::measured(&one(Transmittance::grey(0.15)), &one(edge(0.13, 0.03, 605.0)));
        let found = predicted(&stone, &[2700, 4000, 5000], Tone::White, Texture::Veined);
        assert_eq!(found.predictions[0].standing, Standing::BelowFloor);
        assert!(found.against_practice.contains("disagree: 2700 K leads"), "{}", found.against_practice);
        assert!(found.against_practice.contains("4000–5000 K"), "{}", found.against_practice);
        let warm_only = predicted(&stone, &[2700], Tone::White, Texture::Veined);
        assert!(warm_only.against_practice.contains("disagree"), "{}", warm_only.against_practice);
        assert!(!warm_only.against_practice.contains('\n'));
        // Where the eye tells no difference, practice names its own among them.
        let even = Stone::measured(&one(Transmittance::grey(0.15)), &one(Transmittance::grey(0.05)));
        let close = predicted(&even, &[2700, 4000], Tone::White, Texture::Veined);
        let said = &close.against_practice;
        assert!(close.predictions.iter().all(|p| p.could_be_best), "{}", close.ranking);
        assert!(
            said.contains("takes 4000 K") && !said.contains("2700 K") && !said.contains("agrees"),
            "{said}"
        );
        // Where practice itself is divided, that is what is said, and neither agreement nor disagreement.
        let honey = predicted(&stone, &[2700, 3000, 3500, 4000, 5000], Tone::Honey, Texture::Veined);
        for p in &honey.predictions {
            let want = match p.label.as_str() {
                "2700 K" | "3000 K" => Standing::Divided,
                "3500 K" => Standing::Unusual,
                _ => Standing::Preferred,
            };
            assert_eq!(p.standing, want, "{}", p.label);
        }
        assert_eq!(honey.predictions[0].standing, Standing::Divided);
        let said = &honey.against_practice;
        assert!(
            said.contains("no one answer") && !said.contains("floor") && !said.contains("ranking"),
            "{said}"
        );
    }

    #[test]
    fn luminance_ratio_and_prominence_follow_the_room() {
        let stone = Stone::measured(&one(Transmittance::grey(0.10)), &[]);
        let found = predicted(&stone, &[4000], Tone::White, Texture::Plain);
        let p = &found.predictions[0];
        assert_eq!(found.ranked_by, RankedBy::Luminance);
        // 2000 lx × 0.10 / π = 63.66 cd/m² over 300 lx × 0.7 / π = 66.85 cd/m².
        assert!((p.luminance_cd_m2.value - 63.66).abs() < 0.01, "{:?}", p.luminance_cd_m2);
        assert!(p.ratio.is_some_and(|r| (r.value - 0.952).abs() < 0.001));
        assert_eq!(p.prominence.as_deref(), Some(Prominence::Lost.words()));
        assert_eq!(p.vein_contrast, None);
    }

    #[test]
    fn a_thicker_slab_opens_every_figure() {
        let stone = Stone::measured(&one(edge(0.02, 0.2, 560.0)), &[]);
        let practice = practice::cct(Tone::Amber, Texture::Plain);
        let at = |slab: f64| {
            look(&stone, Millimetres(slab), Beyond::Refuse, &candidates(&[2700, 4000]), None, &practice)
        };
        let same = at(10.0).expect("as measured");
        let thick = at(20.0).expect("twice");
        assert!(same.predictions[0].chroma.high - same.predictions[0].chroma.low < 1e-9);
        let p = &thick.predictions[0];
        assert!(p.transmittance.low < p.transmittance.value && p.transmittance.value < p.transmittance.high);
        assert!(p.chroma.low < p.chroma.high && p.ratio.is_none());
        assert_eq!(at(30.0).err().map(LookError::code), Some("thickness-beyond"));
        let nothing = look(&stone, Millimetres(10.0), Beyond::Refuse, &[], None, &practice);
        assert_eq!(nothing.err(), Some(LookError::NoCandidate));
    }
}
