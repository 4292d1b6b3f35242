//! Linear values of a stone and its bare panel out of a table: what a raw developer or an image program reads off a picture
//! without tone curve, or a colorimeter's camera gives.
//!
//! Columns `part,red,green,blue`, separated by commas; a line that begins with # is a remark. The part is `stone` or `bare`,
//! one row for each spot, `dark` for what the camera gives without light, which is taken off all others, or `1` to `24` for
//! the patches of a chart under the same panel, row by row from the brown one. Any scale will do that is one for all rows of
//! stone and panel; the chart may have its own. With a chart they may be a sensor's own values; without one they are linear
//! sRGB. What they tell is [`super::swatch_photo`]'s matter.

use super::chart::PATCHES;

/// The values of one table, without their dark level.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Values {
    /// Red, green and blue of each spot of the stone; at least one.
    pub stone: Vec<[f64; 3]>,
    /// The same of the bare panel; at least one.
    pub bare: Vec<[f64; 3]>,
    /// The patches of a chart.
    pub chart: Option<[[f64; 3]; PATCHES]>,
}

/// Why a table was not taken.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct ValuesError {
    /// The line, from 1; none where no single line is to blame.
    pub line: Option<u64>,
    /// What is wrong.
    pub what: String,
    /// How to fix it.
    pub remedy: String,
}

/// The most rows taken.
const MOST_ROWS: usize = 100_000;

fn wrong(line: impl Into<Option<u64>>, what: impl Into<String>, remedy: &str) -> ValuesError {
    ValuesError { line: line.into(), what: what.into(), remedy: remedy.into() }
}

