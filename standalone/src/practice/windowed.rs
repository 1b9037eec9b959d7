//! The practice room in a window. The sitting runs on a thread of its own,
//! which never waits for the window: it leaves a scene to be looked at, and
//! wishes come through a channel.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

use parking_lot::Mutex;
use sinistra_core::engine::Message;
use sinistra_core::key::Key;
use sinistra_core::pitch::KeyNumber;
use sinistra_panel::music_folder;
use sinistra_panel::room::{
    FolderEntry, JudgedRound, LessonPage, Pick, PracticeRoom, Preferences, RoomScene, RoundClock,
    SittingState, Studio,
};
use sinistra_score::practice::{Hands, Mix, Round, TakeStroke, Waiting};
use sinistra_score::sheet::Staff;
use sinistra_score::sheet::engrave::Engraver;
use sinistra_score::take::keep_chorus;

use super::folder;
use super::instruments::{Instruments, SoundOrder, WaitSight};
use super::news::News;
use super::pedals::PedalAnswers;
use super::session::{self, Answer, Room, RoundEnd};
use super::shelf::{pick, shelf};
use crate::failure::Failure;
use crate::interrupt::asked_to_stop;
use crate::options;
use crate::window::{self, Painter};

/// How often the room looks whether the player has answered.
const LOOK: Duration = Duration::from_millis(5);

/// How hard the computer's keys strike.
const TYPED: u8 = 80;

/// Held by the sitting and by the window.
struct SharedSitting {
    scene: Mutex<RoomScene>,
    /// What the player picked to practise.
    picked: Mutex<Option<Pick>>,
    /// The time in the round, ms, as bits.
    now: AtomicU64,
    likes: Mutex<Preferences>,
    /// The window was closed.
    closed: AtomicBool,
}

/// What the room needs besides a display.
pub struct Furniture {
    /// Ports and sound.
    pub wishes: SoundOrder,
    pub pedals: PedalAnswers,
    /// What sound and keyboard add, ms.
    pub delay_ms: f64,
    /// Whether breaks are recommended at first.
    pub breaks: bool,
}

/// Opens the window and holds `sitting` in it until it is closed. Without a
/// window nothing was begun, and the reason is given back in a few words.
///
/// # Errors
/// In the inner result, if a device or the disk fails.
pub fn hold(
    furniture: Furniture,
    sitting: impl FnOnce(&mut dyn Room) -> Result<(), Failure> + Send + 'static,
) -> Result<Result<(), Failure>, String> {
    let shared = Arc::new(SharedSitting {
        scene: Mutex::new(RoomScene {
            shelf: Arc::new(shelf(Key::C_MAJOR)),
            ..RoomScene::default()
        }),
        picked: Mutex::default(),
        now: AtomicU64::new(0),
        likes: Mutex::new(Preferences {
            breaks: furniture.breaks,
            look: window::remembered().unwrap_or_default(),
            ..Preferences::default()
        }),
        closed: AtomicBool::new(false),
    });
    let (send, wishes) = channel();
    let (type_keys, typed) = channel();
    let content = PracticeWindow {
        room: PracticeRoom::default(),
        desk: PracticeHome { shared: shared.clone(), wishes: send, type_keys },
        start: Some(FirstFrame {
            shared: shared.clone(),
            furniture,
            wishes,
            typed,
            sitting: Box::new(sitting),
        }),
        done: Arc::default(),
    };
    let done = content.done.clone();
    window::run("Sinistra practice", content)?;
    shared.closed.store(true, Ordering::Release);
    let thread = done.lock().take();
    Ok(thread.map_or(Ok(()), |thread| thread.join().unwrap_or(Ok(()))))
}

type SittingThread = std::thread::JoinHandle<Result<(), Failure>>;
type Hold = Box<dyn FnOnce(&mut dyn Room) -> Result<(), Failure> + Send>;

/// What begins with the first frame, so that nothing has begun if there is no
/// window.
struct FirstFrame {
    shared: Arc<SharedSitting>,
    furniture: Furniture,
    wishes: Receiver<Answer>,
    typed: Receiver<(Instant, Message)>,
    sitting: Hold,
}

