//! Holds the map of the code: imports run downward only, pure rooms stay pure, one file prints, and every room
//! stands on the map in `src/lib.rs`.
//!
//! It reads the sources as a compiler's front end would see them: comments and the text of literals count for
//! nothing, grouped and renamed imports are followed, and `super` is climbed. What it cannot see is an item that
//! only a macro names. Each rule has an invented source further down that breaks it.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

/// The rooms and what stands between them: a room sees the floors below its own.
const FLOORS: &[(&str, i8)] = &[
    ("cli", 6),
    ("faces", 5),
    ("stone", 5),
    ("sync", 5),
    ("ops", 4),
    ("trust", 3),
    ("store", 2),
    ("git", 2),
    ("signing", 2),
    ("sheets", 2),
    ("packet", 2),
    ("pages", 2),
    ("gates", 1),
    ("job", 1),
    ("merge", 1),
    ("model", 1),
    ("light", 0),
    ("shape", 0),
    ("power", 0),
    ("making", 0),
    ("units", GROUND),
    ("words", GROUND),
    ("digest", GROUND),
    ("fault", GROUND),
    ("html", GROUND),
    ("ids", GROUND),
    ("lookalike", GROUND),
    ("markup", GROUND),
    ("parallel", GROUND),
    ("paths", GROUND),
    ("secrets", GROUND),
    ("size", GROUND),
    ("visible", GROUND),
];

/// Quantities, words, digests and faults: every room may stand on them, and they on one another.
const GROUND: i8 = -1;

/// Imports within a floor that are meant: the gates judge what follows from the model's records, and a client's page
/// shows the stone.
const WITHIN_A_FLOOR: &[(&str, &str)] =
    &[("gates", "model"), ("gates", "job"), ("job", "model"), ("merge", "model"), ("faces", "stone")];

/// What a room that only turns values into values has no use for: files, environment, processes, the network,
/// clocks and chance. Threads that are joined before their values are used (`std::thread::scope`) change nothing.
const IMPURE: &[&str] = &[
    "std::fs",
    "std::env",
    "std::process",
    "std::net",
    "std::thread::sleep",
    "std::thread::spawn",
    "std::io::stdin",
    "std::io::stdout",
    "std::io::stderr",
    "std::time::SystemTime",
    "std::time::Instant",
    "SystemTime::now",
    "Instant::now",
    "Timestamp::now",
    "Zoned::now",
    "getrandom",
    "rand",
    "tempfile",
    "git2",
];

/// The one file that may write to standard output and standard error, and read from standard input.
const PRINTER: &str = "cli/printer.rs";

/// How many lines a file may have, its own unit tests not counted, before it has to say why.
const LONG: usize = 500;

/// Files that are longer, each with the reason why it is one file.
const LONG_FOR_A_REASON: &[(&str, &str)] = &[(
    "git/error.rs",
    "each way in which git fails, with its sentence and remedy, so that no two say it differently",
)];

// --- reading sources -----------------------------------------------------------------------------

/// One word or sign of a source, with its line.
#[derive(Clone, Debug, PartialEq)]
struct Token {
    text: String,
    line: usize,
}

/// The words and signs of a source: no comments, and of a literal only that it is there.
fn tokens(source: &str) -> Vec<Token> {
    let chars: Vec<char> = source.chars().collect();
    let (mut at, mut line, mut found) = (0, 1, Vec::new());
    let is_word = |c: char| c.is_alphanumeric() || c == '_';
    while let Some(&here) = chars.get(at) {
        let rest = &chars[at..];
        let starts = |text: &str| text.chars().zip(rest).filter(|(a, b)| a == *b).count() == text.len();
        let length = if here.is_whitespace() {
            1
        } else if starts("//") {
            rest.iter().take_while(|c| **c != '\n').count()
        } else if starts("/*") {
            length_of_block_comment(rest)
        } else if let Some(length) = length_of_text(rest) {
            found.push(Token { text: "\"\"".into(), line });
            length
        } else if let Some(length) = length_of_character(rest) {
            length
        } else if is_word(here) {
            let length = rest.iter().take_while(|c| is_word(**c)).count();
            found.push(Token { text: rest[..length].iter().collect(), line });
            length
        } else if starts("::") {
            found.push(Token { text: "::".into(), line });
            2
        } else {
            found.push(Token { text: here.into(), line });
            1
        };
        line += chars[at..(at + length).min(chars.len())].iter().filter(|c| **c == '\n').count();
        at += length;
    }
    found
}

