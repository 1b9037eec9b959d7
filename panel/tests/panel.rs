//! The window without a screen: what it says, and that hands and keys reach
//! everything in it.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that fails panics")]

mod fingers;

use std::path::PathBuf;

use egui::Key;
use egui::accesskit::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use fingers::{press, says};
use sinistra_core::chord::{Chord, Kind};
use sinistra_core::engine::{NamedChord, SlotView, Snapshot};
use sinistra_core::foresee::{Forecast, Source};
use sinistra_core::pitch::{KeyNumber, PitchClass};
use sinistra_core::play::Role as Part;
use sinistra_core::time::Ticks;
use sinistra_panel::control::{Control, SET_UPS, Values};
use sinistra_panel::home::{Home, PatternCard, PlayersText};
use sinistra_panel::host::{Automation, HostMapping, HostMark, HostMenuEntry, HostMenuKind};
use sinistra_panel::{Panel, look};

/// A home that notes down what the window asks.
#[derive(Default)]
struct DeskStub {
    snapshot: Snapshot,
    values: Values,
    held: Vec<Control>,
    chart: String,
    own: String,
    kept: Vec<usize>,
    delay: f64,
    set_ups: Option<PathBuf>,
    look: look::LookChoice,
    /// What the host marks on the busyness, and offers for everything.
    mark: HostMark,
    menu: Vec<HostMenuEntry>,
    asked: Vec<Control>,
    chosen: Vec<(Control, u32)>,
}

impl Home for DeskStub {
    fn snapshot(&mut self) -> Snapshot {
        self.snapshot.clone()
    }
    fn values(&self) -> Values {
        self.values
    }
    fn offers(&self, control: Control) -> bool {
        control != Control::Ahead
    }
    fn take_hold(&mut self, control: Control) {
        assert!(!self.held.contains(&control));
        self.held.push(control);
    }
    fn set(&mut self, control: Control, value: i32) {
        assert!(self.held.contains(&control), "set without being held");
        self.values.set(control, value);
    }
    fn let_go(&mut self, control: Control) {
        self.held.retain(|held| *held != control);
    }
    fn patterns(&self) -> Vec<PatternCard> {
        let card = |number, name: &str| PatternCard {
            number,
            slug: "",
            name: name.into(),
            about: "About.".into(),
        };
        vec![card(1, "Roots on the beat"), card(7, "Fifths"), card(11, "Waltz")]
    }
    fn text(&self, which: PlayersText) -> String {
        if which == PlayersText::Chart { self.chart.clone() } else { self.own.clone() }
    }
    fn set_text(&mut self, which: PlayersText, text: &str) {
        let place = if which == PlayersText::Chart { &mut self.chart } else { &mut self.own };
        *place = text.into();
    }
    fn keep(&mut self, bars: usize) -> Result<PathBuf, String> {
        self.kept.push(bars);
        Ok("Music/Sinistra/Take 1.mid".into())
    }
    fn delay(&self) -> f64 {
        self.delay
    }
    fn set_ups(&self) -> Option<PathBuf> {
        self.set_ups.clone()
    }
    fn host_mark(&self, control: Control) -> HostMark {
        if control == Control::Busy { self.mark.clone() } else { HostMark::default() }
    }
    fn ask_menu(&mut self, control: Control) {
        self.asked.push(control);
    }
    fn menu(&self, _: Control) -> Vec<HostMenuEntry> {
        self.menu.clone()
    }
    fn choose(&mut self, control: Control, number: u32) {
        self.chosen.push((control, number));
    }
    fn look(&self) -> look::LookChoice {
        self.look
    }
    fn set_look(&mut self, look: look::LookChoice) {
        self.look = look;
    }
}

type PanelHarness<'a> = Harness<'a, (Panel, DeskStub)>;

fn window<'a>(desk: DeskStub) -> PanelHarness<'a> {
    sized((1040.0, 740.0), desk)
}

fn sized<'a>(size: (f32, f32), desk: DeskStub) -> PanelHarness<'a> {
    fingers::window(size, (Panel::default(), desk), |ui, (panel, desk)| panel.ui(ui, desk))
}

#[test]
fn a_set_up_is_kept_where_there_is_a_folder_for_it() {
    let mut values = Values::default();
    values.set(Control::Busy, 63);
    let set_ups = Some(PathBuf::from("no such folder"));
    assert!(!says(&window(DeskStub { values, ..DeskStub::default() }), "Keep set-up"));
    assert!(says(&window(DeskStub { values, set_ups, ..DeskStub::default() }), "Keep set-up"));
}

