//! Laws of the light room that must hold whatever comes in.

use proptest::prelude::*;
use underlit::light::area::Area;
use underlit::light::colour::{chroma, decode, delta_e00, encode};
use underlit::light::figures::{figures, white_point};
use underlit::light::illuminants::named;
use underlit::light::mixing::mix;
use underlit::light::picture::Picture;
use underlit::light::recover::{Recovery, Smooth};
use underlit::light::spectrum::{COUNT, Spd, Transmittance};
use underlit::light::thickness::{Beyond, bounds};
use underlit::light::{spectrum_csv, tm27};
use underlit::units::Millimetres;

fn light(name: &str) -> Spd {
    named(name).unwrap_or_else(|e| panic!("{e}"))
}

/// A smooth stone: a level and one edge.
fn stone(level: f64, edge: f64, edge_nm: f64, width: f64) -> Transmittance {
    let values = (0..COUNT)
        .map(|i| (-(level + edge / (1.0 + ((380.0 + i as f64 - edge_nm) / width).exp()))).exp())
        .collect();
    Transmittance::new(values).unwrap_or_else(|e| panic!("{e}"))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Scale does not change what white a light is.
    #[test]
    fn figures_do_not_depend_on_scale(scale in 1e-6f64..1e6, share in 0.0f64..1.0) {
        let mixed = mix(&light("LED-B1"), &light("LED-B5"), share).unwrap_or_else(|e| panic!("{e}")).light;
        let scaled = Spd::new(mixed.values().iter().map(|v| v * scale).collect()).unwrap_or_else(|e| panic!("{e}"));
        let (a, b) = (white_point(&mixed), white_point(&scaled));
        prop_assert!((a.x - b.x).abs() < 1e-12 && (a.duv - b.duv).abs() < 1e-9);
        prop_assert!(figures(&scaled).rf.is_some_and(|rf| (0.0..=100.01).contains(&rf)));
    }

    /// A mixture lies on the straight line between its channels in x, y (additivity, CIE 15:2018).
    #[test]
    fn mixtures_lie_between_their_channels(share in 0.0f64..1.0) {
        let (warm, cool) = (light("LED-B1"), light("LED-B5"));
        let mixed = mix(&warm, &cool, share).unwrap_or_else(|e| panic!("{e}")).white;
        let (a, b) = (white_point(&warm), white_point(&cool));
        let cross = (mixed.x - a.x) * (b.y - a.y) - (mixed.y - a.y) * (b.x - a.x);
        prop_assert!(cross.abs() < 1e-9);
    }

    /// Bounds are ordered, hold the measured thickness, and fall with thickness; they do not depend on its unit.
    #[test]
    fn thickness_is_monotonic(t in 1e-4f64..0.6, d in 1.0f64..40.0, r in 0.5f64..1.9) {
        let measured = [(Millimetres(d), t)];
        let at = |ratio: f64| bounds(&measured, Millimetres(d * ratio), Beyond::Allow).unwrap_or_else(|e| panic!("{e}"));
        let (thin, thick) = (at(r), at(r * 1.2));
        prop_assert!(thin.low <= thin.high && (0.0..=1.0).contains(&thin.low) && thin.high <= 1.0);
        prop_assume!(r > 1.01 || r * 1.2 < 0.99);
        prop_assert!(thick.low <= thin.low && thick.high <= thin.high, "{thin:?} {thick:?}");
        let scaled = bounds(&[(Millimetres(d * 3.0), t)], Millimetres(d * r * 3.0), Beyond::Allow).unwrap_or_else(|e| panic!("{e}"));
        prop_assert!((scaled.low / thin.low - 1.0).abs() < 1e-5 && (scaled.high / thin.high - 1.0).abs() < 1e-5);
        let same = at(1.0);
        prop_assert!((same.low / t - 1.0).abs() < 1e-9 && (same.high / t - 1.0).abs() < 1e-9);
    }

    /// A recovered stone gives back the three values it was found from, and stays within 0 to 1.
    #[test]
    fn recovery_gives_back_its_three_values(
        level in 0.5f64..4.0, edge in 0.0f64..3.0, nm in 430.0f64..620.0, width in 20.0f64..80.0
    ) {
        let recovery = Recovery::under(&light("LED-B3"));
        let xyz = recovery.weights().through(&Smooth::of(&stone(level, edge, nm, width)));
        let found = recovery.recover(xyz).ok_or_else(|| TestCaseError::fail("nothing found"))?;
        let again = recovery.weights().through(&found.stone);
        for k in 0..3 {
            prop_assert!((again[k] / xyz[k] - 1.0).abs() < 2e-3, "{xyz:?} {again:?}");
        }
        prop_assert!(found.stone.transmittance().values().iter().all(|t| (0.0..=1.0).contains(t)));
    }

    /// CIEDE2000 is symmetric, zero only for equals and never negative.
    #[test]
    fn colour_difference_is_a_difference(
        a in prop::array::uniform3(-60.0f64..60.0), b in prop::array::uniform3(-60.0f64..60.0)
    ) {
        let (a, b) = ([a[0].abs(), a[1], a[2]], [b[0].abs(), b[1], b[2]]);
        prop_assert!((delta_e00(a, b) - delta_e00(b, a)).abs() < 1e-9);
        prop_assert!(delta_e00(a, a) == 0.0 && delta_e00(a, b) >= 0.0 && chroma(a) >= 0.0);
    }

    #[test]
    fn the_transfer_curve_rises(a in 0.0f64..1.0, b in 0.0f64..1.0) {
        prop_assert_eq!(a < b, encode(a) < encode(b));
        prop_assert!((decode(encode(a)) - a).abs() < 1e-6);
    }

    /// Whatever the bytes, a reader answers and does not panic.
    #[test]
    fn readers_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..400), text in "[0-9,;. \\n\\tnmT%_#-]{0,300}") {
        for input in [bytes.as_slice(), text.as_bytes()] {
            let _ = spectrum_csv::lights(input);
            let _ = spectrum_csv::stones(input);
            let _ = tm27::light(input);
            let _ = Picture::read(input);
        }
        let _ = text.parse::<Area>();
    }

    /// Whatever is changed in a sound picture, the reader answers and does not panic.
    #[test]
    fn a_damaged_picture_never_panics(at in 0usize..600, value in any::<u8>(), cut in 0usize..600, jpeg in any::<bool>()) {
        let pixels: Vec<u8> = (0..16 * 16 * 3).map(|i| (i * 7 % 256) as u8).collect();
        let mut bytes = Vec::new();
        let kind = image::ExtendedColorType::Rgb8;
        let written = if jpeg {
            image::ImageEncoder::write_image(image::codecs::jpeg::JpegEncoder::new(&mut bytes), &pixels, 16, 16, kind)
        } else {
            image::ImageEncoder::write_image(image::codecs::png::PngEncoder::new(&mut bytes), &pixels, 16, 16, kind)
        };
        prop_assert!(written.is_ok() && Picture::read(&bytes).is_ok());
        let place = at % bytes.len();
        bytes[place] = value;
        let _ = Picture::read(&bytes);
        bytes.truncate(cut % (bytes.len() + 1));
        let _ = Picture::read(&bytes);
    }

    /// Any area either is refused or keeps to the picture.
    #[test]
    fn areas_stay_inside(corners in prop::collection::vec(prop::array::uniform2(-20.0f64..120.0), 0..8)) {
        if let Ok(runs) = Area::Polygon(corners).runs(100, 80) {
            prop_assert!(runs.iter().all(|(row, run)| *row < 80 && run.end <= 100 && !run.is_empty()));
        }
    }
}
