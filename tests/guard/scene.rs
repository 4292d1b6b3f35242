//! A guarded bare repository with a book in it, and clones that push there by plain git, past underlit.

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Output, Stdio};

use crate::workshop::{Desk, Place, private_key, program};

/// A guarded bare repository, and mara's clone of the book in it.
pub(crate) struct Scene {
    pub(crate) place: Place,
    pub(crate) hub: PathBuf,
    pub(crate) mara: Desk,
}

impl Scene {
    /// A guard before a repository that holds a copy of a prepared book.
    pub(crate) fn of(prepared: &Path) -> Scene {
        let scene = Scene::unguarded(prepared);
        scene.guard();
        scene
    }

    /// The same without the guard.
    pub(crate) fn unguarded(prepared: &Path) -> Scene {
        let place = Place::new();
        let mara = place.copy_as(prepared, "mara", "mara");
        let hub = place.path("hub.git");
        mara.git(&format!("init --quiet --bare -b main {}", hub.display()));
        mara.git(&format!("remote add origin {}", hub.display()));
        mara.git("push --quiet origin main");
        mara.git("branch --set-upstream-to origin/main --quiet");
        Scene { place, hub, mara }
    }

    pub(crate) fn guard(&self) {
        self.place.run("mara", &format!("guard install {}", self.hub.display())).code(0);
    }

    /// Another person's clone.
    pub(crate) fn join(&self, person: &'static str) -> Desk {
        let key = private_key(person);
        let line = format!("join {} {person} --me {person} --key {key}", self.hub.display());
        self.place.run(person, &line).done();
        Desk::new(self.place.path(person), person)
    }

    /// Where the branch stands.
    pub(crate) fn tip(&self) -> String {
        fs::read_to_string(self.hub.join("refs/heads/main")).unwrap_or_default()
    }

    /// Pushes by plain git, and the guard keeps it out with this code; the branch stays.
    #[track_caller]
    pub(crate) fn refuses(&self, desk: &Desk, line: &str, code: &str) -> String {
        let before = self.tip();
        let pushed = desk.git_tries(line);
        let said = String::from_utf8_lossy(&pushed.stderr).into_owned();
        assert!(!pushed.status.success(), "git {line} was taken:\n{said}");
        assert!(said.contains(&format!("[{code}]")), "no [{code}] after git {line}:\n{said}");
        assert!(said.contains("remote: underlit guard: this push is not taken"), "{said}");
        assert!(said.contains("Fix: "), "{said}");
        assert!(!said.contains("panicked"), "{said}");
        for line in said.lines().filter(|line| line.starts_with("remote:")) {
            assert!(line.trim_end().chars().count() <= 80, "{line}");
        }
        assert_eq!(self.tip(), before, "the branch moved:\n{said}");
        said
    }

    /// The same for the branch.
    #[track_caller]
    pub(crate) fn refuses_head(&self, desk: &Desk, code: &str) -> String {
        self.refuses(desk, "push origin HEAD:refs/heads/main", code)
    }

    /// Pushes the branch by plain git, and it is taken without a word.
    #[track_caller]
    pub(crate) fn takes_head(&self, desk: &Desk) {
        let pushed = desk.git_tries("push origin HEAD:refs/heads/main");
        let said = String::from_utf8_lossy(&pushed.stderr).into_owned();
        assert!(pushed.status.success() && !said.contains("remote:"), "{said}");
        assert_eq!(self.tip().trim(), desk.git("rev-parse HEAD").trim());
    }
}

/// Commits everything that lies in the folder, as somebody who goes past underlit does.
pub(crate) fn commit_all(desk: &Desk, message: &str) -> String {
    desk.git("add --all --force");
    desk.git(&format!(r#"commit --quiet --allow-empty -m "{message}""#));
    desk.git("rev-parse HEAD").trim().to_owned()
}

/// Runs git with bytes on its standard input.
#[track_caller]
pub(crate) fn git_fed(desk: &Desk, args: &[&str], input: &[u8]) -> String {
    let output = fed(program("git", desk.person).current_dir(&desk.at).args(args), input);
    assert!(output.status.success(), "git {args:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap().trim().to_owned()
}

/// Runs a program with bytes on its standard input.
pub(crate) fn fed(command: &mut std::process::Command, input: &[u8]) -> Output {
    let mut child =
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    // Whoever has read enough closes the pipe.
    let _ = child.stdin.take().unwrap().write_all(input);
    child.wait_with_output().unwrap()
}

/// A commit on HEAD of HEAD's tree with further entries, which no folder could hold; HEAD moves there.
#[track_caller]
pub(crate) fn commit_entries(desk: &Desk, entries: &[(&str, &str, &str)]) -> String {
    desk.git("read-tree HEAD");
    let listed: Vec<String> =
        entries.iter().map(|(mode, id, path)| format!("{mode} {id}\t{path}\0")).collect();
    // Whoever means harm has no need of git's own caution.
    let careless = ["-c", "core.protectNTFS=false", "-c", "core.protectHFS=false"];
    git_fed(
        desk,
        &[&careless[..], &["update-index", "-z", "--index-info"]].concat(),
        listed.concat().as_bytes(),
    );
    let tree = desk.git("write-tree");
    commit_tree(desk, tree.trim())
}

/// A commit of a tree on HEAD; HEAD moves there, and the folder is left alone.
pub(crate) fn commit_tree(desk: &Desk, tree: &str) -> String {
    let made = git_fed(desk, &["commit-tree", tree, "-p", "HEAD", "-m", "by hand"], b"");
    desk.git(&format!("update-ref refs/heads/main {made}"));
    made
}

/// A file's content in git, by its id.
pub(crate) fn blob(desk: &Desk, bytes: &[u8]) -> String {
    git_fed(desk, &["hash-object", "-w", "--stdin"], bytes)
}
