//! The practice window without a screen: every button and key reaches the
//! sitting, and what became of the notes is said.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that fails panics")]

mod fingers;
mod shop;

use std::sync::Arc;

use egui::accesskit::Role;
use egui::{Key, Vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::NodeT;
use egui_kittest::kittest::Queryable;
use fingers::{click, key, press, says};
use shop::Shop;
use sinistra_core::engine::Settings;
use sinistra_core::pitch::{KeyNumber, Semitones};
use sinistra_panel::room::{
    ChoiceCard, JudgedRound, LessonPage, Pick, PracticeRoom, Preferences, RoomScene, RoundClock,
    Shelf, SittingState,
};
use sinistra_score::practice::{
    Answer, Exercise, Hand, Hands, Plan, RoundStage, Take, TakeReference, TakeStroke, Waiting,
    judge, words,
};
use sinistra_score::sheet::Staff;
use sinistra_score::sheet::engrave::Engraver;
use sinistra_score::{Chart, find_pattern, pattern_presets};

const CHART: &str = "title: Four Doors\nkey: Bb\nmetre: 4/4\ntempo: 80\n\n| Bb | Gm | Eb | D7 |\n";
const START: f64 = 2000.0;
const TEMPO: f64 = 60.0;

/// Between rounds; the third note came late, the fifth was missed and the
/// eighth was another key, all in bars 3 and 4.
fn judged() -> Shop {
    judged_with(&[])
}

/// The same, and these keys were struck after the missed note was due.
fn judged_with(extras: &[i32]) -> Shop {
    let chart = Chart::read("four-doors", CHART).unwrap();
    let pattern = pattern_presets()[0].compile().unwrap();
    let exercise = Exercise::new(&chart, pattern, Settings::default(), None);
    let target = exercise.target(TEMPO).of_hand(Hand::Left);
    let late = target.notes().iter().filter(|note| note.bar >= 3).map(|note| note.at).nth(2);
    let mut strokes = Vec::new();
    for (n, note) in target.notes().iter().enumerate() {
        let at_ms = START + note.at.beats() * 60_000.0 / TEMPO;
        let at_ms = at_ms + if Some(note.at) == late { 140.0 } else { 4.0 };
        let key = if n == 15 { note.key.transpose(Semitones(1)).unwrap() } else { note.key };
        let stroke = |at_ms, key| TakeStroke { at_ms, until_ms: at_ms + 300.0, key, velocity: 70 };
        match n {
            12 => strokes
                .extend(extras.iter().map(|key| stroke(at_ms + 300.0, KeyNumber::clamped(*key)))),
            _ => strokes.push(stroke(at_ms, key)),
        }
    }
    let take = Take::new(strokes);
    let beat = TakeReference::Metronome { start_ms: START, tempo: TEMPO };
    let verdict = judge(&target, &take, beat).unwrap();
    let said = words(&target, &verdict);
    let span = exercise.span(i64::MIN, i64::MAX);
    let lesson = LessonPage {
        name: "Four Doors in B♭".into(),
        goal: 80.0,
        engraver: Engraver::keeping(exercise.unfolded_sheet()),
        exercise,
        staves: &[Staff::Left],
    };
    let scene = RoomScene {
        lesson: Some(Arc::new(lesson)),
        act: RoundStage::Alone,
        state: SittingState::Waiting(RoundStage::Alone),
        tempo: TEMPO,
        rounds: (5, 2),
        clock: RoundClock { origin_ms: START, tempo: TEMPO, span, ..RoundClock::default() },
        strokes: Arc::new(take.strokes().to_vec()),
        judged: Some(Arc::new(JudgedRound { verdict, words: said })),
        ..RoomScene::default()
    };
    let likes = Preferences { breaks: true, ..Preferences::default() };
    Shop { scene, likes, ..Shop::default() }
}

type RoomHarness<'a> = Harness<'a, (PracticeRoom, Shop)>;

fn window<'a>(shop: Shop) -> RoomHarness<'a> {
    sized((1040.0, 780.0), shop)
}

fn sized<'a>(size: (f32, f32), shop: Shop) -> RoomHarness<'a> {
    fingers::window(size, (PracticeRoom::default(), shop), |ui, (room, shop)| room.ui(ui, shop))
}

#[test]
fn what_is_practised_is_kept_with_one_button_and_its_place_is_told() {
    let mut harness = window(judged());
    press(&mut harness, "Keep this chorus");
    assert_eq!(harness.state().1.kept, 1);
    assert!(says(&harness, "/music/Chorus 1.svg") && says(&harness, "Show the folder"));
}

#[test]
#[cfg(target_os = "linux")]
fn the_pointer_grabs_what_is_kept_while_it_is_dragged() {
    let mut harness = window(judged());
    press(&mut harness, "Keep this chorus");
    let name = harness.get_by_label("/music/Chorus 1.svg").rect().center();
    let icon = |harness: &RoomHarness<'_>| harness.output().platform_output.cursor_icon;
    harness.hover_at(name);
    harness.run_steps(2);
    assert_eq!(icon(&harness), egui::CursorIcon::Grab);
    harness.drag_at(name);
    harness.run_steps(2);
    harness.hover_at(name + Vec2::new(300.0, -100.0));
    harness.run_steps(2);
    assert_eq!(icon(&harness), egui::CursorIcon::Grabbing);
    harness.drop_at(name + Vec2::new(300.0, -100.0));
    harness.run_steps(2);
    assert_ne!(icon(&harness), egui::CursorIcon::Grabbing);
}

#[test]
fn why_the_hand_plays_so_stands_under_the_music_where_it_is_wanted() {
    let mut shop = judged();
    let chart = Chart::read("four-doors", CHART).unwrap();
    let free = find_pattern("free-hand").unwrap().compile().unwrap();
    let exercise = Exercise::new(&chart, free, Settings::default(), None);
    let engraver = Engraver::keeping(exercise.unfolded_sheet());
    let said = engraver.sheet().reasons[0].text.clone();
    let page =
        LessonPage { exercise, engraver, name: String::new(), goal: 80.0, staves: &[Staff::Left] };
    (shop.scene.lesson, shop.scene.judged) = (Some(Arc::new(page)), None);
    let mut harness = window(shop);
    let painted = |harness: &RoomHarness<'_>| fingers::letters(harness, &said).is_some();
    assert!(!painted(&harness));
    click(&mut harness, "Why");
    assert!(harness.state().1.likes.why && painted(&harness), "{said}");
}

#[test]
fn every_button_reaches_the_sitting() {
    let mut harness = window(judged());
    for (label, wish) in [
        ("Next: alone", Answer::On),
        ("Again", Answer::Again),
        ("Slower", Answer::Slower),
        ("Faster", Answer::Faster),
        ("Hear", Answer::Hear),
        ("Together", Answer::Together),
        ("Alone", Answer::Alone),
        ("Next lesson", Answer::Next),
        ("Hear yourself", Answer::Replay),
        ("Only bars 3–4", Answer::Loop(Some((3, 4)))),
    ] {
        harness.state_mut().1.wishes.clear();
        press(&mut harness, label);
        assert_eq!(harness.state().1.wishes, [wish], "{label}");
    }
}

#[test]
fn every_key_does_as_its_button() {
    let mut harness = window(judged());
    for (pressed, wish) in [
        (Key::Enter, Answer::On),
        (Key::Space, Answer::On),
        (Key::A, Answer::Again),
        (Key::S, Answer::Slower),
        (Key::F, Answer::Faster),
        (Key::H, Answer::Hear),
        (Key::T, Answer::Together),
        (Key::L, Answer::Alone),
        (Key::N, Answer::Next),
        (Key::Y, Answer::Replay),
    ] {
        harness.state_mut().1.wishes.clear();
        key(&mut harness, pressed);
        assert_eq!(harness.state().1.wishes, [wish], "{pressed:?}");
    }
}

#[test]
fn pattern_chart_key_and_hands_are_chosen_in_the_window() {
    let card = |slug: &str, name: &str, about: &str| ChoiceCard {
        slug: slug.into(),
        name: name.into(),
        about: about.into(),
    };
    let mut shop = judged();
    shop.scene.shelf = Arc::new(Shelf {
        patterns: vec![card("a", "Roots", "On the beat."), card("b", "Ands", "And between.")],
        charts: vec![card("four", "Four Doors", ""), card("mill", "The Mill", "")],
        keys: vec!["C".into(), "G".into()],
    });
    shop.scene.pick = Pick { chart: "four".into(), pattern: "a".into(), ..Pick::default() };
    let mut harness = window(shop);
    press(&mut harness, "Choose what");
    assert!(says(&harness, "And between."));
    for label in ["2  Ands", "The Mill", "G", "Both"] {
        click(&mut harness, label);
    }
    assert!(harness.state().1.picks.is_empty()); // nothing before it is asked for
    press(&mut harness, "Practise this");
    let picked = Pick {
        chart: "mill".into(),
        pattern: "b".into(),
        key: Some("G".into()),
        hands: Hands::Both,
        free: false,
        goal: None,
    };
    assert_eq!(harness.state().1.picks, [picked]);
    assert!(says(&harness, "Bars 3–4")); // the music again
}

#[test]
fn after_a_round_the_music_is_seen_though_what_to_practise_was_being_chosen() {
    let shop = judged();
    let waiting = shop.scene.state.clone();
    let mut harness = window(shop);
    press(&mut harness, "Choose what");
    assert!(says(&harness, "Practise this"));
    for state in [SittingState::Playing, waiting] {
        harness.state_mut().1.scene.state = state;
        harness.run();
    }
    assert!(says(&harness, "Bars 3–4") && !says(&harness, "Practise this"));
}

#[test]
fn in_a_round_it_may_be_stopped_but_not_skipped() {
    let mut shop = judged();
    shop.scene.state = SittingState::Playing;
    let mut harness = window(shop);
    key(&mut harness, Key::Enter);
    assert_eq!(harness.state().1.wishes, []);
    key(&mut harness, Key::Escape);
    assert_eq!(harness.state().1.wishes, [Answer::Stop]);
}

#[test]
fn it_turns_to_the_bars_where_most_went_wrong_and_says_what() {
    let mut harness = window(judged());
    assert!(says(&harness, "Bars 3–4"));
    assert!(says(&harness, "5 right, 0 early, 1 late, 1 missed, 1 wrong"));
    assert!(says(&harness, "2 of 5 rounds clean"));
    key(&mut harness, Key::ArrowLeft);
    assert!(says(&harness, "Bars 1–2"));
    assert!(says(&harness, "8 right, 0 early, 0 late, 0 missed, 0 wrong"));
}

/// What is said of two faults that fell together, or nearly, is not said in one place.
#[test]
fn words_of_faults_at_one_moment_stand_apart() {
    for size in [(1040.0, 780.0), (640.0, 480.0), (1920.0, 1080.0)] {
        let harness = sized(size, judged_with(&[36, 47, 48]));
        let is_remark = |text: &str| {
            let ends =
                ["extra", "missed", " ms", "late", ","].iter().any(|end| text.ends_with(end));
            text.starts_with("not ") || (ends && text.len() < 8)
        };
        let mut placed = fingers::painted(&harness);
        placed.retain(|(text, _)| is_remark(text));
        assert_eq!(placed.iter().filter(|(text, _)| text == "extra").count(), 2, "{placed:?}");
        for (n, (said, place)) in placed.iter().enumerate() {
            for (other, beside) in &placed[n + 1..] {
                let over = place.intersect(*beside);
                let apart = over.width() <= 0.0 || over.height() <= 0.0;
                assert!(apart, "{size:?}: {said} {place:?} over {other} {beside:?}");
            }
        }
    }
}

#[test]
fn a_break_is_named_while_it_is_wanted_and_caution_always() {
    let mut shop = judged();
    shop.scene.rest = true;
    let mut harness = window(shop);
    assert!(says(&harness, "Time for a break"));
    click(&mut harness, "Remind me of breaks");
    assert!(!harness.state().1.likes.breaks);
    assert!(!says(&harness, "Time for a break"));
    assert!(says(&harness, "Stop if anything hurts"));
}

#[test]
fn the_count_in_is_counted_and_then_the_hand_is_named() {
    let mut shop = judged();
    shop.scene.state = SittingState::Playing;
    shop.scene.act = RoundStage::Together;
    shop.scene.clock.origin_ms = 4600.0;
    shop.scene.clock.count_in = Arc::from([600.0, 1600.0, 2600.0, 3600.0]);
    shop.scene.clock.now_ms = 2700.0;
    let mut harness = window(shop);
    assert!(says(&harness, "Count in: 3"));
    harness.state_mut().1.scene.clock.now_ms = 4700.0;
    harness.run_steps(3);
    assert!(says(&harness, "Together: you play your hand"));
}

#[test]
fn who_is_waited_for_sees_the_next_keys_lit_and_a_wrong_one_named() {
    let mut harness = window(judged());
    key(&mut harness, Key::W);
    assert_eq!(harness.state().1.wishes, [Answer::Wait]);
    let scene = &mut harness.state_mut().1.scene;
    let exercise = scene.lesson.as_ref().unwrap().exercise.clone();
    let mut waiting = Waiting::new(&exercise, &Plan { hands: Hands::Left, ..Plan::default() });
    (scene.act, scene.state) = (RoundStage::Wait, SittingState::Playing);
    scene.waiting = Some(Arc::new(waiting.clone()));
    harness.run_steps(3);
    assert!(says(&harness, "B♭2, when you are ready"));
    assert!(says(&harness, "Keyboard. Asked for: B♭2"));
    waiting.strike(KeyNumber::clamped(48));
    harness.state_mut().1.scene.waiting = Some(Arc::new(waiting));
    harness.run_steps(3);
    assert!(says(&harness, "That was C3. B♭2 is a step lower"));
    assert!(says(&harness, "0 of 16"));
    // Meanwhile other bars may be picked.
    press(&mut harness, "Only bars 1–2");
    assert_eq!(harness.state().1.wishes, [Answer::Wait, Answer::Loop(Some((1, 2)))]);
}

#[test]
fn hands_come_apart_and_together_with_one_button() {
    let mut harness = window(judged());
    press(&mut harness, "Right hand");
    press(&mut harness, "Both hands");
    let picked: Vec<_> = harness.state().1.picks.iter().map(|pick| pick.hands).collect();
    assert_eq!(picked, [Hands::Right, Hands::Both]);
}

#[test]
fn letters_play_and_are_no_buttons_meanwhile() {
    let mut harness = window(judged());
    click(&mut harness, "Letters play");
    harness.key_down(Key::S);
    harness.run_steps(3);
    harness.key_up(Key::S);
    harness.run_steps(3);
    let d2 = KeyNumber::clamped(38);
    assert_eq!(harness.state().1.keys, [(d2, true), (d2, false)]);
    assert_eq!(harness.state().1.wishes, []);
    key(&mut harness, Key::Enter);
    assert_eq!(harness.state().1.wishes, [Answer::On]);
}

#[test]
fn bars_that_are_marked_with_the_mouse_are_the_loop() {
    let mut harness = window(judged());
    let music = harness.query_all_by_label_contains("What was asked").next().unwrap().rect();
    let at = |part: f32| music.left_top() + Vec2::new(part * music.width(), 60.0);
    harness.drag_at(at(0.8));
    harness.run_steps(2);
    harness.hover_at(at(0.6));
    harness.run_steps(2);
    harness.hover_at(at(0.3));
    harness.run_steps(2);
    harness.drop_at(at(0.3));
    harness.run_steps(3);
    assert_eq!(harness.state().1.wishes, [Answer::Loop(Some((3, 4)))]);
}

#[test]
fn a_file_is_found_in_the_window() {
    let mut harness = window(judged());
    press(&mut harness, "Choose what");
    press(&mut harness, "Look for it");
    assert!(says(&harness, "old/"));
    click(&mut harness, "evening.txt");
    press(&mut harness, "Practise this");
    assert_eq!(harness.state().1.picks[0].chart, "/songs/evening.txt");
}

/// 1920 by 1080 at 200 %, a small laptop, and an ordinary window.
#[test]
fn the_verdict_lies_under_nothing_at_any_size() {
    for (width, height) in [(960.0, 540.0), (683.0, 384.0), (640.0, 360.0), (1040.0, 780.0)] {
        let harness = sized((width, height), judged());
        let summary = harness.state().1.scene.judged.as_ref().unwrap().words.summary.clone();
        let verdict = harness.get_by_label(&summary).rect();
        let starts = |text: String| text.starts_with("Next: alone");
        let button = harness
            .query_all_by_role(Role::Button)
            .find(|node| node.accesskit_node().label().is_some_and(starts))
            .unwrap()
            .rect();
        let room = format!("{width}x{height}: {verdict:?}, {button:?}");
        assert!(verdict.bottom() <= button.top(), "{room}");
        assert!(verdict.top() >= 0.0 && verdict.right() <= width, "{room}");
        assert!(button.bottom() <= height, "{room}");
        let music = harness.query_all_by_label_contains("What was asked").next().unwrap().rect();
        let seen = button.top() - music.top();
        assert!(seen >= music.height(), "{room}: of {music:?} {seen} is seen");
    }
}

#[test]
fn what_is_asked_and_played_is_seen_whole_while_it_is_played() {
    for (width, height) in [(960.0, 540.0), (683.0, 384.0), (640.0, 360.0), (1040.0, 780.0)] {
        let mut shop = judged();
        shop.scene.state = SittingState::Playing;
        let harness = sized((width, height), shop);
        let music = harness.query_all_by_label_contains("what you play").next().unwrap().rect();
        let starts = |text: String| text.starts_with("Again");
        let mut buttons = harness.query_all_by_role(Role::Button);
        let button =
            buttons.find(|node| node.accesskit_node().label().is_some_and(starts)).unwrap().rect();
        assert!(music.bottom() <= button.top(), "{width}x{height}: {music:?}, {button:?}");
    }
}

/// A laptop and a full screen: what is said stands beside the music, not above it.
#[test]
fn the_music_has_most_of_a_wide_window() {
    for ((width, height), most) in [((1366.0, 768.0), 0.45), ((1920.0, 1080.0), 0.55)] {
        let harness = sized((width, height), judged());
        let music = harness.query_all_by_label_contains("What was asked").next().unwrap().rect();
        let said = harness.query_all_by_label_contains("\u{2022} bar 4").next().unwrap().rect();
        let room = format!("{width}x{height}: {music:?}, {said:?}");
        assert!(music.height() > most * height, "{room}");
        assert!(said.left() >= music.right() && said.right() <= width, "{room}");
    }
}
