//! What a screen shows: the only thing a kiosk ever receives. A board is computed whole from the barn, never patched.
//! It holds no rider: a lesson is named by its time and its instructor.
//!
//! Times on a board are minutes after local midnight of [`Board::clock`]'s date, so that a kiosk needs no time zone.
//! Fields may be added within a version; a change of meaning makes a new [`VERSION`].

use serde::{Deserialize, Serialize};

use crate::book::{Role, Side, TackKind, WaterPlace};
use crate::care::observed::Observed;
use crate::care::vitals::{Condition, Urgency};
use crate::heat::advice::Advice;
use crate::id::{BadgeId, HorseId, LessonId, PersonId, PlaceId, ReaderId, RideId, StallId};
use crate::input::{Mark, Sensor};
use crate::limits::DisplayUnits;
use crate::time::TimeOfDay;
use crate::water::bucket::{Fault, How};

/// The version of this format.
pub const VERSION: u32 = 1;

/// The picture of the barn at one moment.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Board {
    /// [`VERSION`] of the hub that made it.
    pub version: u32,
    /// What the barn is called.
    pub barn: String,
    /// How quantities are shown to people. The quantities here are in litres and degrees Celsius all the same.
    pub units: DisplayUnits,
    /// What time it is, if anybody knows.
    pub clock: Clock,
    /// How the hub itself is.
    pub hub: HubState,
    /// What needs a person, most pressing first.
    pub alarms: Vec<AlarmLine>,
    /// Every stall, in the order of the book.
    pub stalls: Vec<StallView>,
    /// Paddocks with water, by name.
    #[serde(default)]
    pub paddocks: Vec<PaddockView>,
    /// Which water to fill now, in the order of the aisle, then the paddocks.
    #[serde(default)]
    pub round: Vec<FillView>,
    /// Today's lessons by time.
    pub lessons: Vec<LessonView>,
    /// The heat, worst place.
    pub heat: HeatView,
    /// What is to be done next, by whom and when; most pressing first.
    pub next: Vec<NextJob>,
    /// What can not be done, by the plan.
    #[serde(default)]
    pub missed: Vec<MissedView>,
    /// Everybody who may sign in, by name, and whether they are here.
    pub people: Vec<PersonView>,
    /// The last taps that somebody at the kiosk should see: unknown badges for a minute.
    pub taps: Vec<UnknownTap>,
    /// Sensors that talk under the barn's topics and that nobody has placed.
    pub unplaced: u32,
    /// Messages refused since the hub started.
    pub refused: u64,
}

/// Time of day on the board.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Clock {
    /// The clock is not set: lessons can not be told.
    Unset,
    /// Local date and time.
    Set {
        /// Local date.
        date: chrono::NaiveDate,
        /// Local time.
        time: TimeOfDay,
    },
}

/// How the hub is. All well is `Up` and `Up`.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct HubState {
    /// The line to the sensors.
    pub broker: LineView,
    /// What keeps what happened.
    pub journal: LineView,
}

/// A line of the hub's.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LineView {
    /// It works.
    Up,
    /// It has not come up yet since the hub started.
    Starting,
    /// It does not work.
    Down {
        /// For how many whole minutes.
        for_min: u32,
        /// Why, as far as known.
        why: String,
    },
}

/// One alarm.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct AlarmLine {
    /// Its number, to acknowledge it by.
    pub id: u64,
    /// How pressing.
    pub priority: Priority,
    /// What, and where.
    pub what: AlarmWhat,
    /// In English, whole, for logs and for who reads the JSON; a kiosk makes its own words from `what`.
    pub text: String,
    /// For how many whole minutes it has stood.
    pub for_min: u32,
    /// Who has seen it.
    pub seen_by: Option<String>,
    /// True where its cause is gone and nobody has said so yet.
    pub over: bool,
}

/// How pressing an alarm is.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Priority {
    /// A horse or a person may come to harm soon.
    High,
    /// Somebody must act today.
    Medium,
    /// Somebody must know.
    Low,
}

