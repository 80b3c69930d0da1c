//! A strict reader of the markup the sheet is written in: every tag closed in order, every attribute quoted.

/// An element, its attributes, and the text directly in it with where it stands.
pub(crate) struct Element {
    pub(crate) name: String,
    pub(crate) attributes: Vec<(String, String)>,
    /// Names of the elements it stands in, outermost first.
    inside: Vec<String>,
    pub(crate) text: String,
}

const VOID: [&str; 2] = ["meta", "link"];
const ELEMENTS: &[&str] = &[
    "html",
    "head",
    "meta",
    "title",
    "style",
    "body",
    "main",
    "header",
    "footer",
    "section",
    "div",
    "p",
    "h1",
    "h2",
    "b",
    "bdi",
    "small",
    "span",
    "dl",
    "dt",
    "dd",
    "ul",
    "ol",
    "li",
    "table",
    "caption",
    "thead",
    "tbody",
    "tr",
    "th",
    "td",
    "figure",
    "figcaption",
    "svg",
    "desc",
    "path",
    "rect",
    "circle",
    "text",
];
const ATTRIBUTES: &[&str] = &[
    "lang",
    "charset",
    "name",
    "content",
    "http-equiv",
    "class",
    "scope",
    "tabindex",
    "role",
    "aria-label",
    "aria-labelledby",
    "id",
    "xmlns",
    "viewBox",
    "x",
    "y",
    "width",
    "height",
    "d",
    "cx",
    "cy",
    "r",
    "text-anchor",
];

/// Reads markup; what is wrong with it, when something is.
pub(crate) fn parse(markup: &str) -> Result<Vec<Element>, String> {
    let mut rest = markup.trim_start().trim_start_matches("<!DOCTYPE html>");
    let mut all: Vec<Element> = Vec::new();
    let mut open: Vec<usize> = Vec::new();
    while !rest.is_empty() {
        let at = rest.find('<').unwrap_or(rest.len());
        if let Some(i) = open.last() {
            let raw = all[*i].name == "style";
            all[*i].text.push_str(&if raw { rest[..at].to_owned() } else { unescape(&rest[..at])? });
        } else if !rest[..at].trim().is_empty() {
            return Err(format!("words outside everything: {:?}", &rest[..at]));
        }
        rest = &rest[at..];
        if rest.is_empty() {
            break;
        }
        let end = tag_end(rest).ok_or("a tag that does not end")?;
        let tag = &rest[1..end];
        rest = &rest[end + 1..];
        if let Some(name) = tag.strip_prefix('/') {
            let i = open.pop().ok_or(format!("</{name}> closes nothing"))?;
            if all[i].name != name {
                return Err(format!("</{name}> closes <{}>", all[i].name));
            }
            continue;
        }
        let inside = open.iter().map(|i| all[*i].name.clone()).collect();
        let element = element(tag, inside)?;
        let void = VOID.contains(&element.name.as_str());
        all.push(element);
        if !void {
            open.push(all.len() - 1);
        }
    }
    if open.is_empty() { Ok(all) } else { Err(format!("{} elements stay open", open.len())) }
}

fn tag_end(text: &str) -> Option<usize> {
    let mut quoted = false;
    text.char_indices().find_map(|(i, c)| {
        quoted ^= c == '"';
        (c == '>' && !quoted).then_some(i)
    })
}

fn element(tag: &str, inside: Vec<String>) -> Result<Element, String> {
    let (name, mut rest) = tag.split_once(' ').unwrap_or((tag, ""));
    let mut attributes = Vec::new();
    while !rest.trim().is_empty() {
        let (key, after) =
            rest.trim_start().split_once("=\"").ok_or(format!("an unquoted attribute in <{tag}>"))?;
        let (value, after) = after.split_once('"').ok_or(format!("an open quote in <{tag}>"))?;
        attributes.push((key.to_owned(), unescape(value)?));
        rest = after;
    }
    Ok(Element { name: name.to_owned(), attributes, inside, text: String::new() })
}

