//! The stone re-lit: the light that is asked about, and its neighbours beside it.

use super::facts::Look;
use super::words::{Language, Word};
use crate::html::Html;
use crate::units::trimmed;

/// Where the bytes of pictures stand.
#[derive(Debug)]
pub(super) enum Pictures {
    /// In the page itself.
    Inside,
    /// In files beside it, which are gathered here.
    Beside(Vec<(String, Vec<u8>)>),
}

impl Pictures {
    /// The address of a picture.
    fn address(&mut self, name: &str, jpeg: &[u8]) -> String {
        match self {
            Pictures::Inside => {
                use base64ct::{Base64, Encoding as _};
                format!("data:image/jpeg;base64,{}", Base64::encode_string(jpeg))
            }
            Pictures::Beside(files) => {
                let path = format!("{name}.jpg");
                files.push((path.clone(), jpeg.to_vec()));
                path
            }
        }
    }
}

/// A colour temperature as everybody writes it.
pub(super) fn kelvin(cct_k: u32) -> String {
    format!("{cct_k} K")
}

/// The pictures of a stone, the one that is asked about first.
pub(super) fn looks(
    language: Language,
    stone: &str,
    asked_k: u32,
    looks: &[Look],
    stem: &str,
    pictures: &mut Pictures,
) -> Html {
    let mut html = Html::default();
    if looks.is_empty() {
        html.raw("<p class=\"honest\">").text(language.say(Word::NoLook)).raw("</p>");
        return html;
    }
    html.open("div", &[("class", "looks"), ("data-slide", language.say(Word::Slide))]).raw("<ol>");
    let mut ordered: Vec<&Look> = looks.iter().collect();
    ordered.sort_by_key(|look| (look.cct_k != asked_k, look.cct_k));
    for look in ordered {
        let k = kelvin(look.cct_k);
        let address = pictures.address(&format!("{stem}-{}", look.cct_k), &look.jpeg);
        let [width, height] = look.size.map(|n| n.to_string());
        let (class, word) = match look.cct_k.cmp(&asked_k) {
            std::cmp::Ordering::Less => ("", Word::Warmer),
            std::cmp::Ordering::Equal => ("asked", Word::AskedFor),
            std::cmp::Ordering::Greater => ("", Word::Cooler),
        };
        html.open("li", &[("class", class), ("data-k", &look.cct_k.to_string())]).raw("<figure>");
        let alt = language.fill(Word::LookOf, &[("stone", stone), ("k", &k)]);
        html.open("img", &[("src", &address), ("alt", &alt), ("width", &width), ("height", &height)]);
        if let Some([_, pixels]) = look.bar {
            let line = format!("M1 1v12M1 7h{0}M{1} 1v12", trimmed(pixels, 0), trimmed(pixels + 1.0, 0));
            html.open(
                "svg",
                &[("class", "bar"), ("viewBox", &format!("0 0 {width} 14")), ("aria-hidden", "true")],
            );
            html.open("path", &[("d", &line)]).raw("</path></svg>");
        }
        html.raw("<figcaption><b>").text(&k).raw("</b> <span>").text(language.say(word));
        html.raw("</span>");
        if let Some([mm, _]) = look.bar {
            let mm = language.figure(&trimmed(mm, 3));
            html.raw("<br><small>").text(&language.fill(Word::Scale, &[("mm", &mm)])).raw("</small>");
        }
        html.raw("</figcaption></figure></li>");
    }
    html.raw("</ol><p class=\"honest\">").text(language.say(Word::Honest));
    if let Some(look) = looks.iter().find(|look| look.cct_k == asked_k) {
        let (words, [low, high], places) = match look.ratio {
            Some(ratio) => ([Word::Ratio, Word::RatioRange], ratio, 1),
            None => ([Word::Luminance, Word::LuminanceRange], look.luminance_cd_m2, 0),
        };
        let [low, high] = [low, high].map(|value| language.figure(&trimmed(value, places)));
        let word = words[usize::from(low != high)];
        let sentence = language.fill(word, &[("k", &kelvin(asked_k)), ("low", &low), ("high", &high)]);
        html.raw(" ").text(&sentence);
    }
    html.raw("</p></div>");
    html
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A photo with a scale mark says how large the stone is, in the reader's words; one without says nothing of it.
    #[test]
    fn a_bar_is_as_long_as_it_says_in_the_picture() {
        let look = Look {
            cct_k: 3000,
            jpeg: vec![1],
            size: [600, 400],
            bar: Some([50.0, 141.0]),
            luminance_cd_m2: [10.0, 12.0],
            ratio: None,
        };
        let shown = |look: &Look, language| {
            let all = std::slice::from_ref(look);
            looks(language, "Onyx", 3000, all, "front", &mut Pictures::Inside).as_str().to_owned()
        };
        let html = shown(&look, Language::English);
        assert!(html.contains("viewBox=\"0 0 600 14\"") && html.contains("M1 7h141M142 1v12"), "{html}");
        assert!(html.contains("the bar is 50 mm of the stone"), "{html}");
        assert!(shown(&look, Language::German).contains("der Strich ist 50 mm des Steins"));
        let without = shown(&Look { bar: None, ..look }, Language::English);
        assert!(!without.contains("<svg") && !without.contains("mm of the stone"), "{without}");
    }
}
