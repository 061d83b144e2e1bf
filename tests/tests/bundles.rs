//! The bundles as files: their layout, what they need of the system, and what they show of themselves.
#![cfg(target_os = "linux")]
#![allow(unsafe_code, reason = "loading a library is")]

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;

use libloading::os::unix::{Library, RTLD_LOCAL, RTLD_NOW};
use tests::host::bundle;

/// Both libraries.
fn libraries() -> [PathBuf; 2] {
    let inside = format!("Contents/{}-linux/Figwort.so", std::env::consts::ARCH);
    [bundle("FIGWORT_CLAP"), bundle("FIGWORT_VST3").join(inside)]
}

fn told(program: &str, arguments: &[&str], path: &Path) -> String {
    let output = Command::new(program).args(arguments).arg(path).output();
    let output = output.unwrap_or_else(|error| panic!("{program} can't be run: {error}"));
    let complaint = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{program} {}: {complaint}", path.display());
    String::from_utf8_lossy(&output.stdout).into_owned() + &complaint
}

fn files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("a folder that can be read") {
        let path = entry.expect("an entry").path();
        if path.is_dir() { files(&path, found) } else { found.push(path) }
    }
}

/// CLAP is one file. VST3 is a folder with a library for each system; source: VST 3 Developer Portal, "VST 3
/// Locations / Format: Plug-in format structure, Linux".
#[test]
fn the_layout_is_the_formats() {
    let [clap, vst3] = libraries();
    assert!(clap.is_file() && clap.extension().is_some_and(|e| e == "clap"), "{}", clap.display());
    let folder = bundle("FIGWORT_VST3");
    assert!(folder.is_dir() && folder.extension().is_some_and(|e| e == "vst3"), "{}", folder.display());
    let mut found = Vec::new();
    files(&folder, &mut found);
    assert_eq!(found, [vst3]);
}

/// Every symbol is found when the library is loaded, not when it is first called; the second load and the unload
/// do no harm either.
#[test]
fn they_load_with_every_symbol_bound() {
    for path in libraries() {
        for _ in 0..2 {
            // SAFETY: our own plugins, which do nothing when they are loaded.
            let library = unsafe { Library::open(Some(&path), RTLD_NOW | RTLD_LOCAL) };
            library.unwrap_or_else(|error| panic!("{}: {error}", path.display())).close().expect("an unload");
        }
        let needs = told("ldd", &["-r"], &path);
        assert!(!needs.contains("undefined symbol") && !needs.contains("not found"), "{needs}");
    }
}

/// Only what every Linux has is needed before an editor is opened.
#[test]
fn they_need_nothing_but_the_c_library() {
    let usual = ["linux-vdso", "libc.", "libm.", "libgcc_s.", "libdl.", "libpthread.", "librt.", "ld-linux"];
    for path in libraries() {
        let needs = told("ldd", &[], &path);
        assert!(needs.contains("libc."), "{needs}");
        for line in needs.lines() {
            assert!(usual.iter().any(|name| line.contains(name)), "{} needs {line}", path.display());
        }
    }
}

/// What is exported is what the formats look for, and nothing that could be taken for another library's.
#[test]
fn they_export_the_entries_alone() {
    let wanted = BTreeSet::from(["clap_entry", "GetPluginFactory", "ModuleEntry", "ModuleExit"]);
    for path in libraries() {
        let table = told("nm", &["-D", "--defined-only"], &path);
        let names: BTreeSet<&str> = table.lines().filter_map(|line| line.split_whitespace().nth(2)).collect();
        assert_eq!(names, wanted, "{}", path.display());
    }
}
