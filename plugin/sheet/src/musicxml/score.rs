//! The document: what stands over the music, and parts with their bars, by part or by time.

use super::element::{Document, Element, Fault, Tag};
use super::measure::{Measure, State};
use crate::{SheetError, limits};

/// Longest title or name kept, in characters.
const MAX_NAME: usize = 300;

/// A part on the page.
#[derive(Default)]
pub(super) struct Part {
    id: String,
    pub(super) measures: Vec<Measure>,
    /// What holds from bar to bar while reading.
    state: State,
}

/// A score as it stands in the file.
#[derive(Default)]
pub(super) struct Score {
    work: String,
    movement: String,
    /// The credit in the largest letters and their size; credits that say they are the title count most.
    credit: (f64, String),
    pub(super) composer: Option<String>,
    pub(super) parts: Vec<Part>,
    /// Ids of parts with their names.
    listed: Vec<(String, String)>,
    /// The line from which on the document is damaged.
    pub(super) damaged: Option<u32>,
    bars: usize,
    notes: usize,
    signs: usize,
}

impl Score {
    /// Ids and names of the parts that are there.
    pub(super) fn names(&self) -> Vec<(String, String)> {
        let name =
            |id: &str| self.listed.iter().find(|(listed, _)| listed == id).map(|(_, name)| name.clone());
        self.parts.iter().map(|part| (part.id.clone(), name(&part.id).unwrap_or_default())).collect()
    }

    /// The title: the work's, else the movement's, else the largest credit's.
    pub(super) fn title(&self) -> String {
        let titles = [&self.work, &self.movement, &self.credit.1];
        titles.into_iter().find(|title| !title.is_empty()).cloned().unwrap_or_default()
    }
}

/// Reads a document. A damaged one is read as far as it goes.
///
/// # Errors
/// [`SheetError`] where it is no score or exceeds a limit.
pub(super) fn read(text: &str) -> Result<Score, SheetError> {
    let mut document = Document::new(text);
    let mut score = Score::default();
    match score.root(&mut document) {
        Ok(()) => {}
        Err(Fault::Limit(error)) => return Err(error),
        Err(Fault::Damaged(line)) => score.damaged = Some(line),
    }
    Ok(score)
}

impl Score {
    fn root(&mut self, document: &mut Document<'_>) -> Result<(), Fault> {
        match document.next()? {
            Tag::Open(root) if root.name == "score-partwise" || root.name == "score-timewise" => {}
            Tag::Open(root) if root.name == "opus" => {
                return Err(SheetError::NotASheet {
                    what: "a MusicXML collection (opus)",
                    hint: "give one of the scores that it names",
                }
                .into());
            }
            _ => {
                return Err(SheetError::NotASheet {
                    what: "XML of another kind than a MusicXML score",
                    hint: "give a file with a score-partwise or score-timewise element",
                }
                .into());
            }
        }
        while let Tag::Open(element) = document.next()? {
            match element.name.as_str() {
                "work" => {
                    let work = document.fill(element)?;
                    self.work = name(work.text("work-title").unwrap_or_default());
                }
                "movement-title" => self.movement = name(&document.fill(element)?.text),
                "identification" => {
                    let identification = document.fill(element)?;
                    self.composer = composer(&identification);
                }
                "part-list" => {
                    while let Tag::Open(element) = document.next()? {
                        if element.name == "score-part" && self.listed.len() < limits::MAX_SCORE_PARTS {
                            let part = document.fill(element)?;
                            let id = part.attribute("id").unwrap_or_default().to_owned();
                            self.listed.push((id, name(part.text("part-name").unwrap_or_default())));
                        } else {
                            document.skip()?;
                        }
                    }
                }
                "credit" => {
                    let credit = document.fill(element)?;
                    self.credit(&credit);
                }
                "part" => {
                    let part = self.part(&element)?;
                    while let Tag::Open(element) = document.next()? {
                        self.measure_or_other(document, element, part)?;
                    }
                }
                "measure" => {
                    let measure = element;
                    while let Tag::Open(element) = document.next()? {
                        if element.name == "part" {
                            let part = self.part(&element)?;
                            self.measure(document, &measure, part)?;
                        } else {
                            document.skip()?;
                        }
                    }
                }
                _ => document.skip()?,
            }
        }
        Ok(())
    }

