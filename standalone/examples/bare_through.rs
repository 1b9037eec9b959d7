//! A bare pass-through with midir, and how long it takes from the callback to
//! the end of the send: what the bridge's own through is compared with.
//!
//! `cargo run --example bare_through -- SECONDS`, then play into the port
//! `Bare in` and listen to `Bare out`.

#[cfg(unix)]
fn main() -> Result<(), Box<dyn std::error::Error>> {
    use midir::os::unix::{VirtualInput, VirtualOutput};
    use std::sync::mpsc::channel;
    use std::time::{Duration, Instant};

    let seconds: f64 = std::env::args().nth(1).and_then(|a| a.parse().ok()).unwrap_or(10.0);
    let mut output = midir::MidiOutput::new("Bare out")?.create_virtual("out")?;
    let (tell, took) = channel();
    let mut input = midir::MidiInput::new("Bare in")?;
    input.ignore(midir::Ignore::None);
    let _input = input.create_virtual(
        "in",
        move |_, bytes, ()| {
            let start = Instant::now();
            let _ = output.send(bytes);
            let _ = tell.send(start.elapsed());
        },
        (),
    )?;
    std::thread::sleep(Duration::from_secs_f64(seconds));
    let mut took: Vec<Duration> = took.try_iter().collect();
    took.sort();
    let at = |part: f64| {
        let index = ((took.len() as f64 * part) as usize).min(took.len().saturating_sub(1));
        took.get(index).map_or(0.0, |t| t.as_secs_f64() * 1e6)
    };
    println!(
        "bare through: {} counted, median {:.0} µs, 99 % {:.0} µs, 99.9 % {:.0} µs",
        took.len(),
        at(0.5),
        at(0.99),
        at(0.999)
    );
    Ok(())
}

#[cfg(not(unix))]
fn main() {
    println!("this system has no virtual ports");
}
