//! What a book's files are to the merge: records with their arrays, add-only files, attachments, bundles.
//!
//! The caller makes the table; nothing here knows a kind of record.

use serde_json::Value;

/// How a place inside a record merges, where it is not simply field by field.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Rule {
    /// One whole: changed on both sides is a question, even where different parts changed. For values that mean
    /// something only together.
    Whole,
    /// An array of scalars whose order and repetition mean nothing.
    Set,
    /// An array of objects, each known by the text of this key. Arrays without a rule are keyed by `id` where every
    /// element has one, and one whole where not.
    Keyed(String),
}

/// The rules of one kind of record, each for a place such as `/lit_edges` or `/channels/*/steps`; `*` is any field
/// or element.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Rules {
    places: Vec<(Vec<String>, Rule)>,
}

impl Rules {
    /// No rule: objects field by field, arrays by `id` or whole.
    #[must_use]
    pub fn new() -> Self {
        Rules::default()
    }

    /// Adds a rule. The first that fits a place holds.
    #[must_use]
    pub fn with(mut self, place: &str, rule: Rule) -> Self {
        self.places.push((place.split('/').skip(1).map(ToOwned::to_owned).collect(), rule));
        self
    }

    pub(crate) fn at(&self, way: &[String]) -> Option<&Rule> {
        let fits = |place: &[String]| {
            place.len() == way.len()
                && place.iter().zip(way).all(|(step, taken)| step == "*" || step == taken)
        };
        self.places.iter().find(|(place, _)| fits(place)).map(|(_, rule)| rule)
    }
}

/// How a file merges.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Treatment {
    /// A JSON record, field by field.
    Record(Rules),
    /// Something that was said: added, and never changed or removed by a merge.
    AddOnly,
    /// An open question or what it keeps: named by content, removed when answered.
    Conflict,
    /// Anything else: the same bytes or not.
    Attachment,
    /// As an attachment, and never a question: where both sides changed it, what was before stands.
    Unasked,
}

type Read = Box<dyn Fn(&str, &[u8]) -> Result<Value, String> + Send + Sync>;
type Write = Box<dyn Fn(&str, &Value) -> Vec<u8> + Send + Sync>;

/// The table of a book. Paths are matched by name between `/`; `*` in a name is any run of letters, and `**` as the
/// last name is everything beneath.
pub struct Layout {
    treatments: Vec<(String, Treatment)>,
    bundles: Vec<String>,
    units: Vec<(String, String)>,
    conflict_schema: Option<String>,
    read: Read,
    write: Write,
}

impl std::fmt::Debug for Layout {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Layout").field("treatments", &self.treatments).finish_non_exhaustive()
    }
}

impl Default for Layout {
    fn default() -> Self {
        Layout::new()
    }
}

impl Layout {
    /// A table without entries: every file is an attachment. Records are read as any JSON, and written with an
    /// indent of two spaces and a line feed at the end.
    #[must_use]
    pub fn new() -> Self {
        Layout {
            treatments: Vec::new(),
            bundles: Vec::new(),
            units: Vec::new(),
            conflict_schema: None,
            read: Box::new(|_, bytes| serde_json::from_slice(bytes).map_err(|e| e.to_string())),
            write: Box::new(|_, value| format!("{value:#}\n").into_bytes()),
        }
    }

    /// Files that merge as records.
    #[must_use]
    pub fn record(self, pattern: &str, rules: Rules) -> Self {
        self.treat(pattern, Treatment::Record(rules))
    }

    /// Files that are added and never changed or removed.
    #[must_use]
    pub fn add_only(self, pattern: &str) -> Self {
        self.treat(pattern, Treatment::AddOnly)
    }

    /// The folders of open questions, such as `projects/*/conflicts/**`.
    #[must_use]
    pub fn conflicts(self, pattern: &str) -> Self {
        self.treat(pattern, Treatment::Conflict)
    }

    /// Files of a treatment. The first entry that fits a path holds.
    #[must_use]
    pub(crate) fn treat(mut self, pattern: &str, treatment: Treatment) -> Self {
        self.treatments.push((pattern.to_owned(), treatment));
        self
    }

    /// Folders whose files belong together, such as the sheets of one rendering: changed on both sides, they are
    /// one question each and all keep the base.
    #[must_use]
    pub fn bundle(mut self, pattern: &str) -> Self {
        self.bundles.push(pattern.to_owned());
        self
    }

    /// Folders that stand and fall with one file in them, such as a project with its `project.json`: where one
    /// side removed that file and the other changed anything in the folder, the removal is a question and the
    /// whole folder stays.
    #[must_use]
    pub fn unit(mut self, pattern: &str, head: &str) -> Self {
        self.units.push((pattern.to_owned(), head.to_owned()));
        self
    }

    /// What `$schema` says in a conflict file, for its path.
    #[must_use]
    pub fn conflict_schema(mut self, schema: &str) -> Self {
        self.conflict_schema = Some(schema.to_owned());
        self
    }

