//! The section `limits`: every limit of the barn by its name and unit, each with the range that makes sense at all, and
//! the order between them. What is not set is what the barn crate proposes.

use bellmare_barn::alarm::cause::OutOfService;
use bellmare_barn::limits::{
    AisleLimits, AlarmLimits, CareLimits, FrostLimits, HeatLimits, LessonLimits, PlanLimits, SensorLimits, ShiftLimits,
    TellLimits, WaterLimits,
};
use bellmare_barn::units::{Celsius, Fahrenheit, Minutes, PerMinute, Percent};

use super::section::Section;

/// Days of the week, Monday first.
pub(super) const WEEKDAYS: &[(&str, u8)] =
    &[("monday", 0), ("tuesday", 1), ("wednesday", 2), ("thursday", 3), ("friday", 4), ("saturday", 5), ("sunday", 6)];

/// The limits that stand in this section; the barn's name, zone and units stand in another.
pub(super) struct Read {
    pub(super) water: WaterLimits,
    pub(super) heat: HeatLimits,
    pub(super) frost: FrostLimits,
    pub(super) sensors: SensorLimits,
    pub(super) lessons: LessonLimits,
    pub(super) shift: ShiftLimits,
    pub(super) plan: PlanLimits,
    pub(super) care: CareLimits,
    pub(super) aisle: AisleLimits,
    pub(super) alarms: AlarmLimits,
    pub(super) tell: TellLimits,
}

pub(super) fn read(mut limits: Section) -> Read {
    let default = bellmare_barn::limits::Limits::default();
    let read = Read {
        water: water(limits.section("water"), default.water),
        heat: heat(limits.section("heat"), default.heat),
        frost: frost(limits.section("frost"), default.frost),
        sensors: sensors(limits.section("sensors"), default.sensors),
        lessons: lessons(limits.section("lessons"), default.lessons),
        shift: shift(limits.section("shift"), default.shift),
        plan: plan(limits.section("plan"), default.plan),
        care: care(limits.section("care"), default.care),
        aisle: aisle(limits.section("aisle"), default.aisle),
        alarms: alarms(limits.section("alarms"), default.alarms),
        tell: tell(limits.section("tell"), default.tell),
    };
    limits.finish();
    read
}

fn water(mut s: Section, mut water: WaterLimits) -> WaterLimits {
    set(&mut water.low, s.number("low_percent", 1.0..=90.0).map(Percent));
    set(&mut water.empty, s.number("empty_percent", 0.0..=50.0).map(Percent));
    set(&mut water.deadband, s.number("deadband_percent", 0.0..=20.0).map(Percent));
    set(&mut water.empty_alarm_after, s.whole("empty_alarm_after_min", 0..=1440).map(Minutes));
    set(&mut water.empty_presses_after, s.whole("empty_presses_after_min", 0..=1440).map(Minutes));
    set(&mut water.low_alarm_after, s.whole("low_alarm_after_min", 0..=1440).map(Minutes));
    set(&mut water.round_ahead, s.whole("round_ahead_min", 0..=1440).map(Minutes));
    set(&mut water.not_drinking_after, s.whole("not_drinking_after_min", 120..=1440).map(Minutes));
    set(&mut water.not_drinking_at_most, s.whole("not_drinking_at_most_min", 120..=1440).map(Minutes));
    set(&mut water.drinks_little, s.number("drinks_little_percent", 0.0..=90.0).map(Percent));
    set(&mut water.drinks_much, s.number("drinks_much_percent", 110.0..=1000.0).map(Percent));
    set(&mut water.amount_alarm_after, s.whole("amount_alarm_after_min", 0..=1440).map(Minutes));
    set(&mut water.ice_below, s.number("ice_below_c", -20.0..=5.0).map(Celsius));
    set(&mut water.ice_after, s.whole("ice_after_min", 10..=1440).map(Minutes));
    if water.not_drinking_at_most < water.not_drinking_after {
        let allowed = format!("at least limits.water.not_drinking_after_min, which is {}", water.not_drinking_after.0);
        s.complain("not_drinking_at_most_min", water.not_drinking_at_most.0, allowed);
    }
    if water.empty >= water.low {
        let (empty, low) = (water.empty.get(), water.low.get());
        s.complain("empty_percent", empty, format!("less than limits.water.low_percent, which is {low}"));
    }
    if water.low.get() + water.deadband.get() > 100.0 {
        let most = 100.0 - water.low.get();
        s.complain("deadband_percent", water.deadband.get(), format!("up to {most}: a full bucket must not stay low"));
    }
    s.finish();
    water
}

