//! The pictures of the editor, painted by the tests that also check them.
//!
//! Deliberately absent: judging them, which is for eyes.

use anyhow::{Context, Result};

use crate::run;

/// Pictures that README.md shows: as they are painted, and their names in `plugin/shell/pictures`.
const SHOWN: [(&str, &str); 2] = [("editor-usual-light", "playing"), ("editor-sheet", "sheet")];

/// Paints them into `pictures` in the target folder, and those that README.md shows anew.
pub(crate) fn paint() -> Result<()> {
    let folder = crate::target()?.join("pictures");
    run::headline("Painting the editor");
    let mut command = run::cargo(&["test", "-p", "tests", "--test", "pictures"])?;
    run::run(command.env("FIGWORT_PICTURES", &folder))?;
    for (painted, shown) in SHOWN {
        let (from, to) = (folder.join(painted), crate::root()?.join("plugin/shell/pictures").join(shown));
        let (from, to) = (from.with_extension("png"), to.with_extension("png"));
        std::fs::copy(&from, &to).with_context(|| format!("{} cannot be copied", from.display()))?;
    }
    run::headline(&format!("The pictures are in {}", folder.display()));
    Ok(())
}
