//! Puts the bundles where the system's hosts look for them, and takes them away again.
//!
//! For the present user only; nothing needs an administrator's rights. Folders as CLAP's `entry.h` and
//! Steinberg's "VST 3 Locations / Format" list them.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};

use crate::bundle;

/// The folders of CLAP and VST3 plugins of the present user.
fn folders() -> Result<[PathBuf; 2]> {
    let variable = |name: &str| {
        std::env::var_os(name)
            .filter(|value| !value.is_empty())
            .map(PathBuf::from)
            .with_context(|| format!("{name} is not set, so the plugin folders are not known"))
    };
    Ok(if cfg!(target_os = "macos") {
        let plugins = variable("HOME")?.join("Library/Audio/Plug-Ins");
        [plugins.join("CLAP"), plugins.join("VST3")]
    } else if cfg!(windows) {
        let common = variable("LOCALAPPDATA")?.join("Programs").join("Common");
        [common.join("CLAP"), common.join("VST3")]
    } else {
        let home = variable("HOME")?;
        [home.join(".clap"), home.join(".vst3")]
    })
}

/// Builds the bundles and installs them; says where.
pub(crate) fn install() -> Result<()> {
    let folders = folders()?;
    let bundles = bundle::release()?;
    put(&[&bundles.clap, &bundles.vst3], &folders)
}

/// Takes both away; says from where.
pub(crate) fn uninstall() -> Result<()> {
    remove(&folders()?)
}

fn put(bundles: &[&Path; 2], folders: &[PathBuf; 2]) -> Result<()> {
    for (bundle, folder) in bundles.iter().zip(folders) {
        let name = bundle.file_name().context("a bundle without a name")?;
        let to = folder.join(name);
        let context = || format!("{} could not be installed; is a host using it?", to.display());
        fs::create_dir_all(folder).with_context(context)?;
        // Whole before it is in its place: a host may look at any time.
        let part = folder.join(format!(".{}.part", name.to_string_lossy()));
        clear(&part).with_context(context)?;
        copy(bundle, &part).with_context(context)?;
        clear(&to).with_context(context)?;
        fs::rename(&part, &to).with_context(context)?;
        say!("installed {}", to.display());
    }
    say!("Have your host look for plugins again. `cargo xtask uninstall` takes them away.");
    Ok(())
}

fn remove(folders: &[PathBuf; 2]) -> Result<()> {
    let mut found = 0;
    for (folder, name) in folders.iter().zip(["Figwort.clap", "Figwort.vst3"]) {
        let path = folder.join(name);
        if path.exists() {
            clear(&path).with_context(|| format!("{} could not be removed", path.display()))?;
            say!("removed {}", path.display());
            found += 1;
        }
    }
    if found == 0 {
        bail!("nothing is installed in {} or {}", folders[0].display(), folders[1].display());
    }
    Ok(())
}

/// Removes a file or folder, if it is there.
fn clear(path: &Path) -> std::io::Result<()> {
    match fs::symlink_metadata(path) {
        Ok(about) if about.is_dir() => fs::remove_dir_all(path),
        Ok(_) => fs::remove_file(path),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(()),
        Err(error) => Err(error),
    }
}

/// Copies a file, or a folder with everything in it.
fn copy(from: &Path, to: &Path) -> std::io::Result<()> {
    if !from.is_dir() {
        return fs::copy(from, to).map(|_| ());
    }
    fs::create_dir(to)?;
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        copy(&entry.path(), &to.join(entry.file_name()))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_installed_is_whole_and_goes_again() {
        let place = std::env::temp_dir().join(format!("figwort-install-{}", std::process::id()));
        let built = place.join("built");
        let (clap, vst3) = (built.join("Figwort.clap"), built.join("Figwort.vst3"));
        fs::create_dir_all(vst3.join("Contents/so")).expect("made");
        fs::write(&clap, b"clap").expect("written");
        fs::write(vst3.join("Contents/so/Figwort.so"), b"vst3").expect("written");
        let folders = [place.join("hosts/clap"), place.join("hosts/vst3")];
        // Twice: the second replaces the first.
        for _ in 0..2 {
            put(&[&clap, &vst3], &folders).expect("installed");
            assert_eq!(fs::read(folders[0].join("Figwort.clap")).expect("there"), b"clap");
            let inner = folders[1].join("Figwort.vst3/Contents/so/Figwort.so");
            assert_eq!(fs::read(inner).expect("there"), b"vst3");
        }
        assert_eq!(fs::read_dir(&folders[1]).expect("there").count(), 1, "something is left behind");
        fs::write(folders[0].join("Other.clap"), b"not ours").expect("written");
        remove(&folders).expect("removed");
        assert_eq!(fs::read_dir(&folders[0]).expect("there").count(), 1, "only ours goes");
        assert_eq!(fs::read_dir(&folders[1]).expect("there").count(), 0);
        assert!(remove(&folders).is_err());
        fs::remove_dir_all(&place).expect("cleared");
    }
}
