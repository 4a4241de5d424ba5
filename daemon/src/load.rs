//! `bellmare-hub load`: a checked book becomes the book of the barn. A hub that runs is handed it; where none runs, it goes
//! straight into the journal.

use std::path::Path;
use std::sync::Arc;

use anyhow::{Context, bail};
use bellmare_barn::input::Input;
use bellmare_hub::exchange;
use bellmare_hub::journal::{Journal, JournalError, Options};
use bellmare_hub::settings::Settings;

use super::office::{self, Office};

/// Loads the book in `dir` for the hub of these settings.
pub(crate) fn load(dir: &Path, settings: &Settings, journal: &Path) -> anyhow::Result<()> {
    let book = match exchange::read_book(dir) {
        Ok(book) => book,
        Err(faults) => {
            println!("{}", exchange::report(&faults));
            bail!("the book in {} has faults; the old book stays", dir.display());
        }
    };
    std::fs::create_dir_all(&settings.data.folder)
        .with_context(|| format!("using the data folder {}", settings.data.folder.display()))?;
    match Journal::open(journal, &Options::default()) {
        Ok((journal, opening)) => {
            office::append(journal, &opening, settings, Input::Book(Arc::new(book)))?;
            println!("The book is kept; no hub was running.");
        }
        Err(JournalError::Locked { .. }) => {
            hand_over(&book, settings)?;
            println!("The hub has taken the book.");
        }
        Err(why) => return Err(why).context("opening the journal"),
    }
    Ok(())
}

fn hand_over(book: &bellmare_barn::book::Book, settings: &Settings) -> anyhow::Result<()> {
    let office = Office::of(settings)?;
    let url = office.url("/book");
    ureq::put(&url)
        .header("Authorization", office.bearer())
        .send_json(book)
        .with_context(|| format!("handing the book to the hub at {url}"))?;
    Ok(())
}