/// What an alarm is about.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AlarmWhat {
    /// A bucket is empty and nobody has filled it.
    BucketEmpty {
        /// Which stall.
        stall: StallId,
        /// The name of the horse in it.
        horse: Option<String>,
    },
    /// A bucket is low and nobody has filled it.
    BucketLow {
        /// Which stall.
        stall: StallId,
        /// The name of the horse in it.
        horse: Option<String>,
    },
    /// A paddock has nothing to drink.
    TroughEmpty {
        /// Which paddock.
        paddock: PlaceId,
    },
    /// A paddock has little to drink.
    TroughLow {
        /// Which paddock.
        paddock: PlaceId,
    },
    /// Water goes steadily: a leak, or a sensor that drifts.
    Leak {
        /// The sensor that tells it.
        sensor: Sensor,
        /// How much goes.
        litres_per_hour: f64,
    },
    /// It freezes, and a horse has not drunk: its water may be ice.
    Ice {
        /// Which stall.
        stall: StallId,
        /// The name of the horse in it.
        horse: String,
    },
    /// A horse has not drunk for long, standing in its stall.
    NotDrinking {
        /// Which stall.
        stall: StallId,
        /// Its name.
        horse: String,
        /// Whole hours in its stall since it drank.
        hours: u32,
    },
    /// A horse drinks far less than it usually does.
    DrinksLittle {
        /// Which stall.
        stall: StallId,
        /// Its name.
        horse: String,
        /// Litres of the last 24 hours.
        litres: f64,
        /// Litres that it usually drinks in them.
        usual: f64,
    },
    /// A horse drinks far more than it usually does.
    DrinksMuch {
        /// Which stall.
        stall: StallId,
        /// Its name.
        horse: String,
        /// Litres of the last 24 hours.
        litres: f64,
        /// Litres that it usually drinks in them.
        usual: f64,
    },
    /// What a level sensor says can not be believed.
    SensorFaulty {
        /// Which.
        sensor: Sensor,
        /// What is wrong with it.
        fault: Fault,
    },
    /// Heat at a place has reached a band.
    Heat {
        /// Where.
        place: PlaceId,
        /// Which band.
        band: HeatBand,
    },
    /// Heat at a place is a danger to people.
    PeopleHeat {
        /// Where.
        place: PlaceId,
        /// Which band.
        band: PeopleBand,
    },
    /// A lesson is expected in a band of heat that is not reached yet.
    HeatAhead {
        /// Where.
        place: PlaceId,
        /// Which band.
        band: HeatBand,
        /// When it is expected to be reached.
        from: TimeOfDay,
        /// When the first lesson in it begins.
        lesson: TimeOfDay,
    },
    /// Climate sensors say what can not all be true.
    ClimateDoubtful {
        /// Those that are doubted.
        places: Vec<PlaceId>,
        /// How many speak. With two nobody can say which of them is wrong.
        of: u32,
    },
    /// Buckets and pipes may freeze.
    Frost {
        /// Where.
        place: PlaceId,
        /// When it is expected; none where it is so cold now.
        from: Option<TimeOfDay>,
    },
    /// A sensor has not spoken.
    SensorSilent {
        /// Which.
        sensor: Sensor,
    },
    /// A sensor's battery is low.
    BatteryLow {
        /// Which.
        sensor: Sensor,
    },
    /// What was observed of a horse differs from what is written of it.
    VitalsCaution {
        /// Its name.
        horse: String,
        /// Where it stands.
        stall: StallId,
        /// True where it is one of the signs for which the vet is called at once.
        vet_now: bool,
        /// What differs from what, a sentence each.
        cautions: Vec<String>,
    },
    /// The hub hears no sensor at all.
    BrokerDown,
    /// The hub can not write down what happens.
    JournalDown,
}

