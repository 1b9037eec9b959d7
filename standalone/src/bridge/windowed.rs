//! The bridge with the shared window. Closing the window ends the bridge, with
//! every note off; a signal that ends the bridge closes the window.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use egui_baseview::baseview::WindowContext;
use parking_lot::Mutex;
use sinistra_core::engine::{KeyChoice, Settings, Snapshot};
use sinistra_core::key::Mode;
use sinistra_core::maths;
use sinistra_panel::control::{Control, Values};
use sinistra_panel::home::{Connections, Home, PatternCard, PlayersText};
use sinistra_panel::stage::{OnStage, StagePanel, StageScene, StageWish};
use sinistra_panel::{look, music_folder, take};
use sinistra_score::pattern::PatternPreset;
use sinistra_score::{Chart, PatternFile, pattern_presets};

use super::controls::{Action, Move};
use super::live::{End, How, ends, play};
use super::pane::{Errand, StagePane, Turned, Written, pane};
use super::setup::{SetupWords, resolve};
use super::stage::{Command, LeftHandWork, SetEntry};
use crate::failure::Failure;
use crate::scores;
use crate::window::{self, Painter};

/// Opens the window and plays until it is closed; without a display, plays on
/// in the terminal and says so.
///
/// # Errors
/// As [`super::live()`].
pub fn live(words: SetupWords, how: How) -> Result<(), Failure> {
    match in_window(&words, &how)? {
        Opening::Ended(result) => result,
        Opening::No(why, end) => {
            if !how.quiet {
                eprintln!("no window here ({why}); the bridge goes on in the terminal");
            }
            play(words, How { window: false, ..how }, end, None)
        }
    }
}

/// What came of opening the window.
pub enum Opening {
    /// It was open, and is closed.
    Ended(Result<(), Failure>),
    /// It did not open, and nothing has begun; why, and what would end it.
    No(String, End),
}

/// Opens the window and plays until it is closed.
///
/// # Errors
/// If the words are wrong.
pub fn in_window(words: &SetupWords, how: &How) -> Result<Opening, Failure> {
    let end = ends(how.for_seconds)?;
    let options = resolve(words).map_err(Failure::Input)?;
    if !window::may_be_shown() {
        return Ok(Opening::No("no display".into(), end));
    }
    let (pane, view) = pane();
    let over = Arc::new(AtomicBool::new(false));
    let thread = Arc::new(Mutex::new(None));
    let (stop, ending) = (end.stop.clone(), over.clone());
    let (its_words, its_how) = (words.clone(), how.clone());
    let held = Arc::new(Mutex::new(Some((end, pane))));
    let again = held.clone();
    let begin = move || {
        let (end, pane) = held.lock().take()?;
        let run = move || {
            let result = play(its_words, its_how, end, Some(pane));
            ending.store(true, Ordering::Release);
            result
        };
        std::thread::Builder::new().name("bridge".into()).spawn(run).ok()
    };
    let mut values = values_of(&options.settings, options.time.tempo, options.left);
    values.set(Control::Pattern, number_of(scores::USUAL_PATTERN));
    let desk = StageHome {
        view,
        values,
        chart: String::new(),
        own: String::new(),
        chosen: None,
        changes: 0,
        turned: None,
        look: window::remembered().unwrap_or(ON_STAGE),
        screen: window::FullScreen::default(),
    };
    let content = StageWindow {
        panel: StagePanel::default(),
        desk,
        begin: Some(Box::new(begin)),
        thread: thread.clone(),
        over,
    };
    if let Err(why) = window::run("Sinistra bridge", content)
        && let Some((end, _)) = again.lock().take()
    {
        return Ok(Opening::No(why, end));
    }
    let _ = stop.send(());
    let thread: Option<StageThread> = thread.lock().take();
    Ok(Opening::Ended(thread.map_or(Ok(()), |thread| thread.join().unwrap_or(Ok(())))))
}

type StageThread = std::thread::JoinHandle<Result<(), Failure>>;
type BeginStage = Box<dyn FnOnce() -> Option<StageThread> + Send>;