impl Values {
    /// Reads a table.
    ///
    /// # Errors
    /// The first thing that is wrong, with its line.
    pub(crate) fn read(bytes: &[u8]) -> Result<Values, ValuesError> {
        const HEADER: &str = "begin with a line part,red,green,blue";
        const ROW: &str = "give each row a part and three numbers: stone,0.081,0.052,0.012";
        const PARTS: &str = "a part is stone, bare, dark, or 1 to 24 for a patch of the chart";
        let text = std::str::from_utf8(bytes)
            .map_err(|_| wrong(None, "the file is not UTF-8 text", "save it as UTF-8 text"))?;
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .comment(Some(b'#'))
            .trim(csv::Trim::All)
            .from_reader(text.trim_start_matches('\u{feff}').as_bytes());
        let (mut headed, mut count) = (false, 0usize);
        let (mut stone, mut bare, mut dark) = (Vec::new(), Vec::new(), Vec::new());
        let mut patches: Vec<Vec<[f64; 3]>> = vec![Vec::new(); PATCHES];
        for row in reader.records() {
            let row = row.map_err(|e| wrong(e.position().map(csv::Position::line), e.to_string(), ROW))?;
            let line = row.position().map_or(1, csv::Position::line);
            let fields: Vec<&str> = row.iter().collect();
            if !headed {
                let named = fields.iter().map(|f| f.to_ascii_lowercase());
                if !named.eq(["part", "red", "green", "blue"].map(str::to_owned)) {
                    return Err(wrong(line, "the columns are not part,red,green,blue", HEADER));
                }
                headed = true;
                continue;
            }
            count += 1;
            if count > MOST_ROWS {
                return Err(wrong(line, format!("there are more than {MOST_ROWS} rows"), "take fewer spots"));
            }
            let [part, numbers @ ..] = fields.as_slice() else { continue };
            let [red, green, blue] = numbers else {
                return Err(wrong(line, format!("the row has {} fields and not 4", fields.len()), ROW));
            };
            let number = |text: &str| {
                text.parse::<f64>()
                    .ok()
                    .filter(|v| v.is_finite() && v.abs() < 1e12)
                    .ok_or_else(|| wrong(line, format!("`{text}` is not a number"), ROW))
            };
            let value = [number(red)?, number(green)?, number(blue)?];
            match (*part, part.parse::<usize>()) {
                ("stone", _) => stone.push(value),
                ("bare", _) => bare.push(value),
                ("dark", _) => dark.push(value),
                (_, Ok(patch)) if (1..=PATCHES).contains(&patch) => patches[patch - 1].push(value),
                (other, _) => return Err(wrong(line, format!("`{other}` is no part"), PARTS)),
            }
        }
        if !headed {
            return Err(wrong(None, "there is nothing in it", HEADER));
        }
        let mean =
            |all: &[[f64; 3]]| [0, 1, 2].map(|k| all.iter().map(|v| v[k]).sum::<f64>() / all.len() as f64);
        let level = if dark.is_empty() { [0.0; 3] } else { mean(&dark) };
        let lit = |what: &str, v: [f64; 3]| {
            let without = [0, 1, 2].map(|k| v[k] - level[k]);
            if without.iter().all(|v| *v > 0.0) {
                Ok(without)
            } else {
                let what = format!("a value of {what} is not above the dark level, or above 0");
                Err(wrong(None, what, "expose longer, or take the dark level anew; all values are linear"))
            }
        };
        let of = |what: &str, all: &[[f64; 3]]| {
            if all.is_empty() {
                return Err(wrong(None, format!("there is no row of {what}"), PARTS));
            }
            all.iter().map(|v| lit(what, *v)).collect::<Result<Vec<_>, _>>()
        };
        let (stone, bare) = (of("stone", &stone)?, of("bare", &bare)?);
        let missing: Vec<String> =
            (0..PATCHES).filter(|i| patches[*i].is_empty()).map(|i| (i + 1).to_string()).collect();
        let chart = if missing.len() == PATCHES {
            None
        } else if missing.is_empty() {
            let mut chart = [[0.0; 3]; PATCHES];
            for (patch, rows) in chart.iter_mut().zip(&patches) {
                *patch = lit("the chart", mean(rows))?;
            }
            Some(chart)
        } else {
            let what = format!("these patches of the chart are missing: {}", missing.join(", "));
            return Err(wrong(None, what, "give all 24 patches, or none"));
        };
        Ok(Values { stone, bare, chart })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_dark_level_is_taken_off_and_remarks_are_left_out() {
        let text = "# by hand\npart, red, green, blue\ndark,10,10,10\nbare,110,210,60\nstone,20,30,15\nstone,30,50,20\n";
        let read = Values::read(text.as_bytes()).expect("sound");
        assert_eq!(read.bare, [[100.0, 200.0, 50.0]]);
        assert_eq!(read.stone, [[10.0, 20.0, 5.0], [20.0, 40.0, 10.0]]);
        assert_eq!(read.chart, None);
        let patches: String = (1..=24).map(|i| format!("{i},{i},{i},{i}\n")).collect();
        let read = Values::read(format!("{text}{patches}").as_bytes());
        assert!(read.is_err_and(|e| e.what.contains("dark level")), "patch 1 is darker than the dark");
        let bright: String = (1..=24).map(|i| format!("{i},{0},{0},{0}\n", i + 20)).collect();
        let read = Values::read(format!("{text}{bright}").as_bytes()).expect("sound");
        assert_eq!(read.chart.map(|c| c[23]), Some([34.0; 3]));
    }

    #[test]
    fn what_is_no_table_of_values_is_refused_with_its_line() {
        let head = "part,red,green,blue\n";
        for (text, line, what) in [
            ("".into(), None, "nothing in it"),
            ("stone,1,2,3\n".into(), Some(1), "columns"),
            (format!("{head}stone,1,2\n"), Some(2), "3 fields"),
            (format!("{head}bare,1,2,3\nstone,1,x,3\n"), Some(3), "`x`"),
            (format!("{head}bare,1,2,3\nslab,1,2,3\n"), Some(3), "`slab`"),
            (format!("{head}25,1,2,3\n"), Some(2), "`25`"),
            (format!("{head}stone,1,2,3\n"), None, "no row of bare"),
            (format!("{head}bare,1,2,3\nstone,1,0,3\n"), None, "above 0"),
            (format!("{head}bare,1,2,3\nstone,1,1,3\n7,1,1,1\n"), None, "missing: 1, 2, 3"),
            (format!("{head}bare,inf,2,3\n"), Some(2), "`inf`"),
        ] {
            let error = Values::read(text.as_bytes()).expect_err(what);
            assert!(error.line == line && error.what.contains(what), "{text}: {error:?}");
        }
    }
}
