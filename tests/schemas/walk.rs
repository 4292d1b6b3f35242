//! Follows a schema's parts, within its file and along a record that it describes.
//!
//! Conditions (`if`, `then`, `else`, `allOf`, `anyOf`, `not`) only narrow what stands beside them and are not
//! followed. Of `oneOf`, the parts are told apart by the constant of their `kind`.

use serde_json::Value;

use crate::files::schema;

/// One part of a schema: the file it is in, the JSON pointer to it, and itself.
#[derive(Clone)]
pub(crate) struct Part {
    pub(crate) file: String,
    pub(crate) pointer: String,
    pub(crate) schema: &'static Value,
}

impl Part {
    pub(crate) fn root(file: &str) -> Self {
        Part { file: file.into(), pointer: String::new(), schema: schema(file) }
    }

    pub(crate) fn place(&self) -> String {
        format!("{}#{}", self.file, self.pointer)
    }

    fn within(&self, path: &[&str]) -> Option<Part> {
        let mut part = self.clone();
        for step in path {
            part.schema = part.schema.get(step)?;
            part.pointer = format!("{}/{step}", part.pointer);
        }
        Some(part)
    }

    /// The part that a reference here leads to.
    pub(crate) fn referred(&self) -> Option<Part> {
        let reference = self.schema.get("$ref")?.as_str()?;
        let (file, fragment) = reference.split_once('#').unwrap_or((reference, ""));
        let file = if file.is_empty() { &self.file } else { file.strip_suffix(".schema.json")? };
        let found = schema(file).pointer(fragment);
        let found = found.unwrap_or_else(|| panic!("{}: {reference} leads nowhere", self.place()));
        Some(Part { file: file.to_owned(), pointer: fragment.to_owned(), schema: found })
    }

    /// The part itself and, one after the other, those that its reference leads to.
    pub(crate) fn chain(&self) -> Vec<Part> {
        let mut chain = vec![self.clone()];
        while let Some(next) = chain.last().and_then(Part::referred) {
            assert!(chain.len() < 10, "{}: the references go round", self.place());
            chain.push(next);
        }
        chain
    }

    pub(crate) fn has(&self, keyword: &str) -> bool {
        self.schema.get(keyword).is_some()
    }

    pub(crate) fn is_of_type(&self, name: &str) -> bool {
        match self.schema.get("type") {
            Some(Value::String(one)) => one == name,
            Some(Value::Array(several)) => several.iter().any(|t| t == name),
            _ => false,
        }
    }

    /// The parts that stand directly under this one.
    pub(crate) fn children(&self) -> Vec<Part> {
        let mut children = Vec::new();
        for several in ["properties", "$defs"] {
            for key in self.schema.get(several).and_then(Value::as_object).into_iter().flat_map(|o| o.keys())
            {
                children.extend(self.within(&[several, key]));
            }
        }
        for one in ["items", "additionalProperties", "propertyNames"] {
            children.extend(self.within(&[one]).filter(|p| p.schema.is_object()));
        }
        children
    }
}

/// Every part of a schema file, the whole first.
pub(crate) fn parts(file: &str) -> Vec<Part> {
    let mut found = vec![Part::root(file)];
    let mut at = 0;
    while let Some(part) = found.get(at).cloned() {
        found.extend(part.children());
        at += 1;
    }
    found
}

/// The places of all fields that a schema file names.
pub(crate) fn fields_of_schema(file: &str) -> Vec<String> {
    parts(file).into_iter().map(|p| p.place()).filter(|p| is_field(p)).collect()
}

pub(crate) fn is_field(place: &str) -> bool {
    place.rsplit_once('/').is_some_and(|(before, _)| before.ends_with("/properties"))
}

/// A field that a record has.
#[derive(Debug)]
pub(crate) struct Field {
    /// The place in the schemas where it is described.
    pub(crate) place: String,
    /// The JSON pointer, in the record, to the object that has it.
    pub(crate) object: String,
    pub(crate) key: String,
    /// True where the schema asks for it whatever else the record says.
    pub(crate) required: bool,
}

/// Every field that a record has, at every depth.
pub(crate) fn fields_of_record(kind: &str, record: &Value) -> Vec<Field> {
    let mut fields = Vec::new();
    visit(&Part::root(kind), record, "", &mut fields);
    fields
}

fn visit(part: &Part, value: &Value, pointer: &str, fields: &mut Vec<Field>) {
    for part in part.chain() {
        if let Some(object) = value.as_object() {
            for (key, inner) in object {
                let below = format!("{pointer}/{}", key.replace('~', "~0").replace('/', "~1"));
                if let Some(property) = part.within(&["properties", key]) {
                    let required =
                        part.schema["required"].as_array().is_some_and(|r| r.iter().any(|k| k == key));
                    let (object, key) = (pointer.to_owned(), key.clone());
                    fields.push(Field { place: property.place(), object, key, required });
                    visit(&property, inner, &below, fields);
                } else if let Some(of_map) = part.within(&["additionalProperties"]) {
                    visit(&of_map, inner, &below, fields);
                }
            }
        }
        for (at, inner) in value.as_array().into_iter().flatten().enumerate() {
            if let Some(items) = part.within(&["items"]) {
                visit(&items, inner, &format!("{pointer}/{at}"), fields);
            }
        }
        for choice in part.schema.get("oneOf").and_then(Value::as_array).into_iter().flatten() {
            let choice = Part { schema: choice, ..part.clone() };
            if let Some(choice) = choice.referred()
                && choice.schema.pointer("/properties/kind/const") == value.get("kind")
            {
                visit(&choice, value, pointer, fields);
            }
        }
    }
}
