//! What the engine has heard and remembers.

use alloc::boxed::Box;

use super::Output;
use super::belief::Belief;
use super::clock::BlockClock;
use super::known::Known;
use super::listener::{Given, Listener};
use super::program::Program;
use super::rests::Rests;
use super::scout::Scout;
use super::together::RightHand;
use crate::belief::begin::{self, Begin, Worth};
use crate::chord::Chord;
use crate::foresee::Source;
use crate::hear::Hearing;
use crate::key::Key;
use crate::play::{SlotAt, accent};
use crate::settings::Settings;
use crate::time::{Place, Ticks};

/// From this certainty on a chord is played before its stroke has settled.
const READY: f32 = 0.75;

/// From these odds on the bass of the chord struck last is not denied.
pub(super) const STANDS: f32 = 0.5;

/// A change foreseen at least this surely (root and time together) makes our
/// hand wait for the right one; odds alone are no reason to be late.
const LIKELY: f32 = 0.25;

/// What is nearer than this belongs to the same moment of the music.
const NEAR: Ticks = Ticks(Ticks::PER_BEAT / 8);

/// The song so far, and the right hand in it.
pub struct Memory {
    /// Ear and foresight.
    pub listener: Listener,
    /// Hears ahead, if the home delays the right hand.
    pub scout: Option<Box<Scout>>,
    /// How the right hand strikes.
    pub right: RightHand,
    /// What keeps our hand down.
    pub rests: Rests,
    /// The chord that our hand last struck.
    pub struck: Option<Chord>,
    /// What strokes are worth where chords are in doubt.
    pub worth: Worth,
    /// The chord that `Output::heard` was last told of, and since when it holds.
    told: Option<(Ticks, Chord)>,
}

impl Memory {
    /// Has heard nothing yet. Not for the audio thread: allocates.
    pub fn new(settings: &Settings) -> Self {
        Self {
            listener: Listener::new(settings),
            scout: None,
            right: RightHand::new(),
            rests: Rests::default(),
            struck: None,
            worth: begin::WORTH,
            told: None,
        }
    }

    /// Time goes on from another place, `at`.
    pub fn land(&mut self, at: Ticks) {
        self.listener.pause();
        self.listener.settle();
        self.struck = None;
        self.right.struck = None;
        self.rests.land(at);
    }

    /// A new song.
    pub fn forget(&mut self) {
        self.listener.forget();
        if let Some(scout) = &mut self.scout {
            scout.forget();
        }
        self.struck = None;
    }

    /// Hears the chord at `at` and foresees what comes; asked again before anything
    /// is struck, it says the same.
    pub fn believe(
        &mut self,
        at: Ticks,
        program: &Program,
        clock: &BlockClock,
        out: &mut impl Output,
    ) -> Belief {
        let place = program.place_of(at, clock.place());
        let given = Given {
            place,
            tempo: clock.tempo(),
            key: program.key(),
            chart: program.chart(),
            known: self.known(at),
            leisure: !clock.stands(),
        };
        let hearing = self.listener.ask(at, given);
        self.tell(&hearing, out);
        self.belief(at, hearing, program, clock)
    }

    /// What is believed at `at` if that is what is heard.
    pub fn belief(
        &self,
        at: Ticks,
        hearing: Hearing,
        program: &Program,
        clock: &BlockClock,
    ) -> Belief {
        let ear = self.listener.ear();
        Belief {
            at,
            place: program.place_of(at, clock.place()),
            tempo: clock.tempo(),
            hearing,
            next: self.listener.forecast(),
            key: self.key(program),
            ceiling: ear.lowest_right().unwrap_or(program.settings.split),
            loudness: ear.loudness(),
        }
    }

    /// Tells the home of chords that it has not been told of.
    fn tell(&mut self, hearing: &Hearing, out: &mut impl Output) {
        if let (Some(chord), Some((since, before))) = (hearing.revised, self.told)
            && before != chord
        {
            out.heard(since, chord);
        }
        let told = hearing.chord.map(|chord| (hearing.since, chord));
        if let Some((since, chord)) = told.filter(|_| told != self.told) {
            out.heard(since, chord);
            self.told = told;
        }
    }

    /// The key of the song: as named, or as heard.
    pub fn key(&self, program: &Program) -> Key {
        program.key().unwrap_or_else(|| self.listener.ear().key())
    }

    /// What was heard ahead of the chords around `at`.
    fn known(&self, at: Ticks) -> Option<Known> {
        self.scout.as_ref()?.known(at)
    }

    /// Whether our hand is down: switched off, the player's own left hand plays, or
    /// the right has been silent for long.
    pub fn rests(&mut self, at: Ticks, place: Place, settings: &Settings) -> bool {
        if self.listener.ear().own_left() != 0 {
            self.rests.own_left(at, place);
        }
        !settings.plays || self.rests.at(at, place, settings.hold_bars)
    }

    /// Whether a stroke to `chord` is the first to it.
    pub fn starts(&self, chord: Chord) -> bool {
        self.is_new(chord) || self.struck.is_some_and(|struck| turns(struck, chord))
    }

    /// Whether our hand last struck nothing, or what it would not play to `chord`.
    pub fn is_new(&self, chord: Chord) -> bool {
        self.struck.is_none_or(|struck| !struck.same_bass(chord))
    }