#[test]
fn a_set_up_of_the_list_is_chosen_and_one_that_is_kept_stands_in_it() {
    let folder = tempfile::tempdir().unwrap();
    let set_ups = Some(folder.path().join("set-ups"));
    let mut harness = window(DeskStub { set_ups, ..DeskStub::default() });
    let open = |harness: &mut PanelHarness| {
        harness.get_by_role_and_label(Role::ComboBox, "Set-up").click();
        harness.run_steps(3);
    };
    let first = SET_UPS.iter().find(|set_up| !set_up.is(&harness.state().1.values)).unwrap();
    open(&mut harness);
    press(&mut harness, first.name);
    assert!(first.is(&harness.state().1.values) && says(&harness, first.about));
    assert!(harness.state().1.held.is_empty(), "every gesture is over");
    // One of their own.
    harness.state_mut().1.values.set(Control::Busy, 63);
    harness.state_mut().1.values.set(Control::Pattern, 7);
    harness.run_steps(3);
    let field = harness.query_all_by_role(Role::TextInput).next().unwrap();
    field.focus();
    harness.run_steps(2);
    harness.event(egui::Event::Text("Sunday".into()));
    harness.run_steps(3);
    press(&mut harness, "Keep set-up");
    let path = folder.path().join("set-ups/sunday.toml");
    assert!(path.exists() && says(&harness, "sunday.toml"));
    open(&mut harness);
    press(&mut harness, first.name);
    assert!(first.is(&harness.state().1.values));
    open(&mut harness);
    press(&mut harness, "Sunday");
    assert_eq!(harness.state().1.values.get(Control::Busy), 63);
    // A file of it with a fault is told of when the list is opened.
    std::fs::write(&path, "busy = 7000\n").unwrap();
    open(&mut harness);
    assert!(says(&harness, "sunday.toml") && says(&harness, "busy"));
}

#[test]
fn the_second_button_opens_the_hosts_menu_of_a_control_and_ours() {
    let entry = |label: &str, kind, number| HostMenuEntry {
        label: label.into(),
        kind,
        enabled: true,
        number,
    };
    let menu = vec![
        entry("Controllers", HostMenuKind::Title, 0),
        entry("Learn", HostMenuKind::Action, 7),
        entry("", HostMenuKind::Rule, 0),
        entry("Locked", HostMenuKind::Switch(true), 9),
    ];
    let mut harness = window(DeskStub { menu, ..DeskStub::default() });
    press(&mut harness, "Settings");
    let open = |harness: &mut PanelHarness| {
        harness.get_by_role_and_label(Role::Slider, "Sparing to busy").click_secondary();
        harness.run_steps(3);
    };
    open(&mut harness);
    assert_eq!(harness.state().1.asked, [Control::Busy]);
    assert!(says(&harness, "Controllers"));
    press(&mut harness, "Learn");
    open(&mut harness);
    press(&mut harness, "Locked");
    assert_eq!(harness.state().1.chosen, [(Control::Busy, 7), (Control::Busy, 9)]);
    harness.state_mut().1.values.set(Control::Busy, 40);
    open(&mut harness);
    press(&mut harness, "As it was at first");
    assert_eq!(harness.state().1.values.get(Control::Busy), Control::Busy.spec().default);
}

#[test]
fn what_a_host_maps_and_automates_is_marked_on_the_control() {
    let mapped = HostMapping { name: "Knob 3".into(), ..HostMapping::default() };
    let mark = HostMark { mapped: Some(mapped), automation: Automation::Plays, colour: None };
    let mut harness = window(DeskStub::default());
    press(&mut harness, "Settings");
    let said = "Moved by Knob 3. Its automation plays";
    assert!(!says(&harness, said));
    harness.state_mut().1.mark = mark;
    harness.run_steps(3);
    assert!(says(&harness, said));
}

/// B♭ now, E♭ in two beats.
fn playing() -> Snapshot {
    let chord = |root| Chord::new(PitchClass::new(root), Kind::Major);
    let mut snapshot = Snapshot {
        playing: true,
        at: Ticks(1920),
        chord: Some(NamedChord { chord: chord(10), certainty: 0.95 }),
        right: 1 << 70 | 1 << 74 | 1 << 77,
        next: Some(Forecast::new(chord(3), Ticks(3840), 0.75, Source::Memory)),
        ..Snapshot::default()
    };
    snapshot.key.tonic = PitchClass::new(10);
    snapshot.left.push((KeyNumber::new(46).unwrap(), Part::Root));
    let slot = |at, role| {
        let key = KeyNumber::new(46);
        let (role, ends) = (Some(role), [None; 2]);
        SlotView { at: Ticks(at), role, key, above: 0, played: at < 1920, ends }
    };
    snapshot.slots.extend([
        slot(0, Part::Root),
        slot(1920, Part::Fifth),
        slot(3360, Part::Passing),
    ]);
    snapshot.coming.push(slot(3840, Part::Root));
    snapshot
}

