//! What `init` and `open` ask at a terminal where the line does not say what they need: each question names its option, and
//! an answer that will not do is asked again with the reason. Nothing is written, and no book is held, until all is said.
//!
//! The answers become the options that they stand for, so that the line is judged where every line is.

use std::ffi::OsString;
use std::path::{Path, PathBuf};

use clap::ArgMatches;
use clap::error::{ContextKind, ErrorKind};

use super::command::command;
use super::printer::{Printer, ask, may_ask, quoted};
use crate::ops::Reading;
use crate::words::instead_of;

/// One question.
struct Asked {
    /// The option that it stands for; none for a name without one.
    option: Option<&'static str>,
    /// What is asked.
    question: &'static str,
    /// What is meant where nothing is said: a proposal, or nothing for what may be left out.
    otherwise: Otherwise,
    /// What a line cannot be judged by alone.
    fits: fn(&str, &Around) -> Result<(), String>,
}

enum Otherwise {
    Required,
    LeftOut,
    Proposed(fn(&Around) -> Option<String>),
    /// Asked only where there is something to propose.
    Needed(fn(&Around) -> Option<String>),
}

/// What an answer is held against.
#[derive(Default)]
struct Around {
    /// The book, where there is one.
    reading: Option<Reading>,
    /// True where the line names a key.
    has_key: bool,
    /// What was said before, by its option.
    said: Vec<(&'static str, String)>,
}

impl Around {
    fn said(&self, option: &str) -> Option<&str> {
        self.said.iter().find(|(known, _)| *known == option).map(|(_, answer)| answer.as_str())
    }
}

const ANYTHING: fn(&str, &Around) -> Result<(), String> = |_, _| Ok(());

const INIT: &[Asked] = &[
    Asked {
        option: None,
        question: "Which folder shall the book lie in? It is new or empty",
        otherwise: Otherwise::Required,
        fits: |folder, _| match Path::new(folder).read_dir().map(|mut all| all.next().is_some()) {
            Ok(true) => Err("something lies in that folder already; name a new one".into()),
            Err(_) if Path::new(folder).symlink_metadata().is_ok() => Err("that is no folder".into()),
            _ => Ok(()),
        },
    },
    Asked {
        option: Some("--id"),
        question: "What is the book's short name?",
        otherwise: Otherwise::Proposed(|around| {
            let folder = PathBuf::from(around.said("FOLDER")?);
            let name = folder.file_name()?.to_str()?.to_lowercase().replace([' ', '_'], "-");
            crate::ids::check_name(&name).ok().map(|()| name)
        }),
        fits: ANYTHING,
    },
    Asked {
        option: Some("--shop"),
        question: "What is the shop called, as it stands on drawing sheets?",
        otherwise: Otherwise::Required,
        fits: ANYTHING,
    },
    Asked {
        option: Some("--owner-name"),
        question: "What is your full name?",
        otherwise: Otherwise::Required,
        fits: ANYTHING,
    },
    Asked {
        option: Some("--owner"),
        question: "What is your short name on the roster?",
        otherwise: Otherwise::Proposed(|around| {
            let first = around.said("--owner-name")?.split_whitespace().next()?.to_lowercase();
            crate::ids::check_name(&first).ok().map(|()| first)
        }),
        fits: ANYTHING,
    },
    Asked {
        option: Some("--roles"),
        question: "Which other roles do you have, beside owner? rep, designer, engineer, fabricator, installer",
        otherwise: Otherwise::LeftOut,
        fits: ANYTHING,
    },
    Asked {
        option: Some("--make-key"),
        question: "You have no SSH key in the usual place. In which file shall one be made?",
        otherwise: Otherwise::Needed(|around| {
            let keys = Path::new(&std::env::var_os("HOME")?).join(".ssh");
            let there =
                ["id_ed25519", "id_ecdsa", "id_ed25519_sk", "id_ecdsa_sk"].map(|name| keys.join(name));
            let elsewhere = around.has_key || std::env::var_os("SSH_AUTH_SOCK").is_some();
            (!elsewhere && there.iter().all(|key| !key.exists())).then(|| there[0].display().to_string())
        }),
        fits: |file, _| match Path::new(file).symlink_metadata() {
            Ok(_) => Err("something lies there already".into()),
            Err(_) => Ok(()),
        },
    },
];

const OPEN: &[Asked] = &[
    Asked {
        option: None,
        question: "What is the project's short name?",
        otherwise: Otherwise::Required,
        fits: |name, around| {
            let there = around.reading.as_ref().and_then(|r| r.book.projects().ok()).unwrap_or_default();
            match there.iter().any(|id| id.as_str() == name) {
                true => Err("there is a project of that name already".into()),
                false => Ok(()),
            }
        },
    },
    Asked {
        option: Some("--title"),
        question: "What do people call it?",
        otherwise: Otherwise::Required,
        fits: ANYTHING,
    },
    Asked {
        option: Some("--client"),
        question: "Who approves for the client, by the name on the roster?",
        otherwise: Otherwise::Required,
        fits: |name, around| {
            let Some(reading) = &around.reading else { return Ok(()) };
            let people = &reading.chain.newest().people;
            if people.iter().any(|p| p.id.as_str() == name) {
                return Ok(());
            }
            let known = people.iter().map(|p| p.id.as_str());
            Err(format!(
                "nobody on the roster is called so: {}",
                instead_of(name, known, "underlit roster add")
            ))
        },
    },
    Asked {
        option: Some("--site"),
        question: "What is the place called?",
        otherwise: Otherwise::Required,
        fits: ANYTHING,
    },
    Asked {
        option: Some("--install-date"),
        question: "On which day are the panels to be installed, YYYY-MM-DD?",
        otherwise: Otherwise::LeftOut,
        fits: ANYTHING,
    },
    Asked {
        option: Some("--mains"),
        question: "Which mains voltage feeds the drivers there, in volts?",
        otherwise: Otherwise::LeftOut,
        fits: ANYTHING,
    },
    Asked {
        option: Some("--code-region"),
        question: "Which family of electrical codes governs there? nec, iec or other",
        otherwise: Otherwise::LeftOut,
        fits: ANYTHING,
    },
];

/// Asks for what a line leaves out and gives the whole line read; none where it is not of these verbs, where nobody is there
/// to ask, or where somebody left.
pub(super) fn ask_for_the_rest(line: &[OsString], missing: &clap::Error) -> Option<ArgMatches> {
    let json = line.iter().any(|word| word == "--json");
    if missing.kind() != ErrorKind::MissingRequiredArgument || json || !may_ask() {
        return None;
    }
    let text = |word: &OsString| word.to_str().map(str::to_owned);
    let words: Vec<String> = line.iter().map(text).collect::<Option<_>>()?;
    let verb = words.iter().skip(1).find(|word| matches!(word.as_str(), "init" | "open"))?;
    let asked = if verb == "init" { INIT } else { OPEN };
    let printer = Printer::new(false);
    let mut around = Around { has_key: words.iter().any(|w| w.starts_with("--key")), ..Around::default() };
    if verb == "open" {
        let book = words.iter().position(|w| w == "--book").and_then(|at| words.get(at + 1));
        let folder = book.map_or_else(|| Path::new("."), Path::new);
        // Without a book there is nothing to ask about: the verb says so.
        around.reading = Some(Reading::open(folder).ok()?);
    }
    printer.remark(format!(
        "`underlit {verb}` needs to know more. Each question names its option; an empty line takes what stands in brackets, and \
         Ctrl-C ends it. Nothing is written before the last answer."
    ));
    let mut words = words;
    for one in asked {
        let key = one.option.unwrap_or("FOLDER");
        let given =
            |word: &String| one.option.is_some_and(|o| word == o || word.starts_with(&format!("{o}=")));
        let named = !wants_name(&words);
        if words.iter().any(given) || (one.option.is_none() && named) {
            continue;
        }
        let answer = answered(one, &words, &around, &printer)?;
        if let Some(answer) = answer {
            words.extend(one.option.map(str::to_owned));
            words.push(answer.clone());
            around.said.push((key, answer));
        }
    }
    let shown: Vec<String> = words.iter().skip(1).map(|word| quoted(word)).collect();
    printer.remark(format!("the same in a line: underlit {}", shown.join(" ")));
    command().try_get_matches_from(words).ok()
}

/// True where the line lacks the name that stands without an option.
fn wants_name(words: &[String]) -> bool {
    let Err(error) = command().try_get_matches_from(words) else { return false };
    let missing = format!("{:?}", error.get(ContextKind::InvalidArg));
    missing.contains("<FOLDER>") || missing.contains("<PROJECT>")
}

/// The answer to a question, asked until it will do; none inside for what is left out, none where somebody left.
fn answered(one: &Asked, words: &[String], around: &Around, printer: &Printer) -> Option<Option<String>> {
    let proposed = match one.otherwise {
        Otherwise::Proposed(of) | Otherwise::Needed(of) => of(around),
        _ => None,
    };
    if matches!(one.otherwise, Otherwise::Needed(_)) && proposed.is_none() {
        return Some(None);
    }
    let hint = match (&proposed, &one.otherwise) {
        (Some(proposed), _) => format!(" [{proposed}]"),
        (None, Otherwise::LeftOut) => " [leave it open]".to_owned(),
        _ => String::new(),
    };
    let option = one.option.map(|option| format!(" ({option})")).unwrap_or_default();
    loop {
        let said = ask(&format!("{}{option}{hint}:", one.question))?;
        let answer = match (said.is_empty(), &proposed, &one.otherwise) {
            (false, ..) => said,
            (true, Some(proposed), _) => proposed.clone(),
            (true, None, Otherwise::LeftOut) => return Some(None),
            (true, None, _) => {
                printer.remark("  this one is needed");
                continue;
            }
        };
        match judged(one, &answer, words).and_then(|()| (one.fits)(&answer, around)) {
            Ok(()) => return Some(Some(answer)),
            Err(why) => printer.remark(format!("  {why}")),
        }
    }
}

/// What the command line itself says of an answer.
fn judged(one: &Asked, answer: &str, words: &[String]) -> Result<(), String> {
    if one.option.is_none() && answer.starts_with('-') {
        return Err("a name does not begin with a hyphen".into());
    }
    let mut tried = words.to_vec();
    match one.option {
        Some(option) => tried.push(format!("{option}={answer}")),
        None => tried.push(answer.to_owned()),
    }
    match command().try_get_matches_from(tried) {
        Err(error) if error.kind() != ErrorKind::MissingRequiredArgument => {
            let text = error.to_string();
            let lines =
                text.lines().take_while(|line| !line.starts_with("Usage") && !line.starts_with("For more"));
            let said: Vec<&str> =
                lines.map(|l| l.trim().trim_start_matches("error: ")).filter(|l| !l.is_empty()).collect();
            Err(said.join("; "))
        }
        _ => Ok(()),
    }
}
