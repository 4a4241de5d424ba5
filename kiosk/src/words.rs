//! Every word that the kiosk says, and how it says times and quantities. A second language is a second module of this
//! shape. It knows the barn's kinds of things and no screen.

use bellmare_barn::board::{
    AheadView, AlarmLine, AlarmWhat, DrinkingView, HeatBand, Job, PeopleBand, WaterState, WaterView, Who,
};
use bellmare_barn::book::Role;
use bellmare_barn::care::observed::{Gums, GutSounds};
use bellmare_barn::care::vitals::Urgency;
use bellmare_barn::heat::advice::Advice;
use bellmare_barn::input::{Sensor, Step};
use bellmare_barn::limits::DisplayUnits;
use bellmare_barn::time::TimeOfDay;
use bellmare_barn::water::bucket::Fault;

use crate::check::Sign;

/// Litres in a US gallon (exact by definition: 231 cubic inches).
const LITRES_PER_GALLON: f64 = 3.785_411_784;

/// A time as the wall clock in the barn shows it: twelve hours where the barn counts in gallons, twenty-four otherwise.
pub fn time(time: TimeOfDay, units: DisplayUnits) -> String {
    let (hour, minute) = (time.minutes() / 60, time.minutes() % 60);
    match units {
        DisplayUnits::Metric => format!("{hour}:{minute:02}"),
        DisplayUnits::UsCustomary => format!("{}:{minute:02}", twelve(hour)),
    }
}

/// A whole hour on the time line.
pub fn hour(hour: u16, units: DisplayUnits) -> String {
    match units {
        DisplayUnits::Metric => hour.to_string(),
        DisplayUnits::UsCustomary => twelve(hour % 24).to_string(),
    }
}

fn twelve(hour: u16) -> u16 {
    match hour % 12 {
        0 => 12,
        other => other,
    }
}

/// A length of time in whole minutes, in the largest unit that says enough.
pub fn minutes(minutes: u32) -> String {
    match minutes {
        0..=119 => format!("{minutes} min"),
        120..=2879 => format!("{} h", minutes / 60),
        _ => format!("{} days", minutes / 1440),
    }
}

/// How long the hub has been silent.
pub fn seconds(seconds: u64) -> String {
    if seconds < 120 { format!("{seconds} s") } else { minutes((seconds / 60) as u32) }
}

/// A quantity of water.
pub fn water(litres: f64, units: DisplayUnits) -> String {
    match units {
        DisplayUnits::Metric => format!("{litres:.0} l"),
        DisplayUnits::UsCustomary => format!("{:.1} gal", litres / LITRES_PER_GALLON),
    }
}

/// What a horse has drunk since midnight, beside what it usually does in a day where that is known.
pub fn drank(drinking: &DrinkingView, units: DisplayUnits) -> String {
    match drinking.usual {
        Some((usual, _)) => format!("drank {} today, usually {}", water(drinking.today, units), water(usual, units)),
        None => format!("drank {} today", water(drinking.today, units)),
    }
}

/// When water may be gone.
pub fn may_be_gone(by: TimeOfDay, units: DisplayUnits) -> String {
    format!("till {}", time(by, units))
}

/// An air temperature given in degrees Celsius.
pub fn temperature(celsius: f64, units: DisplayUnits) -> String {
    match units {
        DisplayUnits::Metric => format!("{celsius:.0} °C"),
        DisplayUnits::UsCustomary => format!("{:.0} °F", celsius * 1.8 + 32.0),
    }
}

/// Temperature and humidity on one line. Where there is nothing to say of heat it is called air: it may be cold.
pub fn climate(celsius: f64, humidity: f64, band: HeatBand, units: DisplayUnits) -> String {
    let name = if band == HeatBand::CarryOn { "air" } else { "heat" };
    format!("{name} {} · {humidity:.0} %", temperature(celsius, units))
}

/// The horse sum. It is not the heat index, and is never called so.
pub fn horse_sum(sum: f64) -> String {
    format!("horse sum {sum:.0}")
}

