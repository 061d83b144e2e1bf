//! Pictures: nothing overlaps, everything is there, and it becomes a PNG.

use super::*;
use crate::perform::{ChordMark, PlayedBar};
use crate::sample;
use figwort_theory::{Key, Metre, Moment, Span};
use resvg::usvg::{Group, Node};

/// Bounds of every text as it is really set, with its words.
fn texts(group: &Group, found: &mut Vec<(String, [f32; 4])>) {
    for node in group.children() {
        match node {
            Node::Group(group) => texts(group, found),
            Node::Text(text) => {
                let words = text.chunks().iter().map(|chunk| chunk.text()).collect();
                let b = text.abs_bounding_box();
                found.push((words, [b.left(), b.top(), b.right(), b.bottom()]));
            }
            _ => {}
        }
    }
}

fn lettering(svg: &str) -> Vec<(String, [f32; 4])> {
    let mut found = Vec::new();
    texts(png::tree(svg).unwrap().root(), &mut found);
    found
}

/// A crowded piece: two chord changes a beat with long symbols, many bars, a range of four octaves.
fn crowded() -> Performance {
    let mut performance = sample::two_bars();
    let bar = |index: i64| PlayedBar {
        start: Moment::quarters(1 + 4 * index),
        length: Span::WHOLE,
        metre: Metre::FOUR_FOUR,
        key: Key::default(),
        number: index as u32 + 98,
        section: false,
    };
    performance.bars.truncate(1);
    performance.bars.extend((0..9).map(bar));
    performance.end = Moment::quarters(37);
    performance.title =
        "A title with <angles> & \"quotes\" that goes on and on and on until it does not fit \
                         any more at its full size, so that it has to be set smaller than others"
            .into();
    performance.chords = (0..60)
        .map(|step| ChordMark {
            at: Moment::quarters(1) + Span::EIGHTH * step,
            text: ["Ebm7b5/Bbb", "F#7(b9,#11)", "Cmaj7", "N.C."][step as usize % 4].into(),
            chord: performance.chords[0].chord,
        })
        .collect();
    performance
}

#[test]
fn no_text_overlaps_another_or_leaves_the_page() {
    for performance in [sample::two_bars(), crowded()] {
        for bars_per_row in [1, 2, 4, 8] {
            let svg = svg(&performance, &PictureOptions { bars_per_row, ..PictureOptions::default() });
            let found = lettering(&svg);
            assert!(found.len() > 8);
            let height = png::tree(&svg).unwrap().size().height();
            for (index, (words, a)) in found.iter().enumerate() {
                assert!(a[0] >= 4.0 && a[2] <= 1_238.0 && a[1] >= 0.0 && a[3] <= height, "{words}: {a:?}");
                for (others, b) in &found[index + 1..] {
                    let apart = a[2] <= b[0] + 0.5 || b[2] <= a[0] + 0.5 || a[3] <= b[1] || b[3] <= a[1];
                    assert!(apart, "{words} {a:?} lies over {others} {b:?} at {bars_per_row} bars a row");
                }
            }
        }
    }
}

/// Our table of widths against the font as it is set, to a pixel in a hundred.
#[test]
fn widths_are_those_of_the_font() {
    for words in ["Ebmaj7sus4", "the melody stands", "Quick Zephyrs Blow (13)"] {
        let ours = lettering::width(&lettering::plain(words), 100.0);
        let svg = format!(
            r#"<svg xmlns="http://www.w3.org/2000/svg" width="2000" height="200"><text x="0" y="100" font-size="100" font-family="Ubuntu" font-weight="300">{words}</text></svg>"#
        );
        let (_, set) = &lettering(&svg)[0];
        let real = f64::from(set[2] - set[0]);
        assert!((ours - real).abs() < 0.03 * ours + 8.0, "{words}: {ours:.1} for {real:.1}");
    }
}