impl FirstFrame {
    fn begin(self) -> Option<SittingThread> {
        let Self { shared, furniture, wishes, typed, sitting } = self;
        let run = move || {
            let (mut instruments, missing) =
                match Instruments::open_what_there_is(&furniture.wishes) {
                    Ok(opened) => opened,
                    Err(failure) => {
                        shared.scene.lock().state = SittingState::Over(Some(failure.to_string()));
                        return Err(failure);
                    }
                };
            instruments.listen_to(typed);
            let lines = missing.iter().map(ToString::to_string);
            shared.scene.lock().missing =
                lines.filter_map(|line| line.lines().next().map(str::to_owned)).collect();
            let mut room = Windowed {
                instruments,
                pedals: furniture.pedals,
                delay_ms: furniture.delay_ms,
                wishes,
                began: Instant::now(),
                started: false,
                shared: shared.clone(),
            };
            let result = sitting(&mut room);
            let why = result.as_ref().err().map(ToString::to_string);
            shared.scene.lock().state = SittingState::Over(why);
            result
        };
        std::thread::Builder::new().name("practice".into()).spawn(run).ok()
    }
}

struct PracticeWindow {
    room: PracticeRoom,
    desk: PracticeHome,
    start: Option<FirstFrame>,
    done: Arc<Mutex<Option<SittingThread>>>,
}

impl Painter for PracticeWindow {
    fn draw(&mut self, ui: &mut egui::Ui) {
        if let Some(start) = self.start.take() {
            *self.done.lock() = start.begin();
        }
        self.room.ui(ui, &mut self.desk);
    }
}

/// The window's side.
struct PracticeHome {
    shared: Arc<SharedSitting>,
    wishes: Sender<Answer>,
    /// Strokes on the computer's keyboard.
    type_keys: Sender<(Instant, Message)>,
}

impl Studio for PracticeHome {
    fn scene(&mut self) -> RoomScene {
        let mut scene = self.shared.scene.lock().clone();
        scene.clock.now_ms = f64::from_bits(self.shared.now.load(Ordering::Relaxed));
        scene
    }
    fn wish(&mut self, wish: Answer) {
        let _ = self.wishes.send(wish);
    }
    fn pick(&mut self, pick: Pick) {
        *self.shared.picked.lock() = Some(pick);
        let _ = self.wishes.send(Answer::Picked);
    }
    fn play_key(&mut self, key: KeyNumber, down: bool) {
        let message = match down {
            true => Message::On { channel: 0, key, velocity: TYPED },
            false => Message::off(0, key),
        };
        let _ = self.type_keys.send((Instant::now(), message));
    }
    fn folder(&self, path: &Path) -> Vec<FolderEntry> {
        folder::look(path)
    }
    fn first_folder(&self) -> PathBuf {
        std::env::current_dir().unwrap_or_else(|_| PathBuf::from("/"))
    }
    fn keep(&mut self) -> Result<PathBuf, String> {
        let lesson = self.shared.scene.lock().lesson.clone();
        let lesson = lesson.ok_or("Nothing is practised yet.")?;
        keep_chorus(&lesson.exercise, &music_folder()?)
    }
    fn preferences(&self) -> Preferences {
        *self.shared.likes.lock()
    }
    fn prefer(&mut self, preferences: Preferences) {
        let look = preferences.look.mended();
        let likes = Preferences { look, ..preferences };
        if std::mem::replace(&mut *self.shared.likes.lock(), likes).look != look {
            window::remember(look);
        }
    }
}

/// The sitting's side.
struct Windowed {
    instruments: Instruments,
    pedals: PedalAnswers,
    delay_ms: f64,
    wishes: Receiver<Answer>,
    began: Instant,
    /// The player has asked for the first round.
    started: bool,
    shared: Arc<SharedSitting>,
}