/// A band of the horse sum.
pub fn band(band: HeatBand) -> &'static str {
    match band {
        HeatBand::CarryOn => "carry on",
        HeatBand::Watch => "begin to watch",
        HeatBand::Critical => "critical to monitor",
        HeatBand::Stop => "choose another time",
    }
}

/// A step of the ladder for people.
pub fn people(band: PeopleBand) -> &'static str {
    match band {
        PeopleBand::NoCaution => "no caution",
        PeopleBand::Caution => "caution",
        PeopleBand::ExtremeCaution => "extreme caution",
        PeopleBand::Danger => "danger",
        PeopleBand::ExtremeDanger => "extreme danger",
    }
}

/// How the heat is expected to change.
pub fn heat_ahead(ahead: &AheadView, units: DisplayUnits) -> String {
    match ahead {
        AheadView::Reaches { band, from, .. } => format!("{} from {}", self::band(*band), time(*from, units)),
        AheadView::Leaves { at, .. } => format!("until {}", time(*at, units)),
    }
}

/// What to do, in two or three words; nothing where it takes a sentence.
pub fn advice_short(advice: Advice) -> Option<&'static str> {
    match advice {
        Advice::NoWork => Some("no work"),
        Advice::ShorterAndLighter => Some("shorter, lighter"),
        Advice::OfferWater => Some("water"),
        Advice::ShadeAndAir => Some("shade"),
        Advice::PeopleDrink => Some("people drink"),
        _ => None,
    }
}

/// Dry heat, which the horse sum misses.
pub const DRY: &str = "dry heat";
/// Where humidity makes up over half of the sum.
pub const HUMID: &str = "sweat dries badly";
/// No place has a sensor that speaks.
pub const HEAT_UNKNOWN: &str = "heat not known";
/// Every sensor of the heat has gone silent.
pub fn heat_silent(for_min: u32) -> String {
    format!("silent for {}", minutes(for_min))
}
/// A sensor that never spoke.
pub const NEVER_HEARD: &str = "never heard";

/// For how long something has been so.
pub fn for_minutes(for_min: u32) -> String {
    format!("for {}", minutes(for_min))
}

/// A horse that is to be put away.
pub const BACK_FROM_RIDE: &str = "back";

/// What the plan can not have ready.
pub const CAN_NOT_GO: &str = "can not go";

/// Why not.
pub fn can_not_go(why: &str) -> String {
    format!("{CAN_NOT_GO}: {why}")
}

/// A job, as the aisle says it.
pub fn job(job: Job) -> &'static str {
    match job {
        Job::Brush => "brush",
        Job::Tack => "tack up",
        Job::LeadOut => "lead out",
        Job::PutAway => "put away",
    }
}

/// Whose a job is; nothing where it is nobody's yet.
pub fn who(who: &Who) -> &str {
    match who {
        Who::Open => "",
        Who::Staff => "staff",
        Who::Person { name, .. } => name,
    }
}

/// The button that says a step was begun.
pub fn begin(step: Step) -> &'static str {
    match step {
        Step::Brush => "Begin brushing",
        Step::Tack => "Begin tacking",
        Step::LeadOut => "Leading out",
        Step::BringBack => "Bringing back",
        Step::PutAway => "Begin untacking",
    }
}

/// How long a step is taken to last, and on how many times that rests.
pub fn takes(min: u32, times: u32) -> String {
    match times {
        0 => format!("about {}", minutes(min)),
        1 => format!("about {}, from 1 time", minutes(min)),
        _ => format!("about {}, from {times} times", minutes(min)),
    }
}

/// The button, and the link, that says a step is done.
pub fn done(step: Step) -> &'static str {
    match step {
        Step::Brush => "Brushed",
        Step::Tack => "Tacked",
        Step::LeadOut => "Led out",
        Step::BringBack => "Brought back",
        Step::PutAway => "Put away",
    }
}

/// A step that somebody is at.
pub fn begun(step: Step) -> &'static str {
    match step {
        Step::Brush => "being brushed",
        Step::Tack => "being tacked",
        Step::LeadOut => "on its way",
        Step::BringBack => "on its way back",
        Step::PutAway => "being put away",
    }
}