/// One stall.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct StallView {
    /// Number or name on the door.
    pub id: StallId,
    /// Which aisle.
    pub aisle: String,
    /// Which side of it, coming in by the main door.
    pub side: Side,
    /// Its water.
    pub water: WaterView,
    /// What its horse drinks.
    #[serde(default)]
    pub drinking: Option<DrinkingView>,
    /// Who stands in it.
    pub horse: Option<HorseView>,
}

/// What a horse drinks, as far as its water tells.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct DrinkingView {
    /// Litres since midnight.
    pub today: f64,
    /// Litres that it usually drinks in a whole day, and on how many days that rests; none while too few are known.
    pub usual: Option<(f64, u32)>,
    /// Litres a day that the books give for its weight in this air, at rest in a stall; none where its weight is not written.
    pub guide: Option<f64>,
    /// Whole minutes in its stall since it last drank.
    pub dry_min: u32,
    /// When its water will be gone if it drinks as on its last days; none while too few are known, or not within a day.
    pub runs_dry: Option<RunsDryView>,
    /// The last drink, refill or spill.
    pub last: Option<WaterHappened>,
}

/// When water will be gone: one day in ten before the earliest, one in ten after the latest.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct RunsDryView {
    /// One day in ten it is gone before this.
    pub earliest: TimeOfDay,
    /// On the middle day; none where that is not within a day.
    pub usual: Option<TimeOfDay>,
    /// One day in ten it lasts longer; none where that is not within a day.
    pub latest: Option<TimeOfDay>,
    /// On how many days it rests.
    pub days: u32,
}

/// Something that happened to a stall's water.
#[derive(Clone, Copy, PartialEq, Debug, Serialize, Deserialize)]
pub struct WaterHappened {
    /// What.
    pub how: How,
    /// Litres.
    pub litres: f64,
    /// How many whole minutes ago it was over.
    pub ago_min: u32,
}

/// A paddock and its water.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct PaddockView {
    /// Which.
    pub paddock: PlaceId,
    /// All its troughs together.
    pub water: WaterView,
}

/// A stop of the filling round.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct FillView {
    /// Where.
    pub place: WaterPlace,
    /// The name of the horse there.
    pub horse: Option<String>,
    /// Litres that it takes to fill it; none where its level is not known.
    pub litres: Option<f64>,
    /// Why now.
    pub why: WhyFill,
}

/// Why a bucket is to be filled on this round.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WhyFill {
    /// It is empty.
    Empty,
    /// It is low.
    Low,
    /// It may be gone before this, by the horse's own days.
    RunsDry(TimeOfDay),
    /// Nobody knows how much is in it: look.
    Unknown,
}

/// What is known of the water of a stall. Not known is never fine.
#[derive(Clone, Copy, PartialEq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WaterView {
    /// The book has no bucket there.
    NoBucket,
    /// Its sensor has never spoken.
    NeverHeard,
    /// The last level, fresh.
    Known {
        /// Litres in the bucket.
        litres: f64,
        /// Share of the full bucket, 0 to 100.
        percent: f64,
        /// Enough, low, or empty.
        state: WaterState,
        /// For how many whole minutes it has been in that state.
        for_min: u32,
    },
    /// Its sensor has gone silent: the last level, which says nothing about now.
    Silent {
        /// Share of the full bucket when last heard.
        last_percent: f64,
        /// For how many whole minutes nothing was heard.
        for_min: u32,
    },
    /// What its sensor says can not be, or can not be believed.
    Faulty {
        /// For how many whole minutes.
        for_min: u32,
        /// What is wrong with it, as far as can be told.
        #[serde(default)]
        fault: Option<Fault>,
    },
}

/// How a bucket is.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WaterState {
    /// Enough.
    Enough,
    /// Low: fill it on the next round.
    Low,
    /// Empty, or what is left can not be drunk: fill it now.
    Empty,
}

