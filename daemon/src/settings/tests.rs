//! Each refusal by its words; all of them together; secrets that never show; the shipped example.

use std::path::{Path, PathBuf};

use bellmare_barn::limits::{DisplayUnits, Limits};
use bellmare_barn::units::Percent;

use super::*;

fn load(toml: &str, env: &[(&str, &str)]) -> Result<Settings, SettingsError> {
    let folder = tempfile::tempdir().expect("a folder for the test");
    let path = folder.path().join("bellmare.toml");
    fs::write(&path, toml).expect("a file for the test");
    Settings::load(Some(&path), env.iter().map(|(key, value)| ((*key).to_owned(), (*value).to_owned())))
}

fn defaults() -> Settings {
    Settings::load(None, []).expect("the defaults are sound")
}

#[track_caller]
fn complaints(toml: &str, env: &[(&str, &str)]) -> Vec<String> {
    match load(toml, env) {
        Ok(_) => Vec::new(),
        Err(SettingsError::Wrong(complaints)) => complaints.iter().map(Complaint::to_string).collect(),
        Err(error) => panic!("not a matter of values: {error}"),
    }
}

/// These settings have exactly these faults.
#[track_caller]
fn check(toml: &str, told: &[&str]) {
    assert_eq!(complaints(toml, &[]), told, "{toml}");
}

#[test]
fn nothing_set_is_sound_and_open_to_nobody() {
    let settings = defaults();
    assert_eq!(settings.limits, Limits::default());
    assert_eq!(
        settings.mqtt.broker,
        Broker::Embedded { listen: "127.0.0.1:1883".parse().expect("an address"), accounts: None }
    );
    assert!(settings.web.listen.ip().is_loopback());
    assert_eq!(load("", &[]).expect("an empty file"), settings);
}

#[test]
fn what_is_set_arrives() {
    let settings = load(
        r#"
        topics = [{ topic = "hill/barn/+", binds = "stall", format = "number", quantity = "level", unit = "mm" }]
        [barn]
        name = "Hill Barn"
        time_zone = "America/New_York"
        units = "metric"
        [data]
        folder = "kept"
        book = "/srv/book"
        [mqtt]
        broker = "external"
        host = "broker.barn.example"
        tls = true
        ca_file = "ca.pem"
        user = "hub"
        password = "correct-horse"
        prefix = "hill/barn"
        [web]
        listen = "0.0.0.0:8470"
        kiosk_keys = { aisle = "0123456789abcdefghijkl" }
        [limits]
        water.low_percent = 30
        shift.day_ends = "22:30"
        [log]
        to = "stderr"
        level = "debug"
        "#,
        &[],
    )
    .expect("sound settings");
    assert_eq!(settings.limits.barn, "Hill Barn");
    assert_eq!(settings.limits.zone.0, chrono_tz::America::New_York);
    assert_eq!(settings.limits.units, DisplayUnits::Metric);
    assert_eq!(settings.limits.water.low, Percent(30.0));
    assert_eq!(settings.limits.shift.day_ends.to_string(), "22:30");
    assert!(settings.data.folder.is_absolute() && settings.data.folder.ends_with("kept"));
    assert_eq!(settings.data.book, Some(PathBuf::from("/srv/book")));
    let Broker::External { host, port, tls: Some(Tls { ca_file: Some(ca_file) }) } = settings.mqtt.broker else {
        panic!("not the broker that was set: {:?}", settings.mqtt.broker);
    };
    assert_eq!((host.as_str(), port), ("broker.barn.example", 8883));
    assert!(ca_file.is_absolute() && ca_file.ends_with("ca.pem"));
    let login = settings.mqtt.login.expect("a login");
    assert_eq!((login.user.as_str(), login.password.expose()), ("hub", "correct-horse"));
    assert!(settings.web.kiosk_keys[&KioskId::from("aisle")].is("0123456789abcdefghijkl"));
    assert!(!settings.web.kiosk_keys[&KioskId::from("aisle")].is("0123456789abcdefghijkL"));
    assert_eq!(settings.log, Log { to: LogTo::Stderr, level: LogLevel::Debug });
    assert_eq!(settings.topics[0].topic, "hill/barn/+");
}

