//! What a home may change between blocks, and ask.

use alloc::boxed::Box;

use super::scout::Scout;
use super::{Block, Engine, Output, Settings, Snapshot};
use crate::foresee::Song;
use crate::play::{FreeHand, Pattern};
use crate::settings::KeyChoice;
use crate::time::Ticks;

impl Engine {
    /// From the next block on. Real-time safe.
    pub fn set(&mut self, settings: Settings) {
        if settings.split != self.program.settings.split {
            self.memory.listener.set_split(settings.split);
        }
        // With a chart its key holds until the player sets another.
        if settings.key != self.program.settings.key || self.program.song.is_none() {
            self.memory.listener.set_key(settings.key);
        }
        if let Some(scout) = &mut self.memory.scout {
            scout.set(&settings);
        }
        self.program.settings = settings;
    }

    /// The present settings.
    pub fn settings(&self) -> &Settings {
        &self.program.settings
    }

    /// Whether the place in the chart follows what the hand plays (on stage, in
    /// practice: it may rush, drag, wait, skip, repeat and start anywhere) or
    /// the home's bars, exactly (the default). Real-time safe.
    pub fn follow_hand(&mut self, by_hand: bool) {
        if by_hand != self.program.by_hand {
            self.program.by_hand = by_hand;
            self.memory.listener.chart_changed();
        }
    }

    /// Takes a new pattern, gives the old one back to be dropped elsewhere.
    /// What sounds ends when it would have. Real-time safe.
    #[must_use = "drop the old pattern off the audio thread"]
    pub fn swap_pattern(&mut self, pattern: Box<Pattern>) -> Box<Pattern> {
        let old = core::mem::replace(&mut self.program.pattern, pattern);
        self.view.look_again();
        self.agenda.look_again(&self.program, &self.clock, &self.hands);
        old
    }

    /// Takes a new chart (or none), gives the old one back to be dropped
    /// elsewhere. Real-time safe.
    #[must_use = "drop the old chart off the audio thread"]
    pub fn swap_song(&mut self, song: Option<Box<Song>>) -> Option<Box<Song>> {
        let old = core::mem::replace(&mut self.program.song, song);
        self.hands.free.forget_sections();
        self.program.pattern.forget_sections();
        self.memory.listener.chart_changed();
        let key = self.program.key().map_or(KeyChoice::Auto, KeyChoice::Fixed);
        self.memory.listener.set_key(key);
        old
    }

    /// From now on the home delays the right hand by `span` and hands every
    /// block to [`Engine::hear_ahead`] first; zero ends it. Not for the audio
    /// thread: allocates.
    pub fn look_ahead(&mut self, span: Ticks) {
        let scout = || Box::new(Scout::new(&self.program.settings, span));
        self.memory.scout = (span > Ticks::ZERO).then(scout);
    }

    /// Another span, after [`Engine::look_ahead`]; zero: not ahead for now. The
    /// blocks that are heard ahead have the time of the others and `offset`: a
    /// home that knows of a jump (a loop) before the engine gets there lets
    /// their time go on over it. Real-time safe.
    pub fn lead(&mut self, span: Ticks, offset: Ticks) {
        if let Some(scout) = &mut self.memory.scout {
            scout.lead(span, offset);
        }
    }

    /// How far it hears ahead, if it does.
    pub fn ahead(&self) -> Option<Ticks> {
        self.memory.scout.as_ref().and_then(|scout| scout.span())
    }

    /// A block as the player plays it, a span before [`Engine::process`] gets
    /// the same block. Never allocates, locks, logs or panics.
    pub fn hear_ahead(&mut self, block: &Block<'_>) {
        if let Some(scout) = &mut self.memory.scout {
            self.view.busy |= scout.hear(block, self.program.key());
        }
    }

    /// Ends every note that sounds and lets the pedal go, at `frame` of the block to come: bypass,
    /// panic, shutdown. What `out` refuses stays owed. Real-time safe.
    pub fn silence(&mut self, frame: u32, out: &mut impl Output) {
        (self.agenda.waiting, self.agenda.struck) = (None, None);
        self.end_all(frame, out);
    }

    /// Forgets the song so far (memory and key heard); what sounds goes on.
    /// Real-time safe.
    pub fn forget(&mut self) {
        self.hands.free = FreeHand::new(self.hands.free.book());
        self.program.pattern.forget_sections();
        self.memory.forget();
    }

    /// Whether somebody looks at the snapshot (the default); while nobody does,
    /// it stays as it is, and its cost is spared. Real-time safe.
    pub fn watch(&mut self, watched: bool) {
        self.view.watched = watched;
    }

    /// Whether time moves, the right hand holds anything, ours sounds or an end is owed:
    /// a home that let it sleep then would leave a note on. Real-time safe.
    pub fn is_busy(&self) -> bool {
        !self.clock.stands()
            || self.memory.listener.ear().right() != 0
            || !self.voices.is_at_rest()
            || self.pedal.is_down()
    }

    /// What to show. Real-time safe.
    pub fn snapshot(&self) -> &Snapshot {
        &self.view.snapshot
    }
}
