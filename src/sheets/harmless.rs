//! What no drawing sheet may carry, whoever drew it: anything that runs, and anything that is fetched from elsewhere.
//!
//! A sheet is opened in browsers and PDF viewers by people who are about to sign. Sheets of this program are plain
//! drawings, so nothing has to be told apart: an SVG has these few elements and no reference out of itself, and a PDF has
//! pages and fonts, with every object where a search through its bytes finds it.

use roxmltree::{Document, Node, NodeType};

/// The elements that a drawing may have.
const ELEMENTS: &[&str] = &[
    "svg",
    "title",
    "desc",
    "style",
    "defs",
    "g",
    "clipPath",
    "mask",
    "pattern",
    "marker",
    "path",
    "line",
    "polyline",
    "polygon",
    "rect",
    "circle",
    "ellipse",
    "text",
    "tspan",
    "linearGradient",
    "stop",
];

/// The namespace of SVG.
const SVG: &str = "http://www.w3.org/2000/svg";

/// Names of PDF that stand for something that runs, leads elsewhere or hides objects from a search: ISO 32000-1, 12.6.4
/// (actions), 12.5.6 (annotations), 12.7 (forms), 7.11.4 (embedded files), 7.5.7 and 7.5.8 (object and cross-reference
/// streams), 7.6 (encryption), 7.5.6 (incremental updates), 7.11.5 and 8.10.4 (files and pages of elsewhere).
const NAMES: &[&str] = &[
    "JavaScript",
    "Launch",
    "URI",
    "OpenAction",
    "GoToR",
    "GoToE",
    "SubmitForm",
    "ImportData",
    "Rendition",
    "Movie",
    "Sound",
    "RichMedia",
    "Annot",
    "Annots",
    "AcroForm",
    "EmbeddedFile",
    "EmbeddedFiles",
    "Filespec",
    "FS",
    "FFilter",
    "Ref",
    "ObjStm",
    "XRef",
    "XRefStm",
    "Prev",
    "Encrypt",
    "Crypt",
    "LZWDecode",
    "ASCIIHexDecode",
    "ASCII85Decode",
    "RunLengthDecode",
    "JBIG2Decode",
];

/// What an SVG sheet carries that none may; nothing where it is a plain drawing.
#[must_use]
pub fn harm_in_svg(bytes: &[u8]) -> Option<String> {
    let Ok(text) = std::str::from_utf8(bytes) else { return Some("text that is not UTF-8".to_owned()) };
    // DOCTYPE and entities are an error of this reader.
    let document = match Document::parse(text) {
        Ok(document) => document,
        Err(error) => return Some(format!("XML that a plain drawing does not have: {error}")),
    };
    let nodes = || document.descendants();
    if nodes().any(|node| node.node_type() == NodeType::PI) {
        return Some("a processing instruction".to_owned());
    }
    nodes().filter(Node::is_element).find_map(harm_in_element)
}

fn harm_in_element(node: Node<'_, '_>) -> Option<String> {
    let name = node.tag_name().name();
    if node.tag_name().namespace() != Some(SVG) || !ELEMENTS.contains(&name) {
        return Some(format!("an element <{name}>"));
    }
    if name == "style" {
        let css: String = node.descendants().filter_map(|n| n.text()).collect();
        if css.contains(['@', '\\']) || leads_out(&css) {
            return Some("a style sheet that refers to something outside".to_owned());
        }
    }
    node.attributes().find_map(|attribute| {
        let (key, value) = (attribute.name().to_ascii_lowercase(), attribute.value());
        if key.starts_with("on") {
            return Some(format!("an event handler {key}"));
        }
        if ["href", "src", "base"].contains(&key.as_str()) || value.contains('\\') || leads_out(value) {
            return Some(format!("a reference {key}"));
        }
        None
    })
}

/// True where CSS names something by `url(…)` that is not in the drawing itself.
fn leads_out(css: &str) -> bool {
    let css: String = css.chars().filter(|c| !c.is_whitespace()).collect::<String>().to_ascii_lowercase();
    let mut places = css.match_indices("url(").map(|(at, found)| &css[at + found.len()..]);
    places.any(|rest| !rest.starts_with('#'))
        || ["image(", "image-set(", "src(", "/*"].iter().any(|f| css.contains(f))
}

/// What a PDF sheet carries that none may; nothing where it has pages and fonts alone.
#[must_use]
pub fn harm_in_pdf(bytes: &[u8]) -> Option<String> {
    if !bytes.starts_with(b"%PDF-1.") {
        return Some("something that is no PDF".to_owned());
    }
    // One table of objects in plain text: then no object lies where a search for names does not see it.
    let starts: Vec<usize> = find(bytes, b"startxref").collect();
    let (table, rest) = match starts.as_slice() {
        [at] => {
            let rest = bytes[at + b"startxref".len()..].trim_ascii_start();
            let (digits, rest) =
                rest.split_at(rest.iter().position(|b| !b.is_ascii_digit()).unwrap_or(rest.len()));
            let at = std::str::from_utf8(digits).ok().and_then(|digits| digits.parse::<usize>().ok());
            (at.and_then(|at| bytes.get(at..)).is_some_and(|at| at.starts_with(b"xref")), rest)
        }
        _ => (false, &[][..]),
    };
    if !table {
        return Some("a table of objects that sheets do not have".to_owned());
    }
    // Bytes after the end are no drawing: the file would be an archive or a program as well.
    if rest.trim_ascii() != b"%%EOF" {
        return Some("something after its end".to_owned());
    }
    find(bytes, b"/").find_map(|at| {
        let name = name_at(&bytes[at + 1..]);
        NAMES.iter().find(|known| name == known.as_bytes()).map(|name| format!("a PDF object /{name}"))
    })
}