/// A horse on the board.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct HorseView {
    /// Its id.
    pub id: HorseId,
    /// Its barn name.
    pub name: String,
    /// How hard it is to handle, 1 to 3.
    pub grade: u8,
    /// How it likes to be handled, a line each.
    pub notes: Vec<String>,
    /// Its rides of today that are not over, by time; the first is the one to ready it for, or to put it away after.
    pub rides: Vec<RideView>,
    /// How long its jobs are taken to last.
    #[serde(default)]
    pub minutes: Vec<JobTime>,
    /// True where it does no more work today.
    #[serde(default)]
    pub scratched: bool,
    /// Where it is not to be had just now.
    #[serde(default)]
    pub away: Option<AwayView>,
    /// What was last observed of it; none where nobody has.
    #[serde(default)]
    pub vitals: Option<VitalsView>,
    /// What it has done today and this week; none while the clock is not set.
    #[serde(default)]
    pub work: Option<WorkDoneView>,
}

/// The last observations of a horse.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct VitalsView {
    /// At least one, latest first.
    pub last: Vec<VitalsLine>,
}

/// One observation, and what was said to it.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct VitalsLine {
    /// What the aisle calls who made it.
    pub by: String,
    /// How many whole minutes ago.
    pub ago_min: u32,
    /// On which local date; none where no clock was set.
    pub date: Option<chrono::NaiveDate>,
    /// At what local time of that date.
    pub time: Option<TimeOfDay>,
    /// Whether the horse had worked.
    pub condition: Condition,
    /// What was measured and seen, in degrees Celsius, counts in a minute, seconds.
    pub seen: Observed,
    /// How pressing it is.
    pub urgency: Urgency,
    /// What differs from what, a sentence each.
    pub cautions: Vec<String>,
    /// What was not judged, and when it can be.
    pub notes: Vec<String>,
    /// What to do and whose word counts; empty where nothing differs.
    pub advice: String,
}

/// What a horse has done, by what people said, beside the limits that were set for it. At least that: what nobody said is
/// not known. A limit that is not there was not set.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct WorkDoneView {
    /// Rides today.
    pub rides: u32,
    /// Rides a day, at most.
    pub most_rides: Option<u32>,
    /// Whole minutes of riding today.
    pub minutes: u32,
    /// Minutes a day, at most.
    pub most_minutes: Option<u32>,
    /// Most whole minutes of riding without a rest that reach into today.
    pub in_a_row: u32,
    /// Minutes without a rest, at most.
    pub most_in_a_row: Option<u32>,
    /// Rides this week, Monday to Sunday.
    pub rides_this_week: u32,
    /// Whole minutes of riding this week.
    pub minutes_this_week: u32,
    /// Days of this week with a ride, today too.
    pub days_this_week: u32,
    /// Days a week, at most.
    pub most_days: Option<u32>,
    /// What of it is above a limit, in words. The equine professional decides.
    pub above: Vec<String>,
}

/// How long a job on a horse is taken to last.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct JobTime {
    /// Which job.
    pub job: Job,
    /// Whole minutes.
    pub minutes: u32,
    /// On how many times it rests that were seen; none where it is the barn's own figure.
    pub times: u32,
}

/// An absence of a horse's.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct AwayView {
    /// Until when.
    pub until: TimeOfDay,
    /// Why: "turn-out", "farrier", "vet".
    pub why: String,
}

/// A ride of today.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct RideView {
    /// Its id.
    pub id: RideId,
    /// For what.
    pub usage: String,
    /// When the rider mounts.
    pub mount: TimeOfDay,
    /// When the horse must be ready.
    pub ready_by: TimeOfDay,
    /// When its preparation should begin.
    pub start_by: TimeOfDay,
    /// Who teaches.
    pub instructor: String,
    /// Where.
    pub place: String,
    /// The three links, brushed, tacked, led out, and what comes after.
    pub links: Links,
    /// True where the horse is put away after this ride, and not after a later one under the same tack.
    #[serde(default = "yes")]
    pub last: bool,
    /// Whether it is in time.
    pub pace: Pace,
    /// Its tack, in the order it goes on.
    pub tack: Vec<TackView>,
    /// Stirrup lengths, where stirrups are used.
    pub stirrups: Option<StirrupsView>,
}

