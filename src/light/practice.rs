//! What the trade usually does: a colour temperature and a panel face from the stone's tone, texture
//! and thickness.
//!
//! Everything here is common practice with no source, and every answer carries that mark ([`SOURCE`]).
//! It is not a prediction: that is computed from the stone's own transmittance and stands beside this.

use crate::units::{DisplayUnits, Millimetres};
use crate::words::{Face, Texture, Tone};

/// The mark that every answer of this file carries.
pub(crate) const SOURCE: &str = "common practice, no source";

/// The lowest CCT used behind textured or veined stone, in kelvin. Common practice, no source.
pub(crate) const PATTERN_FLOOR_K: u32 = 3500;
/// The range preferred behind textured or veined stone. Common practice, no source.
pub(crate) const PATTERN_RANGE: CctRange = CctRange { low_k: 4000, high_k: 5000 };
/// The range preferred behind warm stone ([`Tone::is_warm`]). Common practice, no source.
pub(crate) const WARM_RANGE: CctRange = CctRange { low_k: 2700, high_k: 3000 };
/// Stone up to this thickness counts as thin. Common practice, no source.
pub(crate) const THIN_UP_TO: Millimetres = Millimetres(15.0);
/// Stone from this thickness on counts as thick. Common practice, no source.
pub(crate) const THICK_FROM: Millimetres = Millimetres(20.0);
/// What is done for deep colours on a light with a white channel. Common practice, no source.
pub(crate) const DEEP_COLOURS: &str = "for deep colours take the white channel out";

/// A closed range of colour temperatures in kelvin, `low_k` ≤ `high_k`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CctRange {
    /// The lowest CCT of the range.
    pub low_k: u32,
    /// The highest CCT of the range.
    pub high_k: u32,
}

impl CctRange {
    /// True where the CCT lies within the range, ends included.
    #[must_use]
    pub(crate) fn contains(self, cct_k: f64) -> bool {
        f64::from(self.low_k) <= cct_k && cct_k <= f64::from(self.high_k)
    }
}

impl std::fmt::Display for CctRange {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}–{} K", self.low_k, self.high_k)
    }
}

/// What common practice says about one stone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CctPractice {
    /// The ranges that practice prefers: none where no rule speaks about this stone, two where the rule
    /// for its tone and the rule for its pattern disagree.
    pub ranges: Vec<CctRange>,
    /// The CCT below which practice does not go with this stone, in kelvin; none where no rule sets one.
    pub floor_k: Option<u32>,
    /// True where the rule for the tone and the rule for the pattern ask for different light.
    pub disagree: bool,
    /// The advice in one sentence.
    pub sentence: String,
    /// Always [`SOURCE`].
    pub source: &'static str,
}

/// How one CCT stands to the common practice for a stone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// In a range that practice prefers.
    Preferred,
    /// Neither preferred nor advised against.
    Unusual,
    /// Below the floor that practice sets for this stone.
    BelowFloor,
    /// In the range of the rule for its tone, and below the floor of the rule for its pattern: practice has no one
    /// answer.
    Divided,
    /// No rule speaks about this stone.
    NoRule,
}

impl CctPractice {
    /// Where a CCT stands: a range that one rule prefers does not lift the floor that the other sets, nor is what the one
    /// prefers called unusual because of the other.
    #[must_use]
    pub fn standing(&self, cct_k: f64) -> Standing {
        let below = self.floor_k.is_some_and(|floor| cct_k < f64::from(floor));
        let preferred = self.ranges.iter().any(|range| range.contains(cct_k));
        if below && preferred {
            Standing::Divided
        } else if below {
            Standing::BelowFloor
        } else if preferred {
            Standing::Preferred
        } else if self.ranges.is_empty() {
            Standing::NoRule
        } else {
            Standing::Unusual
        }
    }
}

/// The colour temperature by which a white is sold: that of its spectrum to the nearest 50 K, which no eye tells apart, so
/// that a white of 3000 K is not kept out of a range that ends at 3000 K by the fraction of a kelvin.
#[must_use]
pub(crate) fn nominal(cct_k: f64) -> f64 {
    (cct_k / 50.0).round() * 50.0
}

/// The usual colour temperature for a stone of this tone and texture. Common practice, no source.
#[must_use]
pub fn cct(tone: Tone, texture: Texture) -> CctPractice {
    let warm = tone.is_warm();
    let pattern = texture.has_pattern();
    let (ranges, sentence) = match (warm, pattern) {
        (true, true) => (
            vec![WARM_RANGE, PATTERN_RANGE],
            format!(
                "{tone} stone is usually lit at {WARM_RANGE} to keep its warmth, but {texture} stone at \
                 {PATTERN_RANGE}, never below {PATTERN_FLOOR_K} K, to bring out its pattern: the two \
                 disagree, so try both over the test panel"
            ),
        ),
        (true, false) => (
            vec![WARM_RANGE],
            format!("{tone} stone is usually lit at {WARM_RANGE}; the test panel on the real stone decides"),
        ),
        (false, true) => (
            vec![PATTERN_RANGE],
            format!(
                "{texture} stone is usually lit at {PATTERN_RANGE}, never below {PATTERN_FLOOR_K} K; the \
                 test panel on the real stone decides"
            ),
        ),
        (false, false) => (
            Vec::new(),
            format!(
                "no rule of thumb for {tone}, {texture} stone: try a warm and a neutral white over the test \
                 panel"
            ),
        ),
    };
    CctPractice {
        ranges,
        floor_k: pattern.then_some(PATTERN_FLOOR_K),
        disagree: warm && pattern,
        sentence,
        source: SOURCE,
    }
}

