//! The history of alarms through the real program: listed beside a hub that runs, from the journal where none does, and over a
//! kill.

use std::process::Command;
use std::time::Duration;

use bellmare_tests::client::publish;
use bellmare_tests::hub::{Broker, Hub, program};
use bellmare_tests::wait::until;
use serde_json::Value;

fn list(hub: &Hub) -> Result<Value, String> {
    let told = Command::new(program()).args(["alarms", "--json", "--settings"]).arg(hub.settings()).output();
    let told = told.map_err(|why| why.to_string())?;
    if !told.status.success() {
        return Err(String::from_utf8_lossy(&told.stderr).into_owned());
    }
    serde_json::from_slice(&told.stdout).map_err(|why| why.to_string())
}

/// Waits until so many alarms stand and so many have ended.
fn counts(hub: &Hub, stands: usize, was: usize) -> Value {
    until("the list says so", Duration::from_secs(30), || {
        let list = list(hub)?;
        let count = |key: &str| list[key].as_array().map_or(0, Vec::len);
        if (count("stands"), count("was")) == (stands, was) { Ok(list) } else { Err(list.to_string()) }
    })
}

#[test]
fn alarms_are_listed_beside_a_running_hub_from_its_journal_and_over_a_kill() {
    let mut hub = Hub::new(3, Broker::Embedded, "[limits.alarms]\noff_delay_s = 1");
    hub.start();
    publish(hub.mqtt, "barn/stall/1/water", "240");
    publish(hub.mqtt, "barn/stall/1/water/state", "offline");
    let list = counts(&hub, 1, 0);
    assert_eq!(list["stands"][0]["text"], "water sensor of stall 1 is silent: go and look");
    assert_eq!(list["stands"][0]["alarm"]["priority"], "low");

    hub.kill();
    counts(&hub, 1, 0);
    hub.start();
    publish(hub.mqtt, "barn/stall/1/water/state", "online");
    publish(hub.mqtt, "barn/stall/1/water", "239");
    let list = counts(&hub, 0, 1);
    assert_eq!(list["was"][0]["alarm"]["id"], 1, "the same alarm, and no other for the restart");

    let (status, _) = hub.terminate();
    assert!(status.success());
    counts(&hub, 0, 1);
    let page = Command::new(program()).args(["alarms", "--settings"]).arg(hub.settings()).output().expect("it runs");
    let page = String::from_utf8_lossy(&page.stdout);
    assert!(page.starts_with("Stands now: nothing\nWas, since "), "{page}");
    assert!(page.contains("low     stall 1: a sensor is silent\n         over "), "{page}");

    // Without the office's token nobody reads who was told what.
    hub.start();
    let refused = ureq::get(hub.url("/alarms")).call().expect_err("no token");
    assert!(refused.to_string().contains("401"), "{refused}");
}