#[test]
fn it_says_what_is_played_and_what_comes() {
    let harness = window(DeskStub { snapshot: playing(), ..DeskStub::default() });
    for said in [
        "B♭ major · in B♭ major · sure",
        "in 2 beats, on 1 of the next bar",
        "likely (75 %), from this song so far",
        "Right hand: B♭4, D5, F5. Left hand: B♭2 root",
        "1: root, 3: fifth, 4 &: passing; next bar, 1: root",
    ] {
        assert!(says(&harness, said), "{said}");
    }
}

#[test]
fn a_pattern_is_chosen_with_the_mouse() {
    let mut harness = window(DeskStub::default());
    press(&mut harness, "   2  Fifths");
    assert_eq!(harness.state().1.values.get(Control::Pattern), 7);
    assert!(harness.state().1.held.is_empty());
}

#[test]
fn a_fault_of_the_chart_is_told_with_its_place() {
    let mut harness = window(DeskStub {
        chart: "title: Q\nmetre: 4/4\n\n| C | Hm |\n".into(),
        ..DeskStub::default()
    });
    press(&mut harness, "Write");
    assert!(says(&harness, "line 4, column 7"));
}

#[test]
fn the_look_changes_and_a_take_is_kept() {
    let mut harness = window(DeskStub::default());
    press(&mut harness, "Dark");
    assert!(harness.state().1.look.dark);
    press(&mut harness, "Keep what was just played");
    assert_eq!(harness.state().1.kept, [8]);
    assert!(says(&harness, "Take 1.mid"));
}

#[test]
fn a_right_hand_that_sounds_late_is_told_of() {
    let late = "your right hand sounds 0.50 s later";
    assert!(!says(&window(DeskStub::default()), late));
    assert!(says(&window(DeskStub { delay: 0.5, ..DeskStub::default() }), late));
}

#[test]
fn everything_is_reached_with_the_keyboard() {
    let mut harness = window(DeskStub::default());
    press(&mut harness, "Settings");
    let mut reached = std::collections::BTreeSet::new();
    for _ in 0..60 {
        harness.key_press(Key::Tab);
        harness.run_steps(2);
        if let Some(id) = harness.ctx.memory(|memory| memory.focused()) {
            reached.insert(format!("{id:?}"));
        }
    }
    // Two choices for the chart, two beside it, the controls, the foot.
    assert!(reached.len() >= 4 + 18 + 4, "{} widgets", reached.len());
}

#[test]
fn tab_goes_through_the_columns_from_top_to_bottom() {
    let mut harness = window(DeskStub::default());
    press(&mut harness, "Settings");
    let mut places: Vec<egui::Rect> = vec![];
    for _ in 0..60 {
        harness.key_press(Key::Tab);
        harness.run_steps(2);
        let focused = harness.ctx.memory(|memory| memory.focused());
        let place = focused.and_then(|id| harness.ctx.read_response(id)).map(|r| r.rect);
        if let Some(place) = place.filter(|place| places.last() != Some(place)) {
            places.push(place);
        }
    }
    // Once around: from the chart's choices to the foot's last.
    let start = places.iter().position(|place| place.left() < 100.0 && place.top() < 600.0);
    let round: Vec<_> = places[start.unwrap()..].to_vec();
    let left = round.iter().take_while(|place| place.right() < 560.0).count();
    assert!(left >= 2, "the chart's choices first: {round:?}");
    let right: Vec<_> = round[left..]
        .iter()
        .take_while(|place| place.left() > 560.0 && place.top() < 2000.0)
        .collect();
    assert!(right.len() >= 20, "{} in the second column", right.len());
}

#[test]
fn keys_do_what_the_mouse_does() {
    let mut harness = window(DeskStub { snapshot: playing(), ..DeskStub::default() });
    let key = |harness: &mut PanelHarness, role: Role, label: &str, key: Key| {
        let found = harness.query_all_by_role_and_label(role, label).next();
        found.unwrap_or_else(|| panic!("there is no {label}")).focus();
        harness.run_steps(2);
        harness.key_press(key);
        harness.run_steps(3);
    };
    key(&mut harness, Role::Button, "   2  Fifths", Key::Enter);
    assert_eq!(harness.state().1.values.get(Control::Pattern), 7);
    key(&mut harness, Role::Button, "Settings", Key::Space);
    key(&mut harness, Role::Slider, "Sparing to busy", Key::ArrowRight);
    assert_eq!(harness.state().1.values.get(Control::Busy), 51);
    key(&mut harness, Role::CheckBox, "Left hand", Key::Space);
    assert!(!harness.state().1.values.on(Control::Plays));
    key(&mut harness, Role::Button, "Dark", Key::Enter);
    assert!(harness.state().1.look.dark);
    key(&mut harness, Role::Button, "Keep what was just played", Key::Enter);
    assert_eq!(harness.state().1.kept, [8]);
    key(&mut harness, Role::Button, "Write", Key::Enter);
    // On to the editor, and a chart is typed.
    let editor = harness.query_all_by_role(Role::MultilineTextInput).next().unwrap();
    editor.focus();
    harness.run_steps(2);
    harness.event(egui::Event::Text("| C | G |".into()));
    harness.run_steps(3);
    assert_eq!(harness.state().1.chart, "| C | G |");
    assert!(harness.state().1.held.is_empty(), "everything was let go");
}

