//! A night on the stage, a millisecond a block.

use super::*;
use crate::bridge::controls::Mapping;
use crate::bridge::time::PaceStart;
use sinistra_core::chance::Chance;
use sinistra_core::chord::{Chord, Kind};
use sinistra_core::pitch::{KeyNumber, PitchClass};
use sinistra_core::time::Ticks;

const RATE: f64 = 48_000.0;
const FRAMES: u32 = 48;

/// What was sent: when, in ms, to whom and what.
type Sent = Vec<(f64, To, Short)>;

struct Night {
    stage: Stage,
    sink: Sink,
    ms: u32,
    sent: Sent,
    news: Vec<String>,
}

impl Night {
    fn new(options: StageOptions) -> Self {
        let roots = Pattern::default_boxed;
        Self {
            stage: Stage::new(options, roots(), roots(), 0.0),
            sink: Sink::default(),
            ms: 0,
            sent: Vec::new(),
            news: Vec::new(),
        }
    }

    /// Lets time go by until `ms`, a millisecond a block.
    fn until(&mut self, ms: u32) -> &mut Self {
        while self.ms < ms {
            self.play(&[]);
        }
        self
    }

    fn play(&mut self, messages: &[[u8; 3]]) -> &mut Self {
        let now = f64::from(self.ms) / 1000.0;
        let heard: Vec<KeyboardMessage> = messages
            .iter()
            .filter_map(|m| (1..=3).find_map(|length| Short::new(&m[..length])))
            .map(|message| KeyboardMessage { at: now, frame: 0, keyboard: 0, message })
            .collect();
        assert_no_alloc::assert_no_alloc(|| {
            self.stage.block(now, FRAMES, RATE, &heard, &mut self.sink);
        });
        for due in self.sink.due.drain(..) {
            let at = f64::from(self.ms) + f64::from(due.frame) / 48.0;
            self.sent.push((at, due.to, due.message));
        }
        self.news.extend(self.sink.news.drain(..).map(|n| format!("{n:?}")));
        self.ms += 1;
        self
    }

    /// So many of MIDI clock, 21 ms apart.
    fn clocks(&mut self, many: u32) -> &mut Self {
        for _ in 0..many {
            let next = self.ms + 21;
            self.play(&[[0xF8, 0, 0]]).until(next);
        }
        self
    }

    fn chord(&mut self, keys: &[u8]) -> &mut Self {
        let messages: Vec<_> = keys.iter().map(|&k| [0x90, k, 90]).collect();
        self.play(&messages)
    }

    fn lift(&mut self, keys: &[u8]) -> &mut Self {
        let messages: Vec<_> = keys.iter().map(|&k| [0x80, k, 0]).collect();
        self.play(&messages)
    }

    /// Asks the stage for something, now.
    fn command(&mut self, command: Command) -> &mut Self {
        self.stage.command(command, f64::from(self.ms) / 1000.0, &mut self.sink);
        self
    }

    fn act(&mut self, action: Action) -> &mut Self {
        self.command(Command::Do(action, Move::Press))
    }

    /// When each left-hand note began, in ms, and its pitch class.
    fn left(&self) -> Vec<(f64, u8)> {
        let is_on = |m: &Short| m.status() & 0xF0 == 0x90;
        self.sent
            .iter()
            .filter(|(_, to, m)| *to == To::Left && is_on(m))
            .map(|(at, _, m)| (*at, m.one() % 12))
            .collect()
    }

    fn sounding(&self) -> u32 {
        let mut down = crate::bridge::midi::KeyState::default();
        self.sent.iter().for_each(|(_, _, m)| down.note(*m));
        down.count()
    }
}

fn c_major() -> Chord {
    Chord::new(PitchClass::C, Kind::Major)
}

/// An entry with a chart of these chords, a bar of common time each.
fn charted(chords: &[Chord]) -> SetEntry {
    let song = || {
        let each = (0..).zip(chords).map(|(n, chord)| (Ticks(3840 * n), Some(*chord)));
        Song::in_common_time(each, chords.len() as i64).map(Box::new)
    };
    SetEntry { song: song(), bars: song(), ..SetEntry::default() }
}

