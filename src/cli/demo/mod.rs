//! `demo`: one whole job, played by three people on three clones with the real commands.
//!
//! | file | what it does |
//! |---|---|
//! | `mod` | the arguments, the folder, how it ends |
//! | `story` | the scenes, in order |
//! | `harbour` | the people, their homes, and how their commands are run |
//! | `telling` | how a command and its output stand on the screen |
//!
//! Nothing here does a job's work: every step is this very program (or git), run as a child with the home folder
//! of the person who types it. A step that ends otherwise than the story says ends the demo.

mod harbour;
mod story;
mod telling;

use std::fs;
use std::path::{Path, PathBuf};

use harbour::{Harbour, Stopped};

use super::SAID;
use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::{Class, Fault};
use crate::store::safe_path::io_fault;

/// Play a whole job, from the first swatch to the release, with three invented people on three clones.
///
/// It makes a folder with a bare git repository, three clones of one book and throwaway keys, runs the real
/// commands in them and shows what each person types and sees. Your own books, keys and git settings are left
/// alone. The folder stays, so that you can look around in it; the last lines say where it is.
///
/// Example: underlit demo --keep harbour
#[derive(Debug, clap::Args)]
pub(crate) struct DemoArgs {
    /// The folder to make it in, which is not there yet or is empty; by default a new temporary one.
    #[arg(long, value_name = "DIR")]
    keep: Option<PathBuf>,
}

pub(crate) fn run(args: &DemoArgs, setting: &Setting<'_>) -> Outcome {
    refuse_what_has_no_meaning(setting)?;
    let folder = folder(args.keep.as_deref())?;
    let mut harbour = Harbour::build(folder, setting)?;
    match story::tell(&mut harbour) {
        Ok(()) => {
            closing(&harbour);
            Ok(Exit::Done)
        }
        Err(Stopped::Fault(fault)) => Err(vec![*fault]),
        Err(Stopped::Step { code, wanted }) => {
            harbour.remark(&format!(
                "underlit: the demo stops here: the last command ended with exit code {}, and the story expects \
                 {wanted} [demo-step]\n  what was made so far lies in {}",
                code.map_or_else(|| "none (it was ended from outside)".to_owned(), |c| c.to_string()),
                harbour.folder().display()
            ));
            let class = [Class::Usage, Class::Data, Class::Conflict, Class::Trust, Class::Io]
                .into_iter()
                .find(|class| Some(i32::from(class.exit_code())) == code);
            match (code, class) {
                (Some(1), _) => Ok(Exit::Blocked),
                (_, class) => Err(vec![Fault::new(class.unwrap_or(Class::Bug), SAID, "a step went wrong")]),
            }
        }
    }
}

/// The demo is for people, writes only into its own folder, and brings its own book, people and keys.
fn refuse_what_has_no_meaning(setting: &Setting<'_>) -> Result<(), Box<Fault>> {
    let around = &setting.around;
    let refused = [
        (setting.printer.is_json(), "--json", "it tells a story to a person; each command in it has --json"),
        (around.dry_run, "--dry-run", "it writes only into its own folder"),
        (around.person.is_some(), "--me", "it brings its own people"),
        (around.key.is_some(), "--key", "it brings its own keys"),
        (setting.folder != Path::new("."), "--book", "it makes its own book"),
    ];
    match refused.into_iter().find(|(given, ..)| *given) {
        None => Ok(()),
        Some((_, option, why)) => Err(Box::new(
            Fault::usage("demo-option", format!("demo takes no {option}: {why}"))
                .fix(format!("leave {option} out")),
        )),
    }
}

/// The folder to play in, made, with no symbolic link in its path.
fn folder(keep: Option<&Path>) -> Result<PathBuf, Box<Fault>> {
    let io = |path: &Path, error: &std::io::Error| io_fault(&path.display().to_string(), "make", error);
    let folder = match keep {
        None => {
            let made = tempfile::Builder::new().prefix("underlit-demo-").tempdir();
            made.map_err(|e| io(&std::env::temp_dir(), &e))?.keep()
        }
        Some(folder) => {
            let free = match fs::read_dir(folder) {
                Ok(mut entries) => entries.next().is_none(),
                Err(error) => error.kind() == std::io::ErrorKind::NotFound,
            };
            if !free {
                let message = format!("{} is not an empty folder", folder.display());
                return Err(Box::new(
                    Fault::usage("folder-not-empty", message).fix("name a folder that is not there yet"),
                ));
            }
            fs::create_dir_all(folder).map_err(|e| io(folder, &e))?;
            folder.to_owned()
        }
    };
    Ok(fs::canonicalize(&folder).map_err(|e| io(&folder, &e))?)
}

/// Where everything lies, and what to try there.
fn closing(harbour: &Harbour<'_>) {
    let folder = harbour.folder();
    let shown = |path: &Path| crate::cli::printer::quoted(&path.display().to_string());
    let book = folder.join("mara/book");
    harbour.heading("Look around");
    harbour.says(&format!(
        "The book is yours to look at; Mara's clone lies in {}. It is plain JSON in a git repository. Try there:",
        book.display()
    ));
    let home = shown(&folder.join("mara"));
    let lines = [
        format!("cd {}", shown(&book)),
        "underlit status ferry-desk".to_owned(),
        "underlit history ferry-desk".to_owned(),
        "underlit check".to_owned(),
        "underlit pages ../pages".to_owned(),
        "git log --oneline".to_owned(),
        format!("HOME={home} underlit choose ferry-desk top --cct 3500"),
        "underlit status ferry-desk".to_owned(),
    ];
    for line in lines {
        harbour.plain(&format!("  {line}"));
    }
    harbour.plain("");
    harbour.says(
        "The pages open in a browser: ../pages/index.html. The last two change what was chosen after the release, and show how the release then holds no more. \
         HOME makes you Mara, with her key. The drawing that was signed is \
         projects/ferry-desk/renderings/top/sheet.pdf.",
    );
    if let Some(program) = harbour.program_when_not_on_the_path() {
        harbour.says(&format!(
            "underlit itself is {program} and is not on your PATH: write that path in its place."
        ));
    }
    harbour.says(&format!("When you have seen enough: rm -r {}", shown(folder)));
}