/// Dark: a stage is, and a bright window blinds there.
const ON_STAGE: look::LookChoice = look::LookChoice { dark: true, scale: 100 };

struct StageWindow {
    panel: StagePanel,
    desk: StageHome,
    /// Taken with the first frame: without a window nothing has begun.
    begin: Option<BeginStage>,
    thread: Arc<Mutex<Option<StageThread>>>,
    over: Arc<AtomicBool>,
}

impl Painter for StageWindow {
    fn opened(&mut self, window: &WindowContext) {
        self.desk.screen.opened(window);
    }

    fn draw(&mut self, ui: &mut egui::Ui) {
        if let Some(begin) = self.begin.take() {
            *self.thread.lock() = begin();
        }
        self.desk.follow();
        self.panel.ui(ui, &mut self.desk);
    }

    fn is_over(&self) -> bool {
        self.over.load(Ordering::Acquire)
    }
}

/// The panel's home on stage.
struct StageHome {
    view: StagePane,
    values: Values,
    chart: String,
    own: String,
    /// The pattern that a control chose last.
    chosen: Option<&'static str>,
    /// The entry that chart and pattern were last taken from.
    changes: u64,
    /// What the values were last taken from.
    turned: Option<Turned>,
    look: look::LookChoice,
    screen: window::FullScreen,
}

impl StageHome {
    /// Takes over what was turned under the hands or came with an entry, and
    /// chart and pattern when another entry is played.
    fn follow(&mut self) {
        let (turned, changes, chosen, (chart, pattern)) = {
            let seen = self.view.seen.lock();
            (seen.turned, seen.changes, seen.chosen, seen.entry.clone())
        };
        if chosen != self.chosen {
            self.chosen = chosen;
            chosen.into_iter().for_each(|slug| self.values.set(Control::Pattern, number_of(slug)));
        }
        if let Some(Turned { settings, tempo, left }) = turned
            && turned != self.turned
        {
            let pattern = self.values.get(Control::Pattern);
            self.values = values_of(&settings, tempo, left);
            self.values.set(Control::Pattern, pattern);
            self.turned = turned;
        }
        if changes == self.changes {
            return;
        }
        self.changes = changes;
        // No chart is a chart too: that of the entry before is not shown on.
        self.chart = chart.unwrap_or_default();
        if let Some(pattern) = pattern {
            self.values.set(Control::Pattern, number_of(&pattern));
        }
    }

    fn send(&self, command: Command) {
        self.errand(Errand::Stage(command));
    }

    fn errand(&self, errand: Errand) {
        let _ = self.view.errands.send(errand);
    }

    /// What is written here, to be kept.
    fn written(&self) -> Written {
        let pattern = self.preset().map(|preset| preset.slug.to_owned());
        Written { chart: self.chart.clone(), pattern }
    }

    /// The pattern that is chosen; `None` for the player's own.
    fn preset(&self) -> Option<&'static PatternPreset> {
        let number = usize::try_from(self.values.get(Control::Pattern)).ok()?;
        pattern_presets().get(number.checked_sub(1)?)
    }

    fn send_pattern(&self) {
        let pattern = match self.preset() {
            Some(preset) => preset.compile().ok(),
            None => PatternFile::compile("my pattern", &self.own).ok(),
        };
        if let Some(pattern) = pattern {
            self.send(Command::Pattern(pattern));
        }
    }
}

impl Home for StageHome {
    fn snapshot(&mut self) -> Snapshot {
        self.view.seen.lock().snapshot.clone()
    }

    fn values(&self) -> Values {
        self.values
    }

    /// Through is the bridge's first duty, its clock always runs, nothing that is
    /// played live can be delayed, and its port was chosen when it was started.
    fn offers(&self, control: Control) -> bool {
        use Control::{Ahead, Apart, Standing, Through};
        !matches!(control, Through | Standing | Ahead | Apart)
    }

