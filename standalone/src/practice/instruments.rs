//! The instruments of the practice room: keyboards, and speakers or a MIDI
//! port to sound on.

use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

use sinistra_core::engine::Message;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::time::Ticks;
use sinistra_score::practice::{
    BesideHand, HandNote, Mix, Round, Take, TakeStroke, WaitStep, WaitStroke, Waiting,
};

use super::recorder::Recorder;
use super::session::{Answer, RoundEnd};
use super::wiring::{Ports, Wiring};
use crate::bridge::{BoxedWire, PortNews, Refused, Short, Wire};
use crate::failure::Failure;
use crate::interrupt::asked_to_stop;
use crate::sound::{Feed, Speakers, Timbre, go_live};

/// How often a round looks at its watch.
const LOOK: Duration = Duration::from_millis(1);

/// How long the last notes sound of what was waited for.
const LAST: Duration = Duration::from_millis(600);

/// What there is to see while the player is waited for.
pub struct WaitSight<'a> {
    /// What is asked for.
    pub waiting: &'a Waiting,
    /// The time in the round, ms.
    pub now_ms: f64,
    /// What was played, each at the time of its step.
    pub strokes: &'a [TakeStroke],
    /// The keys that are down, a bit each.
    pub down: u128,
}

/// What to open.
#[derive(Clone)]
pub struct SoundOrder {
    /// MIDI in and out; with no way out the speakers are played on.
    pub ports: Ports,
    /// The instrument in the speakers.
    pub timbre: Timbre,
}

/// Keyboards and a sound.
pub struct Instruments {
    wiring: Wiring,
    /// What became of the ports, in words.
    news: Vec<String>,
    /// The computer's keyboard.
    typed: Receiver<(Instant, Message)>,
    _open: Option<Speakers>,
}

impl Instruments {
    /// Opens everything.
    ///
    /// # Errors
    /// If there is no keyboard or no sound; the message says what there is.
    pub fn open(wishes: &SoundOrder) -> Result<Self, Failure> {
        let (open, mut missing) = Self::open_what_there_is(wishes)?;
        if missing.is_empty() { Ok(open) } else { Err(missing.remove(0)) }
    }

    /// Opens what there is; gives what is missing. It is opened when it comes.
    ///
    /// # Errors
    /// If there is no thread left for the ports.
    pub fn open_what_there_is(wishes: &SoundOrder) -> Result<(Self, Vec<Failure>), Failure> {
        let speakers = wishes.ports.to.is_empty().then(|| speakers(&wishes.timbre)).transpose();
        let (speakers, silent) = match speakers {
            Ok(speakers) => (speakers, None),
            Err(failure) => (None, Some(failure)),
        };
        let (open, wire) = speakers.map_or((None, None), |(open, wire)| (Some(open), Some(wire)));
        let wire = wire.map(|wire| Box::new(wire) as BoxedWire);
        let (wiring, mut missing) = Wiring::open(&wishes.ports, wire)?;
        missing.extend(silent);
        let typed = channel().1; // nobody types yet
        Ok((Self { wiring, news: Vec::new(), typed, _open: open }, missing))
    }

    /// Plays a round and listens. `watch` is shown the time in the round (ms)
    /// and what was played so far, a thousand times a second, and may cut it
    /// short. A keyboard that goes cuts it short as well.
    pub fn perform(
        &mut self,
        round: &Round,
        watch: &mut dyn FnMut(f64, &[TakeStroke]) -> Option<Answer>,
    ) -> RoundEnd {
        while self.next_heard().is_some() {} // what came before does not count
        let start = Instant::now();
        let mut recorder = Recorder::default();
        let mut next = 0;
        loop {
            let now = start.elapsed().as_secs_f64() * 1000.0;
            while let Some((_, message)) = round.events.get(next).filter(|event| event.0 <= now) {
                self.wiring.play(*message);
                next += 1;
            }
            while let Some((at, message)) = self.next_heard() {
                let ms = at.saturating_duration_since(start).as_secs_f64() * 1000.0;
                recorder.hear(ms, message);
            }
            let mut cut = asked_to_stop().then_some(Answer::Enough);
            if self.look() && round.task.is_some() {
                cut = cut.or(Some(Answer::Stop));
            }
            if let Some(answer) = cut.or_else(|| watch(now, recorder.strokes())) {
                self.wiring.hush();
                return RoundEnd::Cut(answer);
            }
            if now >= round.end_ms {
                self.wiring.hush();
                return RoundEnd::Whole(recorder.take());
            }
            std::thread::sleep(LOOK);
        }
    }

