//! The instruments of the practice room: a MIDI keyboard, and speakers or a
//! MIDI port to sound on.

use std::collections::HashSet;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

use midir::MidiInputConnection;
use sinistra_core::engine::Message;
use sinistra_core::pitch::KeyNumber;
use sinistra_core::score::practice::Stroke;

use super::ports::{self, Heard};
use super::recorder::Recorder;
use super::round::Round;
use super::session::{Answer, Played};
use crate::failure::Failure;
use crate::interrupt::asked_to_stop;
use crate::quiet::hushed;
use crate::sound::{Feed, Speakers, Timbre, go_live};

/// How often a round looks at its watch.
const LOOK: Duration = Duration::from_millis(1);
/// How often a missing keyboard is looked for.
const SEEK: Duration = Duration::from_secs(2);

/// What to open.
#[derive(Clone)]
pub struct Wishes {
    /// A part of an input port's name; `None` takes the first keyboard.
    pub from: Option<String>,
    /// A part of an output port's name; `None` plays through the speakers.
    pub to: Option<String>,
    /// The instrument in the speakers.
    pub timbre: Timbre,
    /// Whether the player's own keys sound in the speakers.
    pub echo: bool,
}

enum Out {
    Speakers { feed: Feed, drums: bool, _open: Speakers },
    Port(midir::MidiOutputConnection),
    Silent,
}

/// A keyboard and a sound.
pub struct Instruments {
    wishes: Wishes,
    out: Out,
    heard: Receiver<Heard>,
    sender: Sender<Heard>,
    keyboard: Option<MidiInputConnection<()>>,
    sought: Instant,
    /// Notes of ours that sound.
    on: HashSet<(u8, KeyNumber)>,
}

impl Instruments {
    /// Opens everything.
    ///
    /// # Errors
    /// If there is no keyboard or no sound; the message says what there is.
    pub fn open(wishes: Wishes) -> Result<Self, Failure> {
        let (sender, heard) = channel();
        let keyboard = hushed(|| ports::keyboard(wishes.from.as_deref(), sender.clone()))?;
        let out = out(&wishes)?;
        let keyboard = Some(keyboard);
        Ok(Self {
            wishes,
            out,
            heard,
            sender,
            keyboard,
            sought: Instant::now(),
            on: HashSet::new(),
        })
    }

    /// Opens what there is; gives what is missing, in words.
    pub fn open_what_there_is(wishes: Wishes) -> (Self, Vec<String>) {
        let (sender, heard) = channel();
        let mut missing = Vec::new();
        let mut note = |failure: Failure| {
            missing.extend(failure.to_string().lines().next().map(str::to_owned));
        };
        let keyboard = hushed(|| ports::keyboard(wishes.from.as_deref(), sender.clone()))
            .map_err(&mut note)
            .ok();
        let out = out(&wishes).unwrap_or_else(|failure| {
            note(failure);
            Out::Silent
        });
        let on = HashSet::new();
        let sought = Instant::now();
        (Self { wishes, out, heard, sender, keyboard, sought, on }, missing)
    }

    /// Looks for a keyboard that was missing; true when it has come.
    pub fn seek(&mut self) -> bool {
        if self.keyboard.is_some() || self.sought.elapsed() < SEEK {
            return false;
        }
        self.sought = Instant::now();
        let found = hushed(|| ports::keyboard(self.wishes.from.as_deref(), self.sender.clone()));
        self.keyboard = found.ok();
        self.keyboard.is_some()
    }

    /// Plays a round and listens. `watch` is shown the time in the round (ms)
    /// and what was played so far, a thousand times a second, and may cut it
    /// short.
    pub fn perform(
        &mut self,
        round: &Round,
        watch: &mut dyn FnMut(f64, &[Stroke]) -> Option<Answer>,
    ) -> Played {
        while self.heard.try_recv().is_ok() {} // what came before does not count
        let start = Instant::now();
        let mut recorder = Recorder::default();
        let mut next = 0;
        loop {
            let now = start.elapsed().as_secs_f64() * 1000.0;
            while let Some((_, message)) = round.events.get(next).filter(|event| event.0 <= now) {
                self.play(*message);
                next += 1;
            }
            while let Ok((at, message)) = self.heard.try_recv() {
                let ms = at.saturating_duration_since(start).as_secs_f64() * 1000.0;
                recorder.hear(ms, message);
                self.echo(message);
            }
            let cut = if asked_to_stop() { Some(Answer::Enough) } else { None };
            if let Some(answer) = cut.or_else(|| watch(now, recorder.strokes())) {
                self.hush();
                return Played::Cut(answer);
            }
            if now >= round.end_ms {
                self.hush();
                return Played::Whole(recorder.take());
            }
            std::thread::sleep(LOOK);
        }
    }

    /// The next thing from the keyboard between rounds; its keys sound.
    pub fn heard(&mut self) -> Option<Message> {
        let (_, message) = self.heard.try_recv().ok()?;
        self.echo(message);
        Some(message)
    }

    fn echo(&mut self, message: Message) {
        if self.wishes.echo {
            self.play(message);
        }
    }

    fn play(&mut self, message: Message) {
        match message {
            Message::On { channel, key, .. } => self.on.insert((channel, key)),
            Message::Off { channel, key, .. } => self.on.remove(&(channel, key)),
            Message::Control { .. } => false,
        };
        match &mut self.out {
            Out::Speakers { feed, drums, .. } => {
                let _ = feed.send(if *drums { message } else { without_drums(message) });
            }
            Out::Port(port) => {
                let _ = port.send(&ports::bytes(message));
            }
            Out::Silent => {}
        }
    }

    /// Every note of ours ends.
    fn hush(&mut self) {
        let on: Vec<_> = self.on.iter().copied().collect();
        for (channel, key) in on {
            self.play(Message::Off { channel, key, velocity: 64 });
        }
    }
}

impl Drop for Instruments {
    fn drop(&mut self) {
        self.hush();
    }
}

fn out(wishes: &Wishes) -> Result<Out, Failure> {
    Ok(match &wishes.to {
        Some(name) => Out::Port(hushed(|| ports::output(name))?),
        None => {
            let drums = matches!(wishes.timbre, Timbre::SoundFont(_));
            let (open, feed) = go_live(&wishes.timbre)?;
            Out::Speakers { feed, drums, _open: open }
        }
    })
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
