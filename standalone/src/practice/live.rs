//! The practice room in a terminal.

use std::io::{BufRead, IsTerminal, Write};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

use sinistra_core::key::Key;
use sinistra_panel::music_folder;
use sinistra_score::practice::{Exercise, Mix, Round, Waiting};
use sinistra_score::take::keep_chorus;

use super::instruments::{Instruments, SoundOrder};
use super::news::News;
use super::pedals::PedalAnswers;
use super::session::{Answer, Room, RoundEnd};
use crate::failure::Failure;
use crate::interrupt::asked_to_stop;

/// How often the room looks whether the player has answered.
const LOOK: Duration = Duration::from_millis(5);

/// A keyboard, a sound and a terminal.
pub struct LiveRoom {
    instruments: Instruments,
    pedals: PedalAnswers,
    typed: Receiver<String>,
    began: Instant,
    /// What is practised now.
    exercise: Option<Exercise>,
}

impl LiveRoom {
    /// Opens everything.
    ///
    /// # Errors
    /// If there is no keyboard or no sound; the message says what there is.
    pub fn open(wishes: SoundOrder, pedals: PedalAnswers) -> Result<Self, Failure> {
        let instruments = Instruments::open(&wishes)?;
        Ok(Self { instruments, pedals, typed: typed(), began: Instant::now(), exercise: None })
    }
}

impl LiveRoom {
    /// Instruments that came and went.
    fn say_news(&mut self) {
        self.instruments.news().iter().for_each(|line| println!("{line}"));
    }

    /// "That one": its sheet, chart and pattern as files.
    fn keep(&self) {
        let Some(exercise) = &self.exercise else { return };
        match music_folder().and_then(|folder| keep_chorus(exercise, &folder)) {
            Ok(sheet) => println!("kept as {}, with its chart and its pattern", sheet.display()),
            Err(why) => println!("{why}"),
        }
    }
}

impl Room for LiveRoom {
    fn perform(&mut self, round: &Round) -> Result<RoundEnd, Failure> {
        let played = self.instruments.perform(round, &mut |_, _| None);
        self.say_news();
        Ok(played)
    }

    fn wait_for(&mut self, waiting: &mut Waiting, round: &Round) -> Result<RoundEnd, Failure> {
        let key = self.exercise.as_ref().map_or(Key::C_MAJOR.into(), |exercise| exercise.key);
        let mut said = String::new();
        let typed = &self.typed;
        let ended = self.instruments.wait_for(waiting, round, Mix::default(), &mut |seen| {
            let words = seen.waiting.words(key);
            if words != said {
                println!("  {words}");
                said = words;
            }
            typed.try_recv().ok().and_then(|line| answer(&line))
        });
        self.say_news();
        Ok(ended)
    }

    fn tell(&mut self, news: &News<'_>) {
        if let News::Lesson { exercise, .. } = news {
            self.exercise = Some((*exercise).clone());
        }
        news.lines().iter().for_each(|line| println!("{line}"));
        // Somebody who reads a pipe reads it now.
        let _ = std::io::stdout().flush();
    }

    fn ask(&mut self) -> Answer {
        let _ = std::io::stdout().flush();
        loop {
            if asked_to_stop() {
                return Answer::Enough;
            }
            match self.typed.try_recv() {
                Ok(line) if line.trim().eq_ignore_ascii_case("k") => self.keep(),
                Ok(line) => match answer(&line) {
                    Some(answer) => return answer,
                    None => println!("a letter of those above, or Enter"),
                },
                Err(std::sync::mpsc::TryRecvError::Disconnected) => return Answer::Enough,
                Err(std::sync::mpsc::TryRecvError::Empty) => {}
            }
            self.say_news();
            while let Some(message) = self.instruments.heard() {
                if let Some(answer) = self.pedals.answer(message) {
                    return answer;
                }
            }
            std::thread::sleep(LOOK);
        }
    }

    fn minutes(&self) -> f64 {
        self.began.elapsed().as_secs_f64() / 60.0
    }
}

/// What a typed line means.
fn answer(line: &str) -> Option<Answer> {
    Some(match line.trim().to_lowercase().as_str() {
        "" => Answer::On,
        "a" => Answer::Again,
        "h" => Answer::Hear,
        "y" => Answer::Replay,
        "w" => Answer::Wait,
        "s" => Answer::Slower,
        "f" => Answer::Faster,
        "n" => Answer::Next,
        "q" => Answer::Enough,
        _ => return None,
    })
}

/// Lines from the terminal, read on a thread of their own.
fn typed() -> Receiver<String> {
    let (sender, lines) = channel();
    if std::io::stdin().is_terminal() {
        std::thread::spawn(move || {
            for line in std::io::stdin().lock().lines().map_while(Result::ok) {
                if sender.send(line).is_err() {
                    break;
                }
            }
        });
    } else {
        // Without a terminal the pedals alone answer.
        std::mem::forget(sender);
    }
    lines
}
