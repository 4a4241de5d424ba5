//! What people say and ask in the aisle, through the real hub over HTTP, and over a power cut.

use std::time::Duration;

use bellmare_barn::board::{AlarmWhat, Board, Priority};
use bellmare_barn::effect::Answer;
use bellmare_tests::board::{here, shows, stall};
use bellmare_tests::hub::{Broker, Hub};
use serde_json::{Value, json};

const SOON: Duration = Duration::from_secs(10);

fn touch(hub: &Hub, id: &str, by: Option<&str>, action: Value) -> Answer {
    let mut touch = json!({ "id": id, "kiosk": "aisle", "action": action });
    if let Some(by) = by {
        touch["by"] = by.into();
    }
    let mut answer = ureq::post(hub.url("/touches")).send_json(touch).expect("an answer");
    answer.body_mut().read_json().expect("of the documented form")
}

fn refused(answer: &Answer) -> &str {
    match answer {
        Answer::Refused(refusal) => &refusal.why,
        Answer::Done => panic!("it was done"),
    }
}

#[test]
fn a_groom_taps_in_crosses_off_asks_and_calls_and_all_of_it_stays_over_a_power_cut() {
    let mut hub = Hub::new(2, Broker::Embedded, "");
    hub.start();
    // A badge at the kiosk's own reader.
    assert_eq!(touch(&hub, "b1", None, json!({ "badge": "A1" })), Answer::Done);
    let tap = shows(&hub, "the tap", SOON, |board| board.tapped.first().cloned());
    assert_eq!((tap.person.as_str(), tap.reader.as_str(), tap.here), ("ana", "aisle", true));
    shows(&hub, "Ana is here", SOON, |board| (here(board) == ["Ana"]).then_some(()));
    assert_eq!(touch(&hub, "b2", None, json!({ "badge": "FF" })), Answer::Done);
    shows(&hub, "the unknown badge", SOON, |board| board.taps.iter().find(|tap| tap.badge.as_str() == "FF").cloned());

    let say = |hub: &Hub| {
        for (id, action) in [
            ("c1", json!({ "chore": { "chore": "scrub" } })),
            ("s1", json!({ "cleaned": { "stall": "2" } })),
            ("f1", json!({ "filled": { "place": { "stall": "1" } } })),
            ("h1", json!({ "ask_hay": { "horse": "h2" } })),
            ("w1", json!({ "wrong": { "horse": "h1", "seen": ["warm_leg"] } })),
            ("w2", json!({ "wrong": { "horse": "h1", "seen": [{ "vet": "colic_signs" }] } })),
        ] {
            assert_eq!(touch(hub, id, Some("ana"), action), Answer::Done, "{id}");
        }
    };
    say(&hub);
    let said = |board: &Board| {
        let ana = Some("Ana".to_owned());
        let chore = board.chores.first().is_some_and(|chore| chore.done.as_ref().is_some_and(|done| done.by == ana));
        let by = |done: &Option<bellmare_barn::board::DoneView>| done.as_ref().is_some_and(|done| done.by == ana);
        let stalls = by(&stall(board, "2")?.cleaned) && by(&stall(board, "1")?.filled);
        let hay = board.hay.len() == 1 && board.hay[0].answer.is_none() && board.hay[0].horse.as_str() == "h2";
        let wrong = stall(board, "1")?.horse.as_ref()?.wrong.clone()?;
        let is_it =
            |what: &AlarmWhat| matches!(what, AlarmWhat::Wrong { horse, vet_now: true, .. } if horse == "Horse 1");
        let alarm = board.alarms.iter().find(|alarm| is_it(&alarm.what))?;
        let steps = board.steps.iter().any(|step| step.caution && !step.text.spanish.is_empty());
        (chore && stalls && hay && steps && wrong.seen.len() == 2).then_some((
            wrong.by,
            alarm.priority,
            alarm.text.clone(),
        ))
    };
    let (by, priority, text) = shows(&hub, "all that was said", SOON, said);
    assert_eq!((by.as_deref(), priority), (Some("Ana"), Priority::High));
    assert!(text.contains("Call the vet now") && text.contains("no diagnosis"), "{text}");

    hub.kill();
    hub.start();
    assert_eq!(shows(&hub, "all of it after the power cut", SOON, said).0.as_deref(), Some("Ana"));
    // A kiosk that heard no answer sends everything again: once is enough.
    say(&hub);
    shows(&hub, "nothing twice", SOON, |board| (board.hay.len() == 1 && board.alarms.len() == 1).then_some(()));

    // Staff alone may answer and close, and a name is no PIN.
    let why = touch(&hub, "a1", Some("lena"), json!({ "answer_hay": { "ask": 1, "allowed": true } }));
    assert!(refused(&why).contains("staff, the equine professional or the manager"), "{why:?}");
    let why = touch(&hub, "a2", Some("lena"), json!({ "wrong_over": { "horse": "h1" } }));
    assert!(refused(&why).contains("staff, the equine professional or the manager"), "{why:?}");
    let why = touch(&hub, "a3", Some("nobody"), json!({ "cleaned": { "stall": "1" } }));
    assert_eq!(refused(&why), "the book has no person nobody");

    // Within five minutes there is a way back from each.
    for (id, action) in [
        ("u1", json!({ "chore": { "chore": "scrub", "undo": true } })),
        ("u2", json!({ "cleaned": { "stall": "2", "undo": true } })),
        ("u3", json!({ "filled": { "place": { "stall": "1" }, "undo": true } })),
        ("u4", json!({ "ask_hay": { "horse": "h2", "undo": true } })),
        ("u5", json!({ "wrong": { "horse": "h1", "undo": true } })),
    ] {
        assert_eq!(touch(&hub, id, Some("ana"), action), Answer::Done, "{id}");
    }
    shows(&hub, "nothing was said", SOON, |board| {
        let stalls = board.stalls.iter().all(|stall| stall.cleaned.is_none() && stall.filled.is_none());
        let nothing = board.chores.iter().all(|chore| chore.done.is_none()) && board.hay.is_empty();
        let well = stall(board, "1")?.horse.as_ref()?.wrong.is_none();
        (stalls && nothing && well && board.alarms.iter().all(|alarm| alarm.over)).then_some(())
    });
}
