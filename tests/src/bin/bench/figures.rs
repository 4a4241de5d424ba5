//! Figures of one hub: what it says of itself, what the system says of it, and how a list of times is summed up.

use std::process::Command;
use std::sync::LazyLock;
use std::time::Duration;

use anyhow::{Context, ensure};
use bellmare_tests::hub::Hub;
use bellmare_tests::wait::until;

/// How long things took.
#[derive(Clone, Debug)]
pub struct Spread(Vec<Duration>);

impl Spread {
    /// Of these, at least one.
    pub fn of(mut times: Vec<Duration>) -> Self {
        assert!(!times.is_empty(), "nothing was measured");
        times.sort_unstable();
        Self(times)
    }

    /// So many of a hundred took this or less; in milliseconds.
    pub fn percentile(&self, of_hundred: usize) -> f64 {
        let rank = (self.0.len() * of_hundred).div_ceil(100).max(1);
        self.0[rank - 1].as_secs_f64() * 1e3
    }

    /// How many there are.
    pub fn count(&self) -> usize {
        self.0.len()
    }
}

/// One number of the hub's metrics. Asked on a line that stays: a new one each time would cost the hub more than the answer.
pub fn metric(hub: &Hub, name: &str) -> Result<u64, String> {
    static LINES: LazyLock<ureq::Agent> = LazyLock::new(ureq::Agent::new_with_defaults);
    let text = LINES.get(hub.url("/metrics")).call().and_then(|mut answer| answer.body_mut().read_to_string());
    find(&text.map_err(|why| why.to_string())?, name)
}

/// Waits until the hub hears its broker and has nothing in hand; then how many entries its journal has.
pub fn settled(hub: &Hub) -> u64 {
    let mut last = None;
    until("the hub hears the broker and is at rest", Duration::from_secs(20), || {
        let up = metric(hub, "bellmare_broker_up")?;
        let entries = metric(hub, "bellmare_journal_entries")?;
        let at_rest = last.replace(entries) == Some(entries);
        if up == 1 && at_rest { Ok(entries) } else { Err(format!("broker_up {up}, journal_entries {entries}")) }
    })
}

/// Bytes that this process has sent over its connection to a port of loopback, and that have arrived there: how many
/// acknowledgements the broker has, without asking either.
pub fn bytes_arrived(pid: u32, port: u16) -> Result<u64, String> {
    let said = Command::new("ss").args(["-Htinp", "dport", "=", &format!(":{port}")]).output();
    let said = said.map_err(|why| format!("running ss, of the package iproute2: {why}"))?;
    arrived(&String::from_utf8_lossy(&said.stdout), pid).ok_or_else(|| format!("process {pid} has no such connection"))
}

/// Connections that a broker has not finished with: it has yet to read what came over them.
pub fn connections(port: u16) -> Result<usize, String> {
    let of_broker = ["-Htn", "state", "established", "state", "close-wait", "sport", "=", &format!(":{port}")];
    let said = Command::new("ss").args(of_broker).output();
    let said = said.map_err(|why| format!("running ss, of the package iproute2: {why}"))?;
    Ok(String::from_utf8_lossy(&said.stdout).lines().count())
}

/// Each connection has a line that names its process, and one that begins with blanks and has its figures.
fn arrived(sockets: &str, pid: u32) -> Option<u64> {
    let mut lines = sockets.lines().skip_while(|line| !line.contains(&format!("pid={pid},")));
    let figures = lines.nth(1)?;
    figures.split_whitespace().find_map(|figure| figure.strip_prefix("bytes_acked:"))?.parse().ok()
}

/// Memory of a process, now and at its most, in MiB.
pub fn resident(pid: u32) -> anyhow::Result<(f64, f64)> {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).context("reading the process's status")?;
    let field = |name: &str| {
        let line = status.lines().find_map(|line| line.strip_prefix(name)).context("no such line")?;
        let kib: f64 = line.trim().trim_end_matches(" kB").parse().context("no number")?;
        anyhow::Ok(kib / 1024.0)
    };
    Ok((field("VmRSS:").context("VmRSS")?, field("VmHWM:").context("VmHWM")?))
}

/// How many readings a journal holds; its hub must have ended.
pub fn readings_kept(hub: &Hub, expected: u64) -> anyhow::Result<()> {
    let journal = rusqlite::Connection::open(hub.journal()).context("opening the journal")?;
    let count: i64 = journal.query_row("SELECT count(*) FROM readings", [], |row| row.get(0)).context("counting")?;
    ensure!(count.cast_unsigned() == expected, "the journal holds {count} readings and not {expected}");
    Ok(())
}

fn find(text: &str, name: &str) -> Result<u64, String> {
    let value = text.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(' '));
    value.and_then(|value| value.trim().parse().ok()).ok_or_else(|| format!("no {name} in the metrics"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_percentile_is_one_of_the_times() {
        let spread = Spread::of((1..=200).rev().map(Duration::from_millis).collect());
        for (of_hundred, ms) in [(0, 1.0), (50, 100.0), (99, 198.0), (100, 200.0)] {
            assert_eq!(spread.percentile(of_hundred), ms, "p{of_hundred}");
        }
        assert_eq!(Spread::of(vec![Duration::from_millis(7)]).percentile(99), 7.0);
    }

    #[test]
    fn a_connection_is_found_by_its_process() {
        let sockets = "ESTAB 0 0 127.0.0.1:5 127.0.0.1:9 users:((\"bench\",pid=7,fd=3))\n\
                       \t cubic bytes_sent:50 bytes_acked:51 segs_out:3\n\
                       ESTAB 0 0 127.0.0.1:6 127.0.0.1:9 users:((\"hub\",pid=71,fd=9))\n\
                       \t cubic bytes_sent:90 bytes_acked:80 segs_out:3\n";
        assert_eq!(arrived(sockets, 71), Some(80));
        assert_eq!(arrived(sockets, 1), None);
    }

    #[test]
    fn a_metric_is_found_by_its_whole_name() {
        let text = "bellmare_inputs_total 7\nbellmare_inputs 9\n# EOF\n";
        assert_eq!(find(text, "bellmare_inputs"), Ok(9));
        assert!(find(text, "bellmare_input").is_err());
    }
}