/// What common practice says about the face for one thickness of stone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct FacePractice {
    /// The usual face; none between thin and thick, where either is used.
    pub face: Option<Face>,
    /// The advice in one sentence.
    pub sentence: String,
    /// Always [`SOURCE`].
    pub source: &'static str,
}

/// The usual panel face for stone of this thickness. Common practice, no source.
#[must_use]
pub(crate) fn face(thickness: Millimetres, units: DisplayUnits) -> FacePractice {
    let shown = units.show(thickness);
    let (face, sentence) = if thickness >= THICK_FROM {
        (
            Some(Face::Clear),
            format!("stone {shown} thick usually takes the clear face: more light, less even"),
        )
    } else if thickness <= THIN_UP_TO {
        (
            Some(Face::Diffused),
            format!("stone {shown} thin usually takes the diffused face: it evens the light"),
        )
    } else {
        (None, format!("at {shown} either face is used: try the clear and the diffused one"))
    };
    FacePractice { face, sentence, source: SOURCE }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice, no source.
    #[test]
    fn veined_and_textured_stone_takes_4000_to_5000_and_never_below_3500() {
        for texture in [Texture::Banded, Texture::Veined, Texture::Textured] {
            let advice = cct(Tone::White, texture);
            assert_eq!(advice.ranges, [CctRange { low_k: 4000, high_k: 5000 }], "{texture}");
            assert_eq!(advice.floor_k, Some(3500), "{texture}");
            assert_eq!(advice.source, "common practice, no source");
            assert_eq!(advice.standing(3499.0), Standing::BelowFloor);
            assert_eq!(advice.standing(3500.0), Standing::Unusual);
            assert_eq!(advice.standing(4000.0), Standing::Preferred);
            assert_eq!(advice.standing(5000.0), Standing::Preferred);
            assert_eq!(advice.standing(6500.0), Standing::Unusual);
        }
    }

    /// Common practice, no source.
    #[test]
    fn warm_stone_takes_2700_to_3000() {
        for tone in [Tone::Honey, Tone::Amber, Tone::Brown, Tone::Red] {
            let advice = cct(tone, Texture::Plain);
            assert_eq!(advice.ranges, [CctRange { low_k: 2700, high_k: 3000 }], "{tone}");
            assert_eq!(advice.floor_k, None);
            assert!(!advice.disagree);
        }
    }

    /// Common practice, no source: where the two rules meet, neither is silently dropped.
    #[test]
    fn a_veined_amber_stone_is_told_that_the_rules_disagree() {
        let advice = cct(Tone::Amber, Texture::Veined);
        assert!(advice.disagree);
        assert_eq!(advice.ranges.len(), 2);
        assert!(advice.sentence.contains("disagree"), "{}", advice.sentence);
        // 2700 K is what the rule for its tone asks for, so it is not called unusual; nor does it pass as usual.
        assert_eq!(advice.standing(2700.0), Standing::Divided);
        assert_eq!(advice.standing(3000.0), Standing::Divided);
        assert_eq!(advice.standing(3001.0), Standing::BelowFloor);
        assert_eq!(advice.standing(2699.0), Standing::BelowFloor);
        assert_eq!(advice.standing(4500.0), Standing::Preferred);
    }

    /// Common practice, no source.
    #[test]
    fn plain_white_stone_has_no_rule() {
        let advice = cct(Tone::White, Texture::Plain);
        assert_eq!(advice.standing(2700.0), Standing::NoRule);
        assert!(advice.ranges.is_empty() && !advice.disagree);
    }

    /// Common practice, no source.
    #[test]
    fn thick_stone_takes_the_clear_face_and_thin_the_diffused() {
        assert_eq!(face(Millimetres(30.0), DisplayUnits::Mm).face, Some(Face::Clear));
        assert_eq!(face(Millimetres(20.0), DisplayUnits::Mm).face, Some(Face::Clear));
        assert_eq!(face(Millimetres(18.0), DisplayUnits::Mm).face, None);
        assert_eq!(face(Millimetres(15.0), DisplayUnits::Mm).face, Some(Face::Diffused));
        assert_eq!(face(Millimetres(6.0), DisplayUnits::Mm).face, Some(Face::Diffused));
        assert!(face(Millimetres(25.4), DisplayUnits::In).sentence.starts_with("stone 1 in thick"));
    }
}
