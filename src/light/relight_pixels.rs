//! The pixels of a photo under many lights at once.
//!
//! A pixel is three bytes, so what it becomes is a function of its three bytes; a stone shows the same ones over
//! and over. Each thread keeps what it has worked out in a small store, one place for each group of colours, and
//! works a colour out anew only where its place holds another one. The answer is the same either way.

use super::colour;
use super::picture::linear_table;
use super::relight::{REACH, Relight, SIDE, STEP};

/// Entries of the curve from linear light to 8 bits; fine enough for the steepest, darkest part.
const CURVE: usize = 1 << 14;
/// Places of a thread's store: enough for the colours of a stone, and small enough to stay near the processor.
const PLACES_LOG2: u32 = 15;
/// A key that no colour has.
const EMPTY: u32 = u32::MAX;

/// What depends on one 8-bit value only, so that a pixel needs no logarithm.
pub(super) struct Pixels<'a> {
    relight: &'a Relight,
    /// Place in the table along each channel's logarithm; the middle is added to red and blue.
    place: [[f32; 256]; 3],
    /// Green transmittance times exposure times the length of the curve.
    scale: [f32; 256],
    /// From linear light to 8 bits.
    curve: Box<[u8; CURVE]>,
}

impl Pixels<'_> {
    pub(super) fn new(relight: &Relight) -> Pixels<'_> {
        let linear = linear_table();
        // A value of zero stands for all that is less than a half step.
        let light = |v: usize| if v == 0 { linear[1] / 2.0 } else { linear[v] };
        let place = [0, 1, 2].map(|k| {
            let middle = if k == 1 { 0.0 } else { REACH as f64 };
            std::array::from_fn(|v| ((light(v) / relight.bare[k]).ln() / STEP + middle) as f32)
        });
        let full = (CURVE - 1) as f64 * relight.exposure / relight.bare[1];
        let scale = std::array::from_fn(|v| (if v == 0 { 0.0 } else { light(v) } * full) as f32);
        let mut curve = Box::new([0u8; CURVE]);
        for (i, v) in curve.iter_mut().enumerate() {
            *v = (colour::encode((i as f64 + 0.5) / (CURVE - 1) as f64) * 255.0).round() as u8;
        }
        Pixels { relight, place, scale, curve }
    }

    /// Fills each light's part with what the pixels become under it.
    pub(super) fn fill(&self, pixels: &[u8], parts: &mut [&mut [u8]]) {
        let stride = self.relight.lights * 3;
        let mut keys = vec![EMPTY; 1 << PLACES_LOG2];
        let mut known = vec![0u8; stride << PLACES_LOG2];
        for (i, pixel) in pixels.chunks_exact(3).enumerate() {
            let key = u32::from(pixel[0]) | u32::from(pixel[1]) << 8 | u32::from(pixel[2]) << 16;
            // The golden ratio scatters neighbouring colours over the places (Knuth, The Art of Computer
            // Programming 3, 6.4).
            let place = (key.wrapping_mul(0x9E37_79B1) >> (32 - PLACES_LOG2)) as usize;
            let colours = &mut known[place * stride..(place + 1) * stride];
            if keys[place] != key {
                keys[place] = key;
                self.work_out([pixel[0], pixel[1], pixel[2]], colours);
            }
            for (part, colour) in parts.iter_mut().zip(colours.chunks_exact(3)) {
                part[i * 3..i * 3 + 3].copy_from_slice(colour);
            }
        }
    }

    /// One pixel under each light.
    fn work_out(&self, pixel: [u8; 3], colours: &mut [u8]) {
        const LAST: f32 = (SIDE - 1) as f32 - 0.001;
        let lights = self.relight.lights;
        let [red, green, blue] = pixel.map(usize::from);
        let x = (self.place[0][red] - self.place[1][green]).clamp(0.0, LAST);
        let y = (self.place[2][blue] - self.place[1][green]).clamp(0.0, LAST);
        let (column, row) = (x as usize, y as usize);
        let (a, b) = (x - column as f32, y - row as f32);
        let scale = self.scale[green];
        let weights = [(1.0 - a) * (1.0 - b), a * (1.0 - b), (1.0 - a) * b, a * b].map(|w| w * scale);
        let top = (row * SIDE + column) * lights;
        let bottom = top + SIDE * lights;
        let table = &self.relight.table;
        let (p, q) = table[top..top + 2 * lights].split_at(lights);
        let (r, s) = table[bottom..bottom + 2 * lights].split_at(lights);
        for ((((out, p), q), r), s) in colours.chunks_exact_mut(3).zip(p).zip(q).zip(r).zip(s) {
            let mut sum = [0.0f32; 4];
            for k in 0..4 {
                sum[k] = weights[0] * p[k] + weights[1] * q[k] + weights[2] * r[k] + weights[3] * s[k];
            }
            // The table's entries are not negative; held first, so that four casts are one instruction.
            let at = sum.map(|v| v.min((CURVE - 1) as f32) as i32 as usize & (CURVE - 1));
            for k in 0..3 {
                out[k] = self.curve[at[k]];
            }
        }
    }
}