fn heat(mut s: Section, mut heat: HeatLimits) -> HeatLimits {
    // Degrees Fahrenheit plus percent humidity.
    let sums = 80.0..=250.0;
    set(&mut heat.watch, s.number("watch_sum", sums.clone()));
    set(&mut heat.critical, s.number("critical_sum", sums.clone()));
    set(&mut heat.stop, s.number("stop_sum", sums));
    set(&mut heat.deadband, s.number("deadband_sum", 0.0..=20.0));
    set(&mut heat.alarm_after, s.whole("alarm_after_min", 0..=240).map(Minutes));
    if heat.critical <= heat.watch {
        let allowed = format!("more than limits.heat.watch_sum, which is {}", heat.watch);
        s.complain("critical_sum", heat.critical, allowed);
    }
    if heat.stop <= heat.critical {
        let allowed = format!("more than limits.heat.critical_sum, which is {}", heat.critical);
        s.complain("stop_sum", heat.stop, allowed);
    }
    set(&mut heat.from_air, s.number("from_air_c", -20.0..=30.0).map(Celsius));
    let floor = &mut heat.floor;
    set(&mut floor.watch_wbgt, s.number("watch_wbgt_c", 15.0..=50.0).map(Celsius));
    set(&mut floor.critical_wbgt, s.number("critical_wbgt_c", 15.0..=50.0).map(Celsius));
    set(&mut floor.stop_air, s.number("stop_air_c", 20.0..=60.0).map(Celsius));
    set(&mut floor.deadband, s.number("deadband_c", 0.0..=5.0).map(Celsius));
    if floor.critical_wbgt <= floor.watch_wbgt {
        let allowed = format!("more than limits.heat.watch_wbgt_c, which is {}", floor.watch_wbgt.get());
        s.complain("critical_wbgt_c", floor.critical_wbgt.get(), allowed);
    }
    let people = &mut heat.people;
    let mut before: Option<(&str, Fahrenheit)> = None;
    for (key, step) in [
        ("people_caution_f", &mut people.caution),
        ("people_extreme_caution_f", &mut people.extreme_caution),
        ("people_danger_f", &mut people.danger),
        ("people_extreme_danger_f", &mut people.extreme_danger),
    ] {
        set(step, s.number(key, 60.0..=137.0).map(Fahrenheit));
        if let Some((lower, least)) = before.filter(|(_, least)| *step <= *least) {
            s.complain(key, step.get(), format!("more than limits.heat.{lower}, which is {}", least.get()));
        }
        before = Some((key, *step));
    }
    set(&mut people.deadband, s.number("people_deadband_f", 0.0..=10.0).map(Fahrenheit));
    set(&mut heat.doubt.apart, s.number("doubt_apart_c", 1.0..=30.0).map(Celsius));
    set(&mut heat.doubt.dew_apart, s.number("doubt_dew_point_apart_c", 1.0..=30.0).map(Celsius));
    set(&mut heat.doubt.after, s.whole("doubt_after_min", 0..=1440).map(Minutes));
    set(&mut heat.ahead, s.whole("lesson_ahead_min", 0..=720).map(Minutes));
    s.finish();
    heat
}

fn frost(mut s: Section, mut frost: FrostLimits) -> FrostLimits {
    set(&mut frost.near, s.number("near_c", -10.0..=15.0).map(Celsius));
    set(&mut frost.freezing, s.number("freezing_c", -10.0..=10.0).map(Celsius));
    set(&mut frost.deadband, s.number("deadband_c", 0.0..=5.0).map(Celsius));
    set(&mut frost.alarm_after, s.whole("alarm_after_min", 0..=1440).map(Minutes));
    if frost.freezing > frost.near {
        let allowed = format!("up to limits.frost.near_c, which is {}", frost.near.get());
        s.complain("freezing_c", frost.freezing.get(), allowed);
    }
    s.finish();
    frost
}

fn sensors(mut s: Section, mut sensors: SensorLimits) -> SensorLimits {
    set(&mut sensors.silent_after_gaps, s.whole("silent_after_gaps", 2..=100));
    set(&mut sensors.silent_at_least, s.whole("silent_at_least_min", 1..=1440).map(Minutes));
    set(&mut sensors.silent_at_most, s.whole("silent_at_most_min", 1..=10_080).map(Minutes));
    set(&mut sensors.battery_low, s.number("battery_low_percent", 1.0..=90.0).map(Percent));
    set(&mut sensors.own_time_ahead, s.whole("own_time_ahead_min", 0..=1440).map(Minutes));
    set(&mut sensors.own_time_behind, s.whole("own_time_behind_min", 0..=43_200).map(Minutes));
    if sensors.silent_at_least > sensors.silent_at_most {
        let allowed = format!("up to limits.sensors.silent_at_most_min, which is {}", sensors.silent_at_most.0);
        s.complain("silent_at_least_min", sensors.silent_at_least.0, allowed);
    }
    s.finish();
    sensors
}

fn lessons(mut s: Section, mut lessons: LessonLimits) -> LessonLimits {
    set(&mut lessons.ready_lead, s.whole("ready_lead_min", 0..=120).map(Minutes));
    s.finish();
    lessons
}

fn shift(mut s: Section, mut shift: ShiftLimits) -> ShiftLimits {
    set(&mut shift.same_tap_s, s.whole("same_tap_s", 0..=60));
    set(&mut shift.day_ends, s.time("day_ends"));
    s.finish();
    shift
}