fn length_of_block_comment(rest: &[char]) -> usize {
    let (mut at, mut depth) = (0, 0);
    while at < rest.len() {
        match (rest[at], rest.get(at + 1)) {
            ('/', Some('*')) => (depth, at) = (depth + 1, at + 2),
            ('*', Some('/')) => (depth, at) = (depth - 1, at + 2),
            _ => at += 1,
        }
        if depth == 0 {
            return at;
        }
    }
    rest.len()
}

/// The length of a string literal that starts here: plain, raw, of bytes.
fn length_of_text(rest: &[char]) -> Option<usize> {
    let prefix = rest.iter().take_while(|c| matches!(c, 'b' | 'r' | 'c')).count();
    let raw = rest[..prefix].contains(&'r');
    let hashes = if raw { rest[prefix..].iter().take_while(|c| **c == '#').count() } else { 0 };
    if prefix > 2 || rest.get(prefix + hashes) != Some(&'"') {
        return None;
    }
    let mut at = prefix + hashes + 1;
    while let Some(c) = rest.get(at) {
        match c {
            '\\' if !raw => at += 2,
            '"' if rest[at + 1..].iter().take_while(|c| **c == '#').count() >= hashes => {
                return Some(at + 1 + hashes);
            }
            _ => at += 1,
        }
    }
    Some(rest.len())
}

/// The length of a character literal that starts here; a lifetime is none.
fn length_of_character(rest: &[char]) -> Option<usize> {
    let start = usize::from(rest[0] == 'b' && rest.get(1) == Some(&'\''));
    if rest.get(start) != Some(&'\'') {
        return None;
    }
    let end = if rest.get(start + 1) == Some(&'\\') {
        start + 3 + rest[start + 3..].iter().position(|c| *c == '\'')?
    } else {
        (rest.get(start + 2) == Some(&'\'')).then_some(start + 2)?
    };
    Some(end + 1)
}

/// The source without what stands under `#[cfg(test)]`.
fn without_tests(tokens: &[Token]) -> Vec<Token> {
    const MARK: [&str; 7] = ["#", "[", "cfg", "(", "test", ")", "]"];
    let (mut kept, mut at) = (Vec::new(), 0);
    while at < tokens.len() {
        let marked = tokens[at..].iter().map(|t| t.text.as_str()).take(7).eq(MARK);
        if !marked {
            kept.push(tokens[at].clone());
            at += 1;
            continue;
        }
        let mut depth = 0;
        for (offset, token) in tokens[at..].iter().enumerate().skip(7) {
            match token.text.as_str() {
                "{" => depth += 1,
                "}" => depth -= 1,
                _ => {}
            }
            if depth == 0 && matches!(token.text.as_str(), ";" | "}") {
                at += offset + 1;
                break;
            }
            if at + offset + 1 == tokens.len() {
                at = tokens.len();
                break;
            }
        }
    }
    kept
}

/// A path that a source names, from the crate's root where it is the crate's own.
#[derive(Clone, Debug, PartialEq)]
struct Named {
    path: Vec<String>,
    line: usize,
}

impl Named {
    fn text(&self) -> String {
        self.path.join("::")
    }
}

/// Every path of two steps or more that a source names, with groups taken apart and `super` climbed.
fn paths(file: &str, tokens: &[Token]) -> Vec<Named> {
    let mut module: Vec<String> =
        file.trim_end_matches(".rs").split('/').map(str::to_owned).collect::<Vec<_>>();
    if module.last().is_some_and(|m| m == "mod" || m == "lib" || m == "main") {
        module.pop();
    }
    let (mut found, mut at) = (Vec::new(), 0);
    // The inline modules around this place, each with the depth of braces at which it ends.
    let (mut inline, mut depth): (Vec<usize>, usize) = (Vec::new(), 0);
    while at < tokens.len() {
        match tokens[at].text.as_str() {
            "{" => depth += 1,
            "}" => {
                depth = depth.saturating_sub(1);
                if inline.last() == Some(&depth) {
                    inline.pop();
                    module.pop();
                }
            }
            "mod" if tokens.get(at + 2).is_some_and(|t| t.text == "{") => {
                module.push(tokens[at + 1].text.clone());
                inline.push(depth);
                depth += 1;
                at += 2;
            }
            _ => {
                let continues = tokens.get(at + 1).is_some_and(|t| t.text == "::");
                let begins = at == 0 || tokens[at - 1].text != "::";
                if continues && begins && is_name(&tokens[at].text) {
                    at = tree(tokens, at, &[], &module, &mut found);
                    continue;
                }
            }
        }
        at += 1;
    }
    found
}