/// A bucket, in one word or two.
pub fn bucket(water: &WaterView) -> &'static str {
    match water {
        WaterView::NoBucket => "no bucket",
        WaterView::NeverHeard => NEVER_HEARD,
        WaterView::Known { state: WaterState::Enough, .. } => "ok",
        WaterView::Known { state: WaterState::Low, .. } => "water low",
        WaterView::Known { state: WaterState::Empty, .. } => "fill now",
        WaterView::Silent { .. } => "silent",
        WaterView::Faulty { .. } => "faulty",
    }
}

/// A bucket in a sentence, for the card and for who listens.
pub fn bucket_whole(water: &WaterView, units: DisplayUnits) -> String {
    match *water {
        WaterView::NoBucket => "no bucket in this stall".to_owned(),
        WaterView::NeverHeard => "water not known: its sensor was never heard".to_owned(),
        WaterView::Known { litres, state, for_min, .. } => {
            let much = self::water(litres, units);
            match state {
                WaterState::Enough => format!("water {much}, enough"),
                WaterState::Low => format!("water low, {much}: fill on the next round"),
                WaterState::Empty => format!("bucket empty for {}: fill now", minutes(for_min)),
            }
        }
        WaterView::Silent { last_percent, for_min } => {
            format!("water not known: sensor silent for {}, last {last_percent:.0} %", minutes(for_min))
        }
        WaterView::Faulty { for_min, fault } => {
            let what = fault.map_or("sensor faulty", self::fault);
            format!("water not known: {what} for {}", minutes(for_min))
        }
    }
}

/// Behind its time.
pub const LATE: &str = "late";
/// Ready, or out.
pub const READY: &str = "ready";
/// When the rider mounts.
pub fn mount(time: &str) -> String {
    format!("mount {time}")
}
/// A lesson on the time line, for who listens.
pub fn lesson(time: &str, instructor: &str, ready: u32, horses: u32) -> String {
    format!("lesson {time}, {instructor}: {ready} of {horses} horses ready")
}
/// So many of so many: horses ready, or a page of several.
pub fn of(part: usize, whole: usize) -> String {
    format!("{part} of {whole}")
}
/// No step of the work was begun.
pub const NOT_BEGUN: &str = "not begun";
/// A stall.
pub fn stall(number: &str) -> String {
    format!("stall {number}")
}

/// By when a job is to be done.
pub fn by(time: &str) -> String {
    format!("by {time}")
}

