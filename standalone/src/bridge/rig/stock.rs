//! The stage that a rig plays, and one in reserve for when it fails.

use std::sync::Arc;
use std::sync::atomic::Ordering;

use rtrb::{Consumer, Producer, RingBuffer};

use super::RigOrder;
use crate::bridge::period::{Bridge, Flags};
use crate::bridge::run::links;
use crate::bridge::set::{roots, usual};
use crate::bridge::stage::{Stage, StageOptions};
use crate::bridge::withheld::Withheld;

/// The free world's side of it.
pub struct StageStock {
    /// What the bridge tells.
    pub flags: Arc<Flags>,
    options: StageOptions,
    spares: Producer<Box<Stage>>,
    /// Failed ones come home.
    broken: Consumer<Box<Stage>>,
}

impl StageStock {
    /// A bridge with a stage at rest; gives `order` its links.
    pub fn new(order: RigOrder<'_>) -> (Bridge, Self) {
        let (flags, withheld) = (Arc::<Flags>::default(), Arc::<Withheld>::default());
        withheld.set_clock(order.words.clock_out);
        order.options.map.withhold(&withheld);
        let (spares, spare) = RingBuffer::new(1);
        let (old, broken) = RingBuffer::new(4);
        let mut stock = Self { flags: Arc::clone(&flags), options: order.options, spares, broken };
        stock.refresh();
        let (player, free) = links(stock.stage());
        *order.links = Some(free);
        (Bridge::new(player, withheld, flags, (spare, old)), stock)
    }

    fn stage(&self) -> Box<Stage> {
        Box::new(Stage::new(self.options.clone(), usual(), roots(), 0.0))
    }

    /// Takes a failed stage home, and lays a fresh one ready.
    pub fn refresh(&mut self) {
        while self.broken.pop().is_ok() {}
        if !self.spares.is_full() {
            let _ = self.spares.push(self.stage());
        }
    }

    /// Whether a stage failed since the last question.
    pub fn failed(&self) -> bool {
        self.flags.failed.swap(false, Ordering::AcqRel)
    }
}
