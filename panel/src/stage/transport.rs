//! Time, the left hand, and the way through the set.

use egui::Ui;
use sinistra_core::engine::Snapshot;

use super::buttons::{Key, row};
use super::scene::{Leads, Left, Scene, Wish};

/// Three rows of buttons; in a wide window the second has what leads the beat, too.
pub fn ui(ui: &mut Ui, scene: &Scene, snapshot: &Snapshot, height: f32, ask: &mut Vec<Wish>) {
    let wide = ui.available_width() >= 900.0;
    time(ui, scene, height, wide, ask);
    if wide {
        ui.columns(2, |columns| {
            if let [one, other] = columns {
                lead(one, scene, height, ask);
                hand(other, scene, height, wide, ask);
            }
        });
    } else {
        hand(ui, scene, height, wide, ask);
    }
    song(ui, scene, snapshot, height, ask);
}

fn time(ui: &mut Ui, scene: &Scene, height: f32, wide: bool, ask: &mut Vec<Wish>) {
    let start = if scene.moves { "Stop" } else { "Start" };
    let tempo = format!("{:.0}", scene.tempo);
    let own = scene.leads != Leads::Midi;
    let mut keys = vec![
        Key::new(start, "S").lit(scene.moves).wide(1.6),
        Key::new("Tap", "Space").wide(1.6),
        Key::new("−", "").only_if(own),
        Key::new(tempo, "").only_if(own),
        Key::new("+", "").only_if(own),
        Key::new("Panic", "P").wide(1.6),
    ];
    if !wide {
        // Where there is no room for three, one goes around them.
        keys.push(Key::new(scene.leads.name(), "F").wide(1.6));
    }
    let around = Leads::ALL.iter().position(|leads| *leads == scene.leads).unwrap_or(0) + 1;
    let wish = match row(ui, height, &keys) {
        Some(0) => Wish::StartOrStop,
        Some(1) => Wish::Tap,
        Some(2) => Wish::Tempo(scene.tempo.round() - 1.0),
        Some(3) => Wish::Tempo(scene.tempo.round()), // a whole number, and steady
        Some(4) => Wish::Tempo(scene.tempo.round() + 1.0),
        Some(5) => Wish::Panic,
        Some(_) => Wish::Lead(Leads::ALL[around % Leads::ALL.len()]),
        None => return,
    };
    ask.push(wish);
}

fn lead(ui: &mut Ui, scene: &Scene, height: f32, ask: &mut Vec<Wish>) {
    let key = |leads: &Leads| Key::new(leads.name(), "F").lit(*leads == scene.leads);
    let mut keys: Vec<_> = Leads::ALL.iter().map(key).collect();
    keys.push(Key::new("Clicks", "C").lit(scene.clicks));
    let wish = match row(ui, height, &keys) {
        Some(n) => Leads::ALL.get(n).map_or(Wish::Clicks, |leads| Wish::Lead(*leads)),
        None => return,
    };
    ask.push(wish);
}

fn hand(ui: &mut Ui, scene: &Scene, height: f32, wide: bool, ask: &mut Vec<Wish>) {
    let key = |left: &Left| Key::new(left.name(), "L").lit(*left == scene.left);
    let mut keys: Vec<_> = Left::ALL.iter().map(key).collect();
    keys.push(Key::new("Octave ↓", "O").lit(scene.octave_drop));
    keys.push(Key::new("Hold", "H").lit(scene.holds));
    if !wide {
        keys.push(Key::new("Clicks", "C").lit(scene.clicks));
    }
    let wish = match row(ui, height, &keys) {
        Some(3) => Wish::OctaveDrop,
        Some(4) => Wish::Hold,
        Some(5) => Wish::Clicks,
        Some(n) => Wish::Left(Left::ALL[n.min(2)]),
        None => return,
    };
    ask.push(wish);
}

fn song(ui: &mut Ui, scene: &Scene, snapshot: &Snapshot, height: f32, ask: &mut Vec<Wish>) {
    let many = scene.songs.len();
    let bar = snapshot.place.number + 1;
    let place = match (scene.moves, scene.bars) {
        (true, Some(bars)) => format!(" · bar {bar} of {bars}"),
        (true, None) => format!(" · bar {bar}"),
        (false, _) => String::new(),
    };
    let name = match scene.at.and_then(|at| Some((at, scene.songs.get(at)?))) {
        Some((at, name)) => format!("{} of {many}: {name}{place}", at + 1),
        None => format!("no set{place}"),
    };
    let keys = [
        Key::new("◀ Previous", "B").only_if(scene.at.is_some_and(|at| at > 0)),
        Key::new(name, "").wide(2.6),
        Key::new("Next ▶", "N").only_if(scene.at.is_some_and(|at| at + 1 < many)),
    ];
    match row(ui, height, &keys) {
        Some(0) => ask.push(Wish::Previous),
        Some(2) => ask.push(Wish::Next),
        Some(_) => {
            if let Some(at) = scene.at {
                ask.push(Wish::Song(at)); // from its beginning
            }
        }
        None => {}
    }
}
