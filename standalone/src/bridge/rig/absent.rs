//! No rig: there is no MIDI system yet, and a window waits for one.

use super::Rig;
use crate::bridge::ports::{PortNews, Selector};

/// In a rig's place; [`Rig::is_over`], so that a real one is tried again.
pub struct Absent;

impl Rig for Absent {
    fn look(&mut self, _: &mut dyn FnMut(PortNews)) {}
    fn wake(&self) {}
    fn panic(&mut self) {}
    fn open(&self) -> (Vec<String>, Vec<String>) {
        (Vec::new(), Vec::new())
    }
    fn there(&self) -> (Vec<String>, Vec<String>) {
        (Vec::new(), Vec::new())
    }
    fn rewire(&mut self, _: Vec<Selector>, _: Vec<Selector>) {}
    fn zone(&mut self, _: Vec<Option<Selector>>) -> Result<(), String> {
        Ok(())
    }
    fn missing(&self) -> Vec<String> {
        Vec::new()
    }
    fn dropped(&self) -> u32 {
        0
    }
    fn late(&self) -> u64 {
        0
    }
    fn failed(&mut self) -> bool {
        false
    }
    fn is_over(&self) -> bool {
        true
    }
    fn end(&mut self) -> Vec<String> {
        Vec::new()
    }
}