#[test]
fn the_environment_wins_and_is_named_where_it_is_wrong() {
    let file = "[mqtt]\nbroker = \"external\"\nhost = \"a\"\nport = 1\n[limits.water]\nlow_percent = 20";
    let env = [
        ("BELLMARE_MQTT__PORT", "1884"),
        ("BELLMARE_MQTT__TLS", "true"),
        ("BELLMARE_LIMITS__WATER__LOW_PERCENT", "22.5"),
        ("PATH", "/bin"),
        ("BELLMARES", "2"),
    ];
    let settings = load(file, &env).expect("sound settings");
    assert_eq!(
        settings.mqtt.broker,
        Broker::External { host: "a".to_owned(), port: 1884, tls: Some(Tls { ca_file: None }) }
    );
    assert_eq!(settings.limits.water.low, Percent(22.5));

    let env = [("BELLMARE_MQTT__PORT", "many"), ("BELLMARE_LOG__LEVLE", "info"), ("BELLMARE_WEB", "on")];
    assert_eq!(
        complaints(file, &env),
        [
            "mqtt.port = \"many\": allowed is a whole number of 1 to 65535 (set by BELLMARE_MQTT__PORT)",
            "web = \"(not shown)\": allowed is a section of its own (set by BELLMARE_WEB)",
            "log.levle = \"(not shown)\": allowed is a known key; did you mean log.level? (set by BELLMARE_LOG__LEVLE)",
        ]
    );
}

#[test]
fn wrong_values_are_refused_with_what_is_allowed() {
    check("[barn]\nname = \"\"", &["barn.name = \"\": allowed is text of 1 to 60 characters on one line"]);
    check("[barn]\nunits = \"imperial\"", &["barn.units = \"imperial\": allowed is \"us\" or \"metric\""]);
    check("[mqtt]\nbroker = \"mine\"", &["mqtt.broker = \"mine\": allowed is \"embedded\" or \"external\""]);
    check(
        "[mqtt]\nlisten = \"localhost\"",
        &["mqtt.listen = \"localhost\": allowed is an IP address and a port, such as \"127.0.0.1:8470\" or \
           \"[::1]:8470\""],
    );
    for prefix in ["", "/barn", "barn/", "barn//aisle", "barn/#", "+", "$SYS"] {
        let told = format!(
            "mqtt.prefix = {prefix:?}: allowed is topic levels such as \"barn\" or \"hill/barn\", without + and #"
        );
        check(&format!("[mqtt]\nprefix = {prefix:?}"), &[&told]);
    }
    let external = "[mqtt]\nbroker = \"external\"\nhost = \"a\"\n";
    for port in ["0", "65536", "-1", "\"1883\"", "1883.0"] {
        let told = format!("mqtt.port = {:?}: allowed is a whole number of 1 to 65535", port.trim_matches('"'));
        check(&format!("{external}port = {port}"), &[&told.replace("1883.0", "1883")]);
    }
    check(&format!("{external}tls = \"yes\""), &["mqtt.tls = \"yes\": allowed is true or false"]);
    check("topics = 3", &["topics = \"3\": allowed is a list: [[topics]]"]);
    check(
        "[limits.shift]\nday_ends = \"24:00\"",
        &["limits.shift.day_ends = \"24:00\": allowed is a time such as \"23:00\""],
    );
    check("[limits.water]\nlow_percent = 0.5", &["limits.water.low_percent = \"0.5\": allowed is a number of 1 to 90"]);
    check("[limits.heat]\nwatch_sum = nan", &["limits.heat.watch_sum = \"NaN\": allowed is a number of 80 to 250"]);
}

