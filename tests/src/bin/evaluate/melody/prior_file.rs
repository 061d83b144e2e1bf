//! The prior as Rust source.

use std::fmt::Write;

use figwort_engine::reading::chance::Prior;

/// The text of `chance/prior.rs`; `sources` say what it was counted from.
pub(super) fn write(prior: &Prior, sources: &[String]) -> String {
    let mut text = String::from(
        "//! The prior of the chance of long notes: weights counted from open collections of tunes. Written by\n\
         //! `cargo xtask train`, not by hand; no tune can be had back from it. Counted from:\n//!\n",
    );
    for source in sources {
        let _ = writeln!(text, "//! - {source}");
    }
    let [half, two] = prior.base;
    let _ = write!(
        text,
        "\nuse super::trees::{{Prior, Tree}};\n\n/// What is known before a tune begins.\n\
         pub const PRIOR: Prior = Prior {{ base: [{half:.4}, {two:.4}], trees: &TREES }};\n\n\
         /// A tree a line: the cues, the values that they have to be over, and the leaves' two answers.\n\
         #[rustfmt::skip]\nconst TREES: [Tree; {}] = [\n",
        prior.trees.len()
    );
    for tree in prior.trees {
        let leaves: Vec<String> = tree.leaves.iter().map(|[half, two]| format!("[{half},{two}]")).collect();
        let list = |bytes: &[u8]| bytes.iter().map(u8::to_string).collect::<Vec<_>>().join(",");
        let (cues, over) = (list(&tree.cues), list(&tree.over));
        let _ =
            writeln!(text, "    Tree {{ cues: [{cues}], over: [{over}], leaves: [{}] }},", leaves.join(","));
    }
    text.push_str("];\n");
    text
}
