//! How commands reach the barn: through a hub that runs, as the office; or straight into its journal.

use anyhow::Context;
use bellmare_barn::input::Input;
use bellmare_hub::clock::Clock;
use bellmare_hub::journal::{Entry, Journal, Opening};
use bellmare_hub::settings::Settings;
use bellmare_hub::web::OfficeToken;

/// The hub that runs by some settings.
pub(crate) struct Office {
    address: String,
    bearer: String,
}

impl Office {
    /// Reads the token in the hub's data folder.
    pub(crate) fn of(settings: &Settings) -> anyhow::Result<Self> {
        let token =
            OfficeToken::read(&settings.data.folder.join(OfficeToken::FILE)).context("reading the office token")?;
        Ok(Self { address: settings.web.listen.to_string(), bearer: format!("Bearer {}", token.as_str()) })
    }

    /// The address of one of its pages.
    pub(crate) fn url(&self, path: &str) -> String {
        format!("http://{}{path}", self.address)
    }

    /// What to say in `Authorization`.
    pub(crate) fn bearer(&self) -> &str {
        &self.bearer
    }
}

/// Writes one more entry into the journal of a hub that does not run, and closes it.
pub(crate) fn append(journal: Journal, opening: &Opening, settings: &Settings, input: Input) -> anyhow::Result<()> {
    let now = Clock::system_with(&settings.data.folder, opening.last).now();
    let seq = journal.last_seq() + 1;
    journal.append(&[Entry { seq, boot: opening.boot, now, delivery: None, input }])?;
    journal.close()?;
    Ok(())
}
