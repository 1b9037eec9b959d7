//! A night in a host, as a die says: at the end every note has ended.

use super::dice::Dice;
use super::ledger::{NoteCounts, NotePlace};
use super::player::{BLOCKS, Deed, METRES, RATES, RandomPlayer, TestKnob};

/// The host's clock at the start of a block.
#[derive(Clone, Copy)]
pub struct NightTime {
    pub playing: bool,
    pub beat: f64,
    pub tempo: f64,
    pub metre: (u8, u8),
    pub cycle: Option<(f64, f64)>,
}

/// A host of either format.
pub trait NightHost {
    /// Makes ready; gives what may be turned, all but the count of edits.
    fn knobs(&mut self) -> Vec<TestKnob>;
    fn start_anew(&mut self, rate: f64);
    fn reset(&mut self);
    fn saved(&self) -> Vec<u8>;
    fn take_back(&mut self, saved: &[u8]) -> bool;
    /// What hosts of this format do besides.
    fn act(&mut self, dice: &mut Dice);
    /// A block; gives the notes that came out of it.
    fn played(
        &mut self,
        frames: u32,
        time: Option<NightTime>,
        deeds: Vec<(u32, Deed)>,
        knobs: &[TestKnob],
    ) -> Vec<(bool, NotePlace)>;
}

/// So many blocks; gives how many notes the left hand struck, and how many went on or
/// off at its own output.
pub fn night(host: &mut impl NightHost, dice: &mut Dice, blocks: u32) -> [usize; 2] {
    let knobs = host.knobs();
    let mut ledger = NoteCounts::default();
    let mut player = RandomPlayer::default();
    let mut time =
        NightTime { playing: false, beat: 0.0, tempo: 120.0, metre: METRES[0], cycle: None };
    let mut rate = 48_000.0;
    let (mut saved, mut answers, mut apart) = (host.saved(), 0, 0);
    for _ in 0..blocks {
        match dice.below(160) {
            0 => time.playing = !time.playing,
            1 => time.beat = f64::from(dice.below(64)) - 8.0,
            2 => time.tempo = f64::from(dice.below(280) + 20),
            3 => time.metre = dice.pick(&METRES),
            4 => time.cycle = (dice.below(2) == 0).then_some((0.0, 8.0)),
            5 => host.reset(),
            6 => {
                rate = dice.pick(&RATES);
                host.start_anew(rate);
            }
            7 => saved = host.saved(),
            8 => assert!(host.take_back(&saved)),
            9..=11 => host.act(dice),
            _ => {}
        }
        let frames = dice.pick(&BLOCKS);
        let deeds = player.play(dice, frames, &knobs);
        let struck: Vec<_> = deeds.iter().filter_map(|(_, deed)| deed.strikes()).collect();
        let told = (dice.below(50) != 0).then_some(time);
        let notes = host.played(frames, told, deeds, &knobs);
        let by_itself = |(on, (.., key)): &&(bool, NotePlace)| *on && !struck.contains(key);
        answers += notes.iter().filter(by_itself).count();
        apart += notes.iter().filter(|(_, (output, ..))| *output == 1).count();
        ledger.take(notes.into_iter());
        if time.playing {
            time.beat += f64::from(frames) * time.tempo / 60.0 / rate;
        }
    }
    // The player lets go, the host stops. What a look-ahead still has on its way comes at
    // once when it is put out; what needs no host to play goes on after the host has stopped.
    time.playing = false;
    let put_out = ["Look-ahead", "Play while stopped"].map(|name| {
        let at = knobs.iter().position(|knob| knob.name == name);
        (0, Deed::Turn(at.expect("a knob of this name"), 0))
    });
    let let_go = player.down.iter().map(|key| (0, Deed::Release(*key)));
    for deeds in [let_go.chain(put_out).collect(), vec![]] {
        ledger.take(host.played(64, Some(time), deeds, &knobs).into_iter());
    }
    assert_eq!(ledger.sounding(), []);
    [answers, apart]
}
