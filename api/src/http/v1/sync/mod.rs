//! Devices that work offline: their replicas, what they send, what they are given.

pub mod pull;
pub mod push;
pub mod replicas;