impl Windowed {
    /// A keyboard that went is missing until one is heard again.
    fn show_news(&mut self) {
        for line in self.instruments.news() {
            let line = line.lines().next().unwrap_or_default().to_owned();
            let mut scene = self.shared.scene.lock();
            if line.starts_with("hears") {
                scene.missing.retain(|line| {
                    !["keyboard", "unplugged", "MIDI system"].iter().any(|w| line.contains(w))
                });
            } else if line.starts_with("sends to") {
                scene.missing.retain(|line| !line.contains("sound") && !line.contains("is gone"));
            } else if !scene.missing.contains(&line) {
                scene.missing.push(line);
            }
        }
    }

    fn begin(&self, round: &Round, count_in: &[f64]) {
        self.shared.now.store(0, Ordering::Relaxed);
        let mut scene = self.shared.scene.lock();
        scene.state = SittingState::Playing;
        scene.strokes = Arc::default();
        (scene.judged, scene.waiting, scene.down) = (None, None, 0);
        scene.said.clear();
        scene.rest = false;
        scene.clock = clock_of(round, count_in, self.delay_ms);
    }

    fn is_closed(&self) -> bool {
        asked_to_stop() || self.shared.closed.load(Ordering::Acquire)
    }
}

/// The clock of a round that begins now.
fn clock_of(round: &Round, count_in: &[f64], delay_ms: f64) -> RoundClock {
    RoundClock {
        now_ms: 0.0,
        origin_ms: round.origin_ms,
        delay_ms,
        tempo: round.tempo,
        span: round.span,
        count_in: count_in.into(),
    }
}

impl Room for Windowed {
    fn perform(&mut self, round: &Round) -> Result<RoundEnd, Failure> {
        if !std::mem::replace(&mut self.started, true) {
            // Nothing sounds before the player wants it.
            self.shared.scene.lock().state = SittingState::Ready;
            match self.ask() {
                Answer::On | Answer::Hear => {}
                other => return Ok(RoundEnd::Cut(other)),
            }
        }
        self.begin(round, &round.count_in);
        let (shared, wishes) = (&self.shared, &self.wishes);
        let mut shown = 0;
        let mut watch = |now: f64, strokes: &[TakeStroke]| {
            shared.now.store(now.to_bits(), Ordering::Relaxed);
            if strokes.len() != shown
                && let Some(mut scene) = shared.scene.try_lock()
            {
                shown = strokes.len();
                scene.strokes = Arc::new(strokes.to_vec());
            }
            if shared.closed.load(Ordering::Acquire) {
                return Some(Answer::Enough);
            }
            wishes.try_recv().ok()
        };
        let played = self.instruments.perform(round, &mut watch);
        self.show_news();
        if let RoundEnd::Whole(take) = &played {
            self.shared.scene.lock().strokes = Arc::new(take.strokes().to_vec());
        }
        Ok(played)
    }

