//! Sheets as files: MusicXML to edit, PDF and SVG to look at and to print.

mod pdf;

use std::path::{Path, PathBuf};

use sinistra_score::practice::Exercise;
use sinistra_score::sheet::engrave::{self, EngraveOptions, Layout, pages, words_on_pages};
use sinistra_score::sheet::{Sheet, Staff, svg};

use crate::failure::Failure;
use crate::files;

/// How a sheet is printed, where it is laid out on pages.
#[derive(clap::Args, Clone, Copy, Debug)]
pub struct PrintOptions {
    /// The paper of a sheet that is laid out on pages
    #[arg(long, value_enum, default_value_t = PaperSize::A4)]
    pub paper: PaperSize,
    /// Large print: the pages' signs and words half as large again
    #[arg(long)]
    pub large: bool,
    /// Say under the left hand why it plays what it plays: the figure, what it listened
    /// to, the rule
    #[arg(long)]
    pub why: bool,
}

/// Paper that sheets are printed on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum PaperSize {
    /// 210 by 297 mm
    A4,
    /// 8.5 by 11 inches
    Letter,
}

impl PrintOptions {
    /// What is printed of an exercise.
    pub fn sheet(self, exercise: &Exercise) -> Sheet {
        if self.why { exercise.explained_sheet() } else { exercise.sheet() }
    }

    /// With both hands, or the left alone.
    pub const fn layout(self, left_alone: bool) -> Layout {
        let paper = match self.paper {
            PaperSize::A4 => engrave::Paper::A4,
            PaperSize::Letter => engrave::Paper::Letter,
        };
        let staves: &[Staff] = if left_alone { &[Staff::Left] } else { EngraveOptions::ALL.staves };
        Layout {
            options: EngraveOptions { staves, ..EngraveOptions::ALL },
            paper,
            large: self.large,
        }
    }
}

/// How a sheet is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum SheetFormat {
    MusicXml,
    Svg,
    Pdf,
}

/// Refuses names of formats that are not written: a MusicXML file by the name
/// of `evening.png` opens nowhere.
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
        "pdf" => Ok(SheetFormat::Pdf),
        _ => Err(Failure::Input(format!(
            "{}: a sheet's name ends in .pdf, .musicxml or .svg\nhint: PDF is printed, a \
             notation program opens MusicXML, a browser shows SVG",
            path.display()
        ))),
    }
}

/// A sheet in the format that its name asks for, made but not yet written.
pub struct PrintedSheet {
    /// Each file and what stands in it.
    files: Vec<(PathBuf, Vec<u8>)>,
    /// Pages of a longer sheet that was here before: they would seem to be of
    /// this one.
    stale: Vec<PathBuf>,
}

/// Makes a sheet in the format that the end of `path` names. A second page of SVG
/// goes into a file of its own, `NAME-2.svg`.
///
/// # Errors
/// As [`may_be_sheet`].
pub fn sheet(sheet: &Sheet, path: &Path, layout: &Layout) -> Result<PrintedSheet, Failure> {
    let one =
        |bytes: Vec<u8>| PrintedSheet { files: vec![(path.to_owned(), bytes)], stale: Vec::new() };
    Ok(match format(path)? {
        SheetFormat::MusicXml => one(sheet.musicxml().0.into_bytes()),
        SheetFormat::Pdf => {
            let about = format!("Left hand: {}", sheet.pattern);
            one(pdf::document(&sheet.title, &about, &pages(sheet, layout))?)
        }
        SheetFormat::Svg => {
            let pages = pages(sheet, layout);
            let file = |(n, page)| (numbered(path, n), svg::page(page, &sheet.title).into_bytes());
            let count = pages.len();
            let later = (count..).map(|n| numbered(path, n));
            let stale = later.take_while(|path| path.is_file()).collect();
            PrintedSheet { files: pages.iter().enumerate().map(file).collect(), stale }
        }
    })
}