    /// Waits for the player step by step; time is that of the step that is asked for.
    /// `watch` may cut it short, and so does a keyboard that goes.
    pub fn wait_for(
        &mut self,
        waiting: &mut Waiting,
        round: &Round,
        mix: Mix,
        watch: &mut dyn FnMut(&WaitSight<'_>) -> Option<Answer>,
    ) -> RoundEnd {
        while self.heard().is_some() {} // what came before does not count
        let ms = |at: Ticks| round.origin_ms + at.beats() * 60_000.0 / round.tempo;
        let (mut strokes, mut down) = (Vec::new(), 0_u128);
        let mut beside = BesideHand::default();
        loop {
            let now_ms = waiting.step().map_or(f64::INFINITY, |step| ms(step.at));
            let sight = WaitSight { waiting, now_ms, strokes: &strokes, down };
            let mut cut = asked_to_stop().then_some(Answer::Enough).or_else(|| watch(&sight));
            if self.look() {
                cut = cut.or(Some(Answer::Stop));
            }
            if let Some(answer) = cut {
                self.wiring.hush();
                return RoundEnd::Cut(answer);
            }
            let Some(step) = waiting.step().cloned() else { break };
            match self.heard() {
                Some(Message::On { key, velocity, .. }) => {
                    down |= 1 << key.number();
                    let (at_ms, until_ms) = (ms(step.at), ms(step.at) + 100.0);
                    strokes.push(TakeStroke { at_ms, until_ms, key, velocity });
                    if waiting.strike(key) == WaitStroke::Done {
                        self.strike_beside(&step, mix, &mut beside);
                    }
                }
                Some(Message::Off { key, .. }) => down &= !(1 << key.number()),
                Some(Message::Control { .. }) => {}
                None => std::thread::sleep(LOOK),
            }
        }
        // The last is heard before it ends.
        std::thread::sleep(LAST);
        self.wiring.hush();
        RoundEnd::Whole(Take::new(strokes))
    }

    /// The machine's hand goes on to a step.
    fn strike_beside(&mut self, step: &WaitStep, mix: Mix, beside: &mut BesideHand) {
        let (ended, begun) = beside.go_to(step);
        for key in ended {
            self.wiring.play(Message::off(0, key));
        }
        for HandNote { key, velocity, .. } in begun {
            if let Some(velocity) = mix.music(velocity) {
                self.wiring.play(Message::On { channel: 0, key, velocity });
            }
        }
    }

    /// The next thing from a keyboard between rounds.
    pub fn heard(&mut self) -> Option<Message> {
        Some(self.next_heard()?.1)
    }

    /// From a keyboard, or from the computer's, which sounds as it is played.
    fn next_heard(&mut self) -> Option<(Instant, Message)> {
        if let Ok((at, message)) = self.typed.try_recv() {
            self.wiring.play(message);
            return Some((at, message));
        }
        self.wiring.heard()
    }

    /// Hears the computer's keyboard as well.
    pub fn listen_to(&mut self, typed: Receiver<(Instant, Message)>) {
        self.typed = typed;
    }

    /// What became of the ports since the last question, in words.
    pub fn news(&mut self) -> Vec<String> {
        self.look();
        std::mem::take(&mut self.news)
    }

    /// Whether a keyboard has gone.
    fn look(&mut self) -> bool {
        let mut gone = false;
        while let Some(news) = self.wiring.news() {
            gone |= matches!(news, PortNews::InGone(_) | PortNews::FellSilent);
            self.news.push(news.to_string());
        }
        gone
    }
}

fn speakers(timbre: &Timbre) -> Result<(Speakers, Loud), Failure> {
    let drums = matches!(timbre, Timbre::SoundFont(_));
    let (open, feed) = go_live(timbre).map_err(|failure| match failure {
        Failure::Machine(why) => Failure::Machine(format!(
            "{why}\nhint: --to PORT sounds on a MIDI port (`sinistra ports` lists them); \
             --take TAKE.mid judges what was recorded elsewhere"
        )),
        other => other,
    })?;
    Ok((open, Loud { feed, drums }))
}

/// The speakers as a way out.
struct Loud {
    feed: Feed,
    drums: bool,
}

impl Wire for Loud {
    fn send(&mut self, _: u32, message: &[u8]) -> Result<(), Refused> {
        let Some(message) = Short::new(message).and_then(Message::read) else { return Ok(()) };
        let message = if self.drums { message } else { without_drums(message) };
        if self.feed.send(message) { Ok(()) } else { Err(Refused) }
    }
}

/// A click of the metronome for an instrument without drums: the highest keys.
fn without_drums(message: Message) -> Message {
    let high = |key: KeyNumber| {
        KeyNumber::clamped(match key.number() {
            76 => 108,
            77 => 103,
            _ => 98,
        })
    };
    match message {
        Message::On { channel: 9, key, velocity } => {
            Message::On { channel: 0, key: high(key), velocity: velocity / 2 + 1 }
        }
        Message::Off { channel: 9, key, velocity } => {
            Message::Off { channel: 0, key: high(key), velocity }
        }
        other => other,
    }
}