#[test]
fn a_wrong_time_zone_is_told_with_those_near() {
    for (name, allowed) in [
        ("America/New York", "an IANA name; near are America/New_York"),
        ("New York", "an IANA name; near are America/New_York"),
        ("america/new_yrok", "an IANA name; near are America/New_York"),
        ("Europe/Zurch", "an IANA name; near are Europe/Zurich"),
        ("EST", "an IANA name such as \"America/New_York\""),
        ("", "an IANA name such as \"America/New_York\""),
    ] {
        check(&format!("[barn]\ntime_zone = {name:?}"), &[&format!("barn.time_zone = {name:?}: allowed is {allowed}")]);
    }
}

#[test]
fn limits_that_contradict_each_other_are_refused() {
    check(
        "[limits.water]\nlow_percent = 5",
        &["limits.water.empty_percent = \"6\": allowed is less than limits.water.low_percent, which is 5"],
    );
    check(
        "[limits.water]\nlow_percent = 90\ndeadband_percent = 11",
        &["limits.water.deadband_percent = \"11\": allowed is up to 10: a full bucket must not stay low"],
    );
    check(
        "[limits.heat]\nwatch_sum = 185",
        &["limits.heat.critical_sum = \"150\": allowed is more than limits.heat.watch_sum, which is 185"],
    );
    check(
        "[limits.heat]\nstop_sum = 150",
        &["limits.heat.stop_sum = \"150\": allowed is more than limits.heat.critical_sum, which is 150"],
    );
    check(
        "[limits.heat]\nwatch_wbgt_c = 32",
        &["limits.heat.critical_wbgt_c = \"32\": allowed is more than limits.heat.watch_wbgt_c, which is 32"],
    );
    check(
        "[limits.heat]\npeople_danger_f = 126",
        &[
            "limits.heat.people_extreme_danger_f = \"125\": allowed is more than limits.heat.people_danger_f, which is 126",
        ],
    );
    check(
        "[limits.frost]\nnear_c = 0.5",
        &["limits.frost.freezing_c = \"1\": allowed is up to limits.frost.near_c, which is 0.5"],
    );
    check(
        "[limits.sensors]\nsilent_at_least_min = 90",
        &[
            "limits.sensors.silent_at_least_min = \"90\": allowed is up to limits.sensors.silent_at_most_min, which is 60",
        ],
    );
}

#[test]
fn the_hub_is_opened_to_others_only_with_keys() {
    check(
        "[mqtt]\nlisten = \"0.0.0.0:1883\"\n[web]\nlisten = \"192.0.2.7:8470\"",
        &[
            "mqtt.listen = \"0.0.0.0:1883\": allowed is a loopback address, or mqtt.accounts_file: others can reach \
             this one",
            "web.listen = \"192.0.2.7:8470\": allowed is a loopback address, or web.kiosk_keys: others can reach this \
             one",
        ],
    );
    check(
        "[web]\nlisten = \"[::]:8470\"\nkiosk_keys = {}",
        &["web.listen = \"[::]:8470\": allowed is a loopback address, or web.kiosk_keys: others can reach this one"],
    );
    check("[mqtt]\nlisten = \"0.0.0.0:1883\"\naccounts_file = \"a\"", &[]);
    check(
        "[web]\nkiosk_keys = { Aisle = \"0123456789abcdefghijkl\", b = \"short\", c = 5 }",
        &[
            "web.kiosk_keys = \"Aisle\": allowed is names of 1 to 40 letters a-z, digits, - and _",
            "web.kiosk_keys.b = \"(not shown)\": allowed is 22 to 200 visible ASCII characters, no spaces",
            "web.kiosk_keys.c = \"(not shown)\": allowed is 22 to 200 visible ASCII characters, no spaces",
        ],
    );
    check(
        "[web]\nkiosk_keys = { a = \"0123456789abcdefghijkl\", b = \"0123456789abcdefghijkl\" }",
        &["web.kiosk_keys.b = \"(not shown)\": allowed is a key of its own; a has this one"],
    );
}

