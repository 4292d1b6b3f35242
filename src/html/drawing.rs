//! A drawing sheet inside a page: taken apart and written again with the elements and attributes of a drawing and nothing
//! else, its style kept to itself. The sheet's file, which is signed, is not touched.

use std::fmt::Write as _;

use roxmltree::{Document, Node};

use super::Html;

const ELEMENTS: &[&str] =
    &["g", "path", "line", "polyline", "polygon", "rect", "circle", "ellipse", "text", "tspan"];

const ATTRIBUTES: &[&str] = &[
    "class",
    "cx",
    "cy",
    "d",
    "dx",
    "dy",
    "fill",
    "fill-rule",
    "font-size",
    "font-weight",
    "height",
    "lengthAdjust",
    "points",
    "r",
    "rx",
    "ry",
    "stroke",
    "stroke-dasharray",
    "stroke-linecap",
    "stroke-linejoin",
    "stroke-width",
    "text-anchor",
    "textLength",
    "transform",
    "width",
    "x",
    "x1",
    "x2",
    "y",
    "y1",
    "y2",
];

/// A sheet as it goes into a page.
#[derive(Clone, Debug)]
pub(crate) struct Inline {
    /// Width and height of its paper, in its own units (mm).
    pub size: [f64; 2],
    /// What is inside of it.
    pub content: Html,
    /// Its style, held to elements of a class.
    pub style: String,
}

/// Takes a sheet apart. None where it is no drawing of ours.
#[must_use]
pub(crate) fn inline(svg: &str, class: &str) -> Option<Inline> {
    let document = Document::parse(svg).ok()?;
    let root = document.root_element();
    let numbers: Vec<f64> =
        root.attribute("viewBox")?.split([' ', ',']).filter_map(|n| n.parse().ok()).collect();
    let [0.0, 0.0, width, height] = numbers[..] else { return None };
    let mut content = Html::default();
    root.children().for_each(|child| write(child, &mut content));
    let styles = root.children().filter(|n| n.has_tag_name("style")).filter_map(|n| n.text());
    let style = styles.map(|text| held_to(text, class)).collect();
    Some(Inline { size: [width, height], content, style })
}

/// A sheet, or one named part of it, as a drawing that stands alone: the elements of a drawing and nothing else. None where
/// it is no drawing of ours, or has no such part. `window` says what of it is seen: left, top, width and height.
#[must_use]
pub(crate) fn alone(svg: &str, part: Option<&str>, window: Option<[f64; 4]>) -> Option<(String, [f64; 2])> {
    let document = Document::parse(svg).ok()?;
    let Inline { size: [width, height], content, style } = inline(svg, "d")?;
    let window = window.unwrap_or([0.0, 0.0, width, height]);
    let [left, top, width, height] = window;
    let content = match part {
        None => content,
        Some(part) => {
            let mut content = Html::default();
            write(document.descendants().find(|node| node.attribute("id") == Some(part))?, &mut content);
            content
        }
    };
    let text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"{left} {top} {width} {height}\" class=\"d\"><style>{style}\
         </style>{}</svg>\n",
        content.as_str()
    );
    Some((text, [width, height]))
}

fn write(node: Node<'_, '_>, into: &mut Html) {
    if node.is_text() && node.parent().is_some_and(|p| p.has_tag_name("text") || p.has_tag_name("tspan")) {
        into.text(node.text().unwrap_or_default());
    }
    let Some(name) = ELEMENTS.iter().find(|name| node.is_element() && node.tag_name().name() == **name)
    else {
        return;
    };
    let kept = |key: &&'static str| {
        let value = node.attribute(*key)?;
        // A reference leads out of the element; a transform is the one function that a drawing needs.
        (*key == "transform" || !value.contains('(')).then_some((*key, value))
    };
    let attributes: Vec<(&'static str, &str)> = ATTRIBUTES.iter().filter_map(kept).collect();
    into.open(name, &attributes);
    node.children().for_each(|child| write(child, into));
    into.close(name);
}

/// The rules of a sheet's style, each for elements of a class only; none of a style that is more than plain rules.
fn held_to(style: &str, class: &str) -> String {
    if style.contains(['<', '@', '\\', '(', '/']) {
        return String::new();
    }
    let mut held = String::new();
    for (selector, rule) in style.split('}').filter_map(|part| part.split_once('{')) {
        for one in selector.split(',') {
            // Writing to a String does not fail.
            let _ = write!(held, ".{class} {}{{{rule}}}", one.trim());
        }
    }
    held
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_drawing_is_left_of_a_sheet() {
        let sheet = r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 297 210" onload="alert(1)">
            <style>text{fill:#000}.a,.b{fill:none}</style><script>alert(2)</script>
            <g id="view" onclick="x" style="x:y"><path class="a" d="M0 0L1 1" fill="url(#x)" stroke="#000"/>
            <text x="1" transform="rotate(90 1 1)">a &lt;b&gt; &amp;</text></g>
            <a href="javascript:1"><text>gone</text></a><image href="http://x"/><foreignObject><p>x</p></foreignObject></svg>"##;
        let made = inline(sheet, "s1").expect("a sheet");
        assert_eq!(made.size, [297.0, 210.0]);
        assert_eq!(
            made.content.as_str(),
            "<g><path class=\"a\" d=\"M0 0L1 1\" stroke=\"#000\"></path><text transform=\"rotate(90 1 1)\" x=\"1\">a \
             &lt;b&gt; &amp;</text></g>"
        );
        assert_eq!(made.style, ".s1 text{fill:#000}.s1 .a{fill:none}.s1 .b{fill:none}");
    }

    #[test]
    fn a_style_that_is_more_than_rules_is_left_out_and_no_drawing_is_none() {
        for style in ["@import 'x';", "a{b:url(x)}", "a{b:\\75rl(x)}", "a{}/*", "a{}&lt;/style>"] {
            let sheet = format!(
                "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 1 1\"><style>{style}</style></svg>"
            );
            assert_eq!(inline(&sheet, "s").expect("a sheet").style, "", "{style}");
        }
        for none in ["", "<svg", "<svg xmlns=\"http://www.w3.org/2000/svg\"/>"] {
            assert!(inline(none, "s").is_none());
        }
    }
}
