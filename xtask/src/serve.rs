//! A web server for one page and one person: files of a folder, on this computer's
//! loopback address only.

use std::io::{BufRead, BufReader, Write};
use std::net::{Ipv4Addr, TcpListener, TcpStream};
use std::path::{Component, Path, PathBuf};
use std::{fs, io, thread};

use crate::steps::{Done, works};

/// The first port that is tried.
const PORT: u16 = 7480;

/// Serves `folder` until the program is ended. `open` shows it in the browser.
pub fn serve(folder: &Path, port: Option<u16>, open: bool) -> Done {
    let ports = port.map_or(PORT..=PORT + 20, |port| port..=port);
    let listener = ports
        .into_iter()
        .find_map(|port| TcpListener::bind((Ipv4Addr::LOCALHOST, port)).ok())
        .ok_or("No port of the loopback address is free.")?;
    let address = listener.local_addr().map_err(|e| e.to_string())?;
    let url = format!("http://localhost:{}/", address.port());
    println!("{url} (Ctrl-C ends it)");
    let _ = io::stdout().flush();
    if open && works("xdg-open", &["--version"]) {
        let _ = std::process::Command::new("xdg-open").arg(&url).spawn();
    }
    for stream in listener.incoming().flatten() {
        let folder = folder.to_path_buf();
        thread::spawn(move || answer(&stream, &folder));
    }
    Ok(())
}

fn answer(stream: &TcpStream, folder: &Path) -> io::Result<()> {
    let mut reader = BufReader::new(stream);
    let mut line = String::new();
    while reader.read_line(&mut line)? > 0 {
        let asked = line.trim_end().to_owned();
        loop {
            line.clear();
            // The rest of the head says nothing that we need.
            if reader.read_line(&mut line)? == 0 || line.trim_end().is_empty() {
                break;
            }
        }
        line.clear();
        give(stream, folder, &asked)?;
    }
    Ok(())
}

fn give(mut stream: &TcpStream, folder: &Path, asked: &str) -> io::Result<()> {
    let mut words = asked.split(' ');
    let (method, path) = (words.next().unwrap_or(""), words.next().unwrap_or("/"));
    let found = if method == "GET" || method == "HEAD" { file(folder, path) } else { None };
    let body = found.as_ref().and_then(|path| fs::read(path).ok());
    let (status, kind) = match (&found, &body) {
        (Some(path), Some(_)) => ("200 OK", kind(path)),
        _ => ("404 Not Found", "text/plain"),
    };
    let body = body.unwrap_or_else(|| b"not here\n".to_vec());
    write!(
        stream,
        "HTTP/1.1 {status}\r\nContent-Type: {kind}\r\nContent-Length: {}\r\n\
         Cache-Control: no-cache\r\nX-Content-Type-Options: nosniff\r\n\r\n",
        body.len()
    )?;
    if method == "HEAD" { Ok(()) } else { stream.write_all(&body) }
}

/// The file below `folder` that a path names; nothing outside it.
fn file(folder: &Path, path: &str) -> Option<PathBuf> {
    let path = path.split(['?', '#']).next()?.trim_start_matches('/');
    let path = Path::new(if path.is_empty() { "index.html" } else { path });
    let inside = path.components().all(|part| matches!(part, Component::Normal(_)));
    Some(folder.join(path)).filter(|file| inside && file.is_file())
}

fn kind(path: &Path) -> &'static str {
    match path.extension().and_then(|ending| ending.to_str()).unwrap_or("") {
        "html" => "text/html; charset=utf-8",
        "js" => "text/javascript; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "wasm" => "application/wasm",
        "svg" => "image/svg+xml",
        "png" => "image/png",
        "ogg" => "audio/ogg",
        "ttf" => "font/ttf",
        "webmanifest" => "application/manifest+json",
        _ => "application/octet-stream",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_outside_the_folder_is_served() {
        let here = crate::steps::root();
        assert!(file(&here, "/README.md?x").is_some());
        assert!(file(&here.join("web"), "/../README.md").is_none());
        assert!(file(&here, "//etc/passwd").is_none());
    }
}
