//! The window on stage, without a screen: what can be read from afar, what can be
//! touched, and what each button asks of the bridge.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that fails panics")]

mod fingers;

use std::path::PathBuf;

use egui::accesskit::Role;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use fingers::{key, press, says};
use sinistra_core::chord::{Chord, Kind, Symbol};
use sinistra_core::engine::{NamedChord, Snapshot};
use sinistra_core::foresee::{Forecast, Source};
use sinistra_core::pitch::PitchClass;
use sinistra_core::time::Ticks;
use sinistra_panel::control::{Control, Values};
use sinistra_panel::home::{Connections, Home, PatternCard, PlayersText};
use sinistra_panel::look;
use sinistra_panel::stage::{
    ControlLine, Leads, Left, OnStage, Passed, Port, StagePanel, StageScene, StageWish,
};

#[derive(Default)]
struct BridgeStub {
    snapshot: Snapshot,
    values: Values,
    scene: StageScene,
    wishes: Vec<StageWish>,
    look: look::LookChoice,
}

impl Home for BridgeStub {
    fn snapshot(&mut self) -> Snapshot {
        self.snapshot.clone()
    }
    fn values(&self) -> Values {
        self.values
    }
    fn set(&mut self, control: Control, value: i32) {
        self.values.set(control, value);
    }
    fn patterns(&self) -> Vec<PatternCard> {
        vec![PatternCard {
            number: 1,
            slug: "",
            name: "Roots on the beat".into(),
            about: "About.".into(),
        }]
    }
    fn text(&self, _: PlayersText) -> String {
        String::new()
    }
    fn set_text(&mut self, _: PlayersText, _: &str) {}
    fn keep(&mut self, _: usize) -> Result<PathBuf, String> {
        Err("no folder".into())
    }
    fn wiring(&self) -> Option<Connections> {
        Some(Connections::default())
    }
    fn look(&self) -> look::LookChoice {
        self.look
    }
    fn set_look(&mut self, look: look::LookChoice) {
        self.look = look;
    }
}

impl OnStage for BridgeStub {
    fn scene(&mut self) -> StageScene {
        self.scene.clone()
    }
    fn wish(&mut self, wish: StageWish) {
        self.wishes.push(wish);
    }
}

type StageHarness<'a> = Harness<'a, (StagePanel, BridgeStub)>;

/// The sizes of a small board's screen, of tablets, a notebook and a large screen.
const SIZES: [(f32, f32); 5] =
    [(480.0, 320.0), (800.0, 480.0), (1280.0, 800.0), (1920.0, 1080.0), (3840.0, 2160.0)];

fn window<'a>(size: (f32, f32), bridge: BridgeStub) -> StageHarness<'a> {
    let state = (StagePanel::default(), bridge);
    fingers::window(size, state, |ui, (panel, bridge)| panel.ui(ui, bridge))
}

/// C♯m7♭5 over B now, the widest that is common; E♭maj7 in two beats.
fn playing() -> BridgeStub {
    let mut snapshot = Snapshot { playing: true, at: Ticks(1920), ..Snapshot::default() };
    let mut chord = Chord::new(PitchClass::new(1), Kind::HalfDiminished);
    chord.bass = PitchClass::new(11);
    snapshot.chord = Some(NamedChord { chord, certainty: 0.9 });
    let next = Chord::new(PitchClass::new(3), Kind::MajorSeventh);
    snapshot.next = Some(Forecast::new(next, Ticks(3840), 0.8, Source::Memory));
    let port = |name: &str| Port { name: name.into(), open: true, active: true };
    let scene = StageScene {
        moves: true,
        tempo: 92.4,
        songs: ["Opening", "Slow one", "Last waltz"].map(String::from).into(),
        at: Some(1),
        bars: Some(32),
        piano: Some(30),
        metronome: 100,
        inputs: vec![port("Keys")],
        outputs: vec![port("Module"), port("Second module")],
        passed: vec![Passed { sent: true, text: "note on C3 90".into() }],
        full_screen: Some(false),
        ..StageScene::default()
    };
    BridgeStub { snapshot, scene, ..BridgeStub::default() }
}

/// The place of the largest letters that are painted for a text, in points.
fn letters(harness: &StageHarness, text: &str) -> egui::Rect {
    fingers::letters(harness, text).unwrap_or_else(|| panic!("{text} is not painted"))
}

#[test]
fn a_control_is_learned_where_the_ports_are() {
    let line = |does: &str, moved_by: &str| ControlLine {
        does: does.into(),
        moved_by: moved_by.into(),
        ..ControlLine::default()
    };
    let mut bridge = playing();
    bridge.scene.controls = vec![line("busy", "controller 21"), line("style", "")];
    let mut harness = window((1280.0, 800.0), bridge);
    press(&mut harness, "Ports");
    assert!(says(&harness, "busy: controller 21"));
    press(&mut harness, "style");
    assert_eq!(harness.state().1.wishes, [StageWish::Learn(1)]);
}

#[test]
fn chord_now_chord_next_and_count_are_a_twelfth_of_the_window_high() {
    for (width, height) in SIZES {
        let bridge = playing();
        let symbol = |chord| Symbol::of(chord, bridge.snapshot.key).to_string();
        let now = symbol(bridge.snapshot.chord.unwrap().chord);
        let next = symbol(bridge.snapshot.next.unwrap().chord);
        let harness = window((width, height), bridge);
        for text in [now.as_str(), next.as_str(), "3"] {
            let place = letters(&harness, text);
            let high = place.height();
            assert!(high >= height / 12.0 * 0.99, "{text} in {width}×{height}: {high}");
            assert!(place.right() <= width && place.bottom() <= height, "{text}: {place:?}");
        }
    }
}

