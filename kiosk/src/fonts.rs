//! Fonts for names in scripts that the kiosk's own font lacks: Greek, Cyrillic, Vietnamese. They are inside the program, asked
//! after its own font and before those of the system; what none of them has is drawn as an empty box.

use std::cell::Cell;
use std::sync::Arc;

use slint::fontique_011::{fontique, shared_collection};

/// The fonts of other scripts, by weight: regular, semi-bold, bold.
pub(crate) const OTHERS: [&[u8]; 3] = [
    include_bytes!("../ui/fonts/NotoSans_400Regular.subset.ttf"),
    include_bytes!("../ui/fonts/NotoSans_600SemiBold.subset.ttf"),
    include_bytes!("../ui/fonts/NotoSans_700Bold.subset.ttf"),
];

/// Puts them behind the kiosk's font, on this thread. A window must have been made.
pub fn register() {
    thread_local!(static DONE: Cell<bool> = const { Cell::new(false) });
    if DONE.replace(true) {
        return;
    }
    let mut collection = shared_collection();
    let mut families = Vec::new();
    for font in OTHERS {
        for (family, _) in collection.register_fonts(fontique::Blob::new(Arc::new(font)), None) {
            if !families.contains(&family) {
                families.push(family);
            }
        }
    }
    for generic in [fontique::GenericFamily::SansSerif, fontique::GenericFamily::SystemUi] {
        let others: Vec<_> = collection.generic_families(generic).collect();
        collection.set_generic_families(generic, families.iter().copied().chain(others));
    }
}
