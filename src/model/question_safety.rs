//! What an open question may be about, judged wherever its record is read, so before anything could be written for it.
//!
//! Answering a question writes a file. So a question is only about a record or attachment of its own project, or about
//! a file of the shop that people edit; and what it keeps of files lies beside it, under the digest's name. What is not
//! here: whether the edits were made as it says; the history tells that.

use serde_json::Value;

use super::kind::Kind;
use crate::fault::Fault;
use crate::ids::ProjectId;
use crate::paths::path_fault;

/// How many digits of its digest name a file that a question keeps.
const KEPT_DIGITS: usize = 32;

/// Everything that makes the question recorded at `path` no question of its place; `value` has passed the schema.
#[must_use]
pub(crate) fn faults(path: &str, value: &Value) -> Vec<Fault> {
    let text =
        |value: &Value, key: &str| value.get(key).and_then(Value::as_str).unwrap_or_default().to_owned();
    let mut faults = Vec::new();
    let about = text(value, "path");
    let mut refuse = |pointer: String, message: String| {
        let remedy = format!(
            "nothing is to be answered here: take the record out (git rm {path}), and ask whoever brought it: underlit history --long"
        );
        faults.push(Fault::data("question-unsafe", message).in_file(path).at_pointer(pointer).fix(remedy));
    };
    if let Some(what) = path_fault(&about) {
        refuse("/path".into(), format!("the path that it is about {what}"));
    } else if !may_be_asked(path, &about) {
        let whose = match ProjectId::of_path(path) {
            Some(id) => format!("a record or attachment of {id}"),
            None => "a file of the shop that people edit".to_owned(),
        };
        refuse("/path".into(), format!("it is about {about}, and a question here is only about {whose}"));
    }
    let folder = path.rsplit_once('/').map_or("", |(folder, _)| folder);
    for (nth, side) in value.get("sides").and_then(Value::as_array).into_iter().flatten().enumerate() {
        let (file, digest) = (text(side, "file"), text(side, "sha256"));
        if file.is_empty() {
            continue;
        }
        let name = file.strip_prefix(folder).and_then(|rest| rest.strip_prefix('/'));
        let stem = name.and_then(|name| name.split('.').next());
        let kept = Kind::of_path(&file) == Some(Kind::Attachment) && stem == digest.get(..KEPT_DIGITS);
        if !kept {
            refuse(
                format!("/sides/{nth}/file"),
                format!("it keeps {file}, and what a question keeps lies beside it under its digest's name"),
            );
        }
    }
    faults
}

/// True where a question recorded at `path` may be about a file.
fn may_be_asked(path: &str, about: &str) -> bool {
    let Some(kind) = Kind::of_path(about) else { return false };
    // What a question keeps is no attachment of a record.
    if about.rsplit('/').nth(1) == Some("conflicts") {
        return false;
    }
    match ProjectId::of_path(path) {
        Some(id) => {
            let own = ProjectId::of_path(about) == Some(id);
            own && (kind == Kind::Attachment
                || (kind.has_schema() && !kind.is_add_only() && kind != Kind::Conflict))
        }
        None => {
            kind.is_sealed_by_roster()
                || matches!(kind, Kind::Roster | Kind::RosterSignature)
                || matches!(about, "README.md" | "LICENSE")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn codes(path: &str, about: &str, sides: Value) -> usize {
        faults(path, &json!({ "path": about, "pointer": "", "sides": sides })).len()
    }

    #[test]
    fn a_question_is_about_its_own_project_or_the_shop() {
        let (of_project, of_shop) = ("projects/quay/conflicts/q.json", "conflicts/q.json");
        let sides = || json!([{ "value": 1 }, { "value": 2 }]);
        for about in [
            "projects/quay/project.json",
            "projects/quay/panels/front.json",
            "projects/quay/panels/front.outline.json",
            "projects/quay/panels/front.dxf",
            "projects/quay/renderings/front/sheet.svg",
            "projects/quay/as-built.json",
        ] {
            assert_eq!(codes(of_project, about, sides()), 0, "{about}");
            assert_eq!(codes(of_shop, about, sides()), 1, "{about}");
        }
        for about in ["book.json", "rules.json", "shop/wire.json", "roster/0004.json", "README.md"] {
            assert_eq!(codes(of_shop, about, sides()), 0, "{about}");
            assert_eq!(codes(of_project, about, sides()), 1, "{about}");
        }
        let digest = "a".repeat(64);
        for about in [
            ".git/config",
            ".GIT/hooks/post-checkout",
            "git~1/config",
            ".gitattributes",
            ".gitignore",
            ".github/workflows/x.yml",
            ".ci/run",
            "schema/panel.schema.json",
            "projects/other/panels/front.json",
            "projects/quay/conflicts/other.json",
            "projects/quay/conflicts/0123.json.kept",
            "conflicts/other.json",
            "projects/quay/../../x.json",
            "/etc/profile",
            "projects/quay/panels/con.json",
            "projects/quay/panels/Front.json",
            &format!("projects/quay/signoffs/{digest}.json"),
            &format!("projects/quay/moves/{digest}.sig"),
            "x",
        ] {
            assert_eq!(codes(of_project, about, sides()), 1, "{about}");
            assert_eq!(codes(of_shop, about, sides()), 1, "{about}");
        }
    }

    #[test]
    fn what_it_keeps_lies_beside_it() {
        let (path, about) = ("projects/quay/conflicts/q.json", "projects/quay/panels/front.dxf");
        let digest = "ab".repeat(32);
        let kept =
            |file: &str| codes(path, about, json!([{ "file": file, "sha256": digest }, { "value": 1 }]));
        assert_eq!(kept(&format!("projects/quay/conflicts/{}.dxf", &digest[..32])), 0);
        for file in [
            format!("projects/other/conflicts/{}.dxf", &digest[..32]),
            format!("conflicts/{}.dxf", &digest[..32]),
            format!("projects/quay/panels/{}.dxf", &digest[..32]),
            "projects/quay/conflicts/x.dxf".to_owned(),
            "projects/quay/project.json".to_owned(),
            ".git/config".to_owned(),
        ] {
            assert_eq!(kept(&file), 1, "{file}");
        }
    }
}
