//! How a horse is, as people measured and saw it, and how much work it has done. Nothing here is a diagnosis or a permission:
//! it says what differs from what, and whose word counts.

pub mod observed;
pub mod published;
pub mod record;
pub mod seen;
pub mod tape;
pub mod vitals;
pub mod work_done;
pub mod wrong;