/// How far the three links are closed.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Links {
    /// Brushed.
    pub brush: Mark,
    /// Tacked.
    pub tack: Mark,
    /// Led out.
    pub lead_out: Mark,
    /// Brought back. After the three links, and none of them.
    #[serde(default = "open")]
    pub bring_back: Mark,
    /// Put away.
    #[serde(default = "open")]
    pub put_away: Mark,
}

fn yes() -> bool {
    true
}

fn open() -> Mark {
    Mark::Open
}

/// Whether a horse is in time for its lesson, by the minutes its open jobs still take.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Pace {
    /// Not yet time to begin.
    Later,
    /// Time to be at it.
    Now,
    /// Behind: it will not be ready in time unless somebody helps.
    Late,
    /// Ready, or out.
    Ready,
}

/// A piece of tack for a ride.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct TackView {
    /// Kind.
    pub kind: TackKind,
    /// Name, with its size.
    pub name: String,
    /// Where it hangs.
    pub place: String,
    /// How, where it matters.
    pub note: String,
}

/// Stirrup lengths.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct StirrupsView {
    /// Left.
    pub left: u8,
    /// Right.
    pub right: u8,
}

/// A lesson of today.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct LessonView {
    /// Its id.
    pub id: LessonId,
    /// Mount time.
    pub start: TimeOfDay,
    /// Its length in minutes.
    pub minutes: u32,
    /// Who teaches.
    pub instructor: String,
    /// Where.
    pub place: String,
    /// How many horses go.
    pub horses: u32,
    /// How many of them are ready or out.
    pub ready: u32,
}

/// Heat at the worst place.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HeatView {
    /// No place has a sensor that speaks.
    Unknown {
        /// For how many whole minutes; none where none ever spoke.
        for_min: Option<u32>,
    },
    /// The worst place.
    Known {
        /// Where.
        place: PlaceId,
        /// Air temperature in degrees Celsius.
        temperature: f64,
        /// Relative humidity in percent.
        humidity: f64,
        /// The horse sum: degrees Fahrenheit plus percent humidity. Not the NWS heat index.
        horse_sum: f64,
        /// The NWS heat index for people in degrees Celsius, shade and light wind; none out of its range.
        heat_index: Option<f64>,
        /// The band for horses: of the horse sum, or of the floor for dry heat.
        band: HeatBand,
        /// True where humidity makes up over half of the sum: sweat dries badly. Means nothing while the band is carry on.
        humid: bool,
        /// True where the band is higher than the sum's own: dry heat, which the sum misses.
        #[serde(default)]
        dry: bool,
        /// The caution for people, by the NWS heat index, in the shade; full sun adds up to 8 °C (15 °F).
        #[serde(default)]
        people: PeopleBand,
        /// What to do, first things first.
        #[serde(default)]
        advice: Vec<Advice>,
        /// What is expected today. None where nothing changes, or where too little is known to say.
        #[serde(default)]
        ahead: Option<AheadView>,
    },
}

/// How the heat is expected to change today, by this barn's own last days.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AheadView {
    /// A higher band will be reached.
    Reaches {
        /// Which: the highest that is expected.
        band: HeatBand,
        /// When, as likely sooner as later.
        from: TimeOfDay,
        /// Hardly sooner than this: one chance in ten.
        earliest: TimeOfDay,
        /// Hardly later than this; none where it may well not come at all.
        latest: Option<TimeOfDay>,
        /// When it is left again; none where not today.
        until: Option<TimeOfDay>,
        /// The lessons that it touches.
        lessons: Vec<LessonId>,
    },
    /// The band that is shown will be left for a lower one.
    Leaves {
        /// The band that is left.
        band: HeatBand,
        /// When, as likely sooner as later.
        at: TimeOfDay,
        /// Hardly sooner than this.
        earliest: TimeOfDay,
        /// Hardly later than this; none where it may well stay.
        latest: Option<TimeOfDay>,
        /// The lessons that it still touches.
        lessons: Vec<LessonId>,
    },
}

