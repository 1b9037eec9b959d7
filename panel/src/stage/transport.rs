//! Time, the left hand, and the way through the set.

use egui::Ui;
use sinistra_core::engine::Snapshot;

use super::buttons::{StageKey, row};
use super::keys::after;
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

/// A key with what it wishes for.
type WishKey = (StageKey, StageWish);

/// A row of them.
fn wishes(ui: &mut Ui, height: f32, keys: Vec<WishKey>, ask: &mut Vec<StageWish>) {
    let (keys, mut wishes): (Vec<_>, Vec<_>) = keys.into_iter().unzip();
    ask.extend(row(ui, height, &keys).map(|pressed| wishes.swap_remove(pressed)));
}

fn time(ui: &mut Ui, scene: &StageScene, height: f32, wide: bool, ask: &mut Vec<StageWish>) {
    let start = if scene.moves { "Stop" } else { "Start" };
    let (tempo, own) = (scene.tempo.round(), scene.leads != Leads::Midi);
    let tempo_key =
        |label: &str, tempo| (StageKey::new(label, "").only_if(own), StageWish::Tempo(tempo));
    let mut keys = vec![
        (StageKey::new(start, "S").lit(scene.moves).wide(1.6), StageWish::StartOrStop),
        (StageKey::new("Tap", "Space").wide(1.6), StageWish::Tap),
        tempo_key("−", tempo - 1.0),
        tempo_key(&format!("{:.0}", scene.tempo), tempo), // a whole number, and steady
        tempo_key("+", tempo + 1.0),
        (StageKey::new("Panic", "P").wide(1.6), StageWish::Panic),
    ];
    if !wide {
        // Where there is no room for three, one goes around them.
        let next = StageWish::Lead(after(&Leads::ALL, scene.leads));
        keys.push((StageKey::new(scene.leads.name(), "F").wide(1.6), next));
    }
    wishes(ui, height, keys, ask);
}

fn clicks(scene: &StageScene) -> WishKey {
    (StageKey::new("Clicks", "C").lit(scene.clicks), StageWish::Clicks)
}

fn lead(ui: &mut Ui, scene: &StageScene, height: f32, ask: &mut Vec<StageWish>) {
    let key = |leads: Leads| {
        (StageKey::new(leads.name(), "F").lit(leads == scene.leads), StageWish::Lead(leads))
    };
    wishes(ui, height, Leads::ALL.map(key).into_iter().chain([clicks(scene)]).collect(), ask);
}

fn hand(ui: &mut Ui, scene: &StageScene, height: f32, wide: bool, ask: &mut Vec<StageWish>) {
    let key = |left: Left| {
        (StageKey::new(left.name(), "L").lit(left == scene.left), StageWish::Left(left))
    };
    let mut keys = Vec::from(Left::ALL.map(key));
    keys.push((StageKey::new("Octave ↓", "O").lit(scene.octave_drop), StageWish::OctaveDrop));
    keys.push((StageKey::new("Hold", "H").lit(scene.holds), StageWish::Hold));
    keys.extend((!wide).then(|| clicks(scene)));
    wishes(ui, height, keys, ask);
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
    ask.extend(match row(ui, height, &keys) {
        Some(0) => Some(StageWish::Previous),
        Some(2) => Some(StageWish::Next),
        Some(_) => scene.at.map(StageWish::Song), // from its beginning
        None => None,
    });
}
