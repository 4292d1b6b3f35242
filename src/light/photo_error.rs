//! Why a photo does not tell a stone's transmittance, and how to fix it.

use std::fmt;

use super::area::AreaError;

/// Why a photo does not tell a stone's transmittance.
#[derive(Clone, Debug, PartialEq)]
pub enum PhotoError {
    /// The place of the stone is wrong.
    Stone(AreaError),
    /// The place of the bare panel is wrong.
    Bare(AreaError),
    /// The bare panel is overexposed, this share of it.
    BareClipped(f64),
    /// The stone is overexposed, this share of it.
    StoneClipped(f64),
    /// There is no light on what should be the bare panel.
    BareDark,
    /// The stone is underexposed in some colour, this share of it.
    StoneDark(f64),
    /// What should be the bare panel is darker than the stone, by these transmittances.
    NoPanel([f64; 3]),
    /// What should be the bare panel is too uneven to be one.
    BareUneven(f64),
    /// Too much noise.
    Noisy(f64),
    /// Two frames in different colour spaces.
    TwoSpaces,
    /// Two frames whose exposures are not known.
    ExposureUnknown,
    /// The panel's light is too coloured for the picture's colour space.
    LightOutside,
    /// The place of the chart is wrong.
    Chart(AreaError),
    /// The place of the chart has this many corners and not four.
    ChartCorners(usize),
    /// The chart's patches are only so many pixels wide.
    ChartSmall(f64),
    /// The chart is overexposed, this share of it.
    ChartClipped(f64),
    /// What should be the chart is none: its patches are this far off after the best fit, where one could be made.
    NotTheChart(Option<f64>),
}

impl PhotoError {
    /// A stable code for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            PhotoError::Stone(_) => "photo-stone-area",
            PhotoError::Bare(_) => "photo-bare-area",
            PhotoError::BareClipped(_) => "photo-bare-clipped",
            PhotoError::StoneClipped(_) => "photo-stone-clipped",
            PhotoError::BareDark => "photo-bare-dark",
            PhotoError::StoneDark(_) => "photo-stone-dark",
            PhotoError::NoPanel(_) => "photo-no-panel",
            PhotoError::BareUneven(_) => "photo-bare-uneven",
            PhotoError::Noisy(_) => "photo-noisy",
            PhotoError::TwoSpaces => "photo-two-spaces",
            PhotoError::ExposureUnknown => "photo-exposure-unknown",
            PhotoError::LightOutside => "photo-light-outside",
            PhotoError::Chart(_) | PhotoError::ChartCorners(_) => "photo-chart-area",
            PhotoError::ChartSmall(_) => "photo-chart-small",
            PhotoError::ChartClipped(_) => "photo-chart-clipped",
            PhotoError::NotTheChart(_) => "photo-chart-other",
        }
    }

    /// How to fix it.
    #[must_use]
    pub(crate) fn remedy(&self) -> String {
        match self {
            PhotoError::Stone(error) | PhotoError::Bare(error) | PhotoError::Chart(error) => error.remedy(),
            PhotoError::BareClipped(_) => {
                "expose shorter until the bare panel is below white, or take it in a second frame".into()
            }
            PhotoError::StoneClipped(_) => "expose shorter; the stone must stay below white".into(),
            PhotoError::BareDark => {
                "switch the panel on, and mark it where the stone does not cover it".into()
            }
            PhotoError::StoneDark(_) => {
                "expose longer, with the bare panel in a second, shorter frame; where the \
                stone itself swallows a colour, only a spectrum tells"
                    .into()
            }
            PhotoError::NoPanel(_) => "mark the bare, lit panel as such: nothing is brighter than it".into(),
            PhotoError::BareUneven(_) => {
                "mark a smaller place that shows nothing but the bare panel, evenly lit".into()
            }
            PhotoError::Noisy(_) => {
                "take the photo at a lower ISO setting, with the camera on a stand".into()
            }
            PhotoError::TwoSpaces => "export both frames in sRGB".into(),
            PhotoError::ExposureUnknown => {
                "give how many times longer the stone's frame was exposed than the bare panel's".into()
            }
            PhotoError::LightOutside => "light the swatch with a white panel for the photo".into(),
            PhotoError::ChartCorners(_) => {
                "give the four corners of the field of patches, in order around it: \"x,y x,y x,y x,y\"".into()
            }
            PhotoError::ChartSmall(_) => "go nearer, so that the chart fills the picture".into(),
            PhotoError::ChartClipped(_) => "expose shorter until the white patch stays below white".into(),
            PhotoError::NotTheChart(_) => {
                "check the corners: they bound the 24 patches, six by four, without the frame. The panel alone must light \
                the chart, without glare, and the camera may bend no tones"
                    .into()
            }
        }
    }
}

impl fmt::Display for PhotoError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let percent = |share: &f64| format!("{:.1} %", share * 100.0);
        match self {
            PhotoError::Stone(error) => write!(f, "the stone: {error}"),
            PhotoError::Bare(error) => write!(f, "the bare panel: {error}"),
            PhotoError::BareClipped(share) => {
                write!(f, "{} of the bare panel is overexposed", percent(share))
            }
            PhotoError::StoneClipped(share) => write!(f, "{} of the stone is overexposed", percent(share)),
            PhotoError::BareDark => f.write_str("there is no light where the bare panel should be"),
            PhotoError::StoneDark(share) => {
                write!(f, "{} of the stone is too dark in some colour to tell it", percent(share))
            }
            PhotoError::NoPanel(t) => write!(
                f,
                "the stone looks {:.2} times as bright as the bare panel, so the area marked as bare panel is wrong",
                t.iter().copied().fold(0.0, f64::max)
            ),
            PhotoError::BareUneven(spread) => {
                write!(
                    f,
                    "the light over the bare panel varies by {}, too much for one panel",
                    percent(spread)
                )
            }
            PhotoError::Noisy(noise) => write!(f, "the photo's noise is {} of the light", percent(noise)),
            PhotoError::TwoSpaces => f.write_str("the two frames are in different colour spaces"),
            PhotoError::ExposureUnknown => f.write_str("the exposures of the two frames are not known"),
            PhotoError::LightOutside => f.write_str(
                "the panel's light is so coloured that a photo under it does not tell the stone's colour",
            ),
            PhotoError::Chart(error) => write!(f, "the chart: {error}"),
            PhotoError::ChartCorners(count) => write!(f, "the chart has {count} corners and not 4"),
            PhotoError::ChartSmall(side) => write!(f, "the chart's patches are only {side:.0} pixels wide"),
            PhotoError::ChartClipped(share) => write!(f, "{} of the chart is overexposed", percent(share)),
            PhotoError::NotTheChart(Some(off)) => write!(
                f,
                "the patches are no chart of 24 known colours under this light: after the best fit they are {} off",
                percent(off)
            ),
            PhotoError::NotTheChart(None) => f.write_str("the patches of the chart hold no light"),
        }
    }
}

impl std::error::Error for PhotoError {}
