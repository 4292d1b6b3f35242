//! One light through one stone: how much, how bright, what colour.
//!
//! The colour is that of the light leaving the stone; how the eye takes it is [`super::look`]'s matter.

use super::colour;
use super::figures::{WhitePoint, white_point_of};
use super::photometry::luminance_cd_m2;
use super::spectrum::{Spd, Transmittance};
use super::thickness::Bracket;
use crate::units::{Lux, Millimetres};

/// What one light makes of one stone at one thickness.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Through {
    /// The thickness; none where the measurement names none and the stone is taken as measured.
    pub thickness_mm: Option<Millimetres>,
    /// The least luminous transmittance, 0 to 1.
    pub t_low: f64,
    /// The most luminous transmittance, 0 to 1.
    pub t_high: f64,
    /// Luminance of the stone's face at the least transmittance, in cd/m².
    pub luminance_low_cd_m2: f64,
    /// Luminance in the middle of the bracket, in cd/m².
    pub luminance_cd_m2: f64,
    /// Luminance at the most transmittance, in cd/m².
    pub luminance_high_cd_m2: f64,
    /// Where the transmitted light lies, in the middle of the bracket; none where no light is left.
    pub white: Option<WhitePoint>,
    /// CIEDE2000 between the colours of the two bounds at equal luminance: what the thickness leaves open.
    pub colour_open_de00: f64,
}

/// A stone at a thickness that was worked out, lit by a panel whose bare face sends out `bare` lux.
#[must_use]
pub(crate) fn through(light: &Spd, stone: &Bracket, bare: Lux) -> Through {
    between(light, Some(stone.thickness_mm), [&stone.low, &stone.middle, &stone.high], bare)
}

/// A stone just as it was measured.
#[must_use]
pub(crate) fn as_measured(
    light: &Spd,
    stone: &Transmittance,
    thickness: Option<Millimetres>,
    bare: Lux,
) -> Through {
    between(light, thickness, [stone; 3], bare)
}

fn between(
    light: &Spd,
    thickness_mm: Option<Millimetres>,
    bounds: [&Transmittance; 3],
    bare: Lux,
) -> Through {
    let white = light.xyz();
    let xyz = bounds.map(|stone| light.xyz_through(stone));
    let [t_low, t_middle, t_high] = xyz.map(|v| v[1] / white[1]);
    let luminance = |t: f64| luminance_cd_m2(Lux(bare.get() * t));
    // Equal luminance, half of the white's, so that the difference is one of colour.
    let seen = |v: [f64; 3]| colour::lab(v.map(|c| c * 0.5 * white[1] / v[1]), white);
    let colour_open_de00 =
        if xyz[0][1] > 0.0 && xyz[2][1] > 0.0 { colour::delta_e00(seen(xyz[0]), seen(xyz[2])) } else { 0.0 };
    Through {
        thickness_mm,
        t_low,
        t_high,
        luminance_low_cd_m2: luminance(t_low),
        luminance_cd_m2: luminance(t_middle),
        luminance_high_cd_m2: luminance(t_high),
        white: (xyz[1][1] > 0.0).then(|| white_point_of(xyz[1])),
        colour_open_de00,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::illuminants::named;
    use crate::light::thickness::{Beyond, Measured, OVER_PANEL, bracket};

    #[test]
    fn a_grey_stone_keeps_the_colour_and_dims_the_light() {
        let light = named("LED-B3").expect("known");
        let seen = as_measured(&light, &Transmittance::grey(0.1), None, Lux(1000.0));
        assert!((seen.t_low - 0.1).abs() < 1e-12 && (seen.t_high - 0.1).abs() < 1e-12);
        assert!((seen.luminance_cd_m2 - 31.83).abs() < 0.005);
        let bare = crate::light::figures::white_point(&light);
        assert!(seen.white.is_some_and(|w| (w.x - bare.x).abs() < 1e-9 && w.cct_k == bare.cct_k));
        assert_eq!(seen.colour_open_de00, 0.0);
    }

    #[test]
    fn twice_the_amber_stone_leaves_its_colour_open() {
        let light = named("LED-B3").expect("known");
        let stone = Transmittance::from_fn(|i| 0.01 + 0.25 / (1.0 + (-((i as f64) - 190.0) / 30.0).exp()));
        let measured = [Measured { thickness_mm: Millimetres(10.0), stone }];
        let seen = through(
            &light,
            &bracket(&measured, Millimetres(20.0), Beyond::Refuse, OVER_PANEL).expect("within twice"),
            Lux(2000.0),
        );
        assert!(seen.t_low < seen.t_high && seen.luminance_low_cd_m2 < seen.luminance_cd_m2);
        assert!(seen.colour_open_de00 > 1.0, "{seen:?}");
    }

    #[test]
    fn an_opaque_stone_has_no_colour() {
        let light = named("A").expect("known");
        let seen = as_measured(&light, &Transmittance::grey(0.0), None, Lux(1000.0));
        assert_eq!((seen.t_high, seen.luminance_cd_m2, seen.white), (0.0, 0.0, None));
    }
}
