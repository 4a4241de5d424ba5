//! Small days for tests.

use crate::plan::day::{Day, Minute};

/// Grooms who are there all day, and horses that each go out once: when the rider mounts, and how long it takes to put it away.
/// Brushing takes 15 minutes and tacking up 12. Where it is not 0 it is `now`, all are tacked, and back then.
pub(in crate::plan) fn day(grooms: usize, now: Minute, rides: &[(Minute, Minute)]) -> Day {
    let list = |items: Vec<String>| items.join(",");
    let each = |item: &dyn Fn(usize, Minute, Minute) -> String| {
        list(rides.iter().enumerate().map(|(i, &(mount, put_away))| item(i, mount, put_away)).collect())
    };
    let grooms =
        list((0..grooms).map(|g| format!(r#"{{"id":"g{g}","on":400,"off":1400,"grade":1,"away":[]}}"#)).collect());
    let horses = each(&|i, _, _| format!(r#"{{"id":"h{i}","grade":1,"away":[]}}"#));
    let outings = each(&|i, mount, put_away| {
        format!(
            r#"{{"id":"r{i}","horse":"h{i}","mount":{mount},"minutes":45,"gear":[],"brush":15,"tack":12,"put_away":{put_away},"weight":1}}"#
        )
    });
    let begun = each(&|i, _, _| {
        format!(
            r#"{{"ride":"r{i}","job":"brush","groom":"staff","from":440,"to":455}},{{"ride":"r{i}","job":"tack","groom":"staff","from":455,"to":467}}"#
        )
    });
    let noon = if now == 0 { String::new() } else { format!(r#","now":{now},"progress":[{begun}]"#) };
    let text = format!(
        r#"{{"limits":{{"ready_lead":10,"walk_back":5,"stand":100,"girth_dry":10,"stay_tacked":20,"promise":30}},
            "costs":{{"missed":100000,"staff":5000,"late":400,"standing":50,"back_wait":2,"saddled_wait":4,
                      "brushed_wait":1,"handover":15,"reshuffle":30,"busiest":2}},
            "grooms":[{grooms}],"horses":[{horses}],"gear":[],"rides":[{outings}]{noon}}}"#
    );
    Day::checked(&serde_json::from_str(&text).expect("a day file")).expect("a day")
}
