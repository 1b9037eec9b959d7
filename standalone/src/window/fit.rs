//! A window that is no larger than the screen, whatever the size of its letters.

use egui::{Context, Vec2, ViewportCommand};

/// The parts of the screen's width and height that a window takes at most: titles and
/// bars of the desktop have the rest.
const MOST: Vec2 = Vec2::new(0.98, 0.92);

/// Remembers how large the window would be.
pub struct WindowFit {
    /// In points, whatever they are magnified by.
    wish: Vec2,
    zoom: f32,
    /// In points, as it was asked for last.
    asked: Vec2,
    /// In pixels, where it is known.
    screen: Option<Vec2>,
}

impl WindowFit {
    /// For a window that would be `wish` points large.
    pub fn new(wish: Vec2) -> Self {
        let screen = screen();
        Self { wish, zoom: 1.0, asked: within(screen, wish, 1.0), screen }
    }

    /// Its size at first, in points that are not magnified.
    pub fn first(&self) -> Vec2 {
        self.asked
    }

    /// Once a frame: where the letters have got another size, so has the window, as
    /// far as the screen has room for it.
    pub fn follow(&mut self, context: &Context) {
        let zoom = context.zoom_factor();
        if (zoom - self.zoom).abs() < 1e-3 {
            return;
        }
        // A size that the player gave it is kept.
        let now = context.content_rect().size() * zoom;
        if (now - self.asked * self.zoom).length() > 4.0 {
            self.wish = now / self.zoom;
        }
        self.zoom = zoom;
        self.asked =
            within(self.screen, self.wish * zoom, context.native_pixels_per_point().unwrap_or(1.0))
                / zoom;
        context.send_viewport_cmd(ViewportCommand::InnerSize(self.asked));
    }
}

/// `size`, in points of `scale` pixels, made to fit the screen.
fn within(screen: Option<Vec2>, size: Vec2, scale: f32) -> Vec2 {
    screen.map_or(size, |screen| size.min(screen * MOST / scale))
}

/// The screen in pixels.
#[cfg(target_os = "linux")]
fn screen() -> Option<Vec2> {
    use x11rb::connection::Connection as _;
    let (display, screen) = x11rb::connect(None).ok()?;
    let screen = display.setup().roots.get(screen)?;
    Some(Vec2::new(screen.width_in_pixels.into(), screen.height_in_pixels.into()))
}

/// Elsewhere the system keeps windows within it.
#[cfg(not(target_os = "linux"))]
fn screen() -> Option<Vec2> {
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn at_200_percent_it_is_as_large_as_the_screen_lets_it_and_no_larger() {
        let screen = Some(Vec2::new(1920.0, 1080.0));
        assert_eq!(within(screen, Vec2::new(1040.0, 780.0), 1.0), Vec2::new(1040.0, 780.0));
        let large = within(screen, Vec2::new(2080.0, 1560.0), 1.0);
        assert!(large.x <= 1920.0 && large.y <= 1080.0 && large.y > 900.0, "{large}");
        // On a screen of two pixels to the point half as many points fit.
        assert!(within(screen, Vec2::new(1040.0, 780.0), 2.0).y <= 540.0);
        assert_eq!(within(None, Vec2::new(1040.0, 780.0), 2.0), Vec2::new(1040.0, 780.0));
    }
}
