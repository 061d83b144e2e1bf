//! Builds the plugin and packs it as CLAP and VST3.
//!
//! The library is put into a folder of its own before it is packed: in cargo's folder the bundler would take
//! the command line program, which is called `figwort` as well, for the plugin's standalone.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};

use crate::{root, run, target};

/// Where the bundles are.
pub(crate) struct Bundles {
    /// The CLAP file.
    pub(crate) clap: PathBuf,
    /// The VST3 folder.
    pub(crate) vst3: PathBuf,
}

impl Bundles {
    /// Says where they are.
    pub(crate) fn report(&self) {
        say!("{}\n{}", self.clap.display(), self.vst3.display());
    }
}

/// The bundles to install.
pub(crate) fn release() -> Result<Bundles> {
    release_with(&[])
}

/// The bundles to install, and what else these arguments ask cargo to build.
pub(crate) fn release_with(more: &[&str]) -> Result<Bundles> {
    let arguments = ["build", "--release", "-p", "figwort", "--lib"];
    run::run(run::cargo(&arguments)?.args(more))?;
    pack("release", "bundled")
}

/// Quickly built bundles, for tests. All libraries are built together, as cargo then settles on the features
/// that it also settles on for the tests, and nothing is built twice.
pub(crate) fn dev() -> Result<Bundles> {
    run::run(&mut run::cargo(&["build", "--workspace", "--lib"])?)?;
    pack("debug", "bundled-dev")
}

/// Bundles that end the process when the audio thread allocates, for one test.
pub(crate) fn guarded() -> Result<Bundles> {
    let arguments = ["build", "--workspace", "--lib", "--features", "figwort/alloc-guard"];
    run::run(&mut run::cargo(&arguments)?)?;
    pack("debug", "bundled-guarded")
}

/// Packs the library of a profile into a folder of the target folder.
fn pack(profile: &str, folder: &str) -> Result<Bundles> {
    let target = target()?;
    let library = format!("{}figwort{}", std::env::consts::DLL_PREFIX, std::env::consts::DLL_SUFFIX);
    let stage = target.join("staging").join(folder);
    let staged = stage.join(profile).join(&library);
    let built = target.join(profile).join(&library);
    let context = || format!("{} could not be staged", built.display());
    fs::create_dir_all(stage.join(profile)).with_context(context)?;
    replace(&built, &staged).with_context(context)?;

    let back = std::env::current_dir()?;
    std::env::set_current_dir(root()?.join("xtask"))?;
    let arguments: &[String] = if profile == "release" { &["--release".to_owned()] } else { &[] };
    let packed = nice_plug_xtask::bundle(&stage, "figwort", arguments, false);
    std::env::set_current_dir(back)?;
    packed?;

    let done = target.join(folder);
    if done.exists() {
        fs::remove_dir_all(&done).with_context(|| format!("{} could not be replaced", done.display()))?;
    }
    fs::rename(stage.join("bundled"), &done)?;
    let bundles = Bundles { clap: done.join("Figwort.clap"), vst3: done.join("Figwort.vst3") };
    for bundle in [&bundles.clap, &bundles.vst3] {
        if !bundle.exists() {
            bail!("{} was not made", bundle.display());
        }
    }
    Ok(bundles)
}

/// A second name for the file, or a copy where the disk knows no second names.
fn replace(from: &Path, to: &Path) -> Result<()> {
    if to.exists() {
        fs::remove_file(to)?;
    }
    if fs::hard_link(from, to).is_err() {
        fs::copy(from, to)?;
    }
    Ok(())
}
