//! Which alarm follows from which: where the root stands, what follows from it is not an alarm of its own. A dead line to the
//! broker is one alarm, and not one for each sensor that can not be heard. A root never hides what is more pressing than
//! itself.

use super::Cause;
use crate::board::Priority;
use crate::book::WaterPlace;
use crate::input::Sensor;

/// Whether the second follows from the first.
pub(super) fn hides((root, pressing): (&Cause, Priority), (follows, less): (&Cause, Priority)) -> bool {
    pressing <= less && is_root(root, follows)
}

fn is_root(root: &Cause, follows: &Cause) -> bool {
    match (root, follows) {
        // Nothing can be heard, or a line of many: no sensor is to blame.
        (Cause::Broker, Cause::Silent(_) | Cause::ManySilent) | (Cause::ManySilent, Cause::Silent(_)) => true,
        // A sensor that can not be believed is looked at anyhow; a dead one has a dead battery.
        (Cause::Faulty(a), Cause::Silent(b)) | (Cause::Silent(a), Cause::Battery(b)) => a == b,
        (Cause::Empty(a), Cause::Low(b)) => a == b,
        (Cause::Leak(Sensor::Water(a)), Cause::Low(WaterPlace::Stall(b))) => a == b,
        // Who has not drunk for half a day has drunk little.
        (Cause::NotDrinking(a), Cause::Drinks(b)) => a == b,
        // Whoever looks after a horse that something is wrong with finds what was measured of it on its page.
        (Cause::Wrong(a), Cause::Vitals(b)) => a == b,
        (Cause::NobodyHere, Cause::Late(_) | Cause::NobodyFor(_)) => true,
        (Cause::NobodyFor(a), Cause::Late(b)) => a == b,
        _ => false,
    }
}
