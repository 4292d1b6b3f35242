//! People at their clones, who sync with the real git over a bare repository on disk.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::time::Duration;

use underlit::git::{
    GitError, HandEdit, Incoming, Moment, Repo, Steps, SyncError, SyncOptions, SyncSummary, TakeIn, UserGit,
    Verdict,
};
use underlit::merge::{Conflict, Layout, Rule, Rules};

use crate::book::{Stage, person};
use crate::dice::Dice;

/// The table of a small book.
pub(crate) fn layout() -> Layout {
    Layout::new()
        .record("projects/*/project.json", Rules::new().with("/edges", Rule::Set))
        .record("projects/*/panels/*.json", Rules::new())
        .add_only("roster/**")
        .add_only("projects/*/signoffs/**")
        .conflicts("projects/*/conflicts/**")
        .conflicts("conflicts/**")
        .record("*.json", Rules::new())
        .bundle("projects/*/renderings/*")
        .unit("projects/*", "project.json")
        .conflict_schema("schema/conflict.schema.json")
}

/// Every open question of a book is named by its content and has the files that it keeps.
pub(crate) fn questions_are_whole(files: &BTreeMap<String, String>, seed: u64) {
    for (path, text) in
        files.iter().filter(|(path, _)| path.ends_with(".json") && path.contains("conflicts/"))
    {
        let open = Conflict::from_value(&serde_json::from_str(text).unwrap()).unwrap();
        assert!(
            open.kept_files().all(|kept| files.contains_key(kept)),
            "seed {seed}: {path} lost what it keeps"
        );
        assert!(path.contains(&open.id()), "seed {seed}: {path} is not named by its content");
    }
}

/// What a person answers when sync asks.
pub(crate) struct Answers {
    pub(crate) clock: i64,
    pub(crate) refuse_edits: bool,
    pub(crate) check: fn(&Incoming<'_>) -> Result<Verdict, String>,
    pub(crate) dice: Dice,
    pub(crate) pauses: u32,
}

impl Steps for Answers {
    type Refusal = String;

    fn take_in(&mut self, edits: &[HandEdit]) -> Result<TakeIn, String> {
        if self.refuse_edits {
            return Err(format!("{} is not valid", edits[0].path));
        }
        Ok(TakeIn { paths: edits.iter().map(|e| e.path.clone()).collect(), message: "edited by hand".into() })
    }

    fn check(&mut self, incoming: &Incoming<'_>) -> Result<Verdict, String> {
        (self.check)(incoming)
    }

    fn merge_message(&mut self, incoming: &Incoming<'_>) -> String {
        format!("merge {} commits", incoming.commits.len())
    }

    fn now(&mut self) -> Moment {
        self.clock += 1;
        Moment::utc(self.clock)
    }

    fn random(&mut self) -> u64 {
        self.dice.next()
    }

    fn pause(&mut self, length: Duration) {
        self.pauses += 1;
        std::thread::sleep(length);
    }
}

/// A person with a clone.
pub(crate) struct Hand {
    pub(crate) name: &'static str,
    pub(crate) at: PathBuf,
    pub(crate) repo: Repo,
    pub(crate) git: UserGit,
    pub(crate) options: SyncOptions,
    pub(crate) answers: Answers,
}

impl Hand {
    pub(crate) fn over(stage: &Stage, name: &'static str, repo: Repo, clock: i64) -> Hand {
        let answers = Answers {
            clock,
            refuse_edits: false,
            check: |_| Ok(Verdict::Good),
            dice: Dice(clock as u64),
            pauses: 0,
        };
        let options =
            SyncOptions { remote: None, dry_run: false, offline: false, attempts: 8, author: person(name) };
        Hand { name, at: repo.root().to_owned(), repo, git: user_git(stage), options, answers }
    }

    /// A fresh clone of `hub`.
    pub(crate) fn clone(stage: &Stage, hub: &std::path::Path, name: &'static str, clock: i64) -> Hand {
        let at = stage.path(name);
        let repo = Repo::clone(&user_git(stage), hub.to_str().unwrap(), &at, None).unwrap();
        Hand::over(stage, name, repo, clock)
    }

    pub(crate) fn try_sync(&mut self) -> Result<SyncSummary, SyncError<String>> {
        let lock = self.repo.lock()?;
        self.repo.sync(&lock, &self.git, &layout(), &self.options, &mut self.answers)
    }

    pub(crate) fn sync(&mut self) -> SyncSummary {
        self.try_sync().unwrap_or_else(|e| panic!("{}: {e:?}", self.name))
    }

    pub(crate) fn git_error(&mut self) -> GitError {
        match self.try_sync() {
            Err(SyncError::Git(error)) => error,
            other => panic!("{other:?}"),
        }
    }
}

pub(crate) fn user_git(stage: &Stage) -> UserGit {
    let mut git = UserGit::new(false);
    git.environment = vec![
        ("HOME".into(), stage.path("home").to_str().unwrap().into()),
        ("GIT_CONFIG_NOSYSTEM".into(), "1".into()),
    ];
    git
}

/// A hub with one project in it, and two clones.
pub(crate) fn pair(stage: &Stage) -> (PathBuf, Hand, Hand) {
    let hub = stage.bare("hub.git");
    let mut rep = Hand::over(stage, "Rep", Repo::create(&stage.path("Rep")).unwrap(), 1_800_000_000);
    stage.git(&rep.at, &["remote", "add", "origin", hub.to_str().unwrap()]);
    crate::book::write(
        &rep.at,
        "projects/quay/project.json",
        "{\n  \"client\": \"Harbour Desk\",\n  \"edges\": [\"north\"]\n}\n",
    );
    crate::book::write(
        &rep.at,
        "projects/quay/panels/bar.json",
        "{\n  \"id\": \"bar\",\n  \"cct_k\": 2700,\n  \"volts\": 24\n}\n",
    );
    let first = rep.sync();
    assert!(first.pushed && first.commits.is_empty() && first.hand_edits.len() == 3);
    let designer = Hand::clone(stage, &hub, "Designer", 1_800_100_000);
    (hub, rep, designer)
}
