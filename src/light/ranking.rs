//! What candidates are ranked by, and the ranking in words.

use super::look::Prediction;
use super::practice::{CctPractice, DEEP_COLOURS, SOURCE, Standing};

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
    /// The least figure that the eye cannot tell from the best one: one unit of CIEDE2000 or of chroma, five
    /// percent of luminance. Common practice, no source.
    pub(super) fn told_apart_from(self, best: f64) -> f64 {
        match self {
            RankedBy::VeinContrast | RankedBy::Chroma => best - 1.0,
            RankedBy::Luminance => best * 0.95,
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

pub(super) fn ranking_sentence(predictions: &[Prediction], ranked_by: RankedBy) -> String {
    let coloured = predictions.iter().filter(|p| !p.ranked).count();
    let whites = predictions.len() - coloured;
    let first = &predictions[0];
    if whites == 0 {
        return "these lights have no colour temperature, so nothing is ranked: decide over the test panel"
            .into();
    }
    let rivals: Vec<&str> =
        predictions.iter().skip(1).filter(|p| p.could_be_best).map(|p| p.label.as_str()).collect();
    let leads = format!("{} comes first by {}, {}", first.label, ranked_by.words(), shown(first, ranked_by));
    let told = if whites == 1 {
        format!("{} is the only {}", first.label, if coloured == 0 { "candidate" } else { "white" })
    } else if rivals.is_empty() {
        format!("{leads}, under every assumption")
    } else {
        format!("{leads}; too close to call: {}", listed(&rivals))
    };
    if coloured == 0 { told } else { format!("{told}; the coloured lights are not ranked") }
}

pub(super) fn practice_sentence(
    predictions: &[Prediction],
    ranked_by: RankedBy,
    practice: &CctPractice,
) -> String {
    let first = &predictions[0];
    if !first.ranked {
        return format!("{DEEP_COLOURS} ({SOURCE})");
    }
    if practice.ranges.is_empty() {
        return format!("{} (common practice, no source)", practice.sentence);
    }
    let ranges: Vec<String> = practice.ranges.iter().map(ToString::to_string).collect();
    let usual = listed(&ranges.iter().map(String::as_str).collect::<Vec<_>>());
    if first.standing == Standing::Preferred {
        return format!("the ranking agrees with common practice for this stone, {usual}");
    }
    if first.standing == Standing::Divided {
        return format!(
            "{} leads, and common practice has no one answer: {}",
            first.label, practice.sentence
        );
    }
    let below = if first.standing == Standing::BelowFloor { ", below the usual floor" } else { "" };
    let rival = predictions.iter().find(|p| p.could_be_best && p.standing == Standing::Preferred);
    if let Some(rival) = rival.filter(|_| below.is_empty()) {
        return format!(
            "the ranking does not contradict common practice for this stone, {usual}: too close to call \
             between {} and {}",
            rival.label, first.label
        );
    }
    if let Some(rival) = rival {
        return format!(
            "{} leads, but lies below the usual floor for this stone; {} is too close to call and is usual, {usual}",
            first.label, rival.label
        );
    }
    let nearest = predictions.iter().find(|p| p.standing == Standing::Preferred);
    let compared = match nearest {
        Some(p) => format!("{} against {} at {}", shown(first, ranked_by), shown(p, ranked_by), p.label),
        None => "and none of it is among the candidates".to_string(),
    };
    format!(
        "the ranking and common practice disagree: {} leads by {}{below}, practice is {usual}, {compared}; try \
         both over the test panel",
        first.label,
        ranked_by.words()
    )
}
