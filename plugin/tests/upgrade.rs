//! What the plugin of version 0.1 saved with a project is read for ever, and means the
//! same (`tests/data/0.1`: a state, and what its parameters said then).

#![allow(clippy::unwrap_used, clippy::panic)]

mod clap_host;

use std::path::Path;

use clap_host::ClapHost;
use clap_host::state::opened;

#[test]
fn a_state_of_0_1_means_the_same() {
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/0.1");
    let state = std::fs::read(kept.join("plugin.state")).unwrap();
    let host = ClapHost::load();
    assert!(host.restore(&state));
    for line in std::fs::read_to_string(kept.join("plugin.txt")).unwrap().lines() {
        let (name, said) = line.split_once('\t').unwrap();
        let param = host.param(name);
        assert_eq!(host.value_text(param.id, host.value(param.id)), said, "{name}");
    }
    let [then, now] = [state, host.save()].map(|bytes| opened(&bytes)["fields"].clone());
    for text in ["chart", "pattern"] {
        assert!(then[text].as_str().unwrap().len() > 20);
        assert_eq!(now[text], then[text], "{text}");
    }
}