fn plan(mut s: Section, mut plan: PlanLimits) -> PlanLimits {
    set(&mut plan.walk_back, s.whole("walk_back_min", 0..=60).map(Minutes));
    set(&mut plan.stand, s.whole("stand_min", 0..=240).map(Minutes));
    set(&mut plan.girth_dry, s.whole("girth_dry_min", 0..=240).map(Minutes));
    set(&mut plan.stay_tacked, s.whole("stay_tacked_min", 0..=120).map(Minutes));
    set(&mut plan.promise, s.whole("promise_min", 0..=240).map(Minutes));
    set(&mut plan.stays, s.whole("stays_min", 30..=900).map(Minutes));
    set(&mut plan.waited_for, s.whole("waited_for_min", 0..=120).map(Minutes));
    set(&mut plan.calm, s.whole("calm", 0..=5000));
    s.finish();
    plan
}

fn care(mut s: Section, mut care: CareLimits) -> CareLimits {
    set(&mut care.own_temperature_apart, s.number("own_temperature_apart_c", 0.1..=2.0).map(Celsius));
    set(&mut care.own_pulse_apart, s.number("own_pulse_apart_per_min", 1.0..=30.0).map(PerMinute));
    set(&mut care.own_breaths_apart, s.number("own_breaths_apart_per_min", 1.0..=30.0).map(PerMinute));
    set(&mut care.after_work, s.whole("after_work_min", 0..=240).map(Minutes));
    set(&mut care.count_again, s.whole("count_again_min", 0..=60).map(Minutes));
    set(&mut care.pulse_after_work, s.number("pulse_after_work_per_min", 40.0..=100.0).map(PerMinute));
    if care.count_again > care.after_work {
        let allowed = format!("up to limits.care.after_work_min, which is {}", care.after_work.0);
        s.complain("count_again_min", care.count_again.0, allowed);
    }
    s.finish();
    care
}

fn aisle(mut s: Section, mut aisle: AisleLimits) -> AisleLimits {
    set(&mut aisle.hay_unanswered, s.whole("hay_unanswered_min", 1..=240).map(Minutes));
    s.finish();
    aisle
}

fn alarms(mut s: Section, mut alarms: AlarmLimits) -> AlarmLimits {
    set(&mut alarms.off_delay_s, s.whole("off_delay_s", 0..=600));
    set(&mut alarms.chatter_raises, s.whole("chatter_raises", 2..=20));
    set(&mut alarms.chatter_steady, s.whole("chatter_steady_min", 5..=240).map(Minutes));
    set(&mut alarms.many_silent, s.whole("many_silent", 2..=100));
    set(&mut alarms.silent_pressing, s.whole("silent_pressing_min", 0..=1440).map(Minutes));
    set(&mut alarms.flood, s.whole("flood", 3..=100));
    set(&mut alarms.disk_low_mib, s.whole("disk_low_mib", 10..=100_000));
    set(&mut alarms.late, s.whole("late_min", 0..=120).map(Minutes));
    set(&mut alarms.nobody_before, s.whole("nobody_before_min", 0..=240).map(Minutes));
    set(&mut alarms.clock_after, s.whole("clock_after_min", 0..=240).map(Minutes));
    for (at, text) in s.list::<String>("out_of_service").into_iter().enumerate() {
        match OutOfService::parse(&text) {
            Some(one) => {
                alarms.out_of_service.insert(one);
            }
            None => s.complain(&format!("out_of_service[{at}]"), text, OutOfService::ALLOWED),
        }
    }
    s.finish();
    alarms
}

fn tell(mut s: Section, mut tell: TellLimits) -> TellLimits {
    set(&mut tell.high_second, s.whole("high_second_min", 0..=240).map(Minutes));
    set(&mut tell.high_third, s.whole("high_third_min", 0..=240).map(Minutes));
    set(&mut tell.medium_second, s.whole("medium_second_min", 0..=1440).map(Minutes));
    set(&mut tell.medium_third, s.whole("medium_third_min", 0..=1440).map(Minutes));
    for (key, second, third) in [
        ("high_third_min", tell.high_second, tell.high_third),
        ("medium_third_min", tell.medium_second, tell.medium_third),
    ] {
        if third < second {
            let allowed = format!("at least limits.tell.{}, which is {}", key.replace("third", "second"), second.0);
            s.complain(key, third.0, allowed);
        }
    }
    set(&mut tell.quiet_from, s.time("quiet_from"));
    set(&mut tell.quiet_to, s.time("quiet_to"));
    set(&mut tell.digest_at, s.time("digest_at"));
    set(&mut tell.heartbeat_on, s.choice("heartbeat_on", WEEKDAYS));
    s.finish();
    tell
}

fn set<T>(limit: &mut T, told: Option<T>) {
    if let Some(told) = told {
        *limit = told;
    }
}