#[test]
fn every_kind_of_mark_is_there() {
    let svg = svg(&sample::two_bars(), &PictureOptions::default());
    let count = |what: &str| svg.matches(what).count();
    // The legend has one of each mark besides.
    assert_eq!(count(r#"class="left""#), 3 + 2 + 1);
    assert_eq!(count(r#"class="right""#), 2 + 2 + 1);
    assert_eq!(count(r#"class="head""#), 9 + 2);
    assert_eq!(count(r#"class="still""#), 2 + 1);
    assert_eq!(count(r#"class="pedal""#), 2 + 1);
    assert!(svg.contains("<title>Ebmaj7</title>") && svg.contains("<title>Bb7b9/F</title>"));
    assert!(svg.contains(">the melody stands</text>"));
    assert!(!svg.contains('♭') || svg.contains("<title>E♭ major"), "signs are drawn, not set");
}

#[test]
fn both_themes_become_pngs() {
    for theme in [Theme::Light, Theme::Dark] {
        let svg = svg(&sample::two_bars(), &PictureOptions { theme, ..PictureOptions::default() });
        let bytes = png(&svg, 0.5).unwrap();
        assert_eq!(&bytes[..8], b"\x89PNG\r\n\x1a\n");
        let pixmap = resvg::tiny_skia::Pixmap::decode_png(&bytes).unwrap();
        assert_eq!(pixmap.width(), 620);
        let dark = pixmap.pixels().iter().filter(|pixel| pixel.red() < 128).count();
        assert_eq!(dark * 2 > pixmap.pixels().len(), theme == Theme::Dark);
    }
}

#[test]
fn what_cannot_be_drawn_is_an_error() {
    assert!(matches!(png("no picture", 1.0), Err(PictureError::Svg(_))));
    let svg = svg(&Performance::default(), &PictureOptions::default());
    assert!(matches!(png(&svg, 1_000.0), Err(PictureError::Size { .. })));
    assert!(matches!(png(&svg, 0.0), Err(PictureError::Size { .. })));
    assert!(matches!(png(&svg, f32::NAN), Err(PictureError::Size { .. })));
    assert!(png(&svg, 1.0).is_ok());
}

/// A note that comes some milliseconds before a row's end belongs to the next row, with its head.
#[test]
fn early_notes_are_drawn_where_they_are_meant() {
    let count = |early: i64| {
        let mut performance = sample::two_bars();
        let at = Moment(Moment::quarters(5).0 - early);
        performance.notes = vec![sample::note(figwort_engine::Hand::Melody, 72, at, Span::QUARTER * 2, 70)];
        let svg = svg(&performance, &PictureOptions { bars_per_row: 1, ..PictureOptions::default() });
        // Without the two of the legend.
        [r#"class="head""#, r#"class="melody""#].map(|what| svg.matches(what).count() - 2)
    };
    assert_eq!(count(0), [1, 1]);
    assert_eq!(count(800), [1, 1]);
    assert_eq!(count(Span::EIGHTH.0), [1, 2]);
}

/// Every row is on one of the pages, whole, and no page is longer than paper.
#[test]
fn pages_hold_all_the_rows() {
    let performance = crowded();
    let options = PictureOptions { bars_per_row: 1, ..PictureOptions::default() };
    let pages = pages(&performance, &options);
    assert!(pages.len() >= 2, "{}", pages.len());
    let words = |svg: &str| lettering(svg).into_iter().map(|(text, _)| text).collect::<Vec<_>>();
    let whole = words(&svg(&performance, &options));
    let mut paged: Vec<String> = pages.iter().flat_map(|page| words(page)).collect();
    assert!(words(&pages[1]).iter().any(|text| text.contains("· 2")));
    for text in whole {
        let place = paged.iter().position(|other| *other == text).unwrap_or_else(|| panic!("{text}"));
        paged.remove(place);
    }
    for page in &pages {
        let size = png::tree(page).unwrap().size();
        assert!(size.width() == 1_240.0 && size.height() <= 1_754.0, "{size:?}");
    }
}
