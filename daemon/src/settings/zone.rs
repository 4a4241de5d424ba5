//! A time zone by its IANA name, and the names near to a wrong one.

use bellmare_barn::time::Zone;
use chrono_tz::{TZ_VARIANTS, Tz};

/// The zone of that name. Names without a place, such as `EST`, keep no daylight saving: they are refused but for `UTC`.
pub(super) fn parse(name: &str) -> Option<Zone> {
    let zone: Tz = name.parse().ok()?;
    (name.contains('/') || zone == Tz::UTC).then_some(Zone(zone))
}

/// What is allowed, with up to three names that are near: by the whole name or by its last part, as people write the city.
pub(super) fn allowed(name: &str) -> String {
    let plain = |text: &str| text.to_lowercase().replace([' ', '-'], "_");
    let city = |text: &str| text.rsplit('/').next().unwrap_or(text).to_owned();
    let meant = plain(name);
    let mut near: Vec<(usize, &str)> = TZ_VARIANTS
        .iter()
        .map(|zone| zone.name())
        .filter(|known| parse(known).is_some())
        .map(|known| {
            let whole = strsim::osa_distance(&meant, &plain(known));
            (whole.min(strsim::osa_distance(&city(&meant), &city(&plain(known)))), known)
        })
        .filter(|(distance, _)| *distance <= 3 && *distance * 4 <= city(&meant).len())
        .collect();
    near.sort_unstable();
    let names: Vec<&str> = near.into_iter().take(3).map(|(_, known)| known).collect();
    match names[..] {
        [] => "an IANA name such as \"America/New_York\"".to_owned(),
        _ => format!("an IANA name; near are {}", names.join(", ")),
    }
}