fn at_120() -> StageOptions {
    StageOptions {
        time: PaceChoice { tempo: 120.0, ..PaceChoice::default() },
        ..StageOptions::default()
    }
}

#[test]
fn the_first_chord_starts_the_left_hand_and_its_roots_fall_on_the_grid() {
    let mut night = Night::new(at_120());
    night.until(1000).chord(&[60, 64, 67]).until(2900);
    let left = night.left();
    assert_eq!(left.len(), 4, "{left:?}");
    for (n, (at, class)) in left.iter().enumerate() {
        assert_eq!(*class, 0);
        assert!((at - 1000.0 - 500.0 * n as f64).abs() < 0.6, "{left:?}");
    }
}

#[test]
fn panic_ends_everything_and_silence_starts_the_next_song_with_a_chord() {
    let mut night = Night::new(StageOptions {
        map: Map::new(&[Mapping {
            action: Action::Panic,
            trigger: Trigger::of(Short::channel_message(0xB0, 0, 20, 0)).expect("a control"),
            through: true,
        }]),
        ..at_120()
    });
    night.until(10).chord(&[62, 65, 69]).until(1200);
    assert!(night.sounding() > 0);
    night.play(&[[0xB0, 20, 127]]);
    assert_eq!(night.sounding(), 0);
    assert!(night.news.iter().any(|n| n.contains("Ask(Panic)")), "{:?}", night.news);
    let before = night.left().len();
    night.until(3000);
    assert_eq!(night.left().len(), before, "the chord is not held over");
    night.until(9000);
    assert!(!night.stage.moves());
    let before = night.left().len();
    night.chord(&[60, 64, 67]).until(9100);
    assert_eq!(night.left().len(), before + 1);
    assert_eq!(night.left()[before].1, 0);
}

#[test]
fn after_a_reset_the_left_hand_is_silent_until_the_right_strikes() {
    // MIDI 1.0 detailed specification, "System reset".
    let mut night = Night::new(at_120());
    night.until(10).chord(&[62, 65, 69]).until(1200).play(&[[0xFF, 0, 0]]);
    assert_eq!(night.sounding(), 0);
    let before = night.left().len();
    night.until(1800);
    assert_eq!(night.left().len(), before);
    // A broken chord, from a single key on; the beat went on.
    night.play(&[[0x90, 60, 90]]).until(1900).play(&[[0x90, 64, 90]]).until(2000);
    night.play(&[[0x90, 67, 90]]).until(3600);
    let left = night.left();
    assert!(left.len() >= before + 3, "{left:?}");
    assert_eq!(left.last().expect("notes").1, 0);
    let at = left.last().expect("notes").0;
    let off = (at - 10.0) % 500.0;
    assert!(off.min(500.0 - off) < 0.6, "on the beat of before: {left:?}");
}

#[test]
fn the_left_hand_rests_and_comes_back_when_it_is_told() {
    let mut night = Night::new(at_120());
    night.chord(&[60, 64, 67]).until(600);
    night.act(Action::LeftRests);
    let before = night.until(700).left().len();
    assert_eq!(night.until(2600).left().len(), before);
    night.act(Action::LeftPlays);
    assert!(night.until(5000).left().len() > before);
    night.act(Action::LeftRoots);
    assert_eq!(night.stage.left(), LeftHandWork::Roots);
    night.lift(&[60, 64, 67]).until(12_000);
    assert_eq!(night.sounding(), 0);
}

#[test]
fn a_count_in_clicks_a_bar_on_wood_and_then_the_song_is_silent_of_clicks() {
    let mut options = at_120();
    options.time.start = PaceStart::Now;
    let mut night = Night::new(options);
    night.chord(&[60, 64, 67]).until(4000);
    let clicks: Vec<_> = night
        .sent
        .iter()
        .filter(|(_, to, m)| *to == To::Click && m.status() == 0x99)
        .map(|(at, _, m)| (at.round() as u32, m.one()))
        .collect();
    assert_eq!(clicks, [(0, 76), (500, 77), (1000, 77), (1500, 77)]);
    assert_eq!(night.left()[0].0.round(), 2000.0);
    assert_eq!(night.until(20_000).sounding(), 0);
}

