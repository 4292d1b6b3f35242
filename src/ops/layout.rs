//! How the files of a book merge: the one table that the merge is given.

use serde::de::DeserializeOwned;
use serde_json::Value;

use crate::merge::{Layout, Rule, Rules, Treatment};
use crate::model::handover::{AsBuilt, Installation};
use crate::model::kind::Kind;
use crate::model::panel::Panel;
use crate::model::project::Project;
use crate::model::request::Request;
use crate::model::swatch::Swatch;
use crate::model::trial::Trial;
use crate::store::{strict_json, write};

/// The table.
#[must_use]
pub(crate) fn layout() -> Layout {
    let whole = |rules: Rules, places: &[&str]| places.iter().fold(rules, |r, p| r.with(p, Rule::Whole));
    Layout::new()
        // What people said is only ever added.
        .add_only("roster/**")
        .add_only("projects/*/signoffs/**")
        .add_only("projects/*/moves/**")
        .add_only("projects/*/notes/**")
        .conflicts("projects/*/conflicts/**")
        .conflicts("conflicts/**")
        // A drawing means something only as a whole, and the shop's files only as their owners sealed them.
        .treat("projects/*/panels/*.outline.json", Treatment::Attachment)
        // Nothing that git, an editor or a host obeys is written by answering a question.
        .treat(".gitattributes", Treatment::Unasked)
        .treat(".gitignore", Treatment::Unasked)
        .treat(".gitlab-ci.yml", Treatment::Unasked)
        .treat(".github/**", Treatment::Unasked)
        .treat(".gitlab/**", Treatment::Unasked)
        .treat(".forgejo/**", Treatment::Unasked)
        .treat(".ci/**", Treatment::Unasked)
        .treat("schema/**", Treatment::Unasked)
        .record("projects/*/project.json", Rules::new())
        .record(
            "projects/*/swatches/*.json",
            whole(
                Rules::new(),
                &[
                    "/photo",
                    "/measured/*/spectrum",
                    "/measured/*/photo",
                    "/measured/*/panel_spectrum",
                    "/measured/*/found",
                ],
            ),
        )
        .record(
            "projects/*/requests/*.json",
            Rules::new().with("/swatches", Rule::Set).with("/ccts_k", Rule::Set).with("/faces", Rule::Set),
        )
        .record("projects/*/trials/*.json", whole(Rules::new(), &["/photo"]).with("/present", Rule::Set))
        .record(
            "projects/*/panels/*.json",
            whole(
                Rules::new(),
                &[
                    "/outline",
                    "/signed_outlines",
                    "/seams",
                    "/lit_edges",
                    "/light",
                    "/groups",
                    "/no_test_panel",
                    "/opening",
                    "/slab/photo",
                ],
            )
            .with("/faces_considered", Rule::Set),
        )
        .record(
            "projects/*/as-built.json",
            whole(Rules::new(), &["/panels/*/photo", "/panels/*/nine_points_lx", "/consignments/*/damage"])
                .with("/consignments/*/panels", Rule::Set),
        )
        .record("projects/*/installation.json", whole(Rules::new(), &["/acceptance/photo"]))
        .bundle("projects/*/renderings/*")
        .unit("projects/*", "project.json")
        .conflict_schema("schema/conflict.schema.json")
        .reading(|_, bytes| strict_json::parse(bytes).map_err(|f| f.message))
        .writing(bytes_of)
}

/// A merged record in its type's own order of keys, so that a merge and a command write the same bytes.
fn bytes_of(path: &str, value: &Value) -> Vec<u8> {
    fn through<T: DeserializeOwned + serde::Serialize>(value: &Value) -> Option<Vec<u8>> {
        write::to_bytes(&T::deserialize(value).ok()?).ok()
    }
    let typed = match Kind::of_path(path) {
        Some(Kind::Project) => through::<Project>(value),
        Some(Kind::Swatch) => through::<Swatch>(value),
        Some(Kind::Request) => through::<Request>(value),
        Some(Kind::Trial) => through::<Trial>(value),
        Some(Kind::Panel) => through::<Panel>(value),
        Some(Kind::AsBuilt) => through::<AsBuilt>(value),
        Some(Kind::Installation) => through::<Installation>(value),
        _ => None,
    };
    typed.unwrap_or_else(|| format!("{value:#}\n").into_bytes())
}
