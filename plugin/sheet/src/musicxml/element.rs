//! XML as a row of tags, and small elements as trees.
//!
//! Entities other than XML's five and character references are left out, a document type is passed over, and
//! nothing outside the text is ever looked at. Nesting is bounded by [`limits::MAX_DEPTH`].

use quick_xml::events::{BytesStart, Event};
use quick_xml::{Reader, XmlVersion};

use crate::{SheetError, limits};

/// Most elements, and bytes of text, kept of one tree; more are passed over.
const MAX_NODES: usize = 5000;
const MAX_TEXT: usize = 1000;
/// Most attributes kept of one element.
const MAX_ATTRIBUTES: usize = 40;

/// Why reading ends early.
#[derive(Debug)]
pub(super) enum Fault {
    /// A limit.
    Limit(SheetError),
    /// The XML breaks off or is wrong from this line on.
    Damaged(u32),
}

impl From<SheetError> for Fault {
    fn from(error: SheetError) -> Self {
        Self::Limit(error)
    }
}

/// An element with what is in it.
#[derive(Debug, Default)]
pub(super) struct Element {
    /// Its name without prefix.
    pub(super) name: String,
    attributes: Vec<(String, String)>,
    /// Its own text, without that of its children and without space around it.
    pub(super) text: String,
    pub(super) children: Vec<Element>,
}

impl Element {
    /// An attribute's value.
    pub(super) fn attribute(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(key, _)| key == name).map(|(_, value)| value.as_str())
    }

    /// Whether an attribute has this value.
    pub(super) fn is(&self, name: &str, value: &str) -> bool {
        self.attribute(name) == Some(value)
    }

    /// The first child of a name.
    pub(super) fn child(&self, name: &str) -> Option<&Element> {
        self.children.iter().find(|child| child.name == name)
    }

    /// All children of a name.
    pub(super) fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a Element> {
        self.children.iter().filter(move |child| child.name == name)
    }

    /// The text of the first child of a name.
    pub(super) fn text(&self, name: &str) -> Option<&str> {
        self.child(name).map(|child| child.text.as_str())
    }

    /// A child's text as a number.
    pub(super) fn number<T: core::str::FromStr>(&self, name: &str) -> Option<T> {
        self.text(name)?.parse().ok()
    }
}

/// A tag on its own.
pub(super) enum Tag {
    /// An element begins; nothing of its content has been read.
    Open(Element),
    /// The innermost element ends.
    Close,
    /// The document is over.
    End,
}

/// A document being read.
pub(super) struct Document<'a> {
    reader: Reader<&'a [u8]>,
    text: &'a str,
    depth: usize,
}

impl<'a> Document<'a> {
    pub(super) fn new(text: &'a str) -> Self {
        let mut reader = Reader::from_str(text);
        reader.config_mut().expand_empty_elements = true;
        Self { reader, text, depth: 0 }
    }

    fn event(&mut self) -> Result<Event<'a>, Fault> {
        let event = match self.reader.read_event() {
            Ok(event) => event,
            Err(_) => return Err(Fault::Damaged(self.line(self.reader.error_position()))),
        };
        match event {
            Event::Start(_) => {
                self.depth += 1;
                if self.depth > limits::MAX_DEPTH {
                    let what = "elements nested in one another";
                    return Err(SheetError::TooLarge { what, limit: limits::MAX_DEPTH }.into());
                }
            }
            Event::End(_) => self.depth = self.depth.saturating_sub(1),
            Event::Eof if self.depth > 0 => {
                return Err(Fault::Damaged(self.line(self.reader.buffer_position())));
            }
            _ => {}
        }
        Ok(event)
    }

    /// The line of a place, from 1.
    fn line(&self, at: u64) -> u32 {
        let at = usize::try_from(at).unwrap_or(usize::MAX).min(self.text.len());
        let before = self.text.as_bytes().get(..at).unwrap_or(&[]);
        before.iter().filter(|byte| **byte == b'\n').count() as u32 + 1
    }

    /// The next tag; text between is passed over.
    pub(super) fn next(&mut self) -> Result<Tag, Fault> {
        loop {
            match self.event()? {
                Event::Start(start) => return Ok(Tag::Open(element(&start))),
                Event::End(_) => return Ok(Tag::Close),
                Event::Eof => return Ok(Tag::End),
                _ => {}
            }
        }
    }

    /// Passes over the rest of the element that was opened last.
    pub(super) fn skip(&mut self) -> Result<(), Fault> {
        let outside = self.depth.saturating_sub(1);
        while self.depth > outside {
            if matches!(self.event()?, Event::Eof) {
                break;
            }
        }
        Ok(())
    }

    /// The element that was opened last, with all that is in it.
    pub(super) fn fill(&mut self, open: Element) -> Result<Element, Fault> {
        let mut path = vec![open];
        let mut nodes = 0;
        loop {
            match self.event()? {
                Event::Start(start) => {
                    nodes += 1;
                    if nodes > MAX_NODES {
                        self.skip()?;
                    } else {
                        path.push(element(&start));
                    }
                }
                Event::End(_) | Event::Eof => {
                    let Some(mut done) = path.pop() else { return Ok(Element::default()) };
                    if done.text.trim().len() != done.text.len() {
                        done.text = done.text.trim().to_owned();
                    }
                    match path.last_mut() {
                        Some(parent) => parent.children.push(done),
                        None => return Ok(done),
                    }
                }
                Event::Text(text) => append(&mut path, &text.xml10_content()),
                Event::CData(text) => append(&mut path, &text.xml10_content()),
                Event::GeneralRef(reference) => {
                    let c = match reference.resolve_char_ref() {
                        Ok(Some(c)) => (!is_stray(c)).then_some(c),
                        _ => predefined(&reference.xml10_content()),
                    };
                    if let Some(c) = c {
                        append(&mut path, c.encode_utf8(&mut [0; 4]));
                    }
                }
                _ => {}
            }
        }
    }
}

/// Control characters that XML has no room for (XML 1.0, 2.2 names some of them); terminals would obey them.
fn is_stray(c: char) -> bool {
    c.is_control() && !matches!(c, '\t' | '\n' | '\r')
}

/// XML's own five entities.
fn predefined(name: &str) -> Option<char> {
    Some(match name {
        "amp" => '&',
        "lt" => '<',
        "gt" => '>',
        "quot" => '"',
        "apos" => '\'',
        _ => return None,
    })
}

fn append(path: &mut [Element], text: &str) {
    if let Some(element) = path.last_mut()
        && element.text.len() + text.len() <= MAX_TEXT
    {
        element.text.push_str(text);
    }
}

fn element(start: &BytesStart<'_>) -> Element {
    let mut attributes = Vec::new();
    // Looking for names that come twice would take long where there are many; the first one counts.
    for attribute in start.attributes().with_checks(false).take(MAX_ATTRIBUTES).flatten() {
        let value = attribute.normalized_value(XmlVersion::Implicit1_0).map(|value| value.into_owned());
        let value = value.unwrap_or_else(|_| attribute.value.clone().into_owned());
        if value.len() <= MAX_TEXT {
            let value = value.trim().replace(is_stray, "");
            attributes.push((attribute.key.local_name().into_inner().to_owned(), value));
        }
    }
    Element {
        name: start.local_name().into_inner().to_owned(),
        attributes,
        text: String::new(),
        children: Vec::new(),
    }
}