#[test]
fn a_chart_starts_over_at_its_end_without_losing_a_beat() {
    let mut night = Night::new(at_120());
    let entry = SetEntry { tempo: Some(120.0), ..charted(&[c_major()]) };
    night.command(Command::Entry(entry)).chord(&[60, 64, 67]).until(6100);
    let left = night.left();
    assert_eq!(left.len(), 13, "{left:?}");
    for (n, (at, _)) in left.iter().enumerate() {
        assert!((at - 500.0 * n as f64).abs() < 0.6, "{left:?}");
    }
}

#[test]
fn midi_clock_leads_from_start_to_stop() {
    let mut options = at_120();
    options.time.source = ClockSource::Midi;
    let mut night = Night::new(options);
    night.chord(&[60, 64, 67]).play(&[[0xFA, 0, 0]]);
    for clock in 0..24 * 4 {
        night.until(100 + clock * 25).play(&[[0xF8, 0, 0]]); // 100 a minute
    }
    night.until(100 + 96 * 25).play(&[[0xFC, 0, 0]]).until(5000);
    let left = night.left();
    assert_eq!(left.len(), 4, "{left:?}");
    for (n, (at, _)) in left.iter().enumerate() {
        assert!((at - 100.0 - 600.0 * n as f64).abs() < 1.5, "{left:?}");
    }
    assert_eq!(night.sounding(), 0);
}

#[test]
fn a_control_is_learned_by_moving_it() {
    let mut night = Night::new(at_120());
    night.command(Command::Learn(Action::Busy)).play(&[[0xB2, 7, 1]]).play(&[[0xB2, 7, 127]]);
    assert!(night.news.iter().any(|n| n.starts_with("Learned(Busy")), "{:?}", night.news);
    assert_eq!(night.stage.settings.busy, 100);
}

#[test]
fn a_control_asks_for_a_left_hand_by_its_number_and_for_a_style() {
    let lines = ["do = \"pattern\"\nprograms = true", "do = \"style\"\ncontrol = 22"];
    let map: Vec<Mapping> = lines.iter().map(|line| toml::from_str(line).expect("one")).collect();
    let mut night = Night::new(StageOptions { map: Map::new(&map), ..at_120() });
    night.play(&[[0xC0, 4, 0], [0xB3, 22, 127]]);
    for asked in ["Ask(Pattern(4))", "Ask(Style(127))"] {
        assert!(night.news.iter().any(|news| news.contains(asked)), "{:?}", night.news);
    }
}

/// Anything a keyboard can send, chords more than the rest.
fn anything(dice: &mut Chance) -> [u8; 3] {
    let key = 30 + dice.below(60) as u8;
    let channel = [0, 0, 0, 1, 9][usize::from(dice.below(5))];
    match dice.below(12) {
        0..=4 => [0x90 | channel, key, 1 + dice.below(127) as u8],
        5..=8 => [0x80 | channel, key, 0],
        9 => [
            0xB0 | channel,
            [64, 66, 20, 21, 22, 23, 120, 121, 123][usize::from(dice.below(9))],
            dice.below(128) as u8,
        ],
        10 => [0xC0 | channel, dice.below(128) as u8, 0],
        _ => [[0xF8, 0xFA, 0xFB, 0xFC, 0xFF][usize::from(dice.below(5))], 0, 0],
    }
}

