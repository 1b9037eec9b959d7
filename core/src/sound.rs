//! Sound: the ledger of what the left hand has on; every on gets its off.