fn is_name(text: &str) -> bool {
    text.starts_with(|c: char| c.is_alphabetic() || c == '_')
}

/// Reads one path, or a group of them, and returns where it ends.
fn tree(
    tokens: &[Token],
    mut at: usize,
    before: &[String],
    module: &[String],
    found: &mut Vec<Named>,
) -> usize {
    let mut path = before.to_vec();
    let line = tokens[at].line;
    loop {
        match tokens.get(at).map(|t| t.text.as_str()) {
            Some("{") => {
                at += 1;
                while let Some(token) = tokens.get(at) {
                    match token.text.as_str() {
                        "}" => return at + 1,
                        "," => at += 1,
                        text if is_name(text) || text == "*" => at = tree(tokens, at, &path, module, found),
                        _ => at += 1,
                    }
                }
                return at;
            }
            Some(name) if is_name(name) || name == "*" => path.push(name.to_owned()),
            _ => break,
        }
        at += 1;
        if tokens.get(at).is_none_or(|t| t.text != "::") {
            break;
        }
        at += 1;
    }
    if path.len() > 1 {
        found.push(Named { path: from_root(&path, module), line });
    }
    at
}

/// A path with `crate`, `self` and `super` worked out: `crate::` stands before what is the crate's own.
fn from_root(path: &[String], module: &[String]) -> Vec<String> {
    let ups = path.iter().take_while(|p| *p == "super").count();
    let (base, rest) = match path[0].as_str() {
        "crate" => (0, 1),
        "self" => (module.len(), 1),
        "super" => (module.len().saturating_sub(ups), ups),
        _ => return path.to_vec(),
    };
    let own = std::iter::once("crate".to_owned()).chain(module[..base].iter().cloned());
    own.chain(path[rest..].iter().cloned()).collect()
}

// --- the rules -----------------------------------------------------------------------------------

fn floor(room: &str) -> Option<i8> {
    FLOORS.iter().find(|(name, _)| *name == room).map(|(_, floor)| *floor)
}

/// The room that a file belongs to: its folder under `src`, or itself.
fn room_of(file: &str) -> &str {
    file.split('/').next().unwrap_or(file).trim_end_matches(".rs")
}

/// Everything that one file does against the rules.
fn offences(file: &str, source: &str) -> Vec<String> {
    let mut found = Vec::new();
    if !source.starts_with("//! ") {
        found.push(format!("{file}:1: opens without saying what it is for (`//! …`)"));
    }
    let all = tokens(source);
    let room = room_of(file);
    if room == "main" || room == "lib" {
        let strays = paths(file, &all);
        let strays = strays.iter().filter(|n| n.path[0] == "underlit" && n.path[1] != "cli");
        found.extend(strays.map(|n| format!("{file}:{}: {} goes past the cli room", n.line, n.text())));
        return found;
    }
    let Some(own) = floor(room) else {
        found.push(format!("{file}:1: the room {room} stands on no floor"));
        return found;
    };
    for named in paths(file, &all) {
        let Some(other) = named.path.get(1).filter(|_| named.path[0] == "crate") else { continue };
        let Some(theirs) = floor(other).filter(|_| other != room) else { continue };
        let meant = WITHIN_A_FLOOR.contains(&(room, other));
        let why = match theirs.cmp(&own) {
            std::cmp::Ordering::Greater => "looks upward",
            std::cmp::Ordering::Equal if own != GROUND && !meant => "looks into a room of its own floor",
            _ => continue,
        };
        found.push(format!("{file}:{}: {} {why}", named.line, named.text()));
    }
    let live = without_tests(&all);
    if own <= 1 {
        for named in paths(file, &live) {
            let text = named.text();
            let impure = IMPURE.iter().find(|i| {
                let whole = format!("::{text}::");
                whole.starts_with(&format!("::{i}::"))
                    || (i.ends_with("::now") && whole.contains(&format!("::{i}::")))
            });
            found.extend(impure.map(|_| format!("{file}:{}: {text} in a room that is pure", named.line)));
        }
    }
    if file != PRINTER {
        found.extend(prints(file, &live));
    }
    found
}

