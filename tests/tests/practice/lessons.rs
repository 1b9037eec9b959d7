//! What the learner reads, word for word.