#[test]
fn whatever_is_touched_is_44_points_high_and_wide() {
    for size in SIZES {
        let mut harness = window(size, playing());
        for page in ["Play", "Songs", "Ports", "Set up"] {
            press(&mut harness, page);
            harness.run_steps(1);
            let mut seen = 0;
            for role in [Role::Button, Role::CheckBox, Role::ComboBox, Role::Slider] {
                for node in harness.query_all_by_role(role) {
                    let rect = node.rect();
                    let label = node.accesskit_node().label().unwrap_or_default();
                    assert!(rect.height() >= 43.9, "{page} at {size:?}: {label} {rect:?}");
                    assert!(rect.width() >= 43.9, "{page} at {size:?}: {label} {rect:?}");
                    seen += 1;
                }
            }
            assert!(seen >= 8, "{page}: {seen}");
        }
    }
}

fn wishes(harness: &mut StageHarness) -> Vec<StageWish> {
    std::mem::take(&mut harness.state_mut().1.wishes)
}

#[test]
fn every_button_asks_for_what_is_written_on_it() {
    let mut harness = window((1280.0, 800.0), playing());
    for (label, wish) in [
        ("Stop", StageWish::StartOrStop),
        ("Tap", StageWish::Tap),
        ("−", StageWish::Tempo(91.0)),
        ("+", StageWish::Tempo(93.0)),
        ("Panic", StageWish::Panic),
        ("My playing", StageWish::Lead(Leads::Hand)),
        ("Clicks", StageWish::Clicks),
        ("Roots", StageWish::Left(Left::Roots)),
        ("Rests", StageWish::Left(Left::Rests)),
        ("Octave ↓", StageWish::OctaveDrop),
        ("Hold", StageWish::Hold),
        ("◀ Previous", StageWish::Previous),
        ("Next ▶", StageWish::Next),
        ("Full screen", StageWish::FullScreen),
    ] {
        press(&mut harness, label);
        assert_eq!(wishes(&mut harness), [wish], "{label}");
    }
    press(&mut harness, "Songs");
    press(&mut harness, "3  Last waltz");
    assert_eq!(wishes(&mut harness), [StageWish::Song(2)]);
    harness.query_all_by_role_and_label(Role::Button, "▲").nth(1).unwrap().click();
    harness.run_steps(3);
    assert_eq!(wishes(&mut harness), [StageWish::Move(1, 0)]);
    press(&mut harness, "Save set");
    assert_eq!(wishes(&mut harness), [StageWish::Save]);
    press(&mut harness, "Ports");
    press(&mut harness, "✓ Second module");
    assert_eq!(wishes(&mut harness), [StageWish::SendTo("Second module".into(), false)]);
    assert!(says(&harness, "note on C3 90"));
}

#[test]
fn every_button_has_a_key() {
    let mut harness = window((1280.0, 800.0), playing());
    for (key, wish) in [
        (Key::Space, StageWish::Tap),
        (Key::S, StageWish::StartOrStop),
        (Key::P, StageWish::Panic),
        (Key::L, StageWish::Left(Left::Roots)),
        (Key::F, StageWish::Lead(Leads::Hand)),
        (Key::O, StageWish::OctaveDrop),
        (Key::H, StageWish::Hold),
        (Key::C, StageWish::Clicks),
        (Key::N, StageWish::Next),
        (Key::ArrowLeft, StageWish::Previous),
        (Key::ArrowUp, StageWish::Tempo(93.0)),
        (Key::W, StageWish::FullScreen),
    ] {
        harness.key_press(key);
        harness.run_steps(2);
        assert_eq!(wishes(&mut harness), [wish], "{key:?}");
    }
    key(&mut harness, Key::Num2);
    assert!(says(&harness, "3  Last waltz"));
}

#[test]
fn what_was_done_is_taken_back_in_turn() {
    let mut harness = window((1280.0, 800.0), playing());
    press(&mut harness, "Roots");
    press(&mut harness, "+");
    press(&mut harness, "+"); // one step with the one before
    press(&mut harness, "Panic"); // what has sounded has sounded
    wishes(&mut harness);
    let back = |harness: &mut StageHarness, modifiers| {
        harness.key_press_modifiers(modifiers, Key::Z);
        harness.run_steps(3);
        wishes(harness)
    };
    assert_eq!(back(&mut harness, Modifiers::COMMAND), [StageWish::Tempo(92.4)]);
    assert_eq!(back(&mut harness, Modifiers::COMMAND), [StageWish::Left(Left::Plays)]);
    assert_eq!(back(&mut harness, Modifiers::COMMAND), []);
    let shift = Modifiers::COMMAND | Modifiers::SHIFT;
    assert_eq!(back(&mut harness, shift), [StageWish::Left(Left::Roots)]);
}

#[test]
fn it_can_be_drawn_at_every_size_by_day_and_by_night() {
    for size in SIZES {
        for dark in [false, true] {
            let look = look::LookChoice { dark, scale: 100 };
            let mut harness = window(size, BridgeStub { look, ..playing() });
            harness.run_steps(2);
        }
    }
}