fn prints(file: &str, live: &[Token]) -> Vec<String> {
    let follows = |at: usize, text: &str| live.get(at).is_some_and(|t| t.text == text);
    let writes = |at: usize, token: &Token| match token.text.as_str() {
        "println" | "eprintln" | "print" | "eprint" | "dbg" => follows(at + 1, "!"),
        // Asking a stream whether it is a terminal writes nothing; a child process has methods of the same names.
        "stdout" | "stderr" => {
            let own = at == 0 || live[at - 1].text != ".";
            own && follows(at + 1, "(") && follows(at + 2, ")") && !follows(at + 4, "is_terminal")
        }
        _ => false,
    };
    let written = live.iter().enumerate().filter(|(at, token)| writes(*at, token));
    written.map(|(_, t)| format!("{file}:{}: {} outside {PRINTER}", t.line, t.text)).collect()
}

/// The rooms of the map in the crate's opening comment, each with its floor's word.
fn map(lib: &str) -> BTreeMap<String, String> {
    let rows = lib.lines().filter_map(|l| l.strip_prefix("//! |")).filter(|l| l.contains("[`"));
    rows.flat_map(|row| {
        let floor = row.split('|').next().unwrap_or_default().trim().to_owned();
        let rooms = row.split('|').nth(1).unwrap_or_default().split("[`").skip(1);
        let names: Vec<String> =
            rooms.filter_map(|r| r.split_once("`]").map(|(name, _)| name.to_owned())).collect();
        names.into_iter().map(move |name| (name, floor.clone()))
    })
    .collect()
}

/// The word by which the map names a floor.
fn word(floor: i8) -> String {
    if floor == GROUND { "ground".into() } else { floor.to_string() }
}

/// What the map and the rooms that are there say against one another.
fn map_offences(lib: &str, rooms: &[String]) -> Vec<String> {
    let map = map(lib);
    let mut found = Vec::new();
    for room in rooms {
        match (map.get(room), floor(room)) {
            (None, _) => found.push(format!("lib.rs: its map does not name the room {room}")),
            (Some(said), Some(floor)) if *said != word(floor) => {
                found.push(format!(
                    "lib.rs: its map puts {room} on floor {said}, and it stands on {}",
                    word(floor)
                ));
            }
            _ => {}
        }
    }
    let gone = map.keys().filter(|named| !rooms.contains(named));
    found.extend(gone.map(|named| format!("lib.rs: its map names {named}, which is not there")));
    found
}

/// The lines of a file before its unit tests.
fn lines_of_code(source: &str) -> usize {
    source.lines().take_while(|line| *line != "#[cfg(test)]").count()
}

/// Files that are too long without a reason, and reasons that nothing needs any more.
fn length_offences(lengths: &BTreeMap<String, usize>, reasons: &[(&str, &str)]) -> Vec<String> {
    let long = lengths.iter().filter(|(file, lines)| {
        **lines > LONG && !reasons.iter().any(|(known, why)| known == file && !why.is_empty())
    });
    let mut found: Vec<String> = long
        .map(|(file, lines)| format!("{file} has {lines} lines; split it by meaning, or say why not"))
        .collect();
    let idle = reasons.iter().filter(|(file, _)| lengths.get(*file).is_none_or(|lines| *lines <= LONG));
    found.extend(idle.map(|(file, _)| format!("{file} is excused and needs it no more")));
    found
}

// --- the sources as they are ---------------------------------------------------------------------

fn sources() -> BTreeMap<String, String> {
    fn walk(folder: &Path, prefix: &str, found: &mut BTreeMap<String, String>) {
        let entries = fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
        for entry in entries {
            let entry = entry.unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
            let name = format!("{prefix}{}", entry.file_name().to_string_lossy());
            if entry.path().is_dir() {
                walk(&entry.path(), &format!("{name}/"), found);
            } else if name.ends_with(".rs") {
                let text = fs::read_to_string(entry.path()).unwrap_or_else(|e| panic!("{name}: {e}"));
                found.insert(name, text);
            }
        }
    }
    let mut found = BTreeMap::new();
    walk(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), "", &mut found);
    assert!(found.len() > 100, "only {} sources were found", found.len());
    found
}

fn none(offences: &[String]) {
    let mut list = String::new();
    for offence in offences {
        let _ = writeln!(list, "  {offence}");
    }
    assert!(offences.is_empty(), "\n{list}");
}

#[test]
fn every_source_keeps_the_rules() {
    let found: Vec<String> = sources().iter().flat_map(|(file, text)| offences(file, text)).collect();
    none(&found);
}

