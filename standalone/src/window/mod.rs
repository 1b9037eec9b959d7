//! Windows of the program: opened on the main thread, drawn until closed.

mod full_screen;
mod look;

pub use full_screen::FullScreen;
pub use look::{remember, remembered};

use egui_baseview::baseview::dpi::LogicalSize;
use egui_baseview::baseview::{HandlerError, WindowContext};
use egui_baseview::{App, EguiWindow, EguiWindowSettings, Frame};

use crate::interrupt::asked_to_stop;
use crate::quiet::hushed;

/// Width and height at 100 %, in points.
const SIZE: (f64, f64) = (1040.0, 780.0);

/// What draws a window's content.
pub trait Painter: Send + 'static {
    /// The window is open, before its first frame.
    fn opened(&mut self, _: &WindowContext) {}
    /// Draws a frame.
    fn draw(&mut self, ui: &mut egui::Ui);
    /// Whether the window should close by itself.
    fn is_over(&self) -> bool {
        asked_to_stop()
    }
}

/// Opens a window and draws it until it is closed.
///
/// # Errors
/// If there is no display, or it shows nothing that we can draw; in a few
/// words. `content` is not drawn then.
pub fn run(title: &str, content: impl Painter) -> Result<(), String> {
    let settings = EguiWindowSettings::new()
        .with_title(title)
        .with_size(LogicalSize { width: SIZE.0, height: SIZE.1 });
    let window = hushed(|| EguiWindow::create(settings, OpenWindow(content)))
        .map_err(|error| error.to_string())?;
    window.run_until_closed().map_err(|error| error.to_string())
}

/// Whether a window may be tried at all: X11 is asked for by name.
pub fn may_be_shown() -> bool {
    cfg!(any(windows, target_os = "macos"))
        || std::env::var_os("DISPLAY").is_some_and(|d| !d.is_empty())
}

struct OpenWindow<C>(C);

impl<C: Painter> App for OpenWindow<C> {
    fn build(&mut self, _: egui::Context, frame: &mut Frame) -> Result<(), HandlerError> {
        self.0.opened(frame.baseview_window());
        Ok(())
    }

    fn ui(&mut self, ui: &mut egui::Ui, frame: &mut Frame) {
        self.0.draw(ui);
        if self.0.is_over() {
            frame.baseview_window().request_close();
        }
    }
}
