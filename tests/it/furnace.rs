//! The furnace's books: signed loss by species, declared forms, closure, bead mass, rules.

mod bead_mass;
mod closure;
mod forms;
mod ignition;
mod messages;
mod round_trips;
