//! A window over the whole screen. The window's library has no such wish; on X11 its
//! manager is asked (Extended Window Manager Hints 1.5, `_NET_WM_STATE`), and where
//! there is none, as on a small board, the window is made as large as the screen.

use egui_baseview::baseview::WindowContext;

/// Whether our window fills the screen, and how to change that.
#[derive(Default)]
pub struct FullScreen {
    /// The window's number; 0 as long as it is not known.
    window: u32,
    full: bool,
    /// Place and size in its window, where there is no manager to remember.
    #[cfg(target_os = "linux")]
    before: Option<(i32, i32, u32, u32)>,
}

impl FullScreen {
    /// Whether it is full; `None` where it cannot be.
    pub fn is_full(&self) -> Option<bool> {
        (self.window != 0).then_some(self.full)
    }

    pub fn opened(&mut self, window: &WindowContext) {
        self.window = number(window).unwrap_or(0);
    }

    /// Fills the screen, or no longer.
    pub fn toggle(&mut self) {
        let wished = !self.full;
        if self.window != 0 && self.ask(wished).is_some() {
            self.full = wished;
        }
    }

    #[cfg(not(target_os = "linux"))]
    fn ask(&mut self, _: bool) -> Option<()> {
        None
    }

    #[cfg(target_os = "linux")]
    fn ask(&mut self, full: bool) -> Option<()> {
        use x11rb::connection::Connection as _;
        use x11rb::protocol::xproto::{
            AtomEnum, ClientMessageEvent, ConfigureWindowAux, ConnectionExt, EventMask,
        };
        let (display, screen) = x11rb::connect(None).ok()?;
        let screen = display.setup().roots.get(screen)?.clone();
        let atom = |name: &[u8]| Some(display.intern_atom(false, name).ok()?.reply().ok()?.atom);
        let check = atom(b"_NET_SUPPORTING_WM_CHECK")?;
        let manager = display.get_property(false, screen.root, check, AtomEnum::WINDOW, 0, 1);
        let managed = manager.ok()?.reply().ok()?.value_len > 0;
        if managed {
            // 1 is "add", 0 "remove"; the last 1 is "from an application".
            let what = atom(b"_NET_WM_STATE_FULLSCREEN")?;
            let data = [u32::from(full), what, 0, 1, 0];
            let state = atom(b"_NET_WM_STATE")?;
            let message = ClientMessageEvent::new(32, self.window, state, data);
            let mask = EventMask::SUBSTRUCTURE_REDIRECT | EventMask::SUBSTRUCTURE_NOTIFY;
            display.send_event(false, screen.root, mask, message).ok()?;
        } else {
            let whole = (0, 0, screen.width_in_pixels.into(), screen.height_in_pixels.into());
            let at = display.get_geometry(self.window).ok()?.reply().ok()?;
            let now = (at.x.into(), at.y.into(), at.width.into(), at.height.into());
            let before = if full { self.before.replace(now) } else { self.before.take() };
            let (x, y, width, height) = if full { whole } else { before.unwrap_or(now) };
            let place = ConfigureWindowAux::new().x(x).y(y).width(width).height(height);
            display.configure_window(self.window, &place).ok()?;
        }
        // A display that is left before it has read the request may not do it.
        display.get_input_focus().ok()?.reply().ok().map(drop)
    }
}

#[cfg(not(target_os = "linux"))]
fn number(_: &WindowContext) -> Option<u32> {
    None
}

/// The number that X11 knows it by.
#[cfg(target_os = "linux")]
fn number(window: &WindowContext) -> Option<u32> {
    use raw_window_handle::{HasWindowHandle, RawWindowHandle};
    match window.platform_handle().window_handle().ok()?.as_raw() {
        RawWindowHandle::Xcb(handle) => Some(handle.window.get()),
        RawWindowHandle::Xlib(handle) => u32::try_from(handle.window).ok(),
        _ => None,
    }
}
