//! Any bytes as Dxf: read or refused with a reason, never a panic; what is read can be measured and written.
//!
//! Run: cargo +nightly fuzz run read_dxf -- -max_total_time=600

#![no_main]

use libfuzzer_sys::fuzz_target;
use underlit::shape::{DrawingUnit, Format, ReadOptions, figures, read, to_dxf, to_svg};

fuzz_target!(|bytes: &[u8]| {
    let options = ReadOptions { unit: Some(DrawingUnit::Millimetre), ..ReadOptions::default() };
    match read(Format::Dxf, bytes, &options) {
        Ok(reading) => {
            let measured = figures(&reading.outline);
            assert!(measured.area_mm2.is_finite() && measured.perimeter_mm.is_finite());
            let _ = (to_dxf(&reading.outline), to_svg(&reading.outline));
        }
        Err(refusal) => assert!(!refusal.flaws.is_empty()),
    }
});
