//! How the window looks: paper and ink, by day and by night.

mod chooser;
mod fonts;
mod palette;

pub use chooser::chooser;
pub use fonts::{MUSIC_FONT, chord_font, music_font, text_font};
pub use palette::Palette;

use egui::{Context, CornerRadius, FontFamily, FontId, Stroke, TextStyle, Theme, Visuals, vec2};
use serde::{Deserialize, Serialize};

/// What the player chose; kept with the project.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct LookChoice {
    /// Light or dark.
    pub dark: bool,
    /// Size in percent, 75..=250.
    pub scale: u16,
}

impl Default for LookChoice {
    fn default() -> Self {
        Self { dark: false, scale: 100 }
    }
}

impl LookChoice {
    /// The sizes that are offered, in percent.
    pub const SCALES: [u16; 7] = [75, 100, 125, 150, 175, 200, 250];

    /// Within what can be shown, whatever was saved.
    #[must_use]
    pub fn mended(self) -> Self {
        Self { scale: self.scale.clamp(75, 250), ..self }
    }
}

/// Fonts and styles, once for each window.
pub fn dress(context: &Context) {
    context.set_fonts(fonts::definitions());
    for (theme, palette) in [(Theme::Light, Palette::DAY), (Theme::Dark, Palette::NIGHT)] {
        context.set_visuals_of(theme, visuals(theme, &palette));
    }
    context.all_styles_mut(|style| {
        let size = |size, family| FontId::new(size, family);
        style.text_styles = [
            (TextStyle::Small, size(11.5, FontFamily::Proportional)),
            (TextStyle::Body, size(13.5, FontFamily::Proportional)),
            (TextStyle::Button, size(13.5, FontFamily::Proportional)),
            (TextStyle::Heading, size(16.0, FontFamily::Proportional)),
            (TextStyle::Monospace, size(14.0, FontFamily::Monospace)),
        ]
        .into();
        style.spacing.item_spacing = vec2(8.0, 5.0);
        style.spacing.button_padding = vec2(8.0, 3.0);
        style.spacing.slider_width = 150.0;
        style.spacing.interact_size.y = 22.0;
    });
}

/// Puts on what was chosen.
pub fn wear(context: &Context, choice: LookChoice) {
    let theme = if choice.dark { Theme::Dark } else { Theme::Light };
    if context.theme() != theme {
        context.set_theme(theme);
    }
    let zoom = f32::from(choice.mended().scale) / 100.0;
    if (context.zoom_factor() - zoom).abs() > 1e-3 {
        context.set_zoom_factor(zoom);
    }
}

fn visuals(theme: Theme, palette: &Palette) -> Visuals {
    let mut visuals = if theme == Theme::Dark { Visuals::dark() } else { Visuals::light() };
    visuals.panel_fill = palette.paper;
    visuals.window_fill = palette.paper;
    visuals.extreme_bg_color = palette.sheet;
    visuals.text_edit_bg_color = Some(palette.sheet);
    visuals.faint_bg_color = palette.shade;
    visuals.code_bg_color = palette.shade;
    visuals.override_text_color = Some(palette.ink);
    visuals.weak_text_color = Some(palette.faint);
    visuals.error_fg_color = palette.fault;
    visuals.warn_fg_color = palette.fault;
    visuals.selection.bg_fill = palette.mark;
    visuals.selection.stroke = Stroke::new(1.5, palette.ink);
    visuals.slider_trailing_fill = true;
    let widgets = &mut visuals.widgets;
    for widget in [
        &mut widgets.noninteractive,
        &mut widgets.inactive,
        &mut widgets.hovered,
        &mut widgets.active,
        &mut widgets.open,
    ] {
        widget.corner_radius = CornerRadius::same(3);
        widget.fg_stroke = Stroke::new(1.2, palette.ink);
        widget.bg_stroke = Stroke::new(1.0, palette.line);
        widget.bg_fill = palette.shade;
        widget.weak_bg_fill = palette.shade;
    }
    widgets.hovered.bg_stroke = Stroke::new(1.5, palette.ink);
    // The widget that the keyboard speaks to wears the active stroke.
    widgets.active.bg_stroke = Stroke::new(2.0, palette.right);
    visuals
}
