//! Windows of the program: opened on the main thread, drawn until closed.

mod fit;
mod full_screen;
mod look;

pub use full_screen::FullScreen;
pub use look::{remember, remembered};

use egui::Vec2;
use egui_baseview::baseview::dpi::LogicalSize;
use egui_baseview::baseview::{HandlerError, WindowContext};
use egui_baseview::{App, EguiWindow, EguiWindowSettings, Frame};

use fit::WindowFit;

use crate::interrupt::asked_to_stop;
use crate::quiet::hushed;

/// Width and height at 100 %, in points.
const SIZE: Vec2 = Vec2::new(1040.0, 780.0);

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
    let fit = WindowFit::new(SIZE);
    let size = fit.first();
    let settings = EguiWindowSettings::new()
        .with_title(title)
        .with_size(LogicalSize::<f64> { width: size.x.into(), height: size.y.into() });
    let window = hushed(|| EguiWindow::create(settings, OpenWindow { content, fit }))
        .map_err(|error| error.to_string())?;
    window.run_until_closed().map_err(|error| error.to_string())
}

/// Whether a window may be tried at all: X11 is asked for by name.
pub fn may_be_shown() -> bool {
    cfg!(any(windows, target_os = "macos"))
        || std::env::var_os("DISPLAY").is_some_and(|d| !d.is_empty())
}

struct OpenWindow<C> {
    content: C,
    fit: WindowFit,
}

impl<C: Painter> App for OpenWindow<C> {
    fn build(&mut self, _: egui::Context, frame: &mut Frame) -> Result<(), HandlerError> {
        self.content.opened(frame.baseview_window());
        Ok(())
    }

    fn ui(&mut self, ui: &mut egui::Ui, frame: &mut Frame) {
        self.content.draw(ui);
        self.fit.follow(ui.ctx());
        if self.content.is_over() {
            frame.baseview_window().request_close();
        }
    }
}