fn unescape(text: &str) -> Result<String, String> {
    let mut out = String::new();
    let mut rest = text;
    while let Some(at) = rest.find('&') {
        out.push_str(&rest[..at]);
        let end = rest[at..].find(';').ok_or(format!("a bare & in {text:?}"))? + at;
        out.push(match &rest[at + 1..end] {
            "amp" => '&',
            "lt" => '<',
            "gt" => '>',
            "quot" => '"',
            "#39" => '\'',
            other => return Err(format!("&{other}; in {text:?}")),
        });
        rest = &rest[end + 1..];
    }
    out.push_str(rest);
    Ok(out)
}

/// Only elements and attributes of the fixed lists, and no address but the name of SVG's own space.
pub(crate) fn only_known(elements: &[Element]) -> Result<(), String> {
    for e in elements {
        if !ELEMENTS.contains(&e.name.as_str()) {
            return Err(format!("<{}>", e.name));
        }
        for (key, value) in &e.attributes {
            if !ATTRIBUTES.contains(&key.as_str()) {
                return Err(format!("{key} in <{}>", e.name));
            }
            if value.contains("://") && !(key == "xmlns" && value == "http://www.w3.org/2000/svg") {
                return Err(format!("{key}={value}"));
            }
        }
        if e.name == "style"
            && (e.text.contains("url(") || e.text.contains("@import") || e.text.contains("://"))
        {
            return Err("a style that fetches".to_owned());
        }
    }
    Ok(())
}

/// Every coordinate is a plain number, every path made of plain numbers.
pub(crate) fn numbers_are_finite(elements: &[Element]) -> Result<(), String> {
    let plain = |v: &str| {
        v.parse::<f64>().is_ok_and(f64::is_finite)
            && v.chars().all(|c| c.is_ascii_digit() || ".-".contains(c))
    };
    let mut paths = 0;
    for e in elements {
        for (key, value) in &e.attributes {
            let good = match key.as_str() {
                "x" | "y" | "width" | "height" | "cx" | "cy" | "r" => plain(value),
                "viewBox" => value.split(' ').all(plain),
                "d" => {
                    paths += 1;
                    value.chars().all(|c| c.is_ascii_digit() || "MLHVZ .,-".contains(c))
                }
                _ => true,
            };
            if !good {
                return Err(format!("{key}={value:?} in <{}>", e.name));
            }
        }
    }
    if paths > 0 { Ok(()) } else { Err("there is no picture".to_owned()) }
}

/// The text of every element of this name.
pub(crate) fn texts_of(elements: &[Element], name: &str) -> Vec<String> {
    elements.iter().filter(|e| e.name == name).map(|e| e.text.clone()).collect()
}

/// The text of every element that neither is nor stands in one of these.
pub(crate) fn texts_outside(elements: &[Element], names: &[&str]) -> Vec<String> {
    let within = |e: &Element| {
        names.contains(&e.name.as_str()) || e.inside.iter().any(|i| names.contains(&i.as_str()))
    };
    elements.iter().filter(|e| !within(e)).map(|e| e.text.clone()).collect()
}

/// Every place where these letters stand is between a tag's end and the next one's beginning.
pub(crate) fn in_text_only(page: &str, letters: &str) -> bool {
    page.match_indices(letters).all(|(at, _)| {
        let before = &page[..at];
        before.rfind('>') > before.rfind('<')
    })
}

#[test]
fn the_reader_refuses_what_it_should() {
    for bad in ["<p>", "<p></b>", "</p>", "<p a=1></p>", "<p>a & b</p>", "words"] {
        assert!(parse(bad).is_err(), "{bad}");
    }
    let script = parse("<p><script></script></p>").expect("well formed");
    assert!(only_known(&script).is_err());
    assert!(numbers_are_finite(&parse("<path d=\"MNaN 1\"></path>").expect("well formed")).is_err());
    assert_eq!(texts_of(&parse("<b>a &lt; b</b>").expect("well formed"), "b"), ["a < b"]);
}