#[test]
fn keys_that_have_no_effect_or_want_another_are_refused() {
    check(
        "[mqtt]\nhost = \"a\"\nport = 1883\ntls = true\nca_file = \"x\"",
        &[
            "mqtt.host = \"a\": allowed is nothing, as mqtt.broker is \"embedded\"",
            "mqtt.port = \"1883\": allowed is nothing, as mqtt.broker is \"embedded\"",
            "mqtt.tls = \"true\": allowed is nothing, as mqtt.broker is \"embedded\"",
            "mqtt.ca_file = \"x\": allowed is nothing, as mqtt.broker is \"embedded\"",
        ],
    );
    check(
        "[mqtt]\nbroker = \"external\"\nlisten = \"127.0.0.1:1\"\nca_file = \"/x\"",
        &[
            "mqtt.listen = \"127.0.0.1:1\": allowed is nothing, as mqtt.broker is \"external\"",
            "mqtt.host = \"\": allowed is the broker's name or address, as mqtt.broker is \"external\"",
            "mqtt.ca_file = \"/x\": allowed is nothing, as mqtt.tls is false",
        ],
    );
    check(
        "[mqtt]\nuser = \"a\"",
        &["mqtt.password = \"\": allowed is a password, or mqtt.password_file, as mqtt.user is set"],
    );
    check("[mqtt]\npassword = \"a\"", &["mqtt.user = \"\": allowed is a name, as a password is set"]);
    check(
        "[mqtt]\nuser = \"a\"\npassword = \"b\"\npassword_file = \"c\"",
        &["mqtt.password_file = \"(not shown)\": allowed is nothing, as mqtt.password is set"],
    );
}

#[test]
fn everything_wrong_is_told_together_and_unknown_keys_too() {
    check(
        r#"
        mqqt = 1
        [barn]
        nmae = "x"
        units = 3
        [limits]
        wind.gust = 1
        [limits.water]
        low_percent = "a lot"
        [web]
        listen = 8470
        "#,
        &[
            "barn.units = \"3\": allowed is \"us\" or \"metric\"",
            "barn.nmae = \"(not shown)\": allowed is a known key; did you mean barn.name?",
            "web.listen = \"8470\": allowed is an IP address and a port, such as \"127.0.0.1:8470\" or \"[::1]:8470\"",
            "limits.water.low_percent = \"a lot\": allowed is a number of 1 to 90",
            "limits.wind = \"(not shown)\": allowed is a known key: water, heat, frost, sensors, lessons, shift, plan, \
             care, aisle, alarms, tell",
            "mqqt = \"(not shown)\": allowed is a known key; did you mean mqtt?",
        ],
    );
}

#[test]
fn a_password_may_stand_in_a_file() {
    let folder = tempfile::tempdir().expect("a folder for the test");
    let path = folder.path().join("password");
    let toml = format!("[mqtt]\nuser = \"hub\"\npassword_file = {:?}", path.display().to_string());
    let told = complaints(&toml, &[]);
    assert_eq!(told.len(), 1);
    assert!(told[0].contains("a readable file with the secret on its first line"), "{}", told[0]);

    fs::write(&path, "from a file\n").expect("a file for the test");
    let login = load(&toml, &[]).expect("sound settings").mqtt.login.expect("a login");
    assert_eq!(login.password.expose(), "from a file");
}

