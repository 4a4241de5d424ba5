//! Whole journeys, power cuts, and values from outside.

mod acknowledged;
mod aisle;
mod alarm_week;
mod alarms;
mod care;
mod day_check;
mod demo;
mod disk_full;
mod heat;
mod journeys;
mod killed;
mod messages;
mod plan;
mod planned;
mod power;
mod staff;
mod told;
mod water;
mod window;
