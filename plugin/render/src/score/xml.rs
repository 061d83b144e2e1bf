//! A thin hand on the XML writer: elements by name, text, attributes. Writing goes to memory and cannot fail.

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

/// A document being written.
pub(super) struct Xml(Writer<Vec<u8>>);

impl Xml {
    /// An empty document with its declaration and document type.
    pub(super) fn new(doctype: &str) -> Self {
        let mut xml = Self(Writer::new_with_indent(Vec::new(), b' ', 1));
        xml.write(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)));
        if !doctype.is_empty() {
            xml.write(Event::DocType(BytesText::from_escaped(doctype)));
        }
        xml
    }

    fn write(&mut self, event: Event<'_>) {
        // A vector takes everything.
        let _done = self.0.write_event(event);
    }

    /// Begins an element.
    pub(super) fn open(&mut self, name: &str, attributes: &[(&str, &str)]) {
        self.write(Event::Start(start(name, attributes)));
    }

    /// Ends it.
    pub(super) fn close(&mut self, name: &str) {
        self.write(Event::End(BytesEnd::new(name)));
    }

    /// An element without content.
    pub(super) fn empty(&mut self, name: &str, attributes: &[(&str, &str)]) {
        self.write(Event::Empty(start(name, attributes)));
    }

    /// An element with text; characters that XML does not allow are left out.
    pub(super) fn leaf(&mut self, name: &str, attributes: &[(&str, &str)], text: &str) {
        let text: String =
            text.chars().filter(|c| *c >= ' ' && !matches!(*c, '\u{fffe}' | '\u{ffff}')).collect();
        self.open(name, attributes);
        self.write(Event::Text(BytesText::new(&text)));
        self.close(name);
    }

    /// An element with a number.
    pub(super) fn number(&mut self, name: &str, number: i64) {
        self.leaf(name, &[], &number.to_string());
    }

    /// The document.
    pub(super) fn finish(self) -> String {
        let mut text = String::from_utf8(self.0.into_inner()).unwrap_or_default();
        text.push('\n');
        text
    }
}

fn start<'a>(name: &'a str, attributes: &[(&'a str, &'a str)]) -> BytesStart<'a> {
    let mut start = BytesStart::new(name);
    for (key, value) in attributes {
        start.push_attribute((*key, *value));
    }
    start
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_escaped() {
        let mut xml = Xml::new("");
        xml.leaf("words", &[("font", "a\"b<")], "Q & A <fast>\u{1}");
        let text = xml.finish();
        assert!(text.contains("<words font=\"a&quot;b&lt;\">Q &amp; A &lt;fast&gt;</words>"), "{text}");
    }
}