#[test]
fn the_map_names_every_room_on_its_floor() {
    let sources = sources();
    let mut rooms: Vec<String> = sources.keys().map(|f| room_of(f).to_owned()).collect();
    rooms.retain(|room| room != "lib" && room != "main");
    rooms.dedup();
    none(&map_offences(&sources["lib.rs"], &rooms));
    let known = FLOORS.iter().map(|(room, _)| (*room).to_owned());
    none(
        &known
            .filter(|room| !rooms.contains(room))
            .map(|r| format!("{r} has a floor and no room"))
            .collect::<Vec<_>>(),
    );
}

#[test]
fn no_file_grows_long_without_a_reason() {
    let lengths = sources().into_iter().map(|(file, text)| (file, lines_of_code(&text))).collect();
    none(&length_offences(&lengths, LONG_FOR_A_REASON));
}

/// A check that reads nothing finds nothing: the imports that are surely there must be seen.
#[test]
fn imports_that_are_there_are_seen() {
    let sources = sources();
    let sees = |file: &str, path: &str| {
        let found = paths(file, &tokens(&sources[file]));
        assert!(found.iter().any(|n| n.text().starts_with(path)), "{file} is not seen to name {path}");
    };
    sees("gates/mod.rs", "crate::model::stage::Stage");
    sees("model/snapshot.rs", "crate::shape::Figures");
    sees("trust/counting.rs", "crate::signing::verify");
    sees("main.rs", "underlit::cli::run");
}

// --- the rules on invented sources ---------------------------------------------------------------

mod rules {
    use super::*;

    fn offends(file: &str, source: &str, with: &str) {
        let found = offences(file, &format!("//! An invented file.\n{source}"));
        assert!(found.iter().any(|o| o.contains(with)), "{file}: {source}\ngave {found:?}");
    }

    fn passes(file: &str, source: &str) {
        let found = offences(file, &format!("//! An invented file.\n{source}"));
        assert!(found.is_empty(), "{file}: {source}\ngave {found:?}");
    }

    #[test]
    fn an_upward_import_is_found_however_it_is_written() {
        for source in [
            "use crate::ops::desk::Desk;",
            "pub(crate) use crate::ops::desk::{self, Desk};",
            "use crate::{digest::Sha256Digest, ops::{desk::Desk, sign}};",
            "use crate::ops::*;",
            "use crate::ops as upstairs;",
            "use super::super::ops::desk::Desk;",
            "use super::{super::ops::desk::Desk};",
            "use crate\n    ::ops\n    ::desk::Desk;",
            "fn f() -> crate::ops::desk::Desk { todo() }",
            "fn f() { let x = 'a'; crate::ops::sign::say(\"{\") }",
            "mod inner { use super::super::super::ops::desk::Desk; }",
            "macro_rules! m { () => { $crate::ops::sign::say() } }",
            "#[cfg(test)]\nmod tests { use crate::ops::desk::Desk; }",
        ] {
            offends("job/case.rs", source, "looks upward");
        }
        offends("units.rs", "use crate::model::panel::Panel;", "looks upward");
        offends("light/mod.rs", "use super::gates::Case;", "looks upward");
        offends("git/repo.rs", "use crate::cli::Cli;", "looks upward");
    }

    #[test]
    fn rooms_of_one_floor_leave_each_other_alone() {
        offends("light/stone.rs", "use crate::shape::Outline;", "of its own floor");
        offends("power/wire.rs", "use crate::making::mount::Mount;", "of its own floor");
        offends("git/repo.rs", "use crate::store::BookFolder;", "of its own floor");
        offends("sheets/sheet.rs", "use crate::signing::verify;", "of its own floor");
        offends("model/view.rs", "use crate::job::Case;", "of its own floor");
        offends("merge/record.rs", "use crate::job::Case;", "of its own floor");
    }

    #[test]
    fn what_is_allowed_passes() {
        passes(
            "gates/case.rs",
            "use crate::model::panel::Panel; use crate::light::practice; use crate::fault::Fault;",
        );
        passes("ops/sign.rs", "use crate::store::read; use crate::git::Repo; use crate::signing::verify;");
        passes(
            "light/stone.rs",
            "use crate::units::Kelvin; use super::spectrum::Spectrum; use self::inner::X;",
        );
        passes("words.rs", "use crate::units::trimmed;");
        passes("gates/a.rs", "// use crate::ops::X;\n/* use crate::ops::X; /* nested */ crate::ops */\n");
        passes("gates/a.rs", "/// [`crate::ops::sign`]\nfn f() -> &'static str { \"use crate::ops::X;\" }");
        passes("gates/a.rs", "fn f() -> &'static str { r#\"\"crate::ops::X\"\"# }");
        passes("gates/a.rs", "fn f<'a>(x: &'a str) -> char { '\\'' }");
        passes(
            "gates/a.rs",
            "use super::ops::Op; // a module of the gates room that happens to be called so",
        );
    }