    fn set(&mut self, control: Control, value: i32) {
        self.values.set(control, value);
        let value = self.values.get(control);
        match control {
            Control::Plays => {
                let action = if value == 0 { Action::LeftRests } else { Action::LeftPlays };
                self.send(Command::Do(action, Move::Press));
            }
            Control::Pattern => self.send_pattern(),
            Control::Tempo => self.send(Command::Tempo(f64::from(value))),
            control if !self.offers(control) => {}
            _ => self.send(Command::Settings(self.values.settings())),
        }
    }

    fn patterns(&self) -> Vec<PatternCard> {
        PatternCard::presets().to_vec()
    }

    fn text(&self, which: PlayersText) -> String {
        match which {
            PlayersText::Chart => self.chart.clone(),
            PlayersText::OwnPattern => self.own.clone(),
        }
    }

    fn set_text(&mut self, which: PlayersText, text: &str) {
        if which == PlayersText::OwnPattern {
            text.clone_into(&mut self.own);
            if self.values.get(Control::Pattern) == 0 {
                self.send_pattern();
            }
            return;
        }
        text.clone_into(&mut self.chart);
        let song = match Chart::read("chart", text) {
            _ if text.trim().is_empty() => None,
            Ok(chart) => Some(Box::new(chart.unfold())),
            Err(_) => return, // what was played before goes on
        };
        let metre = song.as_ref().and_then(|song| song.bars().first().map(|bar| bar.metre));
        let bars = song.clone();
        self.send(Command::Entry(SetEntry { song, bars, metre, ..SetEntry::default() }));
    }

    fn keep(&mut self, bars: usize) -> Result<PathBuf, String> {
        take::keep(&self.view.log, bars, &self.values.settings(), &music_folder()?)
    }

    fn wiring(&self) -> Option<Connections> {
        Some(self.view.seen.lock().wiring.clone())
    }

    fn look(&self) -> look::LookChoice {
        self.look
    }

    fn set_look(&mut self, look: look::LookChoice) {
        self.look = look.mended();
        window::remember(self.look);
    }
}

impl OnStage for StageHome {
    fn scene(&mut self) -> StageScene {
        let mut scene = self.view.seen.lock().scene.clone();
        scene.full_screen = self.screen.is_full();
        scene
    }

    fn wish(&mut self, wish: StageWish) {
        match wish {
            StageWish::FullScreen => self.screen.toggle(),
            StageWish::Save => self.errand(Errand::Save(self.written())),
            wish => self.errand(Errand::Wish(wish)),
        }
    }
}

/// The place of a preset in the teaching order, from 1; 0 for any other.
fn number_of(name: &str) -> i32 {
    let found = sinistra_score::find_pattern(name).map(|preset| preset.slug);
    let at = pattern_presets().iter().position(|preset| Some(preset.slug) == found);
    at.and_then(|at| i32::try_from(at + 1).ok()).unwrap_or(0)
}

