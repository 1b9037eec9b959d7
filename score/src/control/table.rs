//! The table of controls. Ids are for ever; a retired one is never used again.

use super::{ControlScale, Group, Spec};

/// Presets beside the player's own pattern.
const PATTERNS: i32 = crate::pattern_presets().len() as i32;

macro_rules! controls {
    ($($variant:ident $id:literal $name:literal $short:literal $group:ident $min:literal..$max:tt = $default:literal $scale:expr, $help:literal;)*) => {
        /// Something a player may set.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        pub enum Control { $(#[doc = $help] $variant,)* }

        /// All, in the order of the groups.
        pub const ALL: [Control; [$($id),*].len()] = [$(Control::$variant),*];

        impl Control {
            /// What is fixed about it.
            pub const fn spec(self) -> &'static Spec {
                match self {
                    $(Self::$variant => const { &Spec {
                        id: $id, name: $name, short: $short, help: $help, group: Group::$group,
                        min: $min, max: $max, default: $default, scale: $scale,
                    } },)*
                }
            }
        }
    };
}

// The defaults are the engine's own (a test compares them).
#[rustfmt::skip]
controls! {
    Plays     "plays"  "Left hand"              "Left"     Playing   0..1    = 1   ControlScale::Switch,             "Whether the left hand plays.";
    Pattern   "patrn"  "Pattern"                "Pattern"  Playing   0..(PATTERNS) = 14 ControlScale::Pattern,      "When the left hand plays, and what it likes to play there.";
    Busy      "busy"   "Sparing to busy"        "Busy"     Playing   0..100  = 50  ControlScale::Number("%"),        "0 the fewest notes, 50 the pattern as written, 100 the most.";
    Variety   "vary"   "One figure to many"     "Variety"  Playing   0..100  = 50  ControlScale::Number("%"),        "Where the left hand improvises: 0 keeps to one figure, 50 changes as pianists do, 100 at every turn.";
    Variation "seed"   "Variation"              "Variatn"  Playing   1..999  = 1   ControlScale::Number(""),         "Chooses among equally good ways to play a phrase.";
    Hold      "hold"   "Go on for"              "Go on"    Playing   0..16   = 1   ControlScale::Number("bars"),     "Bars that the left hand goes on for after the right hand lets go.";
    Split     "split"  "Split"                  "Split"    Hand      24..96  = 60  ControlScale::KeyNumber,          "Lowest key of the right hand; keys below it are your own left hand.";
    Lowest    "low"    "Lowest key"             "Lowest"   Hand      21..72  = 28  ControlScale::KeyNumber,          "The lowest key that the left hand may play.";
    Highest   "high"   "Highest key"            "Highest"  Hand      36..84  = 59  ControlScale::KeyNumber,          "The highest key that the left hand may play.";
    Reach     "reach"  "Reach"                  "Reach"    Hand      5..19   = 12  ControlScale::Number("semitones"), "The widest span struck together; 12 is an octave.";
    Loudness  "loud"   "Loudness"               "Loud"     Touch     20..150 = 85  ControlScale::Number("%"),        "Loudness beside the right hand; 100 % is as loud.";
    Length    "length" "Note length"            "Length"   Touch     10..100 = 90  ControlScale::Number("%"),        "From detached (10 %) to joined (100 %).";
    Loose     "loose"  "Exact to loose"         "Loose"    Touch     0..100  = 0   ControlScale::Number("%"),        "How far notes are spread in time and loudness, as a hand's are; a new chord's root is never late.";
    Pedal     "pedal"  "Pedal"                  "Pedal"    Touch     0..1    = 0   ControlScale::Switch,             "The left hand takes the sustain pedal: changed with each chord, after the stroke.";
    Swing     "swing"  "Swing"                  "Swing"    Touch     50..75  = 50  ControlScale::Number("%"),        "Where the \"and\" falls in its beat: 50 % straight, 67 % triplets.";
    Key       "key"    "Key"                    "Key"      Foresight 0..24   = 0   ControlScale::Key,                "The key of the song; from the chart or the music if not set.";
    Certainty "sure"   "Lead when sure of"      "Sure"     Foresight 0..100  = 70  ControlScale::Number("%"),        "How sure the next chord must be before a note leads to it.";
    Wait      "wait"   "Wait for the hand"      "Wait"     Foresight 0..200  = 60  ControlScale::Number("ms"),       "How long a late right hand is waited for when the chord changes.";
    Ahead     "ahead"  "Look-ahead"             "Ahead"    Foresight 0..4    = 0   ControlScale::Beats,              "For recorded tracks: your right hand sounds this many quarter notes later, so that the left hand knows what comes. The host makes up for it.";
    Channel   "chan"   "Left hand's channel"    "Channel"  Routing   0..16   = 0   ControlScale::Channel,            "A MIDI channel of its own for the left hand.";
    Apart     "port"   "Left hand's own output" "Own out"  Routing   0..1    = 0   ControlScale::Switch,             "The left hand goes to the plugin's second note output.";
    Through   "thru"   "Right hand through"     "Through"  Routing   0..1    = 1   ControlScale::Switch,             "Whether what you play goes on to the sound.";
    Standing  "stand"  "Play while stopped"     "Stopped"  Clock     0..1    = 0   ControlScale::Switch,             "The left hand plays by its own clock while the host stands still.";
    Tempo     "tempo"  "Own tempo"              "Tempo"    Clock     30..300 = 120 ControlScale::Number("bpm"),      "Quarter notes a minute where the host gives no tempo.";
}