/// What an alarm says, without its age.
pub fn alarm(what: &AlarmWhat, units: DisplayUnits) -> String {
    match what {
        AlarmWhat::BucketEmpty { stall, horse: Some(horse) } => format!("{horse}, stall {stall}: bucket empty"),
        AlarmWhat::BucketEmpty { stall, horse: None } => format!("stall {stall}: bucket empty"),
        AlarmWhat::BucketLow { stall, horse: Some(horse) } => format!("{horse}, stall {stall}: water low"),
        AlarmWhat::BucketLow { stall, horse: None } => format!("stall {stall}: water low"),
        AlarmWhat::TroughEmpty { paddock } => format!("paddock {paddock}: trough empty"),
        AlarmWhat::TroughLow { paddock } => format!("paddock {paddock}: water low"),
        AlarmWhat::Leak { sensor, .. } => format!("{}: water goes by itself: look for a leak", sensor_at(sensor)),
        AlarmWhat::Ice { stall, horse } => format!("{horse}, stall {stall}: frost, has not drunk: look for ice"),
        AlarmWhat::NotDrinking { stall, horse, hours } => {
            format!("{horse}, stall {stall}: has not drunk for {hours} h: look, tell staff")
        }
        AlarmWhat::DrinksLittle { stall, horse, .. } => {
            format!("{horse}, stall {stall}: drinks little: look, tell staff")
        }
        AlarmWhat::DrinksMuch { stall, horse, .. } => format!("{horse}, stall {stall}: drinks much: look, tell staff"),
        AlarmWhat::SensorFaulty { sensor, fault } => {
            format!("{}: {}: check by eye", sensor_at(sensor), self::fault(*fault))
        }
        AlarmWhat::Heat { place, band } => format!("{place}, heat: {}", self::band(*band)),
        AlarmWhat::PeopleHeat { place, band } => format!("{place}, heat for people: {}", people(*band)),
        AlarmWhat::HeatAhead { band, from, lesson, .. } => {
            format!("lesson {}: {} expected from {}", time(*lesson, units), self::band(*band), time(*from, units))
        }
        AlarmWhat::ClimateDoubtful { places, of } => {
            let places: Vec<&str> = places.iter().map(|place| place.as_str()).collect();
            let places = places.join(" and ");
            if *of > 2 { format!("{places}: climate doubtful") } else { format!("{places}: climates disagree") }
        }
        AlarmWhat::Frost { place, from: None } => format!("{place}, frost: look at buckets and pipes"),
        AlarmWhat::Frost { from: Some(from), .. } => {
            format!("frost from {}: ready buckets and pipes", time(*from, units))
        }
        AlarmWhat::SensorSilent { sensor } => format!("{}: sensor silent", sensor_at(sensor)),
        AlarmWhat::BatteryLow { sensor } => format!("{}: battery low", sensor_at(sensor)),
        AlarmWhat::VitalsCaution { horse, stall, vet_now: true, .. } => {
            format!("{horse}, stall {stall}: call the vet now")
        }
        AlarmWhat::VitalsCaution { horse, stall, vet_now: false, .. } => {
            format!("{horse}, stall {stall}: tell the equine professional")
        }
        AlarmWhat::Wrong { horse, stall, vet_now: true, .. } => {
            format!("{horse}, stall {stall}: wrong: call the vet now")
        }
        AlarmWhat::Wrong { horse, stall, vet_now: false, .. } => format!("{horse}, stall {stall}: something is wrong"),
        AlarmWhat::HayUnanswered { horse, stall } => format!("{horse}, stall {stall}: hay? nobody has answered"),
        AlarmWhat::BrokerDown => BROKER_DOWN.to_owned(),
        AlarmWhat::JournalDown => JOURNAL_DOWN.to_owned(),
    }
}

/// What is wrong with a level sensor.
fn fault(fault: Fault) -> &'static str {
    match fault {
        Fault::Blocked => "sensor blocked",
        Fault::TurnedAway => "sensor turned away",
        Fault::Stuck => "sensor stuck",
        Fault::Drifting => "sensor drifts",
    }
}

fn sensor_at(sensor: &Sensor) -> String {
    match sensor {
        Sensor::Water(stall) => format!("stall {stall}, water"),
        Sensor::Bucket(bucket) => format!("{bucket}, water"),
        Sensor::Climate(place) => format!("{place}, climate"),
    }
}

/// Whether an alarm is over, seen, or waits for somebody.
pub fn alarm_state(alarm: &AlarmLine) -> String {
    match (&alarm.seen_by, alarm.over) {
        (_, true) => "over: touch to say seen".to_owned(),
        (Some(who), false) => format!("seen by {who}"),
        (None, false) => "touch when seen".to_owned(),
    }
}

/// The hub hears no sensor.
pub const BROKER_DOWN: &str = "sensors not heard: line down";
/// The hub can not write.
pub const JOURNAL_DOWN: &str = "hub keeps no record";
/// The line to the sensors has not come up since the hub started.
pub const BROKER_STARTING: &str = "hub starting: no sensor yet";
/// The store has not come up since the hub started.
pub const JOURNAL_STARTING: &str = "hub starting: no record yet";
/// Nobody knows what time it is.
pub const CLOCK_UNSET: &str = "clock not set: no lesson times";
/// The same, in the clock's own place.
pub const CLOCK_UNSET_SHORT: &str = "no clock";
/// No board has come yet.
pub const NO_BOARD: &str = "waiting for the hub";
/// What a first volunteer should know meanwhile.
pub const NO_BOARD_WHY: &str = "nothing is known yet: look into every stall";

/// The hub does not answer.
pub fn hub_silent(for_s: u64) -> String {
    format!("hub silent for {}", seconds(for_s))
}

/// What the picture that stays is worth.
pub fn picture_of(time: &str) -> String {
    format!("this is the picture of {time}")
}

