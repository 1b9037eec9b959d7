//! The built-in sound on ports of JACK's own, made in the server's thread.

use jack::{AudioOut, Client, Port, PortFlags, ProcessScope};

use super::sound::{sounding, volume};
use crate::bridge::midi::Short;
use crate::bridge::setup::SetupWords;
use crate::sound::{Player, Timbre};

/// Seconds of the fade at the end.
const FADE_S: f32 = 0.04;
/// How JACK names the type of an audio port.
const AUDIO: &str = "32 bit float mono audio";

/// An instrument and its two ports. Real-time safe but for [`JackSound::open`].
pub struct JackSound {
    left: Port<AudioOut>,
    right: Port<AudioOut>,
    player: Player,
    /// Frames of this period that are made already.
    made: usize,
    fade: f32,
    fade_step: f32,
}

impl JackSound {
    /// Registers the ports; begins quietly.
    ///
    /// # Errors
    /// If JACK refuses a port.
    pub fn open(client: &Client, words: &SetupWords, timbre: &Timbre) -> Result<Self, String> {
        let refuses = |e: jack::Error| format!("JACK refuses: {e}");
        let rate = client.sample_rate();
        let instrument = timbre.open_live(rate).map_err(|fault| fault.to_string())?;
        let mut player = Player::new(instrument, Vec::new()).starting_quiet();
        volume(words).for_each(|message| player.play(message));
        Ok(Self {
            left: client.register_port("left", AudioOut::default()).map_err(refuses)?,
            right: client.register_port("right", AudioOut::default()).map_err(refuses)?,
            player,
            made: 0,
            fade: 1.0,
            fade_step: 1.0 / (FADE_S * rate as f32),
        })
    }

    /// Plays a message at `frame` of this period; messages come in order.
    pub fn play(&mut self, frame: u32, message: Short, scope: &ProcessScope) {
        if let Some(message) = sounding(message) {
            self.make(frame as usize, scope);
            self.player.play(message);
        }
    }

    /// The rest of the period; at the `ending` it fades.
    pub fn finish(&mut self, ending: bool, scope: &ProcessScope) {
        self.make(scope.n_frames() as usize, scope);
        self.made = 0;
        if !ending {
            return;
        }
        let sides = self.left.as_mut_slice(scope).iter_mut().zip(self.right.as_mut_slice(scope));
        for (left, right) in sides {
            self.fade = (self.fade - self.fade_step).max(0.0);
            *left *= self.fade;
            *right *= self.fade;
        }
    }

    /// Whether the fade is over.
    pub fn is_silent(&self) -> bool {
        self.fade <= 0.0
    }

    fn make(&mut self, until: usize, scope: &ProcessScope) {
        let left = self.left.as_mut_slice(scope).get_mut(self.made..until);
        if let (Some(left), Some(right)) =
            (left, self.right.as_mut_slice(scope).get_mut(self.made..until))
        {
            self.player.render(left, right);
            self.made = until;
        }
    }
}

/// Connects the two ports of the client `name` to the first two of the sound
/// device; gives the names of what was connected.
pub fn connect(client: &Client, name: &str) -> Vec<String> {
    let device = client.ports(None, Some(AUDIO), PortFlags::IS_INPUT | PortFlags::IS_PHYSICAL);
    let ours = ["left", "right"].map(|side| format!("{name}:{side}"));
    ours.iter()
        .zip(device)
        .filter(|(ours, theirs)| client.connect_ports_by_name(ours, theirs).is_ok())
        .map(|(_, theirs)| theirs)
        .collect()
}
