//! The pictures of the editor, painted by the tests that also check them.
//!
//! Deliberately absent: judging them, which is for eyes.

use anyhow::Result;

use crate::run;

/// Paints them into `pictures` in the target folder.
pub(crate) fn paint() -> Result<()> {
    let folder = crate::target()?.join("pictures");
    run::headline("Painting the editor");
    let mut command = run::cargo(&["test", "-p", "tests", "--test", "pictures"])?;
    run::run(command.env("FIGWORT_PICTURES", &folder))?;
    run::headline(&format!("The pictures are in {}", folder.display()));
    Ok(())
}