impl PrintedSheet {
    /// The files that it is.
    pub fn paths(&self) -> impl Iterator<Item = &Path> {
        self.files.iter().map(|(path, _)| path.as_path())
    }

    /// Writes all of it; gives the files. Pages that are left of a longer sheet of
    /// the same name are deleted if `force`.
    ///
    /// # Errors
    /// If a file is in the way and not `force`, or if the disk refuses.
    pub fn write(self, force: bool) -> Result<Vec<PathBuf>, Failure> {
        if let Some(path) = self.stale.first().filter(|_| !force) {
            return Err(Failure::Input(format!(
                "{}: a page of another sheet by this name\nhint: name another, or add --force to \
                 replace it",
                path.display()
            )));
        }
        for path in self.paths() {
            files::may_write(path, force)?;
        }
        for (path, bytes) in &self.files {
            files::write(path, bytes, force)?;
        }
        for path in &self.stale {
            std::fs::remove_file(path).map_err(|why| files::cannot_write(path, &why))?;
        }
        Ok(self.files.into_iter().map(|(path, _)| path).collect())
    }
}

/// Words as a PDF: a title, and a paragraph each.
///
/// # Errors
/// If the document cannot be put together.
pub fn words(title: &str, paragraphs: &[String]) -> Result<Vec<u8>, Failure> {
    pdf::document(title, "", &words_on_pages(title, paragraphs, &Layout::ALL))
}

/// A lesson as one PDF: its words, then the sheets of its examples.
///
/// # Errors
/// If `path` does not end in `.pdf`.
pub fn lesson(
    title: &str,
    words: &[String],
    sheets: &[Sheet],
    path: &Path,
    layout: &Layout,
) -> Result<Vec<u8>, Failure> {
    if format(path)? != SheetFormat::Pdf {
        let name = path.display();
        return Err(Failure::Input(format!("{name}: a lesson is printed as .pdf")));
    }
    let mut all = words_on_pages(title, words, layout);
    all.extend(sheets.iter().flat_map(|sheet| pages(sheet, layout)));
    pdf::document(title, "A lesson for the left hand", &all)
}

/// `sheet.svg`, `sheet-2.svg`, …
fn numbered(path: &Path, page: usize) -> PathBuf {
    if page == 0 {
        return path.to_owned();
    }
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    path.with_file_name(format!("{stem}-{}.svg", page + 1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use sinistra_core::engine::Settings;
    use sinistra_score::practice::Exercise;
    use sinistra_score::{Chart, find_pattern};

    fn written(bars: usize) -> Sheet {
        let chart =
            Chart::read("c", &format!("key: Bb\n{}", "| Bb | Gm |".repeat(bars / 2))).unwrap();
        let pattern = find_pattern("octaves-low-high").unwrap().compile().unwrap();
        Exercise::new(&chart, pattern, Settings::default(), None).sheet()
    }

    #[test]
    fn pages_of_a_longer_sheet_do_not_stay() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.svg");
        let make = |bars, force| sheet(&written(bars), &path, &Layout::ALL).unwrap().write(force);
        assert!(make(80, false).unwrap().len() > 2);
        assert!(make(8, false).is_err(), "in the way");
        assert_eq!(make(8, true).unwrap().len(), 1);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_pdf_has_all_pages_and_is_the_same_each_time() {
        let made = || {
            let printed = sheet(&written(80), Path::new("a.pdf"), &Layout::ALL).unwrap();
            printed.files[0].1.clone()
        };
        let bytes = made();
        assert!(bytes.starts_with(b"%PDF-") && bytes == made());
        let count = |what: &[u8]| bytes.windows(what.len()).filter(|part| *part == what).count();
        let svg = sheet(&written(80), Path::new("a.svg"), &Layout::ALL).unwrap().files.len();
        assert_eq!(count(b"/Type/Page/"), svg);
        assert!(count(b"/FontFile2") + count(b"/FontFile3") >= 2, "fonts are inside");
    }
}
