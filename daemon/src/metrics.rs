//! Numbers for whoever watches over the hub, as OpenMetrics text.

use prometheus_client::encoding::text::encode;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::registry::{Registry, Unit};

/// Upper bounds of the commit histogram in seconds: a fast disk takes 0.1 ms, a bad card some 100 ms.
const COMMIT_SECONDS: [f64; 10] = [0.0005, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.5, 2.0];

/// Upper bounds of the planning histogram in seconds: a small day takes some ms, a camp on a small board seconds.
const PLAN_SECONDS: [f64; 9] = [0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.25, 1.0, 4.0];

/// All numbers. Clones of a counter count together.
#[derive(Debug)]
pub struct Metrics {
    registry: Registry,
    /// Inputs taken.
    pub inputs: Counter,
    /// Messages that the broker sent again and that had been taken before.
    pub repeats: Counter,
    /// Commits to the journal.
    pub commits: Counter,
    /// Commits that failed, and were tried again.
    pub failed_commits: Counter,
    /// How long a commit took.
    pub commit_seconds: Histogram,
    /// How long a plan took.
    pub plan_seconds: Histogram,
    /// Boards published.
    pub boards: Counter,
    /// Alarms raised.
    pub alarms_raised: Counter,
    /// Alarms that stand now.
    pub alarms_standing: Gauge,
    /// Messages to people and programs that went out.
    pub messages_sent: Counter,
    /// Attempts to send messages that failed.
    pub messages_failed: Counter,
    /// Messages that wait to be sent.
    pub messages_waiting: Gauge,
    /// 1 while the broker can be reached.
    pub broker_up: Gauge,
    /// 1 while the journal can be written.
    pub journal_up: Gauge,
    /// Entries in the journal.
    pub journal_entries: Gauge,
}

impl Metrics {
    /// All at zero.
    pub fn new() -> Self {
        let mut registry = Registry::with_prefix("bellmare");
        let mut counter = |name: &str, help: &str| {
            let counter = Counter::default();
            registry.register(name, help, counter.clone());
            counter
        };
        let inputs = counter("inputs", "Inputs taken");
        let repeats = counter("repeats", "Messages sent again that had been taken before");
        let commits = counter("commits", "Commits to the journal");
        let failed_commits = counter("failed_commits", "Commits that failed and were tried again");
        let boards = counter("boards", "Boards published");
        let alarms_raised = counter("alarms_raised", "Alarms raised");
        let messages_sent = counter("messages_sent", "Messages to people and programs that went out");
        let messages_failed = counter("messages_failed", "Attempts to send messages that failed");
        let mut gauge = |name: &str, help: &str| {
            let gauge = Gauge::default();
            registry.register(name, help, gauge.clone());
            gauge
        };
        let alarms_standing = gauge("alarms_standing", "Alarms that stand now");
        let messages_waiting = gauge("messages_waiting", "Messages that wait to be sent");
        let broker_up = gauge("broker_up", "1 while the broker can be reached");
        let journal_up = gauge("journal_up", "1 while the journal can be written");
        let journal_entries = gauge("journal_entries", "Entries in the journal");
        let commit_seconds = Histogram::new(COMMIT_SECONDS);
        registry.register_with_unit("commit", "How long a commit took", Unit::Seconds, commit_seconds.clone());
        let plan_seconds = Histogram::new(PLAN_SECONDS);
        registry.register_with_unit("plan", "How long a plan took", Unit::Seconds, plan_seconds.clone());
        Self {
            registry,
            inputs,
            repeats,
            commits,
            failed_commits,
            commit_seconds,
            plan_seconds,
            boards,
            alarms_raised,
            alarms_standing,
            messages_sent,
            messages_failed,
            messages_waiting,
            broker_up,
            journal_up,
            journal_entries,
        }
    }

    /// As OpenMetrics text, closed by `# EOF`.
    ///
    /// # Errors
    /// Only where writing to a string fails.
    pub fn text(&self) -> Result<String, std::fmt::Error> {
        let mut text = String::new();
        encode(&mut text, &self.registry)?;
        Ok(text)
    }
}

impl Default for Metrics {
    fn default() -> Self {
        Self::new()
    }
}
