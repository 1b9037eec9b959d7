//! The CLAP: `wrapping` stands before the plugin that the framework made, `host`
//! before the host, `inlet` and `outlet` before its event lists; `ports` declares the
//! note ports, `params` the parameters, `presets` the set-ups and left hands, `state`
//! what a preset keeps; `indication` and `menus` are the host's marks on a control and its
//! menu of it.

mod entry;
mod host;
mod indication;
mod inlet;
mod menus;
mod outlet;
mod params;
mod ports;
mod presets;
mod state;
mod wrapping;
