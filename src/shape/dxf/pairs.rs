//! The group codes and values that a DXF file is made of, from text or binary.
//!
//! Source: the DXF reference, "Group codes in numerical order" and "Binary DXF files", from memory; checked
//! against files in both forms.

use std::borrow::Cow;

use super::super::error::{ShapeCode, ShapeError};

/// One group: a code that says what the value is, and the value as text.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Pair<'a> {
    /// What the value is.
    pub(super) code: i32,
    /// The value, without surrounding white space.
    pub(super) value: Cow<'a, str>,
    /// The line of its code in the file, from 1; for binary files the number of the group.
    pub(super) line: usize,
}

impl Pair<'_> {
    /// The value as a number.
    pub(super) fn number(&self) -> Result<f64, ShapeError> {
        let value: f64 = self.value.parse().map_err(|_| self.bad("is not a number"))?;
        if value.is_finite() { Ok(value) } else { Err(self.bad("is not a finite number")) }
    }

    /// The value as a whole number.
    pub(super) fn whole(&self) -> Result<i64, ShapeError> {
        self.value.parse().map_err(|_| self.bad("is not a whole number"))
    }

    fn bad(&self, what: &str) -> ShapeError {
        let shown: String = self.value.chars().take(40).collect();
        ShapeError::new(
            ShapeCode::Unreadable,
            format!("the value `{shown}` of group {} {what}", self.code),
            "save the drawing again from the program that made it",
        )
        .on_line(self.line)
    }
}

const SENTINEL: &[u8] = b"AutoCAD Binary DXF\r\n\x1a\0";

/// All groups of a file up to its end mark.
pub(super) fn pairs(bytes: &[u8]) -> Result<Vec<Pair<'_>>, ShapeError> {
    if let Some(rest) = bytes.strip_prefix(SENTINEL) { binary(rest) } else { text(bytes) }
}

fn text(bytes: &[u8]) -> Result<Vec<Pair<'_>>, ShapeError> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut lines = bytes.split(|b| *b == b'\n').enumerate();
    let mut pairs = Vec::new();
    while let Some((number, code_line)) = lines.next() {
        let line = number + 1;
        let code_text = code_line.trim_ascii();
        if code_text.is_empty() && lines.clone().all(|(_, l)| l.trim_ascii().is_empty()) {
            break;
        }
        let code =
            std::str::from_utf8(code_text).ok().and_then(|t| t.parse::<i32>().ok()).ok_or_else(|| {
                ShapeError::new(
                    ShapeCode::Unreadable,
                    "this is not a DXF file, or it is damaged: expected a group code",
                    "save the drawing as DXF again",
                )
                .on_line(line)
            })?;
        let Some((_, value)) = lines.next() else {
            return Err(cut_short().on_line(line));
        };
        let value = decoded(value.trim_ascii());
        let end = code == 0 && value == "EOF";
        if code != 999 {
            pairs.push(Pair { code, value, line });
        }
        if end {
            break;
        }
    }
    Ok(pairs)
}

/// Text as UTF-8 where it is, else byte for byte as Latin-1: only layer and block names and marks have letters.
fn decoded(bytes: &[u8]) -> Cow<'_, str> {
    match std::str::from_utf8(bytes) {
        Ok(text) => Cow::Borrowed(text),
        Err(_) => Cow::Owned(bytes.iter().map(|b| char::from(*b)).collect()),
    }
}

fn cut_short() -> ShapeError {
    ShapeError::new(ShapeCode::Unreadable, "the DXF file is cut short", "copy or save it again")
}

fn binary(bytes: &[u8]) -> Result<Vec<Pair<'_>>, ShapeError> {
    // Since R13 a group code takes two bytes, before that one; the first code is 0 either way.
    let wide = bytes.get(1) == Some(&0);
    let mut rest = bytes;
    let mut pairs = Vec::new();
    while !rest.is_empty() {
        let line = pairs.len() + 1;
        let short = || cut_short().on_line(line);
        let code = if wide {
            i32::from(u16::from_le_bytes(take(&mut rest).ok_or_else(short)?))
        } else {
            match take::<1>(&mut rest).ok_or_else(short)? {
                [255] => i32::from(u16::from_le_bytes(take(&mut rest).ok_or_else(short)?)),
                [code] => i32::from(code),
            }
        };
        let value: Cow<'_, str> = match code {
            10..=59 | 110..=149 | 210..=239 | 460..=469 | 1010..=1059 => {
                Cow::Owned(format!("{:?}", f64::from_le_bytes(take(&mut rest).ok_or_else(short)?)))
            }
            60..=79 | 170..=179 | 270..=289 | 370..=389 | 400..=409 | 1060..=1070 => {
                Cow::Owned(i16::from_le_bytes(take(&mut rest).ok_or_else(short)?).to_string())
            }
            90..=99 | 420..=429 | 440..=459 | 1071 => {
                Cow::Owned(i32::from_le_bytes(take(&mut rest).ok_or_else(short)?).to_string())
            }
            160..=169 => Cow::Owned(i64::from_le_bytes(take(&mut rest).ok_or_else(short)?).to_string()),
            290..=299 => {
                let [flag] = take(&mut rest).ok_or_else(short)?;
                Cow::Owned(flag.to_string())
            }
            310..=319 | 1004 => {
                let [length] = take(&mut rest).ok_or_else(short)?;
                rest = rest.get(usize::from(length)..).ok_or_else(short)?;
                Cow::Borrowed("")
            }
            0..=9
            | 100..=109
            | 300..=309
            | 320..=369
            | 390..=399
            | 410..=419
            | 430..=439
            | 470..=481
            | 999..=1009 => {
                let end = rest.iter().position(|b| *b == 0).ok_or_else(short)?;
                let value = decoded(rest[..end].trim_ascii());
                rest = &rest[end + 1..];
                value
            }
            _ => {
                return Err(ShapeError::new(
                    ShapeCode::Unreadable,
                    format!("the binary DXF file has a group code {code} that no version knows"),
                    "save it as a text DXF",
                )
                .on_line(line));
            }
        };
        let end = code == 0 && value == "EOF";
        pairs.push(Pair { code, value, line });
        if end {
            break;
        }
    }
    Ok(pairs)
}

fn take<const N: usize>(rest: &mut &[u8]) -> Option<[u8; N]> {
    let (head, tail) = rest.split_first_chunk::<N>()?;
    *rest = tail;
    Some(*head)
}
