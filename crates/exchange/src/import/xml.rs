//! XML elements as the readers here ask for them: local names, text in one piece, numbers. A document's own entities
//! are not expanded.

use super::imported::MAX_INPUT;
use roxmltree::{Document, Node, ParsingOptions};
use takegauge_drill::{DrillError, Place};

/// The most elements, texts and comments of a document.
const MAX_NODES: u32 = 1_000_000;

/// An element of a document.
#[derive(Clone, Copy)]
pub(super) struct Element<'a>(Node<'a, 'a>);

impl<'a> Element<'a> {
    /// The root of a document.
    pub(super) fn root(document: &'a Document<'a>) -> Self {
        Self(document.root_element())
    }

    pub(super) fn name(self) -> &'a str {
        self.0.tag_name().name()
    }

    pub(super) fn attribute(self, name: &str) -> Option<&'a str> {
        self.0.attribute(name)
    }

    pub(super) fn children(self) -> impl Iterator<Item = Self> {
        self.0.children().filter(Node::is_element).map(Self)
    }

    pub(super) fn child(self, name: &str) -> Option<Self> {
        self.children().find(|c| c.name() == name)
    }

    pub(super) fn all(self, name: &str) -> impl Iterator<Item = Self> {
        self.children().filter(move |c| c.name() == name)
    }

    /// The first text inside, trimmed.
    pub(super) fn text(self) -> &'a str {
        self.0.text().unwrap_or("").trim()
    }

    /// The child's text, trimmed.
    pub(super) fn text_of(self, name: &str) -> Option<&'a str> {
        self.child(name).map(Self::text)
    }

    pub(super) fn number_of<T: std::str::FromStr>(self, name: &str) -> Option<T> {
        self.text_of(name)?.parse().ok()
    }

    /// The first descendant of that name, itself not counted.
    pub(super) fn find(self, name: &str) -> Option<Self> {
        self.0.descendants().skip(1).find(|n| n.is_element() && n.tag_name().name() == name).map(Self)
    }

    /// Byte of the document where it starts.
    pub(super) fn offset(self) -> usize {
        self.0.range().start
    }
}

/// Reads a document.
pub(super) fn parse<'a>(text: &'a str, file: &str) -> Result<Document<'a>, DrillError> {
    let fault = |place: Place, message: String| DrillError::Syntax { place, message };
    if text.len() as u64 > MAX_INPUT {
        return Err(DrillError::TooLarge { file: file.to_owned(), bytes: text.len() as u64, limit: MAX_INPUT });
    }
    // Some programs leave empty lines before the declaration, which no parser takes.
    let trimmed = text.trim_start();
    if let Some(at) = trimmed.find("<!ENTITY") {
        let place = Place::of(file, text, text.len() - trimmed.len() + at);
        return Err(fault(place, "a document with entities of its own, which are not expanded".to_owned()));
    }
    let options = ParsingOptions { allow_dtd: true, nodes_limit: MAX_NODES, ..ParsingOptions::default() };
    Document::parse_with_options(trimmed, options).map_err(|e| {
        let (at, before) = (e.pos(), text[..text.len() - trimmed.len()].matches('\n').count());
        let place = Place { file: file.to_owned(), line: at.row as usize + before, column: at.col as usize };
        fault(place, format!("not well-formed XML: {e}"))
    })
}
