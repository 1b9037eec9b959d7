//! Pedals and buttons that answer between rounds, so that no hand need leave
//! the keys.

use sinistra_core::engine::Message;

use super::session::Answer;

/// Which controller answers what.
#[derive(Clone, Debug, PartialEq)]
pub struct PedalAnswers(Vec<(u8, Answer)>);

/// The right pedal goes on, the left one repeats, the middle one is slower
/// (MIDI 1.0 controllers 64, 67 and 66).
const USUAL: [(u8, Answer); 3] = [(64, Answer::On), (67, Answer::Again), (66, Answer::Slower)];

/// What a controller may be mapped to.
const ANSWERS: [(&str, Answer); 5] = [
    ("next", Answer::On),
    ("again", Answer::Again),
    ("slower", Answer::Slower),
    ("faster", Answer::Faster),
    ("hear", Answer::Hear),
];

impl PedalAnswers {
    /// The usual ones, with `mapped` before them.
    pub fn with(mapped: &[(u8, Answer)]) -> Self {
        Self(mapped.iter().copied().chain(USUAL).collect())
    }

    /// What a message from the keyboard answers: a controller that is pressed
    /// down, 64 or more of 127 (MIDI 1.0, on or off).
    pub fn answer(&self, message: Message) -> Option<Answer> {
        let Message::Control { controller, value: 64.., .. } = message else { return None };
        self.0.iter().find(|(number, _)| *number == controller).map(|(_, answer)| *answer)
    }
}

/// Reads `80=slower`.
///
/// # Errors
/// With what would be right.
pub fn mapping(text: &str) -> Result<(u8, Answer), String> {
    let wrong = || {
        let words: Vec<&str> = ANSWERS.iter().map(|(word, _)| *word).collect();
        format!(
            "`{text}`: write a controller and what it does, such as 80=slower ({})",
            words.join(", ")
        )
    };
    let (number, word) = text.split_once('=').ok_or_else(wrong)?;
    let number = number.trim().parse::<u8>().ok().filter(|n| *n < 120).ok_or_else(wrong)?;
    let answer = ANSWERS.iter().find(|(name, _)| *name == word.trim()).ok_or_else(wrong)?;
    Ok((number, answer.1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pedal_answers_when_it_goes_down_as_it_was_mapped() {
        let down = |controller, value| Message::Control { channel: 3, controller, value };
        let pedals = PedalAnswers::with(&[mapping("64=again").unwrap_or((0, Answer::Stop))]);
        assert_eq!(pedals.answer(down(64, 127)), Some(Answer::Again)); // instead of the usual
        assert_eq!(pedals.answer(down(64, 0)), None); // up again
        assert_eq!(pedals.answer(down(66, 64)), Some(Answer::Slower));
        assert_eq!(pedals.answer(down(1, 127)), None);
        assert!(mapping("64").is_err() && mapping("130=next").is_err() && mapping("4=x").is_err());
    }
}
