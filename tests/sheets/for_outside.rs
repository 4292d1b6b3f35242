//! Writes sheets for the checks by other programs in `tests/outside/sheets`, with what those are to find in them.
//!
//! They land in `sheets/` under cargo's folder for test files, `target/tmp`.

use std::error::Error;
use std::path::Path;

use crate::panels::{desk, others, vanity, wall};
use serde_json::{Value, json};
use underlit::sheets::{Paper, draw};
use underlit::units::DisplayUnits;

#[test]
fn sheets_are_written_for_other_programs() -> Result<(), Box<dyn Error>> {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("sheets");
    std::fs::create_dir_all(&folder)?;
    let mut inches = vanity();
    inches.units = DisplayUnits::In;
    inches.paper = Paper::Letter;
    let mut spilling = desk();
    spilling.notes = (1..=60).map(|i| format!("Remark {i} with words enough for a line of notes.")).collect();
    let mut panels = vec![
        ("desk", desk()),
        ("wall", wall()),
        ("vanity", vanity()),
        ("inches", inches),
        ("spilling", spilling),
    ];
    panels.extend(others());
    let mut written: Vec<Value> = Vec::new();
    for (name, input) in panels {
        let sheet = draw(&input)?;
        assert!(!contains(&sheet.pdf, b"CreationDate") && !contains(&sheet.pdf, b"ModDate"), "{name}");
        std::fs::write(folder.join(format!("{name}.pdf")), &sheet.pdf)?;
        std::fs::write(folder.join(format!("{name}.svg")), &sheet.svg)?;
        std::fs::write(folder.join(format!("{name}.png")), sheet.png(100.0)?)?;
        let page = sheet.page.area();
        let texts: Vec<Vec<&str>> =
            sheet.texts.iter().map(|page| page.iter().map(|t| t.text.as_str()).collect()).collect();
        assert_eq!(texts.len(), sheet.further_svgs.len() + 1);
        written.push(json!({
            "name": name,
            "width_mm": page.width(),
            "height_mm": page.height(),
            "title": format!("{} – {}", input.identification, input.title),
            "scale": sheet.scale.to_string(),
            "reduction": sheet.scale.reduction(),
            "panel_mm": [input.figures.width_mm, input.figures.height_mm],
            "texts": texts,
        }));
    }
    std::fs::write(folder.join("sheets.json"), serde_json::to_vec_pretty(&written)?)?;
    Ok(())
}

fn contains(bytes: &[u8], word: &[u8]) -> bool {
    bytes.windows(word.len()).any(|w| w == word)
}
