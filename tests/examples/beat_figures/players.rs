//! Made players: steady, slowing down, hurrying, holding.

use sinistra_tests::tempo;

/// Chords come so many ms early or late at most.
const SPREADS: [f64; 3] = [5.0, 15.0, 30.0];
/// Players of each kind and spread.
const SEEDS: u64 = 4;

type Tempo = Box<dyn Fn(f64) -> f64>;

/// A player: the tempo at a beat, the beats that are held and for how long, how
/// many beats, and the tempo to expect.
struct TempoPlayer {
    tempo: Tempo,
    holds: Vec<(usize, f64)>,
    beats: usize,
    hint: f64,
}

impl TempoPlayer {
    fn new(tempo: impl Fn(f64) -> f64 + 'static, beats: usize, hint: f64) -> Self {
        Self { tempo: Box::new(tempo), holds: Vec::new(), beats, hint }
    }

    /// When each beat falls, in seconds.
    fn truth(&self) -> Vec<f64> {
        tempo::beats(&self.tempo, self.beats, &self.holds)
    }
}

/// Prints the part of the beats, after the third chord, that are right before
/// the chord on them is heard, and what can be of that; the worst player's; the most in a
/// row that are not; and the part of the players of whom 95 % are, and never five in a row
/// not.
pub fn table() {
    println!(
        "{:<34} {:>8} {:>8} {:>8} {:>6} {:>8}",
        "Made players", "right", "at best", "worst", "lost", "as aimed"
    );
    for (name, players) in kinds() {
        for step in [1, 2, 4] {
            let mut all = Vec::new();
            for player in &players {
                for spread in SPREADS {
                    all.extend((1..=SEEDS).map(|seed| followed(player, step, spread, seed)));
                }
            }
            let count = all.len() as f64;
            let mean =
                |part: fn(&Followed) -> f64| 100.0 * all.iter().map(part).sum::<f64>() / count;
            let (mean, best) = (mean(|of| of.right), mean(|of| of.at_best));
            let worst = 100.0 * all.iter().map(|of| of.right).fold(1.0, f64::min);
            let lost = all.iter().map(|of| of.lost).max().unwrap_or(0);
            let aimed = all.iter().filter(|of| of.right >= 0.95 && of.lost <= 4).count();
            let name = format!("{name}, every {step}");
            let aimed = 100.0 * aimed as f64 / count;
            println!(
                "{name:<34} {mean:>6.1} % {best:>6.1} % {worst:>6.1} % {lost:>6} {aimed:>6.0} %"
            );
        }
    }
}

fn kinds() -> Vec<(String, Vec<TempoPlayer>)> {
    let tempos = || (50..=180).step_by(10).map(f64::from);
    let steady = tempos()
        .flat_map(|tempo| {
            [0.83, 1.0, 1.2].map(|hint| TempoPlayer::new(move |_| tempo, 96, tempo * hint))
        })
        .collect();
    let at_100 =
        (72..=138).step_by(6).map(|tempo| TempoPlayer::new(move |_| f64::from(tempo), 96, 100.0));
    let mut kinds = vec![
        ("steady 50–180, hint ±20 %".to_owned(), steady),
        ("steady 72–138, hint 100".to_owned(), at_100.collect()),
    ];
    for over in [16u32, 32, 64, 160] {
        let ramp = |(from, to): (f64, f64)| {
            let part = move |beat: f64| ((beat - 24.0) / f64::from(over)).clamp(0.0, 1.0);
            let tempo = move |beat: f64| from * (to / from).powf(part(beat));
            TempoPlayer::new(tempo, 72 + over as usize, from)
        };
        let players = [(70.0, 140.0), (140.0, 70.0), (60.0, 120.0), (90.0, 180.0)].map(ramp);
        kinds.push((format!("twice as fast or slow in {over}"), players.into()));
    }
    let rit = |to: f64| {
        let tempo = move |beat: f64| 100.0 + (to - 100.0) * ((beat - 16.0) / 32.0).clamp(0.0, 1.0);
        TempoPlayer::new(tempo, 80, 100.0)
    };
    kinds.push(("100 to 70 or 80 in 32".to_owned(), vec![rit(70.0), rit(80.0)]));
    let step = |(from, to): (f64, f64)| {
        TempoPlayer::new(move |beat| if beat < 32.0 { from } else { to }, 96, from)
    };
    let steps = [(100.0, 120.0), (100.0, 80.0), (100.0, 130.0), (90.0, 70.0), (120.0, 150.0)];
    kinds.push(("a step of 20 to 30 %".to_owned(), steps.map(step).into()));
    for (tempo, part, over) in [(80.0, 0.12, 16.0), (100.0, 0.1, 8.0), (90.0, 0.2, 32.0)] {
        let sways =
            move |beat: f64| tempo * (1.0 + part * (beat / over * std::f64::consts::TAU).sin());
        let name = format!("rubato of {:.0} % over {over}", 100.0 * part);
        kinds.push((name, vec![TempoPlayer::new(sways, 128, tempo)]));
    }
    let fermatas = [70.0, 100.0, 130.0].into_iter().flat_map(|tempo| {
        [0.7, 1.5, 3.0].map(|seconds| TempoPlayer {
            holds: vec![(31, seconds), (63, seconds)],
            ..TempoPlayer::new(move |_| tempo, 112, tempo)
        })
    });
    kinds.push(("fermatas of 0.7 to 3 s".to_owned(), fermatas.collect()));
    kinds
}

/// How well a player is followed.
struct Followed {
    /// The part of the beats that is right, and that can be.
    right: f64,
    at_best: f64,
    /// The most in a row that are not.
    lost: u32,
}

/// A player who strikes a chord every `step` beats.
fn followed(player: &TempoPlayer, step: usize, spread: f64, seed: u64) -> Followed {
    let truth = player.truth();
    let (right, lost) =
        tempo::followed(&truth, &player.holds, step, player.hint, tempo::human(spread, seed));
    let at_best = tempo::foreseeable(&truth, step, tempo::human(spread, seed));
    Followed { right, at_best, lost }
}