/// The same where the clock is not set.
pub const OLD_PICTURE: &str = "this picture is old";

/// A badge that nobody knows was held to a reader.
pub fn unknown_badge(badge: &str) -> String {
    format!("badge {badge} is not known")
}

/// What to do about an unknown badge.
pub fn unknown_badge_ago(ago_s: u32) -> String {
    format!("{ago_s} s ago: sign in by name")
}

/// Over the jobs.
pub const NEXT: &str = "Next";
/// No job is left.
pub const NOTHING_NEXT: &str = "no horse to ready";
/// How many are signed in.
pub fn on_shift(count: usize) -> String {
    format!("On shift {count}")
}
/// Nobody is signed in.
pub const NOBODY: &str = "nobody";
/// Opens the sign-in screen.
pub const SIGN_IN_OUT: &str = "Sign in or out";
/// No lesson today.
pub const NO_LESSONS: &str = "no lessons today";

/// Which stalls a page holds.
pub fn page(spans: &[(String, String)], page: usize, pages: usize) -> String {
    let span = |(first, last): &(String, String)| {
        if first == last { first.clone() } else { format!("{first} to {last}") }
    };
    let spans: Vec<String> = spans.iter().map(span).collect();
    format!("stalls {} · page {page} of {pages}", spans.join(", "))
}
/// The page of jobs.
pub fn work_page(page: usize, pages: usize) -> String {
    format!("what is next · page {page} of {pages}")
}

/// Over the tack.
pub const PUT_ON: &str = "Put on, in this order";
/// Over the tack of a horse that is to be put away.
pub const TAKE_OFF: &str = "Take off; disinfect the girth and hang it";
/// No tack is written down for this ride.
pub const NO_TACK: &str = "no tack is written down: ask";
/// Over the stirrups.
pub const STIRRUPS: &str = "Stirrups";
/// Left stirrup.
pub const LEFT: &str = "left";
/// Right stirrup.
pub const RIGHT: &str = "right";
/// Left and right differ.
pub const NOT_THE_SAME: &str = "not the same";
/// Left and right are alike.
pub const THE_SAME: &str = "both the same";
/// Over the handling notes.
pub const HANDLING: &str = "Handling";
/// Back to the tack, where handling has a side of its own.
pub const TACK: &str = "Tack";
/// No handling notes.
pub const NO_NOTES: &str = "nothing written down: ask";
/// Only experienced hands.
pub fn grade(grade: u8) -> Option<&'static str> {
    match grade {
        0 | 1 => None,
        2 => Some("shown hands only"),
        _ => Some("experienced hands only"),
    }
}
/// Nothing left to do before the lesson.
pub const ALL_DONE: &str = "Led out: all done";
/// No ride today.
pub const NO_RIDE: &str = "no ride left today";
/// No horse stands there.
pub const NO_HORSE: &str = "no horse in this stall";
/// The next ride after this one.
pub fn then(time: &str) -> String {
    format!("then {time}")
}
/// When a horse must be ready, when it is mounted, and by whom it is taught.
pub fn ride(ready_by: &str, mount: &str, instructor: &str) -> String {
    format!("ready by {ready_by} · mount {mount} · {instructor}")
}
/// Takes the last step back.
pub const UNDO: &str = "Undo";
/// What [`UNDO`] takes back.
pub fn undo(step: Step) -> String {
    format!("not {}", done(step).to_lowercase())
}
/// Back to the aisle.
pub const BACK: &str = "Back";
/// The next page of names.
pub const MORE: &str = "More names";

/// Over the people, when signing in.
pub const WHO_ARE_YOU: &str = "Touch your name";
/// What touching a name does.
pub const SIGN_IN_HOW: &str = "once to sign in, once more to sign out";
/// Over the people, when an alarm was seen.
pub const WHO_HAS_SEEN: &str = "Who has seen it?";
/// Signed in since.
pub fn here_since(time: &str) -> String {
    format!("here since {time}")
}
/// Not signed in.
pub const NOT_HERE: &str = "not here";

