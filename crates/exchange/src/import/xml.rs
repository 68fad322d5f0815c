//! A small tree of XML elements, read under limits: no entities of a document's own, bounded depth and number.

use super::imported::MAX_INPUT;
use quick_xml::events::{BytesStart, Event};
use takegauge_drill::{DrillError, Place};

/// The most elements of a document.
const MAX_ELEMENTS: usize = 400_000;
/// The deepest nesting.
const MAX_DEPTH: usize = 60;

/// An element with its attributes, text and children.
#[derive(Debug, Default)]
pub(super) struct Element {
    pub(super) name: String,
    attributes: Vec<(String, String)>,
    pub(super) text: String,
    pub(super) children: Vec<Element>,
    /// Byte of the document where it starts.
    pub(super) offset: usize,
}

impl Element {
    pub(super) fn attribute(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(n, _)| n == name).map(|(_, v)| v.as_str())
    }

    pub(super) fn child(&self, name: &str) -> Option<&Element> {
        self.children.iter().find(|c| c.name == name)
    }

    pub(super) fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a Element> {
        self.children.iter().filter(move |c| c.name == name)
    }

    /// The child's text, trimmed.
    pub(super) fn text_of(&self, name: &str) -> Option<&str> {
        self.child(name).map(|c| c.text.trim())
    }

    pub(super) fn number_of<T: std::str::FromStr>(&self, name: &str) -> Option<T> {
        self.text_of(name)?.parse().ok()
    }

    /// The first descendant of that name, itself not counted.
    pub(super) fn find(&self, name: &str) -> Option<&Element> {
        self.children.iter().find_map(|c| if c.name == name { Some(c) } else { c.find(name) })
    }
}

/// Reads a document's root.
pub(super) fn parse(text: &str, file: &str) -> Result<Element, DrillError> {
    let fault = |offset: usize, message: String| DrillError::Syntax { place: Place::of(file, text, offset), message };
    if text.len() as u64 > MAX_INPUT {
        return Err(DrillError::TooLarge { file: file.to_owned(), bytes: text.len() as u64, limit: MAX_INPUT });
    }
    let mut reader = quick_xml::Reader::from_str(text);
    reader.config_mut().expand_empty_elements = true;
    let mut open: Vec<Element> = vec![Element::default()];
    let mut count = 0usize;
    loop {
        let offset = usize::try_from(reader.buffer_position()).unwrap_or(text.len());
        let event = reader.read_event().map_err(|e| {
            let at = usize::try_from(reader.error_position()).unwrap_or(offset);
            fault(at, format!("not well-formed XML: {e}"))
        })?;
        match event {
            Event::Start(start) => {
                count += 1;
                if count > MAX_ELEMENTS || open.len() > MAX_DEPTH {
                    let message = format!("more than {MAX_ELEMENTS} elements or nested deeper than {MAX_DEPTH}");
                    return Err(fault(offset, message));
                }
                open.push(element(&start, offset).map_err(|m| fault(offset, m))?);
            }
            Event::End(_) => {
                if let (Some(done), Some(parent)) = (open.pop(), open.last_mut()) {
                    parent.children.push(done);
                }
            }
            Event::Text(t) => push_text(&mut open, &t),
            Event::CData(t) => push_text(&mut open, &t),
            Event::GeneralRef(reference) => {
                let character = match &*reference {
                    "lt" => Some('<'),
                    "gt" => Some('>'),
                    "amp" => Some('&'),
                    "quot" => Some('"'),
                    "apos" => Some('\''),
                    _ => reference.resolve_char_ref().ok().flatten(),
                };
                let Some(character) = character else {
                    return Err(fault(offset, format!("the entity &{};, which is not expanded", short(&reference))));
                };
                push_text(&mut open, character.encode_utf8(&mut [0; 4]));
            }
            Event::DocType(doctype) if doctype.contains("<!ENTITY") => {
                return Err(fault(offset, "a document with entities of its own, which are not expanded".to_owned()));
            }
            Event::Eof => break,
            _ => {}
        }
    }
    let root = open.into_iter().next().and_then(|mut top| (!top.children.is_empty()).then(|| top.children.remove(0)));
    root.ok_or_else(|| fault(text.len(), "no XML element, or one that is not closed".to_owned()))
}

fn push_text(open: &mut [Element], text: &str) {
    if let Some(element) = open.last_mut() {
        element.text.push_str(text);
    }
}

fn element(start: &BytesStart<'_>, offset: usize) -> Result<Element, String> {
    let mut attributes = Vec::new();
    for attribute in start.attributes().take(40) {
        let attribute = attribute.map_err(|e| format!("not well-formed XML: {e}"))?;
        let value = attribute
            .normalized_value(quick_xml::XmlVersion::Implicit1_0)
            .map_err(|e| format!("an attribute that cannot be read: {e}"))?;
        attributes.push((attribute.key.local_name().as_ref().to_owned(), value.into_owned()));
    }
    let name = start.local_name().as_ref().to_owned();
    Ok(Element { name, attributes, text: String::new(), children: Vec::new(), offset })
}

fn short(text: &str) -> String {
    text.chars().take(30).collect()
}