    /// Index of the part that an element names.
    fn part(&mut self, element: &Element) -> Result<usize, SheetError> {
        let id = element.attribute("id").unwrap_or_default();
        if let Some(index) = self.parts.iter().position(|part| part.id == id) {
            return Ok(index);
        }
        if self.parts.len() >= limits::MAX_SCORE_PARTS {
            return Err(SheetError::TooLarge { what: "parts", limit: limits::MAX_SCORE_PARTS });
        }
        self.parts.push(Part { id: id.to_owned(), ..Part::default() });
        Ok(self.parts.len() - 1)
    }

    fn measure_or_other(
        &mut self,
        document: &mut Document<'_>,
        element: Element,
        part: usize,
    ) -> Result<(), Fault> {
        if element.name == "measure" { self.measure(document, &element, part) } else { document.skip() }
    }

    /// A bar of a part, whose elements follow.
    fn measure(&mut self, document: &mut Document<'_>, heading: &Element, part: usize) -> Result<(), Fault> {
        self.bars += 1;
        let Some(part) = self.parts.get_mut(part) else { return document.skip() };
        if part.measures.len() >= limits::MAX_BARS {
            return Err(SheetError::TooLarge { what: "bars", limit: limits::MAX_BARS }.into());
        }
        if self.bars > limits::MAX_SCORE_BARS {
            let what = "bars in all parts";
            return Err(SheetError::TooLarge { what, limit: limits::MAX_SCORE_BARS }.into());
        }
        part.measures.push(Measure::new(heading, &part.state));
        let Some(measure) = part.measures.last_mut() else { return Ok(()) };
        part.state.begin();
        while let Tag::Open(element) = document.next()? {
            let kind = element.name.as_str();
            if !matches!(
                kind,
                "note" | "backup" | "forward" | "attributes" | "harmony" | "direction" | "sound" | "barline"
            ) {
                document.skip()?;
                continue;
            }
            let is_note = kind == "note";
            let is_sign = matches!(kind, "harmony" | "direction" | "sound");
            self.notes += usize::from(is_note);
            self.signs += usize::from(is_sign);
            if self.notes > limits::MAX_SCORE_NOTES {
                let what = "notes in all parts";
                return Err(SheetError::TooLarge { what, limit: limits::MAX_SCORE_NOTES }.into());
            }
            if self.signs > limits::MAX_CHORDS {
                let what = "chord symbols and directions";
                return Err(SheetError::TooLarge { what, limit: limits::MAX_CHORDS }.into());
            }
            let element = document.fill(element)?;
            measure.add(&element, &mut part.state);
        }
        Ok(())
    }

    fn credit(&mut self, credit: &Element) {
        let kind = credit.text("credit-type").unwrap_or_default();
        let words: Vec<&Element> = credit.all("credit-words").collect();
        let text = name(&words.iter().map(|words| words.text.as_str()).collect::<Vec<_>>().join(" "));
        if text.is_empty() {
            return;
        }
        if kind == "composer" {
            self.composer.get_or_insert(text);
            return;
        }
        let size = words.first().and_then(|words| words.attribute("font-size")?.parse::<f64>().ok());
        let size = match kind {
            "title" => f64::MAX,
            "" => size.unwrap_or(0.0),
            _ => return,
        };
        if self.credit.1.is_empty() || size > self.credit.0 {
            self.credit = (size, text);
        }
    }
}

fn composer(identification: &Element) -> Option<String> {
    let creator = |kind: &str| identification.all("creator").find(|creator| creator.is("type", kind));
    let creator = creator("composer").or_else(|| creator("music"))?;
    Some(name(&creator.text)).filter(|name| !name.is_empty())
}

/// A text on one line.
fn name(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ").chars().take(MAX_NAME).collect()
}
