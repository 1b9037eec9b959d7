//! What the stage does as it is told: commands, controls, songs.

use super::*;

impl Stage {
    /// What the free world wishes, before a block.
    pub fn command(&mut self, command: Command, now: f64, sink: &mut Sink) {
        sink.offset = 0;
        match command {
            Command::Do(action, how) => self.act(action, how, now, sink),
            Command::Learn(action) => self.learning = Some(action),
            Command::Entry(entry) => {
                if let Some((old, _)) = self.anew.take() {
                    home(old, sink);
                }
                self.choose(entry, now, sink);
                // A chord that is held belongs to the song before: it keeps its name.
                self.new_song = self.listen.any() || self.engine.snapshot().right != 0;
                if !self.new_song {
                    self.engine.forget();
                }
            }
            Command::Anew(entry) => {
                let bar = self.engine.snapshot().place.number;
                if let Some((old, _)) = self.anew.replace((entry, bar)) {
                    home(old, sink);
                }
            }
            Command::Settings(settings) => {
                self.hold_bars = settings.hold_bars;
                self.settings = Settings { plays: self.settings.plays, ..settings };
                self.engine.set(self.settings);
            }
            Command::Pattern(pattern) => self.lay(pattern, sink),
            Command::Tempo(tempo) => self.pace.set_tempo(tempo, now),
            Command::Lead(source) => {
                let choice = PaceChoice { source, ..*self.pace.choice() };
                self.pace.choose(choice, now);
                self.engine.follow_hand(source != ClockSource::Midi);
            }
            Command::ClickLoudness(percent) => self.click_loudness = percent,
            Command::LetGo => self.let_go(),
            Command::Zones(_) => {}
            #[cfg(test)]
            #[allow(clippy::panic, reason = "what a test is for")]
            Command::Fail => panic!("on purpose"),
        }
    }

    fn choose(&mut self, entry: SetEntry, now: f64, sink: &mut Sink) {
        if let Some(pattern) = entry.pattern {
            self.lay(pattern, sink);
        }
        if let Some(old) = self.engine.swap_song(entry.song) {
            sink.tell(Report::OldSong(old));
        }
        if let Some(old) = std::mem::replace(&mut self.song, entry.bars) {
            sink.tell(Report::OldSong(old));
        }
        if let Some(key) = entry.key {
            self.settings.key = sinistra_core::engine::KeyChoice::Fixed(key);
        }
        self.settings.swing = entry.swing.unwrap_or(self.settings.swing);
        self.own(entry.own, sink);
        self.engine.set(self.settings);
        let choice = *self.pace.choice();
        let metre = entry.metre.unwrap_or(choice.metre);
        let tempo = entry.tempo.unwrap_or(choice.tempo);
        self.pace.choose(PaceChoice { metre, tempo, ..choice }, now);
    }

    /// At a bar line, or at rest: what was read anew.
    pub(super) fn take_anew(&mut self, now: f64, sink: &mut Sink) {
        let here = self.engine.snapshot().place.number;
        if self.anew.as_ref().is_some_and(|(_, bar)| *bar != here || !self.moved)
            && let Some((entry, _)) = self.anew.take()
        {
            self.choose(entry, now, sink);
        }
    }

    /// What the song before had for itself goes, and what this one has comes.
    fn own(&mut self, own: SongSettings, sink: &mut Sink) {
        let channel = self.settings.channel;
        std::mem::take(&mut self.before).lay(&mut self.settings);
        if let Some((left, channel)) = self.left_before.take() {
            self.set_left(left);
            self.settings.channel = channel;
        }
        if own.left.is_some() || own.channel.is_some() {
            self.left_before = Some((self.left, self.settings.channel));
        }
        self.before = SongSettings { channel: None, ..own.lay(&mut self.settings) };
        if let Some(left) = own.left {
            self.set_left(left);
        }
        if channel != self.settings.channel {
            self.engine.silence(0, sink);
        }
        if let Some(program) = own.program {
            let channel = self.settings.channel.unwrap_or(0);
            let send = |sink: &mut Sink, kind, one, two: u8| {
                sink.add(0, To::Left, Short::channel_message(kind, channel, one, two));
            };
            if let Some(bank) = own.bank {
                // MIDI 1.0: bank select is controllers 0 and 32, then the program.
                send(sink, CONTROL, 0, u8::try_from(bank >> 7 & 127).unwrap_or(0));
                send(sink, CONTROL, 32, (bank & 0x7F) as u8);
            }
            sink.add(0, To::Left, Short::program(channel, program));
        }
    }

