//! Compressed MusicXML (`.mxl`): a zip archive that says which file is the score.

use std::io::{Cursor, Read};

use roxmltree::Document;
use zip::ZipArchive;

use crate::{Fault, limits};

/// The score in a `.mxl` file.
///
/// # Errors
/// If it is no zip archive, has no score, or unpacks to more than 16 MiB.
pub fn unpacked(bytes: &[u8]) -> Result<Vec<u8>, Fault> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(|error| {
        Fault::new(format!("a compressed score that cannot be opened: {error}"))
            .hint("export it again, or as .musicxml")
    })?;
    let container = read(&mut archive, "META-INF/container.xml", limits::CONTAINER)?;
    let container = String::from_utf8_lossy(&container);
    let no_score = || Fault::new("no score is named in META-INF/container.xml");
    let document = Document::parse(&container).map_err(|_| no_score())?;
    // Where no type speaks of MusicXML (older programs say text/xml), the score
    // is the first, as the standard has it.
    let files = || document.descendants().filter(|node| node.has_tag_name("rootfile"));
    let path = files()
        .find(|node| node.attribute("media-type").is_none_or(|kind| kind.contains("musicxml")))
        .or_else(|| files().next())
        .and_then(|node| node.attribute("full-path"))
        .ok_or_else(no_score)?;
    read(&mut archive, path, limits::MUSICXML)
}

fn read(archive: &mut ZipArchive<Cursor<&[u8]>>, path: &str, most: u64) -> Result<Vec<u8>, Fault> {
    let file = archive
        .by_name(path)
        .map_err(|error| Fault::new(format!("no `{path}` in the archive: {error}")))?;
    let mut bytes = Vec::new();
    file.take(most + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| Fault::new(format!("`{path}` in the archive is damaged: {error}")))?;
    if bytes.len() as u64 > most {
        return Err(Fault::new(format!("`{path}` unpacks to more than {} KiB", most >> 10)));
    }
    Ok(bytes)
}
