//! The names of what ships, as they are in the folders of `presets`.

/// A name as somebody writes it, as a slug: whatever the case, spaces for hyphens.
pub fn slug(name: &str) -> String {
    name.trim().to_lowercase().replace([' ', '_'], "-")
}