#[test]
fn secrets_show_nowhere() {
    const SECRET: &str = "s3cr3t-s3cr3t-s3cr3t-s3cr3t";
    let toml =
        format!("[mqtt]\nuser = \"hub\"\npassword = \"{SECRET}\"\n[web]\nkiosk_keys = {{ aisle = \"{SECRET}\" }}");
    let settings = load(&toml, &[]).expect("sound settings");
    let printed = settings.print();
    assert!(!printed.contains(SECRET) && !format!("{settings:?}").contains(SECRET), "{printed}");
    assert!(printed.contains("# user is \"hub\", and a password is set\n"), "{printed}");
    assert!(printed.contains("# kiosk_keys.aisle is set"), "{printed}");

    // Nor in what is said of faulty settings: a misspelt key, a wrong secret, a line that is no TOML.
    for toml in [
        format!("[mqtt]\npasword = \"{SECRET}\""),
        format!("[mqtt]\nuser = \"hub\"\npassword = \"{SECRET} with spaces\""),
        format!("[web]\nkiosk_keys = {{ aisle = [\"{SECRET}\"] }}"),
        format!("[web]\nkiosk_keys = \"{SECRET}\""),
        format!("[mqtt]\npassword = \"{SECRET}"),
    ] {
        let error = load(&toml, &[]).expect_err("faulty settings");
        assert!(!format!("{error} {error:?}").contains(SECRET), "{error}");
    }
}

#[test]
fn messages_need_a_line_that_others_can_not_read() {
    let mail = "[messages.mail]\nfrom = \"hub@barn.example\"\n";
    check(
        &format!("{mail}host = \"mail.barn.example\"\ntls = \"none\""),
        &[
            "messages.mail.tls = \"none\": allowed is \"starttls\" or \"tls\", as others can read the line to messages.mail.host",
        ],
    );
    for here in ["localhost", "127.0.0.1", "::1"] {
        check(&format!("{mail}host = {here:?}\ntls = \"none\""), &[]);
    }
    check(
        "[messages.webhook]\nurl = \"http://10.0.0.2/barn\"",
        &["messages.webhook.url = \"http://10.0.0.2/barn\": allowed is https, or http to this machine, or \
           messages.webhook.insecure = true: others can read the line"],
    );
    for url in ["http://[::1]:80/", "http://localhost/x", "https://office.example/"] {
        check(&format!("[messages.webhook]\nurl = {url:?}"), &[]);
    }
    check("[messages.webhook]\nurl = \"http://10.0.0.2/barn\"\ninsecure = true", &[]);
}

#[test]
fn messages_that_could_reach_nobody_are_refused() {
    check(
        "[messages.mail]\nport = 25",
        &[
            "messages.mail.host = \"\": allowed is to be set, as messages.mail is",
            "messages.mail.from = \"\": allowed is to be set, as messages.mail is",
        ],
    );
    check(
        "[messages.people]\nlena = \"lena@barn.example\"",
        &["messages.people = \"1 of them\": allowed is nothing, as messages.mail is not set"],
    );
    check(
        "[messages.mail]\nhost = \"m\"\nfrom = \"nobody\"\n[messages.people]\nlena = \"lena\"",
        &[
            "messages.mail.from = \"nobody\": allowed is a mail address such as \"Larkspur Hollow <hub@barn.example>\"",
            "messages.people.lena = \"lena\": allowed is a mail address such as \"lena@barn.example\"",
        ],
    );
    check(
        "[messages]\nlink_base = \"192.168.1.10:8470\"",
        &[
            "messages.link_base = \"192.168.1.10:8470\": allowed is the hub's pages as people in the barn reach them, such as \
           \"http://192.168.1.10:8470\"",
        ],
    );
    check(
        "[messages.webhook]\nurl = \"https://a\"\nsecret = \"short\"\nsekret = \"longer-than-that-one\"",
        &[
            "messages.webhook.secret = \"(not shown)\": allowed is 16 to 200 visible ASCII characters, no spaces",
            "messages.webhook.sekret = \"(not shown)\": allowed is a known key; did you mean messages.webhook.secret?",
        ],
    );
}

#[test]
fn a_file_that_is_no_toml_or_not_there_is_named() {
    let error = load("[barn]\nname = \"a\"\nunits = us\n", &[]).expect_err("no TOML").to_string();
    assert!(error.contains("bellmare.toml line 3: not TOML: "), "{error}");
    let error = Settings::load(Some(Path::new("/nowhere/bellmare.toml")), []).expect_err("no file");
    assert_eq!(error.to_string(), "reading the settings from /nowhere/bellmare.toml");
}