#[test]
fn whatever_is_played_nothing_stays_on_and_nothing_is_allocated() {
    let actions = [
        Action::Left,
        Action::OctaveDrop,
        Action::Hold,
        Action::Start,
        Action::Tap,
        Action::Click,
        Action::Busy,
        Action::Panic,
    ];
    for seed in 0..60 {
        let mut dice = Chance::new(seed);
        let mut options = at_120();
        options.time.source =
            [ClockSource::Own, ClockSource::Hand, ClockSource::Midi][usize::from(dice.below(3))];
        options.clicks = Clicks::On;
        options.clock_out = dice.below(2) == 0;
        options.settings.channel = [None, Some(3)][usize::from(dice.below(2))];
        let mappings: Vec<Mapping> = (0..8u8)
            .map(|n| Mapping {
                action: actions[usize::from(n)],
                trigger: Trigger::of(Short::channel_message(0xB0, 0, 20 + n % 4, 0)).expect("one"),
                through: true,
            })
            .collect();
        options.map = Map::new(&mappings);
        let mut night = Night::new(options);
        for _ in 0..1500 {
            let heard: Vec<[u8; 3]> = (0..dice.below(4)).map(|_| anything(&mut dice)).collect();
            night.play(&heard);
            if dice.below(40) == 0 {
                night.act(actions[usize::from(dice.below(8))]);
            }
        }
        // The keyboard is unplugged, and the beat is stopped.
        night.command(Command::LetGo).play(&[[0xFC, 0, 0]]);
        night.stage.pace.stop();
        night.until(night.ms + 300);
        assert_eq!(night.sounding(), 0, "seed {seed}");
    }
}

#[test]
fn a_take_has_both_hands_from_the_chord_that_set_the_beat_going() {
    use sinistra_panel::take::{Owner, TakeLog, What, midi_file};
    let log = std::sync::Arc::<TakeLog>::default();
    let mut night = Night::new(StageOptions { log: Some(log.clone()), ..at_120() });
    // The keys of the first chord are struck over 20 ms; time goes with the last.
    night.until(1000).play(&[[0x90, 60, 90]]).until(1010).play(&[[0x90, 64, 91]]);
    night.until(1020).play(&[[0x90, 67, 92]]).until(2900).lift(&[60, 64]).until(3100);
    // Stopped while a key and the left hand are on.
    night.act(Action::Start);
    night.until(4000).lift(&[67]).until(4100);
    let messages = |hand| {
        let entries = log.read();
        let of = |entry: &sinistra_panel::take::LoggedEvent| match entry.what {
            What::Message(whose, message) if whose == hand => Some(message),
            _ => None,
        };
        entries.iter().filter_map(of).collect::<Vec<_>>()
    };
    let right = messages(Owner::Right);
    assert_eq!(right[..3], [[0x90, 60, 90], [0x90, 64, 91], [0x90, 67, 92]]);
    assert_eq!(right.len(), 6, "three ends: two as played, one where the beat stopped: {right:?}");
    let left = messages(Owner::Left);
    let sent: Vec<[u8; 3]> = night
        .sent
        .iter()
        .filter(|(_, to, _)| *to == To::Left)
        .map(|(_, _, m)| [m.status(), m.one(), m.two()])
        .collect();
    let ons =
        |list: &[[u8; 3]]| list.iter().filter(|m| m[0] == 0x90).map(|m| m[1]).collect::<Vec<_>>();
    assert_eq!(ons(&left), ons(&sent));
    assert_eq!(left.len() % 2, 0, "each beginning has its end: {left:?}");
    assert!(midi_file(&log.read(), 8).is_some());
}

#[test]
fn a_chord_that_is_held_into_an_entry_without_a_chart_keeps_its_bass() {
    for (chord, keys) in [
        (c_major(), [60, 64, 67, 72]),
        (Chord::new(PitchClass::new(5), Kind::Major), [60, 65, 69, 72]),
        (Chord::new(PitchClass::new(9), Kind::MinorSeventh), [60, 64, 67, 69]),
        (Chord::new(PitchClass::new(7), Kind::Dominant), [65, 67, 71, 74]),
    ] {
        for at in (4000..8000).step_by(130) {
            let mut night = Night::new(at_120());
            let other = Chord::new(PitchClass::new(2), Kind::Minor);
            night.command(Command::Entry(charted(&[chord, other, chord, other])));
            night.chord(&keys).until(at);
            let before = night.left().len();
            night.command(Command::Entry(SetEntry::default())).until(at + 4000);
            let left = night.left();
            let root = chord.root.index() as u8;
            assert!(left.len() > before + 6);
            assert!(left[before..].iter().all(|(_, class)| *class == root), "{chord:?} at {at}");
        }
    }
}