    #[test]
    fn a_pure_room_that_reaches_out_is_found() {
        for source in [
            "use std::fs;",
            "use std::{fmt, fs::File};",
            "use std::env;",
            "fn f() { std::process::exit(1) }",
            "use std::time::SystemTime;",
            "fn f() { jiff::Timestamp::now() }",
            "fn f() { Timestamp::now() }",
            "fn f() { Zoned::now() }",
            "fn f() { getrandom::fill(&mut x) }",
            "use std::thread::spawn;",
        ] {
            offends("light/stone.rs", source, "that is pure");
            offends("job/case.rs", source, "that is pure");
            offends("fault.rs", source, "that is pure");
            passes("store/read.rs", source);
        }
        passes("light/stone.rs", "#[cfg(test)]\nmod tests { use std::fs; fn f() { std::env::var(\"X\"); } }");
        offends("light/stone.rs", "#[cfg(test)]\nmod tests { fn f() {} }\nuse std::fs;", "that is pure");
        offends("light/stone.rs", "#[cfg(test)]\nuse std::env;\nuse std::fs;", "std::fs");
        passes("light/stone.rs", "const V: &str = env!(\"CARGO_PKG_VERSION\");");
    }

    #[test]
    fn printing_elsewhere_is_found() {
        for source in [
            "fn f() { println!(\"x\") }",
            "fn f() { eprintln!() }",
            "fn f() { print!(\"x\") }",
            "fn f() { dbg!(x); }",
            "fn f() { let out = std::io::stdout(); }",
            "fn f() { writeln!(io::stderr(), \"x\") }",
        ] {
            offends("cli/status.rs", source, "outside cli/printer.rs");
            offends("store/write.rs", source, "outside cli/printer.rs");
            passes("cli/printer.rs", source);
        }
        passes("git/user_git.rs", "fn f() { command.stdout(Stdio::piped()).stderr(Stdio::null()); }");
        passes("cli/around.rs", "fn f() -> bool { std::io::stderr().is_terminal() }");
        passes("cli/help.rs", "fn f() -> &'static str { \"println!()\" }");
    }

    #[test]
    fn a_file_without_an_opening_is_found() {
        for source in ["", "use std::fmt;\n", "// about\n", "\n//! late\n", "//!\n"] {
            assert!(!offences("units.rs", source).is_empty(), "{source:?} passed");
        }
    }

    #[test]
    fn a_room_off_the_map_is_found() {
        let lib = "//! | 1 | [`gates`] | x |\n//! | ground | [`units`], [`words`] | y |\n";
        let rooms = |names: &[&str]| names.iter().map(|n| (*n).to_owned()).collect::<Vec<_>>();
        none(&map_offences(lib, &rooms(&["gates", "units", "words"])));
        assert_eq!(map_offences(lib, &rooms(&["attic", "gates", "units", "words"])).len(), 1);
        assert_eq!(map_offences(lib, &rooms(&["gates", "units"])).len(), 1);
        assert_eq!(map_offences("//! | 3 | [`gates`] | x |\n", &rooms(&["gates"])).len(), 1);
        offends("attic/box.rs", "", "stands on no floor");
        offends("main.rs", "fn main() { underlit::ops::advance() }", "goes past the cli room");
    }

    #[test]
    fn a_long_file_and_an_idle_excuse_are_found() {
        let lengths = BTreeMap::from([("a.rs".to_owned(), 501), ("b.rs".to_owned(), 500)]);
        assert_eq!(length_offences(&lengths, &[]).len(), 1);
        assert_eq!(length_offences(&lengths, &[("a.rs", "")]).len(), 1);
        none(&length_offences(&lengths, &[("a.rs", "one table")]));
        assert_eq!(length_offences(&lengths, &[("a.rs", "one table"), ("b.rs", "x")]).len(), 1);
        assert_eq!(length_offences(&lengths, &[("a.rs", "one table"), ("gone.rs", "x")]).len(), 1);
        assert_eq!(lines_of_code("//! x\nfn f() {}\n\n#[cfg(test)]\nmod tests {}\n"), 3);
    }
}