#[test]
fn what_is_printed_says_the_same_when_it_is_read_again() {
    let topics = "[mqtt]\nwatch = [\"homie/5\"]\n[[topics]]\ntopic = \"barn/+/air\"\nbinds = \"place\"\n\
                  format = \"json\"\nfields = [{ pointer = \"/t\", quantity = \"temperature\", unit = \"C\" }]\n";
    let external = "[barn]\nname = \"O\\\"Hara\"\n[mqtt]\nbroker = \"external\"\nhost = \"a\"\ntls = true\nca_file = \"/x\"\n\
                    [data]\nbook = \"/b\"\n[limits.heat]\nwatch_sum = 131.5";
    let messages = "[messages]\nlink_base = \"http://10.0.0.2:8470/\"\noutdated_after_min = 60\n[messages.mail]\nhost = \"mail.barn.example\"\n\
                    tls = \"tls\"\nfrom = \"The Barn <hub@barn.example>\"\n[messages.webhook]\nurl = \"http://10.0.0.3/x?y=1\"\n\
                    insecure = true\nformat = \"cap\"\n[messages.mqtt]\nprefix = \"hill/barn\"\n[messages.people]\n\
                    lena = \"lena@barn.example\"\n\"o'hara\" = \"o@barn.example\"";
    for toml in ["", topics, external, messages] {
        let settings = load(toml, &[]).expect("sound settings");
        assert_eq!(load(&settings.print(), &[]).expect("what was printed"), settings);
    }
}

const EXAMPLE: &str = include_str!("../../../deploy/bellmare.toml");

#[test]
fn the_shipped_example_shows_the_defaults() {
    assert_eq!(load(EXAMPLE, &[]).expect("the example as it is shipped"), defaults());
    let key =
        |line: &str| line.strip_prefix('#').is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_lowercase()));
    let uncommented: String =
        EXAMPLE.lines().map(|line| if key(line) { &line[1..] } else { line }).map(|line| format!("{line}\n")).collect();
    assert_eq!(load(&uncommented, &[]).expect("the example with its defaults set"), defaults());

    // Every key of the settings in force stands there, as a default.
    let shown = |text: &str| text.lines().filter(|line| line.contains(" = ") && !line.starts_with('#')).count();
    assert_eq!(shown(&uncommented), shown(&defaults().print()));
}

#[test]
fn the_examples_in_the_shipped_file_are_sound_once_they_are_made_ones_own() {
    let folder = tempfile::tempdir().expect("a folder for the test");
    let password = folder.path().join("password");
    fs::write(&password, "p").expect("a file for the test");
    let secret = folder.path().join("secret");
    fs::write(&secret, "0123456789abcdef").expect("a file for the test");
    // Accounts are for the embedded broker, and the example has the other one.
    let copied = EXAMPLE
        .lines()
        .filter(|line| !line.contains("example: accounts_file") && !line.contains("example: permissions_file"))
        .map(|line| format!("{line}\n"))
        .collect::<String>()
        .replace("# example: ", "")
        .replace("/etc/bellmare/mqtt-password", &password.display().to_string())
        .replace("/etc/bellmare/mail-password", &password.display().to_string())
        .replace("/etc/bellmare/webhook-secret", &secret.display().to_string());
    assert_eq!(
        complaints(&copied, &[]),
        ["web.kiosk_keys.aisle = \"(not shown)\": allowed is 22 to 200 visible ASCII characters, no spaces"]
    );
    let own = copied.replace("make one: openssl rand -base64 24", "QnJ1c2ggdGhlIGdyZXkgbWFyZSBmaXJzdA==");
    assert_eq!(complaints(&own, &[]), Vec::<String>::new());
}
