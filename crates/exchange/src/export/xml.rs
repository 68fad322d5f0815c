//! XML written element by element.

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

/// A document under construction.
pub(super) struct Xml(Writer<Vec<u8>>);

impl Xml {
    pub(super) fn new() -> Self {
        let mut x = Self(Writer::new_with_indent(Vec::new(), b' ', 1));
        x.event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)));
        x
    }

    fn event(&mut self, event: Event<'_>) {
        // Writing to memory cannot fail.
        let _ = self.0.write_event(event);
    }

    /// An element with others inside.
    pub(super) fn within(&mut self, name: &str, attributes: &[(&str, &str)], inside: impl FnOnce(&mut Self)) {
        self.event(Event::Start(start(name, attributes)));
        inside(self);
        self.event(Event::End(BytesEnd::new(name)));
    }

    /// An element with nothing inside.
    pub(super) fn empty(&mut self, name: &str, attributes: &[(&str, &str)]) {
        self.event(Event::Empty(start(name, attributes)));
    }

    /// An element with text inside.
    pub(super) fn leaf(&mut self, name: &str, text: impl ToString) {
        self.leaf_with(name, &[], text);
    }

    /// The same with attributes.
    pub(super) fn leaf_with(&mut self, name: &str, attributes: &[(&str, &str)], text: impl ToString) {
        self.event(Event::Start(start(name, attributes)));
        self.event(Event::Text(BytesText::new(&text.to_string())));
        self.event(Event::End(BytesEnd::new(name)));
    }

    pub(super) fn bytes(self) -> Vec<u8> {
        self.0.into_inner()
    }
}

fn start<'a>(name: &'a str, attributes: &[(&'a str, &'a str)]) -> BytesStart<'a> {
    BytesStart::new(name).with_attributes(attributes.iter().copied())
}
