//! What must hold of the last commit of a push: the state that everybody works with from now on.

use super::super::chain::Chain;
use super::super::incoming;
use super::super::redraw::Known;
use super::super::stray;
use super::super::verify::Start;
use super::{End, Judge, beside_records};
use crate::fault::Fault;
use crate::git::{CommitId, PathChange, Snapshot, Uninspected};
use crate::model::kind::Kind;
use crate::store::strict_json;

/// The most sheets that one push may bring to be drawn again.
const SHEETS: usize = 2_000;

impl Judge<'_, '_> {
    pub(super) fn tip(&mut self, old: Option<CommitId>, new: CommitId) -> Result<(), End> {
        let state = self.inspector.snapshot(Some(new))?;
        let chain = self.states.chain(&state)?;
        self.identity(&chain)?;
        let changes = self.inspector.changes(old, new)?;
        let mut faults = beside_records::faults(self.inspector, &old.into_iter().collect::<Vec<_>>(), new)?;
        for change in &changes {
            if change.after.is_some() && Kind::of_path(&change.path).is_none() {
                faults.push(stray::fault(&change.path, "take it out, or give it its right name"));
            }
            faults.extend(text_faults(&state, change)?);
            if faults.len() >= super::ENOUGH {
                break;
            }
        }
        // A file with such marks is no JSON either; the marks say more.
        let marked: Vec<String> = faults.iter().filter_map(|f| f.file.clone()).collect();
        let unsaid = |f: &Fault| f.file.as_ref().is_none_or(|file| !marked.contains(file));
        let shop = match self.states.shop(&state) {
            Ok(shop) => Some(shop),
            Err(found) => {
                faults.extend(found.into_iter().filter(unsaid));
                None
            }
        };
        let rules = shop.as_ref().map(|shop| &shop.rules);
        faults.extend(incoming::shop_faults(&state, &changes, rules)?.into_iter().filter(unsaid));
        if let Some(shop) = shop {
            let mut known = Known::upto(SHEETS);
            for id in incoming::projects_of(&changes) {
                self.in_time()?;
                let judged = (&*chain, &shop.rules);
                let found = incoming::project_faults(&state, &id, judged, &changes, &mut known)?;
                if known.passed_over > 0 {
                    let what = format!("more than {SHEETS} sheets to be drawn again");
                    return Err(Uninspected::TooMuch(what).into());
                }
                faults.extend(found.into_iter().filter(unsaid));
                if faults.len() >= super::ENOUGH {
                    break;
                }
            }
        }
        faults.dedup();
        self.judgement.findings.extend(faults.into_iter().map(Into::into));
        if old.is_none() {
            self.judgement.begun = Some(chain.fingerprint());
        }
        Ok(())
    }

    /// Whether it is the book that this repository holds, or is to hold, with the roster that it had or a later one.
    fn identity(&self, chain: &Chain) -> Result<(), End> {
        let start = match (&self.before, self.options.fingerprint) {
            (Some(before), _) => Start::after(before),
            (None, Some(told)) => Start::told(told),
            (None, None) => Start::default(),
        };
        start.holds(chain).map_err(|fault| End(vec![*fault]))
    }
}

/// Marks of an unfinished merge.
fn text_faults(state: &Snapshot<'_>, change: &PathChange) -> Result<Vec<Fault>, End> {
    let Some(entry) = change.after else { return Ok(Vec::new()) };
    if state.size(entry).map_err(Uninspected::from)? as u64 > strict_json::LARGEST {
        return Ok(Vec::new()); // no text that people merge
    }
    let bytes = state.bytes(entry).map_err(Uninspected::from)?;
    let mut faults = Vec::new();
    if let Some(line) = conflict_marker(&bytes) {
        faults.push(
            Fault::data("conflict-marker", "a merge was not finished here: git's marks stand in the file")
                .in_file(&change.path)
                .on_line(Some(line))
                .fix("keep one of the two sides and take the marks out; `underlit sync` merges without them"),
        );
    }
    Ok(faults)
}

/// The line of the first mark, where all three of them stand in order.
fn conflict_marker(bytes: &[u8]) -> Option<usize> {
    if bytes.contains(&0) {
        return None;
    }
    let mut lines = bytes.split(|b| *b == b'\n').enumerate();
    let mark = |line: &[u8], c: u8| {
        line.iter().take_while(|b| **b == c).count() == 7 && matches!(line.get(7), None | Some(b' ' | b'\r'))
    };
    let (first, _) = lines.find(|(_, line)| mark(line, b'<'))?;
    lines.find(|(_, line)| mark(line, b'='))?;
    lines.find(|(_, line)| mark(line, b'>'))?;
    Some(first + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_of_a_merge_are_told_from_text_that_looks_like_them() {
        let marked = b"{\n<<<<<<< HEAD\n  \"a\": 1\n=======\n  \"a\": 2\n>>>>>>> theirs\n}\n";
        assert_eq!(conflict_marker(marked), Some(2));
        assert_eq!(conflict_marker(b"<<<<<<< a\r\n=======\r\n>>>>>>> b\r\n"), Some(1));
        for plain in
            ["# Title\n=======\n", "a <<<<<<< b\n=======\n>>>>>>> c\n", "<<<<<<<< 8\n=======\n>>>>>>>\n"]
        {
            assert_eq!(conflict_marker(plain.as_bytes()), None, "{plain}");
        }
    }
}