/// Cautions for people, by the heat index of the US National Weather Service.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PeopleBand {
    /// None.
    #[default]
    NoCaution,
    /// Tiredness is possible with long work.
    Caution,
    /// Cramps and exhaustion are possible.
    ExtremeCaution,
    /// Cramps and exhaustion are likely.
    Danger,
    /// Heat stroke is likely.
    ExtremeDanger,
}

/// Bands of heat for horses: of the horse sum, and of the floor for dry heat.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HeatBand {
    /// Carry on.
    CarryOn,
    /// Begin to watch.
    Watch,
    /// Critical to monitor.
    Critical,
    /// Choose another time.
    Stop,
}

/// A job to be done next.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct NextJob {
    /// Which ride: where touches on this job go.
    pub ride: RideId,
    /// Which horse.
    pub horse: HorseId,
    /// Its barn name.
    pub name: String,
    /// Where it stands.
    pub stall: StallId,
    /// What.
    pub job: Job,
    /// When it should begin.
    pub start_by: TimeOfDay,
    /// When it must be done.
    pub done_by: TimeOfDay,
    /// Whether it is in time.
    pub pace: Pace,
    /// Who is at it, or to do it by the plan.
    pub who: Who,
    /// True while somebody is at it.
    #[serde(default)]
    pub under_way: bool,
    /// Why staff are called to it.
    #[serde(default)]
    pub why: Option<String>,
}

/// Whose a job is.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Who {
    /// Nobody's yet: there is no plan, or it is a horse leader's.
    Open,
    /// Any of the staff's: no groom can.
    Staff,
    /// This person's.
    Person {
        /// Their id.
        id: PersonId,
        /// What the aisle calls them.
        name: String,
    },
}

/// An outing that can not be had today, by the plan.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct MissedView {
    /// Its first ride.
    pub ride: RideId,
    /// Which horse.
    pub horse: HorseId,
    /// Its barn name.
    pub name: String,
    /// Where it stands.
    pub stall: StallId,
    /// When it was to be mounted.
    pub mount: TimeOfDay,
    /// Why not, in the barn's words.
    pub why: String,
}

/// Jobs on a horse.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Job {
    /// Groom it and look it over.
    Brush,
    /// Put its tack on.
    Tack,
    /// Hand it over.
    LeadOut,
    /// Untack it, disinfect and hang the girth, brush it, back to its stall.
    PutAway,
}

/// A person who may sign in.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct PersonView {
    /// Their id.
    pub id: PersonId,
    /// What the aisle calls them.
    pub name: String,
    /// What they do.
    pub role: Role,
    /// Since when they are here today; none where they are not.
    pub since: Option<TimeOfDay>,
    /// True where the end of the last day signed them out, because they forgot to.
    #[serde(default)]
    pub assumed_out: bool,
}

/// A badge that nobody knows.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct UnknownTap {
    /// Which.
    pub badge: BadgeId,
    /// Where.
    pub reader: ReaderId,
    /// How many whole seconds ago.
    pub ago_s: u32,
}

/// One sensor, for whoever looks after them. Not on the board: an aisle has no use for it.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct SensorView {
    /// Which.
    pub sensor: Sensor,
    /// How many whole seconds ago it was last heard; none where it never was.
    pub heard_s_ago: Option<u64>,
    /// How many whole seconds ago what it measures last changed. Long ago is no fault in itself.
    pub changed_s_ago: Option<u64>,
    /// Its usual gap between two readings in whole seconds; none while too few are known.
    pub cadence_s: Option<u64>,
    /// True where it says nothing about now.
    pub silent: bool,
    /// What is left in its battery, in percent, where it tells.
    pub battery: Option<f64>,
    /// How strongly it is heard, in dBm, where it tells.
    pub signal: Option<f64>,
}
