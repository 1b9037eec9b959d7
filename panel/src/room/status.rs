//! What is practised, how fast, and how far the player is.

use egui::{Align, Layout, ProgressBar, RichText, Ui};

use super::keys::HEAR_YOURSELF;
use super::scene::{RoomScene, SittingState};
use crate::look::Palette;
use sinistra_score::practice::RoundStage;

/// Two lines.
pub fn ui(ui: &mut Ui, scene: &RoomScene, palette: &Palette) {
    let Some(lesson) = &scene.lesson else {
        let over = matches!(scene.state, SittingState::Over(_));
        ui.label(if over { now(scene) } else { "A moment …".into() });
        return;
    };
    let playing = scene.state == SittingState::Playing;
    let name = RichText::new(&lesson.name).heading().strong();
    if super::is_low(ui) {
        // In the midst of it, and under a verdict, the music has its place.
        if !playing && scene.judged.is_none() {
            let name = egui::Label::new(name).truncate();
            ui.add(name).on_hover_text(&lesson.exercise.about);
        }
    } else {
        ui.horizontal_wrapped(|ui| {
            ui.label(name);
            ui.label(RichText::new(&lesson.exercise.about).color(palette.faint));
        });
    }
    ui.horizontal(|ui| {
        let bar = |ui: &mut Ui| {
            if scene.act == RoundStage::Wait
                && let Some(waiting) = scene.waiting.as_ref().filter(|_| playing)
            {
                let (done, all) = waiting.done();
                ui.label(format!("{done} of {all}"));
                return;
            }
            let part = (scene.tempo / lesson.goal.max(1.0)).clamp(0.0, 1.0) as f32;
            let text = format!("tempo {:.0} of {:.0}", scene.tempo, lesson.goal);
            ui.add(ProgressBar::new(part).desired_width(210.0).text(text));
            let (all, clean) = scene.rounds;
            ui.label(format!("{clean} of {all} rounds clean"));
        };
        let now = ui.label(RichText::new(now(scene)).size(22.0).strong());
        now.on_hover_text(&lesson.name);
        ui.with_layout(Layout::right_to_left(Align::Center), bar);
    });
}

/// What is to be done now, in a few words.
pub fn now(scene: &RoomScene) -> String {
    match &scene.state {
        SittingState::Ready => "Ready when you are".into(),
        SittingState::Waiting(_) => "Your turn to choose".into(),
        SittingState::Over(Some(why)) => {
            format!("Stopped: {}", why.lines().next().unwrap_or_default())
        }
        SittingState::Over(None) => "Until next time".into(),
        SittingState::Playing if scene.act == RoundStage::Wait => {
            let lesson = scene.lesson.as_ref().zip(scene.waiting.as_ref());
            lesson.map_or_else(String::new, |(lesson, waiting)| waiting.words(lesson.exercise.key))
        }
        SittingState::Playing if scene.replays => HEAR_YOURSELF.into(),
        SittingState::Playing => {
            let beats = &scene.clock.count_in;
            let counted = beats.iter().filter(|at| **at <= scene.clock.now_ms).count();
            let begins = scene.clock.ticks(scene.clock.now_ms) >= scene.clock.span.0;
            if !begins {
                return if counted > 0 {
                    format!("Count in: {counted}")
                } else {
                    "Count in".into()
                };
            }
            match scene.act {
                RoundStage::Hear => "Listen".into(),
                RoundStage::Together => "Together: you play your hand".into(),
                RoundStage::Alone | RoundStage::Wait => "You alone".into(),
            }
        }
    }
}
