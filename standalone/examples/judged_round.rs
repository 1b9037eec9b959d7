//! Shows the practice window after a round with mistakes, to look at it:
//! `cargo run -p sinistra --example judged_round -- CHART.txt PATTERN [dark] [SCALE] [both] [playing] [waiting] [rest] [why] [WIDTHxHEIGHT]`.

#[path = "../../panel/tests/shop/mod.rs"]
mod shop;

use std::sync::Arc;

use egui_baseview::baseview::dpi::LogicalSize;
use egui_baseview::{App, EguiWindow, EguiWindowSettings, Frame};
use shop::Shop;
use sinistra_core::engine::Settings;
use sinistra_core::pitch::{KeyNumber, Semitones};
use sinistra_panel::look::LookChoice;
use sinistra_panel::room::{
    ChoiceCard, JudgedRound, LessonPage, PracticeRoom, Preferences, RoomScene, RoundClock, Shelf,
    SittingState,
};
use sinistra_score::practice::{
    Exercise, Hand, Plan, RoundStage, Take, TakeReference, TakeStroke, Target, TargetNote, Waiting,
    judge, words,
};
use sinistra_score::sheet::Staff;
use sinistra_score::sheet::engrave::Engraver;
use sinistra_score::{Chart, pattern_presets};

struct RoomWindow(PracticeRoom, Shop);

impl App for RoomWindow {
    fn ui(&mut self, ui: &mut egui::Ui, _: &mut Frame) {
        self.0.ui(ui, &mut self.1);
    }
}

const USAGE: &str = "usage: judged_round CHART.txt PATTERN [dark] [SCALE] [both] [playing] \
                     [waiting] [rest] [why] [WIDTHxHEIGHT]";

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [chart, slug, flags @ ..] = args.as_slice() else { return Err(USAGE.into()) };
    let has = |word: &str| flags.iter().any(|flag| flag == word);
    let size = flags.iter().find_map(|flag| {
        let (width, height) = flag.split_once('x')?;
        Some((width.parse().ok()?, height.parse().ok()?))
    });
    let size: (f64, f64) = size.unwrap_or((1040.0, 780.0));
    let scale = flags.iter().find_map(|flag| flag.parse().ok()).unwrap_or(100);
    let chart = Chart::read(chart, &std::fs::read_to_string(chart)?)?;
    let preset = pattern_presets().iter().find(|p| p.slug == slug.as_str());
    let pattern = preset.ok_or("no such pattern")?.compile()?;
    let exercise = Exercise::new(&chart, pattern, Settings::default(), None);
    let settings = EguiWindowSettings::new()
        .with_title("Sinistra practice")
        .with_size(LogicalSize { width: size.0, height: size.1 });
    let look = LookChoice { dark: has("dark"), scale };
    let likes = Preferences { look, breaks: true, why: has("why"), ..Preferences::default() };
    let shop = Shop { scene: scene(exercise, has)?, likes, ..Shop::default() };
    EguiWindow::create(settings, RoomWindow(PracticeRoom::default(), shop))?.run_until_closed()?;
    Ok(())
}

/// A place in the take, in milliseconds.
fn ms(beats: f64, tempo: f64) -> f64 {
    2000.0 + beats * 60_000.0 / tempo
}

/// What was played: some notes late or early, some wrong, some left out.
fn take(target: &Target, tempo: f64) -> Take {
    let stroke = |(n, note): (usize, &TargetNote)| {
        let late = [0.0, 12.0, 95.0, -8.0, 20.0, -110.0, 5.0, 0.0, 70.0][n % 9];
        let key = if n % 7 == 3 { note.key.transpose(Semitones(2))? } else { note.key };
        let at_ms = ms(note.at.beats(), tempo) + late;
        (n % 10 != 6).then_some(TakeStroke { at_ms, until_ms: at_ms + 200.0, key, velocity: 70 })
    };
    Take::new(target.notes().iter().enumerate().filter_map(stroke).collect())
}

/// Waiting for the hand, some notes into the song and at a wrong key.
fn waiting(exercise: &Exercise) -> Waiting {
    let mut waiting = Waiting::new(exercise, &Plan::default());
    for _ in 0..9 {
        let next = waiting.missing().map(|(key, _)| key).next();
        if let Some(key) = next {
            waiting.strike(key);
        }
    }
    waiting.strike(KeyNumber::clamped(50));
    waiting
}

fn scene(exercise: Exercise, has: impl Fn(&str) -> bool) -> Result<RoomScene, &'static str> {
    let tempo = exercise.tempo * 0.7;
    let target = exercise.target(tempo).of_hand(Hand::Left);
    let take = take(&target, tempo);
    let beat = TakeReference::Metronome { start_ms: 2000.0, tempo };
    let verdict = judge(&target, &take, beat).ok_or("nothing heard")?;
    let said = words(&target, &verdict);
    let waits = has("waiting");
    let playing = has("playing") || waits;
    let waiting = waits.then(|| waiting(&exercise));
    let now = waiting.as_ref().and_then(Waiting::step).map_or(5.3, |step| step.at.beats());
    let now_ms = ms(now, tempo);
    let span = exercise.span(i64::MIN, i64::MAX);
    let state = match playing {
        true => SittingState::Playing,
        false => SittingState::Waiting(RoundStage::Alone),
    };
    let strokes = take.strokes().iter().filter(|s| !playing || s.at_ms < now_ms).copied();
    let cards = pattern_presets().iter().filter_map(|preset| {
        let pattern = preset.compile().ok()?;
        let (name, about) = (pattern.name.to_string(), pattern.about.to_string());
        Some(ChoiceCard { slug: preset.slug.to_owned(), name, about })
    });
    let felt = exercise.felt_beat();
    Ok(RoomScene {
        act: if waits { RoundStage::Wait } else { RoundStage::Alone },
        waiting: waiting.map(Arc::new),
        state,
        tempo: tempo / felt,
        rounds: (7, 3),
        clock: RoundClock { now_ms, origin_ms: 2000.0, tempo, span, ..RoundClock::default() },
        strokes: Arc::new(strokes.collect()),
        judged: Some(Arc::new(JudgedRound { verdict, words: said })),
        said: vec!["Up to 70.".into()],
        rest: has("rest"),
        lesson: Some(Arc::new(LessonPage {
            name: format!("{}, {}, left hand", exercise.title(), exercise.pattern),
            goal: exercise.tempo / felt,
            engraver: Engraver::keeping(exercise.unfolded_sheet()),
            staves: if has("both") { &[Staff::Right, Staff::Left] } else { &[Staff::Left] },
            exercise,
        })),
        shelf: Arc::new(Shelf { patterns: cards.collect(), ..Shelf::default() }),
        ..RoomScene::default()
    })
}