/// The controls as the words set them.
fn values_of(settings: &Settings, tempo: f64, left: LeftHandWork) -> Values {
    let whole = |value: f64| i32::try_from(maths::whole(value.round())).unwrap_or(0);
    let percent = |part: f32| whole((part * 100.0).into());
    Values::read(|control| match control {
        Control::Plays => i32::from(left != LeftHandWork::Rests),
        Control::Busy => settings.busy.into(),
        Control::Variety => settings.variety.into(),
        Control::Variation => i32::try_from(settings.seed).unwrap_or(1),
        Control::Hold => settings.hold_bars.into(),
        Control::Split => settings.split.number().into(),
        Control::Lowest => settings.lowest.number().into(),
        Control::Highest => settings.highest.number().into(),
        Control::Reach => settings.reach.into(),
        Control::Loudness => percent(settings.loudness),
        Control::Length => percent(settings.length),
        Control::Loose => percent(settings.loose),
        Control::Pedal => settings.pedal.into(),
        Control::Swing => percent(settings.swing),
        Control::Key => match settings.key {
            KeyChoice::Auto => 0,
            KeyChoice::Fixed(key) => {
                let minor = if key.mode == Mode::Minor { 12 } else { 0 };
                1 + minor + i32::from(key.tonic.number())
            }
        },
        Control::Certainty => percent(settings.certainty),
        Control::Wait => whole(settings.window_ms.into()),
        Control::Channel => settings.channel.map_or(0, |channel| i32::from(channel) + 1),
        Control::Tempo => whole(tempo),
        Control::Standing => 1,
        other => other.spec().default,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn desk() -> (StageHome, super::super::pane::Pane) {
        let (pane, view) = pane();
        let values = values_of(&Settings::default(), 96.0, LeftHandWork::Plays);
        let (chart, own) = (String::new(), String::new());
        (
            StageHome {
                view,
                values,
                chart,
                own,
                chosen: None,
                changes: 0,
                turned: None,
                look: look::LookChoice::default(),
                screen: window::FullScreen::default(),
            },
            pane,
        )
    }

    #[test]
    fn settings_go_to_the_window_and_back_unchanged() {
        let settings = Settings { busy: 70, swing: 0.67, reach: 9, ..Settings::default() };
        let values = values_of(&settings, 96.0, LeftHandWork::Plays);
        assert_eq!(values.settings(), settings);
        assert_eq!(values.get(Control::Tempo), 96);
    }

    #[test]
    fn what_is_changed_in_the_window_reaches_the_bridge() {
        let (mut desk, pane) = desk();
        desk.set(Control::Busy, 80);
        desk.set(Control::Tempo, 72);
        desk.set(Control::Plays, 0);
        desk.set(Control::Pattern, 5);
        desk.set_text(PlayersText::Chart, "title: A\nkey: G\nmetre: 3/4\n\n| G | D7 |\n");
        desk.set_text(PlayersText::Chart, "| Zq7 |"); // with a fault: what was played goes on
        desk.set_text(PlayersText::Chart, "");
        let stage = |errand| match errand {
            Errand::Stage(command) => command,
            other => unreachable!("{other:?}"),
        };
        let told: Vec<Command> = pane.errands.try_iter().map(stage).collect();
        assert!(matches!(told[0], Command::Settings(Settings { busy: 80, .. })));
        assert!(matches!(told[1], Command::Tempo(tempo) if (tempo - 72.0).abs() < 1e-9));
        assert!(matches!(told[2], Command::Do(Action::LeftRests, Move::Press)));
        let Command::Pattern(pattern) = &told[3] else { unreachable!("{told:?}") };
        assert_eq!(pattern.name, pattern_presets()[4].read().expect("a file").name);
        let Command::Entry(entry) = &told[4] else { unreachable!("{told:?}") };
        assert_eq!(entry.metre.map(|metre| metre.beats()), Some(3));
        let Command::Entry(entry) = &told[5] else { unreachable!("{told:?}") };
        assert!(entry.song.is_none());
        assert_eq!(told.len(), 6);
    }

    #[test]
    fn another_entry_of_the_set_is_shown() {
        let (mut desk, pane) = desk();
        {
            let mut seen = pane.seen.lock();
            let chart = scores::chart("lantern-street").expect("it ships");
            seen.entry = (Some(chart.to_string()), Some("thirds".into()));
            seen.changes = 1;
        }
        desk.follow();
        assert!(desk.chart.contains("Lantern Street"));
        assert_eq!(desk.values.get(Control::Pattern), 4);
        // The next has no chart, and a tempo of its own.
        {
            let mut seen = pane.seen.lock();
            (seen.entry, seen.changes) = ((None, None), 2);
            let settings = Settings { busy: 80, ..Settings::default() };
            seen.turned = Some(Turned { settings, tempo: 92.0, left: LeftHandWork::Plays });
        }
        desk.follow();
        assert_eq!(desk.chart, "");
        let shown = [Control::Tempo, Control::Busy, Control::Pattern].map(|c| desk.values.get(c));
        assert_eq!(shown, [92, 80, 4]);
    }
}