    /// How records are read: path and bytes in, value or the reason why not out.
    #[must_use]
    pub(crate) fn reading(
        mut self,
        read: impl Fn(&str, &[u8]) -> Result<Value, String> + Send + Sync + 'static,
    ) -> Self {
        self.read = Box::new(read);
        self
    }

    /// How records are written: path and value in, bytes out.
    #[must_use]
    pub(crate) fn writing(mut self, write: impl Fn(&str, &Value) -> Vec<u8> + Send + Sync + 'static) -> Self {
        self.write = Box::new(write);
        self
    }

    /// How the file at `path` merges.
    #[must_use]
    pub fn treatment(&self, path: &str) -> &Treatment {
        let entry = self.treatments.iter().find(|(pattern, _)| matches(pattern, path));
        entry.map_or(&Treatment::Attachment, |(_, treatment)| treatment)
    }

    /// The bundle that `path` lies in.
    #[must_use]
    pub(crate) fn bundle_of<'p>(&self, path: &'p str) -> Option<&'p str> {
        self.bundles.iter().find_map(|pattern| folder_matching(pattern, path))
    }

    /// The unit that `path` lies in, and the path of its head.
    #[must_use]
    pub(crate) fn unit_of(&self, path: &str) -> Option<(String, String)> {
        self.units.iter().find_map(|(pattern, head)| {
            folder_matching(pattern, path).map(|folder| (folder.to_owned(), format!("{folder}/{head}")))
        })
    }

    /// The folder for open questions about `path`: that of its unit, or the book's own.
    #[must_use]
    pub(crate) fn conflict_folder(&self, path: &str) -> String {
        match self.unit_of(path) {
            Some((folder, _)) => format!("{folder}/conflicts"),
            None => "conflicts".to_owned(),
        }
    }

    /// What `$schema` says in the conflict file at `path`, relative to it.
    #[must_use]
    pub(crate) fn conflict_schema_at(&self, path: &str) -> Option<String> {
        let up = "../".repeat(path.matches('/').count());
        self.conflict_schema.as_ref().map(|schema| format!("{up}{schema}"))
    }

    /// Reads a record.
    ///
    /// # Errors
    /// The reason why the bytes are no record.
    pub(crate) fn read(&self, path: &str, bytes: &[u8]) -> Result<Value, String> {
        (self.read)(path, bytes)
    }

    /// Writes a record.
    #[must_use]
    pub(crate) fn write(&self, path: &str, value: &Value) -> Vec<u8> {
        (self.write)(path, value)
    }
}

fn matches(pattern: &str, path: &str) -> bool {
    let mut names = path.split('/');
    let mut patterns = pattern.split('/').peekable();
    while let Some(wanted) = patterns.next() {
        let Some(name) = names.next() else { return false };
        if wanted == "**" && patterns.peek().is_none() {
            return true;
        }
        if !name_matches(wanted.as_bytes(), name.as_bytes()) {
            return false;
        }
    }
    names.next().is_none()
}

fn name_matches(pattern: &[u8], name: &[u8]) -> bool {
    match pattern.split_first() {
        None => name.is_empty(),
        Some((b'*', rest)) => (0..=name.len()).any(|skip| name_matches(rest, &name[skip..])),
        Some((letter, rest)) => name.first() == Some(letter) && name_matches(rest, &name[1..]),
    }
}

/// The folder above `path` that fits `pattern`.
fn folder_matching<'p>(pattern: &str, path: &'p str) -> Option<&'p str> {
    let depth = pattern.matches('/').count();
    let (end, _) = path.match_indices('/').nth(depth)?;
    let folder = &path[..end];
    matches(pattern, folder).then_some(folder)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_find_their_treatment() {
        let layout = Layout::new()
            .record("projects/*/project.json", Rules::new())
            .add_only("projects/*/signoffs/**")
            .record("projects/*/panels/*.json", Rules::new())
            .bundle("projects/*/renderings/*")
            .unit("projects/*", "project.json")
            .conflict_schema("schema/conflict.schema.json");
        assert_eq!(layout.treatment("projects/quay/project.json"), &Treatment::Record(Rules::new()));
        assert_eq!(layout.treatment("projects/quay/signoffs/ab.sig"), &Treatment::AddOnly);
        assert_eq!(layout.treatment("projects/quay/signoffs"), &Treatment::Attachment);
        assert_eq!(layout.treatment("projects/quay/panels/a.dxf"), &Treatment::Attachment);
        assert_eq!(layout.treatment("x/projects/quay/project.json"), &Treatment::Attachment);
        assert_eq!(
            layout.bundle_of("projects/quay/renderings/bar/sheet.svg"),
            Some("projects/quay/renderings/bar")
        );
        assert_eq!(layout.bundle_of("projects/quay/renderings/bar"), None);
        assert_eq!(layout.conflict_folder("projects/quay/panels/a.json"), "projects/quay/conflicts");
        assert_eq!(layout.conflict_folder("rules.json"), "conflicts");
        let schema = layout.conflict_schema_at("projects/quay/conflicts/a.json");
        assert_eq!(schema.as_deref(), Some("../../../schema/conflict.schema.json"));
    }
}
