//! Seeded schedules of what can happen between devices and a server, and what must hold after each.

pub mod chance;
pub mod check;
pub mod world;

use plumbline_tests::Fault;

use world::{Ground, World};

/// Things that happen in one schedule.
const STEPS: usize = 60;

/// Runs one schedule; what was wrong, and what was done.
pub fn run(ground: &Ground, seed: u64, fault: Option<Fault>) -> (Vec<String>, Vec<String>) {
    let mut world = World::new(ground, seed, fault);
    for _ in 0..STEPS {
        world.step();
    }
    let wrong = check::at_quiet(&mut world);
    (wrong, std::mem::take(&mut world.told))
}
