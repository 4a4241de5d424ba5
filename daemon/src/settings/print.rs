//! The settings in force as TOML again, without a secret: for a person who asks what the hub goes by.

use std::fmt::Display;

use bellmare_barn::limits::Limits;
use toml::Value;

use super::limits::WEEKDAYS;
use super::messages::{MAIL_TLS, Messages, WEBHOOK_FORMAT};
use super::sections::{LOG_LEVELS, LOG_TO, UNITS};
use super::{Accounts, Broker, Login, Mqtt, Settings};

impl Settings {
    /// The settings in force as TOML. Where a secret is set, a comment says so.
    pub fn print(&self) -> String {
        let mut page = Page::default();
        if !self.topics.is_empty() {
            let topics = Value::try_from(&self.topics).unwrap_or(Value::Array(Vec::new()));
            page.key("topics", topics);
        }
        let limits = &self.limits;
        page.section("barn");
        page.key("name", limits.barn.as_str());
        page.key("time_zone", limits.zone.0.name());
        page.key("units", word(UNITS, limits.units));
        page.section("data");
        page.key("folder", self.data.folder.to_string_lossy().as_ref());
        if let Some(book) = &self.data.book {
            page.key("book", book.to_string_lossy().as_ref());
        }
        page.section("mqtt");
        mqtt(&mut page, &self.mqtt);
        page.section("web");
        page.key("listen", self.web.listen.to_string());
        for kiosk in self.web.kiosk_keys.keys() {
            page.comment(format!("kiosk_keys.{kiosk} is set"));
        }
        messages(&mut page, &self.messages);
        print_limits(&mut page, limits);
        page.section("log");
        page.key("to", word(LOG_TO, self.log.to));
        page.key("level", word(LOG_LEVELS, self.log.level));
        page.0
    }
}

fn mqtt(page: &mut Page, mqtt: &Mqtt) {
    match &mqtt.broker {
        Broker::Embedded { listen, accounts } => {
            page.key("broker", "embedded");
            page.key("listen", listen.to_string());
            if let Some(Accounts { passwords, permissions }) = accounts {
                page.key("accounts_file", passwords.to_string_lossy().as_ref());
                if let Some(permissions) = permissions {
                    page.key("permissions_file", permissions.to_string_lossy().as_ref());
                }
            }
        }
        Broker::External { host, port, tls } => {
            page.key("broker", "external");
            page.key("host", host.as_str());
            page.key("port", i64::from(*port));
            page.key("tls", tls.is_some());
            if let Some(ca_file) = tls.as_ref().and_then(|tls| tls.ca_file.as_ref()) {
                page.key("ca_file", ca_file.to_string_lossy().as_ref());
            }
        }
    }
    if let Some(Login { user, .. }) = &mqtt.login {
        page.comment(format!("user is {user:?}, and a password is set"));
    }
    page.key("client_id", mqtt.client_id.as_str());
    page.key("prefix", mqtt.prefix.as_str());
    page.key("watch", mqtt.watch.clone());
}

fn messages(page: &mut Page, messages: &Messages) {
    page.section("messages");
    page.key("outdated_after_min", i64::from(messages.outdated_after_min));
    if let Some(link_base) = &messages.link_base {
        page.key("link_base", link_base.as_str());
    }
    if let Some(mail) = &messages.mail {
        page.section("messages.mail");
        page.key("host", mail.host.as_str());
        page.key("port", i64::from(mail.port));
        page.key("tls", word(MAIL_TLS, mail.tls));
        if let Some(ca_file) = &mail.ca_file {
            page.key("ca_file", ca_file.to_string_lossy().as_ref());
        }
        if let Some(Login { user, .. }) = &mail.login {
            page.comment(format!("user is {user:?}, and a password is set"));
        }
        page.key("from", mail.from.to_string());
    }
    if let Some(webhook) = &messages.webhook {
        page.section("messages.webhook");
        page.key("url", webhook.url.as_str());
        page.key("insecure", webhook.insecure);
        if let Some(ca_file) = &webhook.ca_file {
            page.key("ca_file", ca_file.to_string_lossy().as_ref());
        }
        if webhook.secret.is_some() {
            page.comment("a secret is set".to_owned());
        }
        page.key("format", word(WEBHOOK_FORMAT, webhook.format));
    }
    if let Some(mqtt) = &messages.mqtt {
        page.section("messages.mqtt");
        page.key("prefix", mqtt.prefix.as_str());
    }
    if !messages.people.is_empty() {
        page.section("messages.people");
        for (person, address) in &messages.people {
            page.key(&Value::from(person.as_str()).to_string(), address.to_string());
        }
    }
}

