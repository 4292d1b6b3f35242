//! Reading spectra from IES TM-27-14 XML, the exchange format of spectrometers.
//!
//! Only the wavelengths, the values and the quantity are taken; the header is for people. What the numbers
//! mean is settled in [`super::columns`].

use super::columns::{Column, Fault, MeasurementError, Read};
use super::spectrum::{Spd, Transmittance};

/// True where the bytes look like XML, so that a reader of either format can choose.
#[must_use]
pub(crate) fn looks_like_xml(bytes: &[u8]) -> bool {
    let start = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    start.iter().find(|b| !b.is_ascii_whitespace()) == Some(&b'<')
}

/// Reads the light of an IES TM-27-14 file.
///
/// # Errors
/// Markup that cannot be read, another kind of XML, a transmittance or reflectance where a light belongs,
/// and all that [`Column::light`] refuses.
pub fn light(bytes: &[u8]) -> Result<Read<Spd>, MeasurementError> {
    let (quantity, column) = column(bytes)?;
    if ["transmittance", "reflectance", "absorptance", "t-values", "r-values"].contains(&quantity.as_str()) {
        return Err(MeasurementError::whole(Fault::WrongKind(format!(
            "the file gives {quantity}, not the power of a light"
        ))));
    }
    column.light()
}

/// Reads the stone of an IES TM-27-14 file.
///
/// # Errors
/// As [`light`], for a stone: the quantity must be transmittance.
pub(crate) fn stone(bytes: &[u8]) -> Result<Read<Transmittance>, MeasurementError> {
    let (quantity, column) = column(bytes)?;
    if !["transmittance", "t-values"].contains(&quantity.as_str()) {
        return Err(MeasurementError::whole(Fault::WrongKind(format!(
            "the file gives {quantity}, not the transmittance of a stone"
        ))));
    }
    column.stone()
}

fn column(bytes: &[u8]) -> Result<(String, Column), MeasurementError> {
    let text = std::str::from_utf8(bytes).map_err(|_| MeasurementError::whole(Fault::NotText))?;
    let document = roxmltree::Document::parse(text.trim_start_matches('\u{feff}'))
        .map_err(|e| MeasurementError::at(u64::from(e.pos().row), Fault::Markup(e.to_string())))?;
    let root = document.root_element();
    if !root.tag_name().name().eq_ignore_ascii_case("IESTM2714") {
        return Err(MeasurementError::whole(Fault::WrongKind(format!(
            "the XML begins with `{}`, not with IESTM2714",
            root.tag_name().name()
        ))));
    }
    let find = |name: &str| {
        root.descendants().find(|n| n.is_element() && n.tag_name().name() == name).and_then(|n| n.text())
    };
    let quantity = find("SpectralQuantity").unwrap_or("other").trim().to_lowercase();
    let mut column = Column {
        name: find("Description").unwrap_or("light").trim().to_string(),
        wavelengths_nm: Vec::new(),
        values: Vec::new(),
        lines: Vec::new(),
        percent: false,
    };
    for node in root.descendants().filter(|n| n.is_element() && n.tag_name().name() == "SpectralData") {
        let line = u64::from(document.text_pos_at(node.range().start).row);
        let number = |text: Option<&str>| {
            let text = text.unwrap_or("").trim();
            let value = text.parse::<f64>().ok().filter(|v| v.is_finite());
            value.ok_or_else(|| MeasurementError::at(line, Fault::NotANumber(text.into())))
        };
        column.wavelengths_nm.push(number(node.attribute("wavelength"))?);
        column.values.push(number(node.text())?);
        column.lines.push(line);
    }
    Ok((quantity, column))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::spectrum_csv;
    use std::fmt::Write;

    fn file(quantity: &str, value: &str) -> String {
        let mut text = format!(
            "<?xml version=\"1.0\" encoding=\"utf-8\"?>\n<IESTM2714 xmlns=\"iestm2714\" version=\"1.0\">\n\
             <Header><Description>a white</Description></Header>\n\
             <SpectralDistribution><SpectralQuantity>{quantity}</SpectralQuantity>\n"
        );
        for nm in (380..=780).step_by(5) {
            let _ = writeln!(text, "<SpectralData wavelength=\"{nm}.0\">{value}</SpectralData>");
        }
        text + "</SpectralDistribution></IESTM2714>"
    }

    #[test]
    fn a_light_and_a_stone() {
        let read = light(file("relative", "0.5").as_bytes()).expect("a light");
        let mut rows = String::new();
        for nm in (380..=780).step_by(5) {
            let _ = writeln!(rows, "{nm},0.5");
        }
        let same = spectrum_csv::lights(rows.as_bytes()).expect("the same light");
        assert_eq!(read.value, same.value[0].1);
        assert!(stone(file("transmittance", "0.5").as_bytes()).is_ok());
        assert!(looks_like_xml(b"\xef\xbb\xbf \n<?xml") && !looks_like_xml(b"380,1"));
    }

    #[test]
    fn other_files_are_refused_in_words() {
        for (text, code) in [
            ("<a".to_string(), "spectrum-markup"),
            ("<svg/>".into(), "spectrum-wrong-kind"),
            (file("transmittance", "0.5"), "spectrum-wrong-kind"),
            (file("flux", "x"), "spectrum-not-a-number"),
            ("<IESTM2714/>".into(), "spectrum-empty"),
        ] {
            assert_eq!(light(text.as_bytes()).err().map(|e| e.code()), Some(code), "{text:.80}");
        }
        let error = light(file("flux", "x").as_bytes()).expect_err("no numbers");
        assert_eq!(error.line, Some(5));
    }
}
