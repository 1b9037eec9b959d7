//! A display without a screen, a host's window on it, and fingers for both.

// Failing tests panic.
#![allow(dead_code, clippy::unwrap_used, clippy::panic)]

pub mod target;

use std::fs::{self, Permissions};
use std::os::unix::fs::PermissionsExt;
use std::process::{Child, Command, Stdio};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use x11rb::connection::Connection;
use x11rb::protocol::xproto::{
    BUTTON_PRESS_EVENT, BUTTON_RELEASE_EVENT, ConnectionExt, CreateWindowAux, ImageFormat,
    KEY_PRESS_EVENT, KEY_RELEASE_EVENT, MOTION_NOTIFY_EVENT, Window, WindowClass,
};
use x11rb::protocol::xtest::ConnectionExt as _;
use x11rb::rust_connection::RustConnection;
use x11rb::wrapper::ConnectionExt as _;

/// Shift, as the X protocol names keys.
const SHIFT: u32 = 0xFFE1;

/// Ended when the test ends, however it ends.
struct Display {
    server: Child,
    name: String,
}

impl Drop for Display {
    fn drop(&mut self) {
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

fn display() -> Option<Display> {
    let number = 200 + std::process::id() % 700;
    let name = format!(":{number}");
    let server = Command::new("Xvfb")
        .args([&name, "-screen", "0", "2640x1880x24", "-nolisten", "tcp", "-noreset"])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .ok()?;
    let display = Display { server, name };
    let start = Instant::now();
    while start.elapsed() < Duration::from_secs(20) {
        if x11rb::connect(Some(&display.name)).is_ok() {
            return Some(display);
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    panic!("Xvfb did not start");
}

/// Runs a test of this file in a process of its own, on a display and with an
/// empty home: a window's last threads may outlive a test, and must not outlive
/// their display.
pub fn apart(test: &str, display: &str) {
    let home = tempfile::tempdir().unwrap();
    // What opens files for others writes down which it was to open.
    let opener = home.path().join("xdg-open");
    fs::write(&opener, "#!/bin/sh\necho \"$1\" > \"$HOME/opened\"\n").unwrap();
    fs::set_permissions(&opener, Permissions::from_mode(0o755)).unwrap();
    let path = std::env::var_os("PATH").unwrap_or_default();
    let path = std::iter::once(home.path().to_owned()).chain(std::env::split_paths(&path));
    let status = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", test, "--nocapture", "--include-ignored"])
        .env("SINISTRA_DISPLAY", display)
        .env("DISPLAY", display)
        .env("HOME", home.path())
        .env("PATH", std::env::join_paths(path).unwrap())
        .env_remove("XDG_DATA_HOME")
        .env_remove("XDG_CONFIG_HOME")
        .stdout(Stdio::null())
        .status()
        .unwrap();
    assert!(status.success(), "{test}, apart, ended with {status}");
}

/// The display of a test of this file that runs apart; else runs it so, and it is
/// over. Without Xvfb it says that it did not run.
pub fn on_a_screen(test: &str) -> Option<String> {
    if let Ok(display) = std::env::var("SINISTRA_DISPLAY") {
        return Some(display);
    }
    // One after the other: a window that draws by itself takes a whole core.
    static TURN: Mutex<()> = Mutex::new(());
    let _turn = TURN.lock().unwrap_or_else(PoisonError::into_inner);
    let Some(display) = display() else {
        assert!(std::env::var_os("CI").is_none(), "under CI there must be an Xvfb");
        eprintln!("NOT RUN: there is no Xvfb here");
        return None;
    };
    apart(test, &display.name);
    None
}

/// A host's window at the corner of the display.
pub struct TestScreen {
    width: u16,
    height: u16,
    x: RustConnection,
    root: Window,
    /// The plugin's window goes into this one.
    pub parent: Window,
}

impl TestScreen {
    /// Of 1040 × 740 pixels.
    pub fn open(display: &str) -> Self {
        Self::of_scale(display, 100)
    }

    /// The same in percent of that.
    pub fn of_scale(display: &str, scale: u16) -> Self {
        let scaled = |length: u32| (length * u32::from(scale) / 100) as u16;
        let (width, height) = (scaled(1040), scaled(740));
        let (x, screen) = x11rb::connect(Some(display)).unwrap();
        let root = x.setup().roots[screen].root;
        let parent = x.generate_id().unwrap();
        let depth = x11rb::COPY_DEPTH_FROM_PARENT;
        let (class, look) = (WindowClass::INPUT_OUTPUT, CreateWindowAux::new().background_pixel(0));
        x.create_window(depth, parent, root, 0, 0, width, height, 0, class, 0, &look).unwrap();
        x.map_window(parent).unwrap();
        x.sync().unwrap();
        Self { width, height, x, root, parent }
    }

    /// Red, green and blue of its pixels.
    pub fn picture(&self) -> Vec<[u8; 3]> {
        let (form, all) = (ImageFormat::Z_PIXMAP, u32::MAX);
        let image = self.x.get_image(form, self.root, 0, 0, self.width, self.height, all).unwrap();
        let data = image.reply().unwrap().data;
        data.chunks_exact(4).map(|pixel| [pixel[2], pixel[1], pixel[0]]).collect()
    }

    /// Keeps what is seen in the target folder.
    pub fn save(&self, name: &str) {
        save_as(name, &self.picture(), (self.width, self.height));
    }

    /// Waits until the window is drawn; however slow the machine.
    pub fn drawn(&self) -> Vec<[u8; 3]> {
        until("the window is empty", || colours(&self.picture()) > 30);
        std::thread::sleep(Duration::from_millis(300)); // it may still be laying itself out
        self.picture()
    }

    /// Presses and lets go the left button there.
    pub fn click(&self, x: i16, y: i16) {
        self.press_and_let_go(1, (x, y));
    }

    /// The same with the second button.
    pub fn second_click(&self, x: i16, y: i16) {
        self.press_and_let_go(3, (x, y));
    }

    fn press_and_let_go(&self, button: u8, at: (i16, i16)) {
        self.fake(MOTION_NOTIFY_EVENT, 0, at);
        self.fake(BUTTON_PRESS_EVENT, button, at);
        self.fake(BUTTON_RELEASE_EVENT, button, at);
    }

    /// Drags with the left button, a little at a time, and lets go once it has arrived.
    pub fn drag(&self, from: (i16, i16), to: (i16, i16), arrived: impl FnMut() -> bool) {
        self.fake(MOTION_NOTIFY_EVENT, 0, from);
        self.fake(BUTTON_PRESS_EVENT, 1, from);
        std::thread::sleep(Duration::from_millis(300)); // a frame of a busy machine
        for n in 1..=10 {
            let part = |a: i16, b: i16| a + (b - a) / 10 * n;
            self.fake(MOTION_NOTIFY_EVENT, 0, (part(from.0, to.0), part(from.1, to.1)));
        }
        until("what is dragged does not arrive", arrived);
        std::thread::sleep(Duration::from_millis(300));
        self.fake(BUTTON_RELEASE_EVENT, 1, to);
    }

    /// Types plain text.
    pub fn type_text(&self, text: &str) {
        let setup = self.x.setup();
        let (first, count) = (setup.min_keycode, setup.max_keycode - setup.min_keycode + 1);
        let mapping = self.x.get_keyboard_mapping(first, count).unwrap().reply().unwrap();
        let wide = usize::from(mapping.keysyms_per_keycode);
        let find = |symbol: u32| {
            let at = mapping.keysyms.iter().position(|s| *s == symbol).unwrap();
            (first + (at / wide) as u8, at % wide == 1)
        };
        let (shift, _) = find(SHIFT);
        for letter in text.chars() {
            let (key, shifted) = find(letter.into());
            if shifted {
                self.fake(KEY_PRESS_EVENT, shift, (0, 0));
            }
            self.fake(KEY_PRESS_EVENT, key, (0, 0));
            self.fake(KEY_RELEASE_EVENT, key, (0, 0));
            if shifted {
                self.fake(KEY_RELEASE_EVENT, shift, (0, 0));
            }
        }
    }

    fn fake(&self, kind: u8, detail: u8, (x, y): (i16, i16)) {
        self.x.xtest_fake_input(kind, detail, 0, self.root, x, y, 0).unwrap();
        self.x.sync().unwrap();
        std::thread::sleep(Duration::from_millis(60)); // several of the window's frames
    }
}

/// Waits until it is so.
pub fn until(or: &str, mut so: impl FnMut() -> bool) {
    let start = Instant::now();
    while !so() {
        assert!(start.elapsed() < Duration::from_secs(60), "{or}");
        std::thread::sleep(Duration::from_millis(50));
    }
}

pub fn colours(picture: &[[u8; 3]]) -> usize {
    picture.iter().collect::<std::collections::HashSet<_>>().len()
}

/// A picture of a window at 100 %.
pub fn save(name: &str, picture: &[[u8; 3]]) {
    save_as(name, picture, (1040, 740));
}

fn save_as(name: &str, picture: &[[u8; 3]], (width, height): (u16, u16)) {
    let mut bytes = format!("P6\n{width} {height}\n255\n").into_bytes();
    bytes.extend(picture.iter().flatten());
    std::fs::write(std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(name), bytes).unwrap();
}