fn print_limits(page: &mut Page, limits: &Limits) {
    let Limits {
        barn: _,
        zone: _,
        units: _,
        water,
        heat,
        frost,
        sensors,
        lessons,
        shift,
        plan,
        care,
        aisle,
        alarms,
        tell,
    } = limits;
    page.section("limits.water");
    page.key("low_percent", water.low.get());
    page.key("empty_percent", water.empty.get());
    page.key("deadband_percent", water.deadband.get());
    page.key("empty_alarm_after_min", i64::from(water.empty_alarm_after.0));
    page.key("empty_presses_after_min", i64::from(water.empty_presses_after.0));
    page.key("low_alarm_after_min", i64::from(water.low_alarm_after.0));
    page.key("round_ahead_min", i64::from(water.round_ahead.0));
    page.key("not_drinking_after_min", i64::from(water.not_drinking_after.0));
    page.key("not_drinking_at_most_min", i64::from(water.not_drinking_at_most.0));
    page.key("drinks_little_percent", water.drinks_little.get());
    page.key("drinks_much_percent", water.drinks_much.get());
    page.key("amount_alarm_after_min", i64::from(water.amount_alarm_after.0));
    page.key("ice_below_c", water.ice_below.get());
    page.key("ice_after_min", i64::from(water.ice_after.0));
    page.section("limits.heat");
    page.key("watch_sum", heat.watch);
    page.key("critical_sum", heat.critical);
    page.key("stop_sum", heat.stop);
    page.key("deadband_sum", heat.deadband);
    page.key("alarm_after_min", i64::from(heat.alarm_after.0));
    page.key("from_air_c", heat.from_air.get());
    page.key("watch_wbgt_c", heat.floor.watch_wbgt.get());
    page.key("critical_wbgt_c", heat.floor.critical_wbgt.get());
    page.key("stop_air_c", heat.floor.stop_air.get());
    page.key("deadband_c", heat.floor.deadband.get());
    page.key("people_caution_f", heat.people.caution.get());
    page.key("people_extreme_caution_f", heat.people.extreme_caution.get());
    page.key("people_danger_f", heat.people.danger.get());
    page.key("people_extreme_danger_f", heat.people.extreme_danger.get());
    page.key("people_deadband_f", heat.people.deadband.get());
    page.key("doubt_apart_c", heat.doubt.apart.get());
    page.key("doubt_dew_point_apart_c", heat.doubt.dew_apart.get());
    page.key("doubt_after_min", i64::from(heat.doubt.after.0));
    page.key("lesson_ahead_min", i64::from(heat.ahead.0));
    page.section("limits.frost");
    page.key("near_c", frost.near.get());
    page.key("freezing_c", frost.freezing.get());
    page.key("deadband_c", frost.deadband.get());
    page.key("alarm_after_min", i64::from(frost.alarm_after.0));
    page.section("limits.sensors");
    page.key("silent_after_gaps", i64::from(sensors.silent_after_gaps));
    page.key("silent_at_least_min", i64::from(sensors.silent_at_least.0));
    page.key("silent_at_most_min", i64::from(sensors.silent_at_most.0));
    page.key("battery_low_percent", sensors.battery_low.get());
    page.key("own_time_ahead_min", i64::from(sensors.own_time_ahead.0));
    page.key("own_time_behind_min", i64::from(sensors.own_time_behind.0));
    page.section("limits.lessons");
    page.key("ready_lead_min", i64::from(lessons.ready_lead.0));
    page.section("limits.shift");
    page.key("same_tap_s", i64::from(shift.same_tap_s));
    page.key("day_ends", shift.day_ends.to_string());
    page.section("limits.plan");
    page.key("walk_back_min", i64::from(plan.walk_back.0));
    page.key("stand_min", i64::from(plan.stand.0));
    page.key("girth_dry_min", i64::from(plan.girth_dry.0));
    page.key("stay_tacked_min", i64::from(plan.stay_tacked.0));
    page.key("promise_min", i64::from(plan.promise.0));
    page.key("stays_min", i64::from(plan.stays.0));
    page.key("waited_for_min", i64::from(plan.waited_for.0));
    page.key("calm", i64::from(plan.calm));
    page.section("limits.care");
    page.key("own_temperature_apart_c", care.own_temperature_apart.get());
    page.key("own_pulse_apart_per_min", care.own_pulse_apart.get());
    page.key("own_breaths_apart_per_min", care.own_breaths_apart.get());
    page.key("after_work_min", i64::from(care.after_work.0));
    page.key("count_again_min", i64::from(care.count_again.0));
    page.key("pulse_after_work_per_min", care.pulse_after_work.get());
    page.section("limits.aisle");
    page.key("hay_unanswered_min", i64::from(aisle.hay_unanswered.0));
    page.section("limits.alarms");
    page.key("off_delay_s", i64::from(alarms.off_delay_s));
    page.key("chatter_raises", i64::from(alarms.chatter_raises));
    page.key("chatter_steady_min", i64::from(alarms.chatter_steady.0));
    page.key("many_silent", i64::from(alarms.many_silent));
    page.key("silent_pressing_min", i64::from(alarms.silent_pressing.0));
    page.key("flood", i64::from(alarms.flood));
    page.key("disk_low_mib", i64::from(alarms.disk_low_mib));
    page.key("late_min", i64::from(alarms.late.0));
    page.key("nobody_before_min", i64::from(alarms.nobody_before.0));
    page.key("clock_after_min", i64::from(alarms.clock_after.0));
    page.key("out_of_service", alarms.out_of_service.iter().map(ToString::to_string).collect::<Vec<_>>());
    page.section("limits.tell");
    page.key("high_second_min", i64::from(tell.high_second.0));
    page.key("high_third_min", i64::from(tell.high_third.0));
    page.key("medium_second_min", i64::from(tell.medium_second.0));
    page.key("medium_third_min", i64::from(tell.medium_third.0));
    page.key("quiet_from", tell.quiet_from.to_string());
    page.key("quiet_to", tell.quiet_to.to_string());
    page.key("digest_at", tell.digest_at.to_string());
    page.key("heartbeat_on", word(WEEKDAYS, tell.heartbeat_on));
}

#[derive(Default)]
struct Page(String);

impl Page {
    fn line(&mut self, line: impl Display) {
        self.0 += &format!("{line}\n");
    }

    fn section(&mut self, name: &str) {
        let gap = if self.0.is_empty() { "" } else { "\n" };
        self.line(format_args!("{gap}[{name}]"));
    }

    fn key(&mut self, key: &str, value: impl Into<Value>) {
        self.line(format_args!("{key} = {}", value.into()));
    }

    fn comment(&mut self, text: String) {
        self.line(format_args!("# {text}"));
    }
}

fn word<T: Copy + PartialEq>(words: &[(&'static str, T)], value: T) -> &'static str {
    words.iter().find(|(_, known)| *known == value).map_or("", |(word, _)| word)
}