    fn wait_for(&mut self, waiting: &mut Waiting, round: &Round) -> Result<RoundEnd, Failure> {
        self.started = true;
        self.begin(round, &[]);
        let (shared, wishes) = (&self.shared, &self.wishes);
        let mut seen = None;
        let mut watch = |sight: &WaitSight<'_>| {
            let now =
                (sight.waiting.done(), sight.waiting.slips(), sight.down, sight.strokes.len());
            if seen != Some(now)
                && let Some(mut scene) = shared.scene.try_lock()
            {
                seen = Some(now);
                scene.waiting = Some(Arc::new(sight.waiting.clone()));
                scene.down = sight.down;
                scene.strokes = Arc::new(sight.strokes.to_vec());
                if sight.now_ms.is_finite() {
                    shared.now.store(sight.now_ms.to_bits(), Ordering::Relaxed);
                }
            }
            if shared.closed.load(Ordering::Acquire) {
                return Some(Answer::Enough);
            }
            wishes.try_recv().ok()
        };
        let mix = shared.likes.lock().mix;
        let ended = self.instruments.wait_for(waiting, round, mix, &mut watch);
        self.show_news();
        Ok(ended)
    }

    fn replay(&mut self, round: &Round) -> Result<RoundEnd, Failure> {
        self.shared.now.store(0, Ordering::Relaxed);
        // What was played and the verdict stay to be looked at.
        let mut scene = self.shared.scene.lock();
        (scene.state, scene.replays) = (SittingState::Playing, true);
        scene.clock = clock_of(round, &[], 0.0);
        drop(scene);
        let (shared, wishes) = (&self.shared, &self.wishes);
        let mut watch = |now: f64, _: &[TakeStroke]| {
            shared.now.store(now.to_bits(), Ordering::Relaxed);
            let closed = shared.closed.load(Ordering::Acquire);
            closed.then_some(Answer::Enough).or_else(|| wishes.try_recv().ok())
        };
        let played = self.instruments.perform(round, &mut watch);
        self.show_news();
        self.shared.scene.lock().replays = false;
        Ok(played)
    }

    fn mix(&self) -> Mix {
        self.shared.likes.lock().mix
    }

    fn tell(&mut self, news: &News<'_>) {
        let mut scene = self.shared.scene.lock();
        match news {
            News::Lesson { name, lesson, exercise, goal, tempo, rounds } => {
                let staves: &'static [Staff] = match lesson.hands {
                    Hands::Left => &[Staff::Left],
                    Hands::Right => &[Staff::Right],
                    Hands::Both => &[Staff::Right, Staff::Left],
                };
                scene.lesson = Some(Arc::new(LessonPage {
                    name: (*name).to_owned(),
                    goal: *goal,
                    exercise: (*exercise).clone(),
                    engraver: Engraver::keeping(exercise.unfolded_sheet()),
                    staves,
                }));
                scene.pick = pick(lesson);
                scene.shelf = Arc::new(shelf(exercise.key.key()));
                (scene.tempo, scene.rounds) = (*tempo, *rounds);
                (scene.judged, scene.bars) = (None, None);
                scene.said.clear();
            }
            News::Round(stage, tempo, bars) => {
                scene.act = *stage;
                turn_to(&mut scene, *tempo, *bars);
            }
            News::Verdict(Some(told)) => {
                let (verdict, words) = (told.verdict.clone(), told.words.clone());
                scene.judged = Some(Arc::new(JudgedRound { verdict, words }));
            }
            News::Count(rounds, tempo) => (scene.rounds, scene.tempo) = (*rounds, *tempo),
            News::Break => scene.rest = true,
            News::Choices(next, tempo) => {
                scene.state = SittingState::Waiting(*next);
                scene.tempo = *tempo;
            }
            News::Refused(why) => scene.said = vec![(*why).to_owned()],
            News::Verdict(None)
            | News::Waited(_)
            | News::Up(_)
            | News::Down(_)
            | News::There(_) => {
                scene.said.extend(news.lines());
            }
            News::Caution | News::Farewell => {}
        }
    }

    fn ask(&mut self) -> Answer {
        loop {
            if self.is_closed() {
                return Answer::Enough;
            }
            if let Ok(answer) = self.wishes.try_recv()
                && answer != Answer::Stop
            {
                return answer;
            }
            while let Some(message) = self.instruments.heard() {
                if let Some(answer) = self.pedals.answer(message) {
                    return answer;
                }
            }
            self.show_news();
            std::thread::sleep(LOOK);
        }
    }

    fn picked(&mut self, now: &session::Lesson) -> Option<session::Lesson> {
        let Pick { chart, pattern, key, hands, free, goal } = self.shared.picked.lock().take()?;
        Some(session::Lesson {
            chart,
            pattern,
            key: key
                .map_or(Some(None), |key| options::written_key(&key).ok().map(Some))
                .unwrap_or(now.key),
            hands,
            free,
            goal,
        })
    }

    fn minutes(&self) -> f64 {
        self.began.elapsed().as_secs_f64() / 60.0
    }
}

/// A round of these printed bars is to come.
fn turn_to(scene: &mut RoomScene, tempo: f64, (first, last): (i64, i64)) {
    scene.tempo = tempo;
    let lesson = scene.lesson.as_ref();
    let whole = lesson.is_none_or(|lesson| first <= 1 && last >= lesson.exercise.last_bar());
    scene.bars = (!whole).then_some((first, last));
}
