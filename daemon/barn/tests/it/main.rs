//! The whole barn, through its one door: inputs in, effects and board out.

mod air;
mod aisle;
mod care;
mod day;
mod day_check;
mod drinking;
mod long_run;
mod plan;
mod planned_day;
mod scenarios;
mod staff;
mod stand_ins;
mod taken_out;
mod told;