#[test]
fn a_song_has_settings_of_its_own_and_the_next_has_those_of_before() {
    let mut night = Night::new(at_120());
    let before = night.stage.settings();
    let own = SongSettings {
        left: Some(LeftHandWork::Roots),
        split: Some(KeyNumber::clamped(55)),
        busy: Some(80),
        loudness: Some(0.5),
        channel: Some(2),
        program: Some(4),
        bank: Some(300),
        ..SongSettings::default()
    };
    let entry = |own| Command::Entry(SetEntry { own, ..SetEntry::default() });
    night.command(entry(own)).play(&[]);
    let sent: Vec<Vec<u8>> = night.sent.iter().map(|(_, _, m)| m.bytes().to_vec()).collect();
    // MIDI 1.0: bank select coarse and fine, then the program.
    assert_eq!(sent, [&[0xB2, 0, 2][..], &[0xB2, 32, 44], &[0xC2, 4]]);
    let set = night.stage.settings();
    assert_eq!((set.split.number(), set.busy, set.channel), (55, 80, Some(2)));
    assert_eq!(night.stage.left(), LeftHandWork::Roots);
    night.command(entry(SongSettings { busy: Some(20), ..SongSettings::default() }));
    assert_eq!(night.stage.settings(), Settings { busy: 20, ..before });
    assert_eq!(night.stage.left(), LeftHandWork::Plays);
    night.command(entry(SongSettings::default()));
    assert_eq!(night.stage.settings(), before);
}

#[test]
fn a_midi_clock_that_vanishes_is_told_of_once_and_a_stop_is_no_loss() {
    let lost = |night: &Night| night.news.iter().filter(|n| *n == "ClockLost").count();
    let time = PaceChoice { source: ClockSource::Midi, ..PaceChoice::default() };
    let mut night = Night::new(StageOptions { time, ..StageOptions::default() });
    night.play(&[[0xFA, 0, 0]]).clocks(48);
    assert_eq!(lost(&night), 0);
    night.until(5000);
    assert_eq!(lost(&night), 1, "{:?}", night.news);
    // It comes back and says stop: its sender is there, and rests.
    night.clocks(48).play(&[[0xFC, 0, 0]]).until(9000);
    assert_eq!(lost(&night), 1);
}

#[test]
fn a_key_below_the_split_is_told_of_with_the_split() {
    let mut night = Night::new(at_120());
    night.chord(&[60, 64, 67]).until(100);
    assert!(!night.news.iter().any(|n| n.starts_with("Below")));
    night.chord(&[59]).until(200);
    let told: Vec<_> = night.news.iter().filter(|n| n.starts_with("Below")).collect();
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(told[0].contains("59") && told[0].contains("60"), "{told:?}");
}

#[test]
fn a_chart_that_is_read_anew_is_laid_down_at_the_next_bar_line() {
    let entry = |many| charted(&vec![c_major(); many]);
    let bars = |night: &Night| night.stage.song.as_ref().map(|song| song.bars().len());
    let mut night = Night::new(at_120());
    night.command(Command::Entry(entry(4))).until(10).chord(&[60, 64, 67]).until(1000); // a bar is two seconds
    night.command(Command::Anew(entry(6))).command(Command::Anew(entry(8))).until(2000);
    assert_eq!(bars(&night), Some(4));
    night.until(2020);
    assert_eq!(bars(&night), Some(8));
    let homes = night.news.iter().filter(|news| news.starts_with("OldSong")).count();
    assert_eq!(homes, 4, "both copies of the old one, and of the one in between");
    // At rest there is no bar line to wait for.
    night.act(Action::Start);
    night.until(2030).command(Command::Anew(entry(2))).until(2040);
    assert_eq!(bars(&night), Some(2));
}
