//! Sheets as files: MusicXML to edit, SVG to look at and to print.

use std::path::{Path, PathBuf};

use sinistra_score::sheet::engrave::{EngraveOptions, pages};
use sinistra_score::sheet::{Sheet, svg};

use crate::failure::Failure;
use crate::files;

/// How a sheet is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum SheetFormat {
    MusicXml,
    Svg,
}

/// Refuses names of formats that are not written: a MusicXML file by the name
/// of `evening.pdf` opens nowhere.
///
/// # Errors
/// If the name ends in none that is.
pub fn may_be_sheet(path: &Path) -> Result<(), Failure> {
    format(path).map(|_| ())
}

/// The format that the end of `path` names.
fn format(path: &Path) -> Result<SheetFormat, Failure> {
    let end = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    match end.as_str() {
        "musicxml" | "xml" => Ok(SheetFormat::MusicXml),
        "svg" => Ok(SheetFormat::Svg),
        _ => Err(Failure::Input(format!(
            "{}: a sheet's name ends in .musicxml or .svg\nhint: a browser prints an SVG sheet, \
             also to PDF; a notation program opens MusicXML",
            path.display()
        ))),
    }
}

/// Writes a sheet in the format that the end of `path` names; gives the files.
/// A second page of SVG goes into a file of its own, `NAME-2.svg`.
///
/// # Errors
/// As [`may_be_sheet`], if a file is in the way and not `force`, or if the disk
/// refuses.
pub fn sheet(sheet: &Sheet, path: &Path, force: bool) -> Result<Vec<PathBuf>, Failure> {
    if format(path)? == SheetFormat::Svg {
        let pages = pages(sheet, &EngraveOptions::ALL);
        let paths: Vec<PathBuf> = (0..pages.len()).map(|n| numbered(path, n)).collect();
        for path in &paths {
            files::may_write(path, force)?;
        }
        for (page, path) in pages.iter().zip(&paths) {
            files::write(path, svg::page(page, &sheet.title).as_bytes(), force)?;
        }
        return Ok(paths);
    }
    files::write(path, sheet.musicxml().0.as_bytes(), force)?;
    Ok(vec![path.to_owned()])
}

/// `sheet.svg`, `sheet-2.svg`, …
fn numbered(path: &Path, page: usize) -> PathBuf {
    if page == 0 {
        return path.to_owned();
    }
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    path.with_file_name(format!("{stem}-{}.svg", page + 1))
}
