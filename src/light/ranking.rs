//! What candidates are ranked by, and the ranking in words.

use super::look::Prediction;
use super::practice::{CctPractice, DEEP_COLOURS, SOURCE, Standing};

/// CIEDE2000 below which the eye tells no two contrasts apart. Common practice, no source.
const TOLD_CONTRAST: f64 = 1.0;
/// Chroma below which the eye tells no two strengths of colour apart. Common practice, no source.
const TOLD_CHROMA: f64 = 1.0;
/// Share of a luminance from which on the eye tells no two apart. Common practice, no source.
const TOLD_LUMINANCE: f64 = 0.95;

/// What the candidates were ranked by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RankedBy {
    /// Contrast between vein and body: the stone has veins.
    VeinContrast,
    /// Chroma of the body: the stone is even and coloured.
    Chroma,
    /// Luminance: the stone is even and nearly without colour.
    Luminance,
}

impl RankedBy {
    /// The least figure that the eye cannot tell from the best one.
    pub(super) fn told_apart_from(self, best: f64) -> f64 {
        match self {
            RankedBy::VeinContrast => best - TOLD_CONTRAST,
            RankedBy::Chroma => best - TOLD_CHROMA,
            RankedBy::Luminance => best * TOLD_LUMINANCE,
        }
    }

    /// In words.
    #[must_use]
    pub(crate) fn words(self) -> &'static str {
        match self {
            RankedBy::VeinContrast => "contrast between vein and body",
            RankedBy::Chroma => "strength of colour",
            RankedBy::Luminance => "brightness",
        }
    }
}

/// `a`, `a and b`, `a, b and c`.
fn listed(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [one] => (*one).to_string(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

fn shown(prediction: &Prediction, ranked_by: RankedBy) -> String {
    match ranked_by {
        RankedBy::VeinContrast => {
            format!("ΔE00 {:.1}", prediction.vein_contrast.map_or(0.0, |contrast| contrast.value))
        }
        RankedBy::Chroma => format!("C* {:.0}", prediction.chroma.value),
        RankedBy::Luminance => format!("{:.0} cd/m²", prediction.luminance_cd_m2.value),
    }
}

/// The candidates that may be the best, as they were asked for.
fn leaders(predictions: &[Prediction]) -> Vec<&Prediction> {
    predictions.iter().filter(|p| p.could_be_best).collect()
}

fn labels(predictions: &[&Prediction]) -> String {
    listed(&predictions.iter().map(|p| p.label.as_str()).collect::<Vec<_>>())
}

pub(super) fn ranking_sentence(predictions: &[Prediction], ranked_by: RankedBy) -> String {
    let whites = predictions.iter().filter(|p| p.ranked).count();
    let coloured = predictions.len() - whites;
    let leaders = leaders(predictions);
    let told = match leaders.as_slice() {
        [] => {
            return "these lights have no colour temperature, so nothing is ranked: decide over the test panel"
                .into();
        }
        [only] if whites == 1 => {
            format!("{} is the only {}", only.label, if coloured == 0 { "candidate" } else { "white" })
        }
        [first] => {
            format!("{} comes first by {}, {}", first.label, ranked_by.words(), shown(first, ranked_by))
        }
        several => format!(
            "{}: the eye cannot tell {} apart{}, so none comes first; {}; decide over the test panel",
            ranked_by.words(),
            labels(several),
            if several.len() < whites { ", and the others show less" } else { "" },
            differences(several, ranked_by)
        ),
    };
    if coloured == 0 { told } else { format!("{told}; the coloured lights are not ranked") }
}

/// What does differ among lights that the ranking does not tell apart: warmth, strength of colour, brightness.
fn differences(several: &[&Prediction], ranked_by: RankedBy) -> String {
    let ends = |of: fn(&Prediction) -> f64| {
        let by = |a: &&&Prediction, b: &&&Prediction| of(a).total_cmp(&of(b));
        (several.iter().min_by(by), several.iter().max_by(by))
    };
    let mut found = Vec::new();
    if let (Some(warm), Some(cool)) = ends(|p| p.light.cct_k.unwrap_or(0.0))
        && warm.label != cool.label
    {
        found.push(format!("warmth, from {} to {}", warm.label, cool.label));
    }
    if let (Some(pale), Some(strong)) = ends(|p| p.chroma.value)
        && ranked_by != RankedBy::Chroma
        && strong.chroma.value - pale.chroma.value >= TOLD_CHROMA
    {
        found.push(format!("strength of colour, most at {}", strong.label));
    }
    if let (Some(dim), Some(bright)) = ends(|p| p.luminance_cd_m2.value)
        && ranked_by != RankedBy::Luminance
        && dim.luminance_cd_m2.value < bright.luminance_cd_m2.value * TOLD_LUMINANCE
    {
        found.push(format!("brightness, most at {}", bright.label));
    }
    if found.is_empty() {
        "nothing else differs".into()
    } else {
        format!("they differ in {}", found.join("; "))
    }
}

pub(super) fn practice_sentence(
    predictions: &[Prediction],
    ranked_by: RankedBy,
    practice: &CctPractice,
) -> String {
    let leaders = leaders(predictions);
    let Some(first) = leaders.first() else { return format!("{DEEP_COLOURS} ({SOURCE})") };
    if practice.ranges.is_empty() {
        return format!("{} (common practice, no source)", practice.sentence);
    }
    let ranges: Vec<String> = practice.ranges.iter().map(ToString::to_string).collect();
    let usual = listed(&ranges.iter().map(String::as_str).collect::<Vec<_>>());
    let preferred: Vec<&Prediction> =
        leaders.iter().copied().filter(|p| p.standing == Standing::Preferred).collect();
    match (leaders.len(), preferred.len()) {
        (1, 1) => return format!("the ranking agrees with common practice for this stone, {usual}"),
        (_, 1..) => {
            return format!(
                "of these, common practice for this stone ({usual}) takes {}",
                labels(&preferred)
            );
        }
        _ => {}
    }
    if first.standing == Standing::Divided {
        return format!("common practice has no one answer: {}", practice.sentence);
    }
    let below = if leaders.iter().all(|p| p.standing == Standing::BelowFloor) {
        ", below the usual floor"
    } else {
        ""
    };
    let nearest = predictions.iter().find(|p| p.standing == Standing::Preferred);
    let compared = match nearest {
        Some(p) => format!("{} against {} at {}", shown(first, ranked_by), shown(p, ranked_by), p.label),
        None => "and none of it is among the candidates".to_string(),
    };
    format!(
        "the ranking and common practice disagree: {} {} by {}{below}, practice is {usual}, {compared}; try both over the \
         test panel",
        labels(&leaders),
        if leaders.len() == 1 { "leads" } else { "lead" },
        ranked_by.words()
    )
}
