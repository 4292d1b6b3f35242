//! People at their clones, who sync with the real git over a bare repository on disk.

use std::collections::BTreeMap;
use std::path::PathBuf;

use underlit::git::{Repo, UserGit};
use underlit::merge::{Layout, MergeConflict, Rule, Rules};

use crate::book::Stage;
use crate::dice::Dice;
pub(crate) use crate::exchange::{Hand, Options};

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
        let open = MergeConflict::from_value(&serde_json::from_str(text).unwrap()).unwrap();
        assert!(
            open.kept_files().all(|kept| files.contains_key(kept)),
            "seed {seed}: {path} lost what it keeps"
        );
        assert!(path.contains(&open.id()), "seed {seed}: {path} is not named by its content");
    }
}

impl Hand {
    pub(crate) fn over(stage: &Stage, name: &'static str, repo: Repo, clock: i64) -> Hand {
        let options = Options { attempts: 8, ..Options::default() };
        let (at, git, dice) = (repo.root().to_owned(), user_git(stage), Dice(clock as u64));
        Hand { name, at, repo, git, layout: layout(), options, clock, dice }
    }

    /// A fresh clone of `hub`.
    pub(crate) fn clone(stage: &Stage, hub: &std::path::Path, name: &'static str, clock: i64) -> Hand {
        let at = stage.path(name);
        let repo = Repo::clone(&user_git(stage), hub.to_str().unwrap(), &at, None).unwrap();
        Hand::over(stage, name, repo, clock)
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
