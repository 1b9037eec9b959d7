//! Shows the practice window after a round with mistakes, to look at it:
//! `cargo run -p sinistra --example judged_round -- CHART.txt PATTERN [dark] [SCALE] [both] [playing] [waiting] [WIDTHxHEIGHT]`.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui_baseview::baseview::dpi::LogicalSize;
use egui_baseview::{App, EguiWindow, EguiWindowSettings, Frame};
use sinistra_core::engine::Settings;
use sinistra_core::pitch::{KeyNumber, Semitones};
use sinistra_panel::look::LookChoice;
use sinistra_panel::room::{
    ChoiceCard, FolderEntry, JudgedRound, LessonPage, Pick, PracticeRoom, Preferences, RoomScene,
    RoundClock, Shelf, SittingState, Studio,
};
use sinistra_score::practice::{
    Answer, Exercise, Plan, RoundStage, Take, TakeReference, TakeStroke, Waiting, judge, words,
};
use sinistra_score::sheet::Staff;
use sinistra_score::sheet::engrave::Engraver;
use sinistra_score::{Chart, pattern_presets};

struct Shop(RoomScene, Preferences);

impl Studio for Shop {
    fn scene(&mut self) -> RoomScene {
        self.0.clone()
    }
    fn wish(&mut self, wish: Answer) {
        println!("{wish:?}");
    }
    fn pick(&mut self, pick: Pick) {
        println!("{pick:?}");
    }
    fn play_key(&mut self, key: KeyNumber, down: bool) {
        println!("{key:?} {down}");
    }
    fn folder(&self, _: &Path) -> Vec<FolderEntry> {
        Vec::new()
    }
    fn first_folder(&self) -> PathBuf {
        PathBuf::from("/songs")
    }
    fn keep(&mut self) -> Result<PathBuf, String> {
        Err("this one is to be looked at".into())
    }
    fn preferences(&self) -> Preferences {
        self.1
    }
    fn prefer(&mut self, preferences: Preferences) {
        self.1 = preferences;
    }
}

struct RoomWindow(PracticeRoom, Shop);

impl App for RoomWindow {
    fn ui(&mut self, ui: &mut egui::Ui, _: &mut Frame) {
        self.0.ui(ui, &mut self.1);
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [chart, slug, flags @ ..] = args.as_slice() else {
        return Err("usage: judged_round CHART.txt PATTERN [dark] [SCALE] [both] [playing] [waiting] [WIDTHxHEIGHT]".into());
    };
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
    let tempo = exercise.tempo * 0.7;
    let target = exercise.target(tempo).of_hand(sinistra_score::practice::Hand::Left);
    let ms = |beats: f64| 2000.0 + beats * 60_000.0 / tempo;
    let stroke = |(n, note): (usize, &sinistra_score::practice::TargetNote)| {
        let late = [0.0, 12.0, 95.0, -8.0, 20.0, -110.0, 5.0, 0.0, 70.0][n % 9];
        let key = if n % 7 == 3 { note.key.transpose(Semitones(2))? } else { note.key };
        let at_ms = ms(note.at.beats()) + late;
        (n % 10 != 6).then_some(TakeStroke { at_ms, until_ms: at_ms + 200.0, key, velocity: 70 })
    };
    let take = Take::new(target.notes().iter().enumerate().filter_map(stroke).collect());
    let verdict = judge(&target, &take, TakeReference::Metronome { start_ms: 2000.0, tempo });
    let verdict = verdict.ok_or("nothing heard")?;
    let said = words(&target, &verdict);
    let waits = has("waiting");
    let playing = has("playing") || waits;
    let waiting = waits.then(|| {
        let mut waiting = Waiting::new(&exercise, &Plan::default());
        for _ in 0..9 {
            let next = waiting.missing().map(|(key, _)| key).next();
            if let Some(key) = next {
                waiting.strike(key);
            }
        }
        waiting.strike(KeyNumber::clamped(50));
        waiting
    });
    let now = waiting.as_ref().and_then(Waiting::step).map_or(5.3, |step| step.at.beats());
    let engraver = Engraver::keeping(exercise.unfolded_sheet());
    let felt = exercise.felt_beat();
    let scene = RoomScene {
        act: if waits { RoundStage::Wait } else { RoundStage::Alone },
        waiting: waiting.map(Arc::new),
        state: if playing {
            SittingState::Playing
        } else {
            SittingState::Waiting(RoundStage::Alone)
        },
        tempo: tempo / felt,
        rounds: (7, 3),
        clock: RoundClock {
            now_ms: ms(now),
            origin_ms: 2000.0,
            tempo,
            span: exercise.span(i64::MIN, i64::MAX),
            ..RoundClock::default()
        },
        strokes: Arc::new(
            take.strokes().iter().filter(|s| !playing || s.at_ms < ms(now)).copied().collect(),
        ),
        judged: Some(Arc::new(JudgedRound { verdict, words: said })),
        said: vec!["Up to 70.".into()],
        rest: has("rest"),
        lesson: Some(Arc::new(LessonPage {
            name: format!("{}, {}, left hand", exercise.title(), exercise.pattern),
            goal: exercise.tempo / felt,
            engraver,
            staves: if has("both") { &[Staff::Right, Staff::Left] } else { &[Staff::Left] },
            exercise,
        })),
        ..RoomScene::default()
    };
    let cards = pattern_presets().iter().filter_map(|preset| {
        let pattern = preset.compile().ok()?;
        let (name, about) = (pattern.name.to_string(), pattern.about.to_string());
        Some(ChoiceCard { slug: preset.slug.to_owned(), name, about })
    });
    let shelf = Shelf { patterns: cards.collect(), ..Shelf::default() };
    let scene = RoomScene { shelf: Arc::new(shelf), ..scene };
    let settings = EguiWindowSettings::new()
        .with_title("Sinistra practice")
        .with_size(LogicalSize { width: size.0, height: size.1 });
    let look = LookChoice { dark: has("dark"), scale };
    let shop = Shop(scene, Preferences { look, breaks: true, ..Preferences::default() });
    EguiWindow::create(settings, RoomWindow(PracticeRoom::default(), shop))?.run_until_closed()?;
    Ok(())
}
