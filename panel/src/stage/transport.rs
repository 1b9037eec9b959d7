//! Time, the left hand, and the way through the set.

use egui::Ui;
use sinistra_core::engine::Snapshot;

use super::buttons::{StageKey, row};
use super::scene::{Leads, Left, StageScene, StageWish};

/// Three rows of buttons; in a wide window the second has what leads the beat, too.
pub fn ui(
    ui: &mut Ui,
    scene: &StageScene,
    snapshot: &Snapshot,
    height: f32,
    ask: &mut Vec<StageWish>,
) {
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

fn time(ui: &mut Ui, scene: &StageScene, height: f32, wide: bool, ask: &mut Vec<StageWish>) {
    let start = if scene.moves { "Stop" } else { "Start" };
    let tempo = format!("{:.0}", scene.tempo);
    let own = scene.leads != Leads::Midi;
    let mut keys = vec![
        StageKey::new(start, "S").lit(scene.moves).wide(1.6),
        StageKey::new("Tap", "Space").wide(1.6),
        StageKey::new("−", "").only_if(own),
        StageKey::new(tempo, "").only_if(own),
        StageKey::new("+", "").only_if(own),
        StageKey::new("Panic", "P").wide(1.6),
    ];
    if !wide {
        // Where there is no room for three, one goes around them.
        keys.push(StageKey::new(scene.leads.name(), "F").wide(1.6));
    }
    let around = Leads::ALL.iter().position(|leads| *leads == scene.leads).unwrap_or(0) + 1;
    let wish = match row(ui, height, &keys) {
        Some(0) => StageWish::StartOrStop,
        Some(1) => StageWish::Tap,
        Some(2) => StageWish::Tempo(scene.tempo.round() - 1.0),
        Some(3) => StageWish::Tempo(scene.tempo.round()), // a whole number, and steady
        Some(4) => StageWish::Tempo(scene.tempo.round() + 1.0),
        Some(5) => StageWish::Panic,
        Some(_) => StageWish::Lead(Leads::ALL[around % Leads::ALL.len()]),
        None => return,
    };
    ask.push(wish);
}

fn lead(ui: &mut Ui, scene: &StageScene, height: f32, ask: &mut Vec<StageWish>) {
    let key = |leads: &Leads| StageKey::new(leads.name(), "F").lit(*leads == scene.leads);
    let mut keys: Vec<_> = Leads::ALL.iter().map(key).collect();
    keys.push(StageKey::new("Clicks", "C").lit(scene.clicks));
    let wish = match row(ui, height, &keys) {
        Some(n) => Leads::ALL.get(n).map_or(StageWish::Clicks, |leads| StageWish::Lead(*leads)),
        None => return,
    };
    ask.push(wish);
}

fn hand(ui: &mut Ui, scene: &StageScene, height: f32, wide: bool, ask: &mut Vec<StageWish>) {
    let key = |left: &Left| StageKey::new(left.name(), "L").lit(*left == scene.left);
    let mut keys: Vec<_> = Left::ALL.iter().map(key).collect();
    keys.push(StageKey::new("Octave ↓", "O").lit(scene.octave_drop));
    keys.push(StageKey::new("Hold", "H").lit(scene.holds));
    if !wide {
        keys.push(StageKey::new("Clicks", "C").lit(scene.clicks));
    }
    let wish = match row(ui, height, &keys) {
        Some(3) => StageWish::OctaveDrop,
        Some(4) => StageWish::Hold,
        Some(5) => StageWish::Clicks,
        Some(n) => StageWish::Left(Left::ALL[n.min(2)]),
        None => return,
    };
    ask.push(wish);
}

fn song(
    ui: &mut Ui,
    scene: &StageScene,
    snapshot: &Snapshot,
    height: f32,
    ask: &mut Vec<StageWish>,
) {
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
        StageKey::new("◀ Previous", "B").only_if(scene.at.is_some_and(|at| at > 0)),
        StageKey::new(name, "").wide(2.6),
        StageKey::new("Next ▶", "N").only_if(scene.at.is_some_and(|at| at + 1 < many)),
    ];
    match row(ui, height, &keys) {
        Some(0) => ask.push(StageWish::Previous),
        Some(2) => ask.push(StageWish::Next),
        Some(_) => {
            if let Some(at) = scene.at {
                ask.push(StageWish::Song(at)); // from its beginning
            }
        }
        None => {}
    }
}