/// A name of PDF, its escapes undone (ISO 32000-1, 7.3.5), as far as a known one could reach.
fn name_at(bytes: &[u8]) -> Vec<u8> {
    let mut name = Vec::new();
    let mut at = 0;
    while let Some(&byte) = bytes.get(at) {
        if byte <= b' ' || b"()<>[]{}/%".contains(&byte) || name.len() > 32 {
            break;
        }
        let digit = |at: usize| bytes.get(at).and_then(|b| char::from(*b).to_digit(16));
        match (byte, digit(at + 1), digit(at + 2)) {
            (b'#', Some(high), Some(low)) => {
                name.push((high * 16 + low) as u8);
                at += 3;
            }
            _ => {
                name.push(byte);
                at += 1;
            }
        }
    }
    name
}

fn find<'b>(bytes: &'b [u8], wanted: &'b [u8]) -> impl Iterator<Item = usize> + 'b {
    bytes.windows(wanted.len()).enumerate().filter(move |(_, at)| *at == wanted).map(|(at, _)| at)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn svg(inside: &str) -> Option<String> {
        harm_in_svg(format!("<svg xmlns=\"{SVG}\" width=\"9mm\" height=\"9mm\">{inside}</svg>").as_bytes())
    }

    #[test]
    fn a_plain_drawing_is_harmless() {
        for plain in [
            "",
            "<style>.a{fill:none;stroke:#000;stroke-dasharray:1,2}</style><path class=\"a\" d=\"M0 0L1 1Z\"/>",
            "<g id=\"a\" clip-path=\"url(#a-border)\"><text x=\"1\">on url(http://x) &lt;script&gt;</text></g>",
        ] {
            assert_eq!(svg(plain), None, "{plain}");
        }
    }

    #[test]
    fn what_runs_or_is_fetched_is_found_in_an_svg() {
        for harm in [
            "<script>alert(1)</script>",
            "<g onload=\"x()\"/>",
            "<g ONCLICK=\"x()\"/>",
            "<foreignObject/>",
            "<image href=\"x.png\"/>",
            "<a href=\"https://example.org\"><path/></a>",
            "<use href=\"#a\"/>",
            "<rect fill=\"url( http://example.org/a#b)\"/>",
            "<rect fill=\"U\\72l(http://example.org)\"/>",
            "<style>@import 'a.css';</style>",
            "<style>.a{fill:url('b.svg#c')}</style>",
            "<style>.a{fill:u/**/rl(b.svg#c)}</style>",
            "<animate attributeName=\"x\"/>",
            "<p xmlns=\"http://www.w3.org/1999/xhtml\"/>",
            "<?xml-stylesheet href=\"a.css\"?>",
            "<g xml:base=\"http://example.org\"/>",
        ] {
            assert!(svg(harm).is_some(), "{harm}");
        }
        assert!(harm_in_svg(b"<!DOCTYPE svg [<!ENTITY a SYSTEM \"b\">]><svg/>").is_some());
        assert!(harm_in_svg(b"\xff").is_some());
    }

    #[test]
    fn what_runs_or_hides_is_found_in_a_pdf() {
        let with = |inside: &str| {
            let head = format!("%PDF-1.7\n{inside}\n");
            harm_in_pdf(
                format!("{head}xref\n0 1\ntrailer\n<</Size 1>>\nstartxref\n{}\n%%EOF", head.len()).as_bytes(),
            )
        };
        assert_eq!(with("1 0 obj\n<</Type/Page/Launches 1>>\nendobj"), None);
        for harm in [
            "<</S/JavaScript/JS(x)>>",
            "<</S /#4aavaScript>>",
            "<</S/Launch>>",
            "<</S/URI/URI(x)>>",
            "<</Type/EmbeddedFile>>",
            "<</Type/ObjStm>>",
            "<</Encrypt 3 0 R>>",
            "<</F<</FS/U#52L/F(x)>>>>",
            "stream\n<</OpenAction 3 0 R>>\nendstream",
            "startxref\n9\n",
        ] {
            assert!(with(harm).is_some(), "{harm}");
        }
        let plain = b"%PDF-1.7\nxref\n0 1\ntrailer\n<<>>\nstartxref\n9\n%%EOF";
        for end in ["", "\n", "\r\n"] {
            assert_eq!(harm_in_pdf(&[plain, end.as_bytes()].concat()), None, "{end:?}");
        }
        for more in ["PK\u{3}\u{4}", "\n\u{7f}ELF", "\n<script>x</script>", "%%EOF"] {
            assert!(harm_in_pdf(&[plain, more.as_bytes()].concat()).is_some(), "{more}");
        }
        assert!(harm_in_pdf(b"%PDF-1.7\nstartxref\n3\n").is_some());
        assert!(harm_in_pdf(b"GIF89a").is_some());
    }
}
