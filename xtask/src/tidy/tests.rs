//! Each rule catches a seeded breach and lets the like of it that is allowed pass.

use super::*;

fn problems(files: &[(&str, &str)]) -> Vec<String> {
    check(&files.iter().map(|(path, text)| ((*path).to_owned(), (*text).to_owned())).collect())
}

/// The rule itself, on this repository.
#[test]
fn the_repository_is_tidy() {
    let tree = read_tree(&crate::root().expect("a root")).expect("a tree");
    assert!(tree.len() > 40, "only {} files found", tree.len());
    let problems = check(&tree);
    assert!(problems.is_empty(), "\n{}", problems.join("\n"));
}

#[test]
fn a_wrong_edge_is_found() {
    let manifest = |section: &str, other: &str| {
        format!("[package]\nname = \"figwort-engine\"\n[{section}]\n{other}.workspace = true\n")
    };
    for section in ["dependencies", "dev-dependencies", "build-dependencies"] {
        let found = problems(&[("plugin/engine/Cargo.toml", &manifest(section, "figwort-sheet"))]);
        assert_eq!(found, ["plugin/engine/Cargo.toml: figwort-engine may not depend on figwort-sheet"]);
        assert!(problems(&[("plugin/engine/Cargo.toml", &manifest(section, "figwort-theory"))]).is_empty());
    }
}

#[test]
fn what_tests_may_use_the_crate_may_not() {
    let manifest = |section: &str| {
        format!(
            "[package]\nname = \"figwort-render\"\n[{section}]\nfigwort-preset = {{ path = \"../preset\" }}\n"
        )
    };
    assert!(problems(&[("plugin/render/Cargo.toml", &manifest("dev-dependencies"))]).is_empty());
    assert_eq!(problems(&[("plugin/render/Cargo.toml", &manifest("dependencies"))]).len(), 1);
}

#[test]
fn an_unknown_crate_is_found() {
    assert_eq!(problems(&[("plugin/util/Cargo.toml", "[package]\nname = \"figwort-util\"\n")]).len(), 1);
}

#[test]
fn a_stage_that_looks_forward_is_found() {
    let forward = [
        "use crate::engine::Engine;",
        "use crate::{event::Block, schedule::Scheduler};",
        "use crate::{\n    event::{Block, Hand},\n    schedule::Scheduler,\n};",
        "fn f() -> crate::touch::Accent {}",
        "pub(crate) use crate::snapshot::*;",
        "use super::super::engine::Engine;",
    ];
    for text in forward {
        let found = problems(&[("plugin/engine/src/voicing/hands.rs", text)]);
        assert_eq!(found.len(), 1, "{text}: {found:?}");
        assert!(found[0].contains("voicing looks forward"), "{found:?}");
    }
    let backward = [
        "use crate::{event::{Block, Hand}, decision::Plan};",
        "use crate::voicing::spacing;",
        "// see crate::engine",
        "use other_crate::engine::Engine;",
    ];
    for text in backward {
        assert!(problems(&[("plugin/engine/src/voicing/hands.rs", text)]).is_empty(), "{text}");
    }
    assert_eq!(problems(&[("plugin/engine/src/event.rs", "use crate::reading::Reading;")]).len(), 1);
}

#[test]
fn a_name_without_its_module_is_found() {
    let found = problems(&[("plugin/engine/src/event.rs", "use crate::Engine;")]);
    assert_eq!(found, ["plugin/engine/src/event.rs:1: name the module that Engine is from"]);
}

#[test]
fn a_stage_without_a_place_is_found() {
    assert_eq!(problems(&[("plugin/engine/src/misc.rs", "")]).len(), 1);
}

#[test]
fn a_long_file_is_found() {
    assert_eq!(problems(&[("xtask/src/long.rs", &"\n".repeat(MAX_LINES + 1))]).len(), 1);
    assert!(problems(&[("xtask/src/long.rs", &"\n".repeat(MAX_LINES))]).is_empty());
}

#[test]
fn a_stranger_at_the_top_is_found() {
    assert_eq!(problems(&[("notes/idea.md", "")]).len(), 1);
    assert!(problems(&[("presets/songs/a.abc", ""), ("Cargo.toml", "")]).is_empty());
}

#[test]
fn words_left_behind_are_found() {
    for (word, _) in WORDS {
        let found = problems(&[("plugin/cli/src/main.rs", &format!("\nlet a = {word}"))]);
        assert_eq!(found.len(), 1, "{word}: {found:?}");
        assert!(found[0].starts_with("plugin/cli/src/main.rs:2:"), "{found:?}");
    }
}
