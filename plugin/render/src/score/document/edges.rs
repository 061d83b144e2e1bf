//! Where bars begin and end: their numbers, bar lines, repeat signs, endings, and the words and signs of jumps.

use figwort_sheet::page::{PageBar, Signs};

use super::super::bars::VoiceBar;
use super::super::layout::Symbol;
use super::super::page::{Page, is_pick_up};
use super::Writer;

impl<'a> Writer<'a> {
    /// Begins a bar; `is_top` in the part that has the words.
    pub(super) fn open_bar(&mut self, index: usize, is_top: bool) {
        let page = self.page;
        let number = match self.signs(index) {
            Some(_) => page.bars.get(index).map_or(0, |bar| bar.number as usize),
            None => bar_number(page, index),
        };
        let number = number.to_string();
        let is_odd = page.bars.get(index).is_some_and(|bar| bar.length != bar.metre.bar());
        let implicit: &[(&str, &str)] =
            if is_odd { &[("number", &number), ("implicit", "yes")] } else { &[("number", &number)] };
        self.xml.open("measure", implicit);
        let Some(signs) = self.signs(index).filter(|signs| signs.starts || !signs.ending.is_empty()) else {
            return;
        };
        self.xml.open("barline", &[("location", "left")]);
        if signs.starts {
            self.xml.leaf("bar-style", &[], "heavy-light");
        }
        if !signs.ending.is_empty() {
            self.ending(&numbers(&signs.ending), "start", is_top);
        }
        if signs.starts {
            self.xml.empty("repeat", &[("direction", "forward")]);
        }
        self.xml.close("barline");
    }

    /// Ties that lead from or to a bar that is no neighbour on the page, such as into a second ending.
    pub(super) fn tie_over_edges(&self, index: usize, bar: &mut VoiceBar<'_>) {
        let Some(notes) = self.written.get(index).map(|bar| &bar.notes) else { return };
        let is_note = |symbol: &&mut Symbol| symbol.chord.is_some();
        if let (Some(note), Some(symbol)) = (notes.first(), bar.symbols.first_mut().filter(is_note)) {
            symbol.tied_from |= note.tied_from;
        }
        if let (Some(note), Some(symbol)) = (notes.last(), bar.symbols.last_mut().filter(is_note)) {
            symbol.tied_to |= note.tied_to;
        }
    }

    /// Where the jumps of the page lead to.
    pub(super) fn arrivals(&mut self, index: usize) {
        let Some(signs) = self.signs(index) else { return };
        if signs.segno {
            self.direction("segno", "", ("segno", "segno"));
        }
        if signs.coda {
            self.direction("coda", "", ("coda", "coda"));
        }
    }

    /// Where they are made.
    pub(super) fn departures(&mut self, index: usize) {
        let Some(signs) = self.signs(index) else { return };
        if signs.to_coda {
            self.direction("words", "To Coda", ("tocoda", "coda"));
        }
        if signs.fine {
            self.direction("words", "Fine", ("fine", "yes"));
        }
        if let Some(jump) = signs.jump {
            let sound = if jump.to_segno { ("dalsegno", "segno") } else { ("dacapo", "yes") };
            self.direction("words", jump.words(), sound);
        }
    }

    fn direction(&mut self, kind: &str, words: &str, sound: (&str, &str)) {
        let xml = &mut self.xml;
        xml.open("direction", &[("placement", "above")]);
        xml.open("direction-type", &[]);
        match words {
            "" => xml.empty(kind, &[]),
            _ => xml.leaf(kind, &[], words),
        }
        xml.close("direction-type");
        xml.empty("sound", &[sound]);
        xml.close("direction");
    }

    /// Ends a bar.
    pub(super) fn close_bar(&mut self, index: usize, is_top: bool) {
        let signs = self.signs(index);
        let next = self.signs(index + 1);
        let ends = signs.map_or(0, |signs| signs.ends);
        let jumps = signs.is_some_and(|signs| signs.fine || signs.jump.is_some());
        // What begins with a sign of its own needs no double line.
        let is_said = next.is_some_and(|next| next.starts || !next.ending.is_empty());
        let style = match self.page.bars.get(index + 1) {
            _ if ends > 0 => "light-heavy",
            None => "light-heavy",
            Some(_) if jumps => "light-light",
            Some(next) if next.section && !is_said => "light-light",
            Some(_) => "",
        };
        let over = signs.filter(|signs| signs.ending_over).and_then(|_| self.ending_at(index));
        if !style.is_empty() || over.is_some() {
            self.xml.open("barline", &[("location", "right")]);
            if !style.is_empty() {
                self.xml.leaf("bar-style", &[], style);
            }
            if let Some(over) = over {
                self.ending(&over, if ends > 0 { "stop" } else { "discontinue" }, is_top);
            }
            if ends > 0 {
                let times = ends.to_string();
                let attributes: &[(&str, &str)] = match ends {
                    2 => &[("direction", "backward")],
                    _ => &[("direction", "backward"), ("times", &times)],
                };
                self.xml.empty("repeat", attributes);
            }
            self.xml.close("barline");
        }
        self.xml.close("measure");
    }

    /// The bracket of an ending, shown over the top part.
    fn ending(&mut self, numbers: &str, kind: &str, is_top: bool) {
        let hidden = ("print-object", "no");
        let shown: &[(&str, &str)] = &[("number", numbers), ("type", kind)];
        match is_top {
            true => self.xml.empty("ending", shown),
            false => self.xml.empty("ending", &[shown, &[hidden]].concat()),
        }
    }

    /// The numbers of the ending that holds a bar.
    fn ending_at(&self, index: usize) -> Option<String> {
        let before = self.written.get(..=index)?;
        let bar = before.iter().rev().find(|bar| !bar.signs.ending.is_empty())?;
        Some(numbers(&bar.signs.ending))
    }

    fn signs(&self, index: usize) -> Option<&'a Signs> {
        let written: &'a [PageBar] = self.written;
        written.get(index).map(|bar| &bar.signs)
    }
}

fn numbers(ending: &[u32]) -> String {
    ending.iter().map(u32::to_string).collect::<Vec<_>>().join(",")
}

/// Bars are counted as they are played, a pick-up as 0; a bar that completes the one before has its number.
fn bar_number(page: &Page<'_>, index: usize) -> usize {
    let completes = |index: usize| index > 0 && is_pick_up(page.bars, index);
    let counted = (1..=index).filter(|index| !completes(*index)).count();
    counted + usize::from(!is_pick_up(page.bars, 0))
}