#[test]
fn what_means_nothing_to_a_home_is_not_shown() {
    let mut harness = window(DeskStub::default());
    press(&mut harness, "Settings");
    assert!(!says(&harness, "Look-ahead") && says(&harness, "Wait for the hand"));
}

#[test]
fn it_can_be_drawn_at_every_scale_by_day_and_by_night() {
    for scale in look::LookChoice::SCALES {
        for dark in [false, true] {
            let look = look::LookChoice { dark, scale };
            let mut harness = window(DeskStub { look, snapshot: playing(), ..DeskStub::default() });
            harness.run_steps(2);
            assert!((harness.ctx.zoom_factor() - f32::from(scale) / 100.0).abs() < 1e-3);
        }
    }
}

#[test]
fn what_was_set_is_taken_back_and_done_again_a_gesture_each() {
    let mut harness = window(DeskStub::default());
    let first = harness.state().1.values;
    press(&mut harness, "   2  Fifths");
    press(&mut harness, "Write");
    let editor = harness.query_all_by_role(Role::MultilineTextInput).next().unwrap();
    editor.focus();
    harness.run_steps(2);
    harness.event(egui::Event::Text("| C |".into()));
    harness.run_steps(3);
    press(&mut harness, "Read the chart"); // leaves the editor: the edit is over
    assert_eq!(harness.state().1.chart, "| C |");
    press(&mut harness, "Undo");
    assert_eq!(harness.state().1.chart, "");
    assert_eq!(harness.state().1.values.get(Control::Pattern), 7);
    press(&mut harness, "Undo");
    assert_eq!(harness.state().1.values, first);
    press(&mut harness, "Redo");
    press(&mut harness, "Redo");
    assert_eq!(harness.state().1.values.get(Control::Pattern), 7);
    assert_eq!(harness.state().1.chart, "| C |");
    assert!(harness.state().1.held.is_empty(), "everything was let go");
}

#[test]
fn a_large_window_has_the_two_bars_on_a_staff() {
    let staffs = |size: (f32, f32), snapshot: Snapshot| {
        let desk = DeskStub { snapshot, ..DeskStub::default() };
        let harness = sized(size, desk);
        let found = harness.query_all_by_label_contains("The staff").collect::<Vec<_>>();
        let window = egui::Rect::from_min_size(egui::Pos2::ZERO, size.into());
        assert!(found.iter().all(|node| window.contains_rect(node.rect())), "{size:?}");
        let wide = found.iter().map(|node| node.rect().size()).collect::<Vec<_>>();
        let said = found.first().map(|node| node.accesskit_node().value().unwrap_or_default());
        (said, wide)
    };
    for (size, shown) in [
        ((640.0, 400.0), false),
        ((1040.0, 740.0), false),
        ((1920.0, 1080.0), true),
        ((3840.0, 2160.0), true),
    ] {
        let (said, room) = staffs(size, playing());
        let asked = "The staff, bars 1 and 2: B♭2, B♭2, B♭2, B♭2";
        assert_eq!(said.as_deref(), shown.then_some(asked), "{size:?}");
        assert!(room.iter().all(|room| room.x >= 220.0 && room.y >= 75.0), "{room:?}");
    }
    // All keys of a stroke, and nothing of what is not known.
    let mut octaves = playing();
    octaves.slots[1].above = 1 << 11;
    octaves.coming[0].key = None;
    let (said, _) = staffs((1920.0, 1080.0), octaves);
    assert_eq!(said.as_deref(), Some("The staff, bars 1 and 2: B♭2, B♭2, B♭3, B♭2"));
    let (said, _) = staffs((1920.0, 1080.0), Snapshot { playing: false, ..playing() });
    assert_eq!(said.as_deref(), Some("The staff: the clock stands still"));
}

#[test]
fn a_waltz_on_four_is_told() {
    let chart = |metre| format!("metre: {metre}\n\n| C | G |\n");
    let mut harness = window(DeskStub { chart: chart("4/4"), ..DeskStub::default() });
    assert!(!says(&harness, "fitted to the bar"));
    press(&mut harness, "   3  Waltz");
    assert!(says(&harness, "“Waltz” is written for 3/4: in 4/4 it is fitted to the bar."));
    harness.state_mut().1.chart = chart("3/4");
    harness.run_steps(3);
    assert!(!says(&harness, "fitted to the bar"));
}
