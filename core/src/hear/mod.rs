//! Hear: held keys and pedals become the chord that is held, and the key.