    /// Whether a stroke shows which chord it is: it is over, or it is clear, and
    /// neither a strum that has only begun nor another chord than was heard ahead.
    pub fn is_ready(&self, belief: &Belief) -> bool {
        let (at, hearing) = (belief.at, &belief.hearing);
        let Some(chord) = hearing.chord.filter(|_| !hearing.settled) else { return true };
        let keys = self.listener.ear().struck_together(at);
        let part = self.is_new(chord) && self.right.is_part_of_a_strum(keys);
        let another = self.known_near(at).is_some_and(|known| !known.same_bass(chord));
        hearing.certainty >= READY && !part && !another
    }

    /// The chord that was heard ahead to hold at `at`, or to begin there.
    fn known_near(&self, at: Ticks) -> Option<Chord> {
        let known = self.known(at)?;
        Some(known.next.filter(|next| next.at <= at + NEAR).or(known.now)?.chord)
    }

    /// When a new chord that was heard ahead is struck, if that is at most `most`
    /// after the slot.
    pub fn known_stroke(&self, slot: SlotAt, most: Ticks) -> Option<Ticks> {
        let scout = self.scout.as_ref()?;
        let known = scout.known(slot.at)?;
        let next = known.next.filter(|next| next.at <= slot.at + most);
        let chord = next.or(known.now.filter(|now| now.at >= slot.at - NEAR))?.chord;
        if !self.is_new(chord) {
            return None;
        }
        let stroke = scout.next_stroke(slot.at)?;
        let is_to_come = self.right.struck.is_none_or(|struck| struck < stroke);
        // A tick more than it takes, for the host's rounding.
        (is_to_come && stroke <= slot.at + most).then_some(stroke + Ticks(2))
    }

    /// Whether a change is foreseen at `grid`, in the bar `place`, that the right
    /// hand has not struck yet.
    pub fn change_is_due(&self, grid: Ticks, place: Place, window: Ticks) -> bool {
        let heard = self.right.struck.is_some_and(|struck| struck >= grid - window);
        let habit = self.right.habit.strikes_at(grid, place);
        let foreseen = self.listener.forecast().is_some_and(|next| {
            let sure = match next.source {
                // Which chord it will be is not known, but that one comes.
                _ if habit => 1.0,
                Source::Odds => 0.0,
                _ => next.certainty,
            };
            (next.at - grid).0.abs() <= NEAR.0 && sure * next.when_certainty >= LIKELY
        });
        foreseen && !heard
    }

    /// The chord that surely begins at `slot`, where the right hand is used to come
    /// later than a slot waits, `most`, and has not come yet: its bass is struck with
    /// the beat.
    pub fn comes(&self, slot: SlotAt, most: Ticks, program: &Program) -> Option<Begin> {
        let next = self.listener.forecast()?;
        let here = (next.at - slot.grid).0.abs() <= NEAR.0;
        let sure = next.together >= program.settings.certainty;
        let heard = self.right.struck.is_some_and(|struck| struck >= slot.grid - most);
        let chord = next.chord;
        (here && sure && !heard && self.right.is_late(most))
            .then_some(Begin { chord, class: chord.bass })
    }

    /// What to begin with at `slot`, struck `at`, if anything: what is likely by
    /// what is heard and what was struck last, else a figure goes on.
    pub fn begin(
        &self,
        slot: SlotAt,
        at: Ticks,
        hearing: &Hearing,
        program: &Program,
    ) -> Option<Begin> {
        self.likely(at, hearing, program).or_else(|| self.plays_on(slot, hearing, program))
    }

    /// What to begin with at `at` by what is heard and by what was struck last.
    /// Nothing is guessed into silence: where the right hand holds nothing and has
    /// struck nothing, another chord needs the player's certainty.
    pub fn likely(&self, at: Ticks, hearing: &Hearing, program: &Program) -> Option<Begin> {
        let heard = hearing.chord?;
        let struck = self.struck.filter(|struck| !struck.same_bass(heard));
        let here = self.right.struck.is_some_and(|right| right >= at - NEAR);
        let silent = !here && self.listener.ear().right() == 0;
        if let Some(struck) = struck
            && silent
            && program.song_in_bars().is_none()
            && hearing.certainty < program.settings.certainty
        {
            return Some(Begin { chord: struck, class: struck.bass });
        }
        let usual = self.worth == begin::WORTH;
        let improvised = usual && program.pattern.is_free();
        let worth = if improvised { begin::IMPROVISED } else { self.worth };
        begin::begin(hearing, heard, struck, worth)
    }

    /// A figure goes on under doubt: for a bar after the right hand's last stroke,
    /// where chords don't like to change, on the chord struck last if that is not
    /// denied.
    fn plays_on(&self, slot: SlotAt, hearing: &Hearing, program: &Program) -> Option<Begin> {
        let metre = slot.place.metre;
        let near = self.right.struck.is_some_and(|right| slot.at - right <= metre.bar());
        let level = accent::level(&accent::beats(metre), slot.grid - slot.place.bar);
        let chord = self.struck.filter(|_| near && level > 1 && program.improvises(metre))?;
        let stands = chord.bass.of(&hearing.tones) >= STANDS;
        stands.then_some(Begin { chord, class: chord.bass })
    }
}

/// Whether a chord on the same root turns from major to minor, or back, and so
/// is another one: C7 to Cm7. A suspension and what it resolves to are one.
fn turns(from: Chord, to: Chord) -> bool {
    let third = |chord: Chord| chord.third().map(|third| third.above(chord.root));
    matches!((third(from), third(to)), (Some(3), Some(4)) | (Some(4), Some(3)))
}