/// What a person does here.
pub fn role(role: Role) -> &'static str {
    match role {
        Role::Groom => "groom",
        Role::HorseLeader => "horse leader",
        Role::SideWalker => "side walker",
        Role::Instructor => "instructor",
        Role::EquineProfessional => "equine professional",
        Role::Staff => "staff",
        Role::Manager => "manager",
    }
}

/// A touch was done.
pub const KEPT: &str = "Done";
/// A touch waits.
pub const WAITS: &str = "The hub is silent. Your touch is kept and will be sent.";
/// A touch could not be kept.
pub const TOO_MANY: &str = "Too many touches wait for the hub. Write it down, please.";
/// A touch was refused.
pub fn refused(why: &str) -> String {
    format!("Not done: {why}")
}

/// Opens the pages on which a horse is checked.
pub const CHECK: &str = "Check the horse";
/// The same on a narrow button, in two lines.
pub const CHECK_SHORT: (&str, &str) = ("Check", "the horse");
/// Takes a value out again.
pub const TAKE_OUT: &str = "Not measured";
/// To the names, with all that was entered.
pub const WHO_LOOKED: &str = "Who looked?";

/// Over a page.
pub fn check_title(horse: &str, sign: Sign) -> String {
    format!("{horse}: {}", self::sign(sign))
}

/// A sign of a horse.
pub fn sign(sign: Sign) -> &'static str {
    match sign {
        Sign::Temperature => "temperature",
        Sign::Pulse => "pulse",
        Sign::Breaths => "breaths",
        Sign::Refill => "refill",
        Sign::Gums => "gums",
        Sign::Gut => "gut sounds",
    }
}

/// How it is measured, short enough for one line.
pub fn how_to(sign: Sign) -> &'static str {
    match sign {
        Sign::Temperature => "in the rectum; ask who may",
        Sign::Pulse => "beats in a minute, behind the left elbow or under the jaw",
        Sign::Breaths => "breaths in a minute, by the flank",
        Sign::Refill => "press a gum: seconds until it is pink again",
        Sign::Gums => "lift the lip: what colour are they?",
        Sign::Gut => "an ear to both flanks, high and low",
    }
}

/// Nothing was entered yet.
pub fn not_measured(number: bool) -> &'static str {
    if number { "not measured: touch + or − to begin" } else { "not looked at: touch a word" }
}

/// A value with its unit.
pub fn sign_value(sign: Sign, number: &str, units: DisplayUnits) -> String {
    match (sign, units) {
        (Sign::Temperature, DisplayUnits::UsCustomary) => format!("{number} °F"),
        (Sign::Temperature, DisplayUnits::Metric) => format!("{number} °C"),
        (Sign::Refill, _) => format!("{number} s"),
        _ => format!("{number} in a minute"),
    }
}

/// A value in a line of several.
pub fn sign_short(sign: Sign, value: &str) -> String {
    match sign {
        Sign::Temperature => value.to_owned(),
        _ => format!("{} {}", self::sign(sign), value.trim_end_matches(" in a minute")),
    }
}

/// What a key does.
pub fn step(sign: Sign, up: bool, by: &str) -> String {
    format!("{} {} by {by}", self::sign(sign), if up { "up" } else { "down" })
}

/// To the next page.
pub fn next_sign(sign: Sign) -> String {
    format!("Next: {}", self::sign(sign))
}

/// The colour of gums.
pub fn gums(gums: Gums) -> &'static str {
    match gums {
        Gums::Pink => "pink",
        Gums::Pale => "pale",
        Gums::Other => "another colour",
    }
}

/// Whether the gut is heard.
pub fn gut(gut: GutSounds) -> &'static str {
    match gut {
        GutSounds::AllFour => "heard in all four",
        GutSounds::NotAll => "not in all four",
    }
}

/// Over the names, when a horse was checked.
pub const WHO_CHECKED: &str = "Who looked at the horse?";

/// What came of the last check of a horse.
pub fn checked(urgency: Urgency, by: &str, ago_min: u32) -> String {
    let what = match urgency {
        Urgency::Fine => "nothing to caution about",
        Urgency::Tell => "tell the equine professional",
        Urgency::VetNow => "call the vet now",
    };
    format!("Checked {} ago by {by}: {what}", minutes(ago_min))
}