    /// Lays a pattern before the hand; the old one goes home.
    fn lay(&mut self, pattern: Box<Pattern>, sink: &mut Sink) {
        let old = if self.left == LeftHandWork::Roots {
            self.spare.replace(pattern)
        } else {
            Some(self.engine.swap_pattern(pattern))
        };
        if let Some(old) = old {
            sink.tell(Report::OldPattern(old));
        }
    }

    fn let_go(&mut self) {
        // Half a chord must not start the beat once it is gone.
        self.onsets = Onsets::default();
        let events = &mut self.events;
        self.listen.forget(|message| {
            let _ = events.try_push(Timed { frame: 0, message });
        });
    }

    pub(super) fn act(&mut self, action: Action, how: Move, at: f64, sink: &mut Sink) {
        let mut value = None;
        match (action, how) {
            (Action::Entry, Move::Turn(to)) => sink.tell(Report::Ask(Ask::Entry(to))),
            (Action::Pattern, Move::Turn(to)) => sink.tell(Report::Ask(Ask::Pattern(to))),
            (Action::Style, Move::Turn(to)) => sink.tell(Report::Ask(Ask::Style(to))),
            (_, Move::Turn(to)) => {
                value = turn(&mut self.settings, action, to);
                match (action, value) {
                    (Action::Tempo, Some(tempo)) => self.pace.set_tempo(tempo, at),
                    _ => self.engine.set(self.settings),
                }
            }
            (Action::Tap, _) => {
                self.pace.tap(at, self.first());
                value = Some(self.pace.tempo(at));
            }
            (Action::Start, _) => {
                self.onsets = Onsets::default();
                self.pace.start_or_stop(at, self.first());
            }
            (Action::Panic, _) => {
                self.hush(sink);
                self.let_go();
                sink.tell(Report::Ask(Ask::Panic));
            }
            (Action::Left, _) => self.set_left(self.left.next()),
            (Action::LeftPlays, _) => self.set_left(LeftHandWork::Plays),
            (Action::LeftRoots, _) => self.set_left(LeftHandWork::Roots),
            (Action::LeftRests, _) => self.set_left(LeftHandWork::Rests),
            (Action::OctaveDrop, _) => {
                sink.drop_octave = on_or_off(how, sink.drop_octave);
                value = Some(f64::from(u8::from(sink.drop_octave)));
            }
            (Action::Hold, _) => {
                let holds = on_or_off(how, self.settings.hold_bars == u8::MAX);
                self.settings.hold_bars = if holds { u8::MAX } else { self.hold_bars };
                self.engine.set(self.settings);
                value = Some(f64::from(u8::from(holds)));
            }
            (Action::Next, _) => sink.tell(Report::Ask(Ask::Next)),
            (Action::Previous, _) => sink.tell(Report::Ask(Ask::Previous)),
            (Action::Click, _) => {
                self.clicks = if self.clicks == Clicks::On { Clicks::Off } else { Clicks::On };
                value = Some(f64::from(u8::from(self.clicks == Clicks::On)));
            }
            (Action::Forget, _) => self.engine.forget(),
            _ => {}
        }
        sink.tell(Report::Did(action, value));
    }

    pub(super) fn set_left(&mut self, left: LeftHandWork) {
        let roots = |left| left == LeftHandWork::Roots;
        if roots(left) != roots(self.left)
            && let Some(pattern) = self.spare.take()
        {
            self.spare = Some(self.engine.swap_pattern(pattern));
        }
        self.left = left;
        self.set_plays();
    }

    pub(super) fn set_plays(&mut self) {
        let plays = self.left != LeftHandWork::Rests && !self.hushed;
        if plays != self.settings.plays {
            self.settings.plays = plays;
            self.engine.set(self.settings);
        }
    }

    /// Ends what sounds; the beat goes on, but the left hand does not hold the
    /// last chord over.
    pub(super) fn hush(&mut self, sink: &mut Sink) {
        self.engine.silence(0, sink);
        self.hushed = true;
        self.set_plays();
    }
}

/// What an entry that is not played carries goes home to be dropped.
fn home(entry: SetEntry, sink: &mut Sink) {
    if let Some(pattern) = entry.pattern {
        sink.tell(Report::OldPattern(pattern));
    }
    for song in [entry.song, entry.bars].into_iter().flatten() {
        sink.tell(Report::OldSong(song));
    }
}

fn on_or_off(how: Move, was: bool) -> bool {
    match how {
        Move::Held(down) => down,
        _ => !was,
    }
}
