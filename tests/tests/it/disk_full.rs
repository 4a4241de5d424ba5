//! A disk that is really full: a small ext4 of its own under the hub's data folder.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use bellmare_barn::board::{AlarmWhat, LineView, WaterState, WaterView};
use bellmare_tests::board::{shows, stall};
use bellmare_tests::client::publish_all;
use bellmare_tests::hub::{Broker, Hub};
use bellmare_tests::mosquitto::Mosquitto;
use serde_json::json;

const SOON: Duration = Duration::from_secs(10);

/// A mounted disk of 8 MB.
struct SmallDisk(PathBuf);

impl SmallDisk {
    /// None where this machine lets nobody mount anything.
    fn mount(image: &Path, at: &Path) -> Option<Self> {
        let run = |program: &str, arguments: &[&str]| {
            Command::new(program).args(arguments).output().is_ok_and(|output| output.status.success())
        };
        let (image_name, at_name) = (image.to_str().expect("a plain path"), at.to_str().expect("a plain path"));
        fs::File::create(image).and_then(|file| file.set_len(8 << 20)).expect("an image file");
        fs::create_dir_all(at).expect("a folder to mount on");
        let mounted = run("mkfs.ext4", &["-q", "-F", "-O", "^has_journal", "-m", "0", image_name])
            && run("mount", &["-o", "loop", image_name, at_name]);
        mounted.then(|| Self(at.to_owned()))
    }

    /// Writes until nothing fits any more.
    fn fill(&self) {
        let mut file = fs::File::create(self.0.join("ballast")).expect("a file to fill the disk with");
        for size in [65_536, 512, 1] {
            while file.write_all(&vec![0; size]).is_ok() {}
        }
    }

    fn free(&self) {
        fs::remove_file(self.0.join("ballast")).expect("the ballast goes");
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        // The hub may still be ending; the kernel lets go when it has.
        let _ = Command::new("umount").arg("-l").arg(&self.0).status();
    }
}

#[test]
fn on_a_full_disk_the_hub_stays_up_says_so_raises_alarms_and_recovers() {
    let mosquitto = Mosquitto::start();
    let mut hub = Hub::new(3, Broker::At(mosquitto.port), "[limits.water]\nempty_alarm_after_min = 0");
    let Some(disk) = SmallDisk::mount(&hub.folder().join("disk.img"), &hub.folder().join("data")) else {
        println!("skipped: nobody may mount a disk here, so a full one was not tried");
        return;
    };
    hub.start();
    let publish = |n: u32, stall: &str, level: &str| {
        let one = std::iter::once((format!("barn/stall/{stall}/water"), level.to_owned()));
        assert_eq!(publish_all(mosquitto.port, &format!("sensor-{n}"), one, 10), 1);
    };
    publish(0, "1", "240");
    shows(&hub, "stall 1 is known", SOON, |board| {
        matches!(stall(board, "1")?.water, WaterView::Known { .. }).then_some(())
    });

    disk.fill();
    // Some log is left from before; it takes more than a few readings to run out of it.
    let many = (0..20_000).map(|n| ("barn/stall/2/water".to_owned(), format!("{}.{n:05}", 100 + n % 100)));
    assert_eq!(publish_all(mosquitto.port, "many", many, 100), 20_000);
    shows(&hub, "the hub says that it can not write", SOON, |board| {
        let down = matches!(board.hub.journal, LineView::Down { .. });
        (down && board.alarms.iter().any(|alarm| alarm.what == AlarmWhat::JournalDown)).then_some(())
    });
    let touch = json!({ "id": "full-1", "kiosk": "aisle", "action": { "sign_in": "ana" } });
    let post = || {
        let request = ureq::post(hub.url("/touches")).config().http_status_as_error(false).build();
        request.send_json(&touch).expect("an answer").status().as_u16()
    };
    assert_eq!(post(), 503, "what is not kept is not answered");

    disk.free();
    shows(&hub, "it writes again", SOON, |board| (board.hub.journal == LineView::Up).then_some(()));
    assert_eq!(post(), 200, "the same touch again");
    publish(1, "3", "3");
    shows(&hub, "and alarms go on", Duration::from_secs(30), |board| match stall(board, "3")?.water {
        WaterView::Known { state: WaterState::Empty, .. } => Some(()),
        _ => None,
    });

    // All that the broker took is kept, and once.
    hub.terminate();
    let (journal, _) = bellmare_hub::journal::Journal::open(&hub.journal(), &Default::default()).expect("it opens");
    let mut readings = 0;
    journal
        .replay(0, |entry| {
            readings += u32::from(matches!(entry.input, bellmare_barn::input::Input::Reading(_)));
            std::ops::ControlFlow::Continue(())
        })
        .expect("it is whole");
    drop(journal);
    assert_eq!(readings, 20_002);
}
