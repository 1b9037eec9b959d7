//! A kept file on its way out of the window, into another program's.
//!
//! On X11 by the public protocol for it, XDND 5 (freedesktop.org, "Drag-and-Drop Protocol
//! for the X Window System"), over a connection of its own: the window's toolkit only
//! receives. Elsewhere there is no such way, and the folder is shown instead.

use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};

/// Whether files can be dragged out here.
pub const POSSIBLE: bool = cfg!(target_os = "linux");

/// What is under the mouse would take the file. There is one mouse.
static TAKEN: AtomicBool = AtomicBool::new(false);

/// Whether what is under the mouse would take the file that is dragged.
#[must_use]
pub fn would_be_taken() -> bool {
    TAKEN.load(Ordering::Relaxed)
}

/// The file follows the mouse until its button is let go. Returns at once; where there is
/// no X server, nothing happens.
#[cfg(target_os = "linux")]
pub fn begin(path: &Path) {
    let uri = uri(path);
    let run = move || {
        // Who drags sees that nothing came of it; there is nobody else to tell.
        let _ = x11::drag(&uri);
        TAKEN.store(false, Ordering::Relaxed);
    };
    let _ = std::thread::Builder::new().name("drag".into()).spawn(run);
}

/// Nothing happens.
#[cfg(not(target_os = "linux"))]
pub fn begin(_: &Path) {}

/// A `file` URI (RFC 8089), ended as in a list of them (RFC 2483).
#[cfg(target_os = "linux")]
fn uri(path: &Path) -> Vec<u8> {
    use std::os::unix::ffi::OsStrExt;
    let mut uri = b"file://".to_vec();
    for byte in path.as_os_str().as_bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'.' | b'-' | b'_' | b'~' => {
                uri.push(*byte);
            }
            other => uri.extend(format!("%{other:02X}").bytes()),
        }
    }
    uri.extend(b"\r\n");
    uri
}

#[cfg(target_os = "linux")]
mod x11 {
    use std::error::Error;
    use std::time::{Duration, Instant};

    use x11rb::connection::Connection;
    use x11rb::protocol::Event;
    use x11rb::protocol::xproto::{
        AtomEnum, ClientMessageEvent, ConnectionExt, CreateWindowAux, EventMask, KeyButMask,
        PropMode, SELECTION_NOTIFY_EVENT, SelectionNotifyEvent, SelectionRequestEvent, Window,
        WindowClass,
    };
    use x11rb::rust_connection::RustConnection;
    use x11rb::wrapper::ConnectionExt as _;
    use x11rb::{COPY_DEPTH_FROM_PARENT, CURRENT_TIME, NONE};

    x11rb::atom_manager! {
        Atoms: AtomsCookie {
            XdndAware, XdndProxy, XdndEnter, XdndPosition, XdndStatus, XdndLeave, XdndDrop, XdndFinished,
            XdndSelection, XdndActionCopy, TARGETS,
            UriList: b"text/uri-list",
        }
    }

    /// How often the mouse is looked at.
    const LOOK: Duration = Duration::from_millis(10);
    /// Who is dropped on may take so long to fetch the file's name.
    const PATIENCE: Duration = Duration::from_secs(5);
    /// No drag is longer.
    const LONGEST: Duration = Duration::from_secs(120);
    /// The protocol's version.
    const VERSION: u32 = 5;

    type Done<T> = Result<T, Box<dyn Error>>;

    /// A window under the mouse that takes drops, and the one that answers for it: itself,
    /// or its proxy.
    #[derive(Clone, Copy, PartialEq)]
    struct Place {
        window: Window,
        speaker: Window,
    }

    /// Where the mouse is.
    struct Target {
        place: Place,
        /// It said that it would take this.
        accepts: bool,
        /// It has yet to answer to where the mouse is.
        owes: bool,
    }

    struct Drag<'a> {
        x: RustConnection,
        root: Window,
        own: Window,
        atoms: Atoms,
        uri: &'a [u8],
        finished: bool,
    }

    /// # Errors
    /// If the X server goes.
    pub fn drag(uri: &[u8]) -> Done<()> {
        let (x, screen) = x11rb::connect(None)?;
        let root = x.setup().roots.get(screen).ok_or("no screen")?.root;
        let atoms = Atoms::new(&x)?.reply()?;
        let (own, class) = (x.generate_id()?, WindowClass::INPUT_ONLY);
        let look = CreateWindowAux::new();
        x.create_window(
            0,
            own,
            root,
            -10,
            -10,
            1,
            1,
            0,
            class,
            COPY_DEPTH_FROM_PARENT.into(),
            &look,
        )?;
        x.set_selection_owner(own, atoms.XdndSelection, CURRENT_TIME)?;
        x.flush()?;
        Drag { x, root, own, atoms, uri, finished: false }.follow()
    }

    impl Drag<'_> {
        /// Until the button is let go, and what is under the mouse then has the file.
        fn follow(mut self) -> Done<()> {
            let began = Instant::now();
            let mut target: Option<Target> = None;
            while began.elapsed() < LONGEST {
                self.answer(&mut target)?;
                let mouse = self.x.query_pointer(self.root)?.reply()?;
                let at = (mouse.root_x, mouse.root_y);
                if !mouse.mask.contains(KeyButMask::BUTTON1) {
                    return self.let_go(target);
                }
                let under = self.under(at)?;
                if under != target.as_ref().map(|target| target.place) {
                    if let Some(left) = target.take() {
                        self.tell(left.place, self.atoms.XdndLeave, [0; 4])?;
                    }
                    if let Some(place) = under {
                        let offer = [VERSION << 24, self.atoms.UriList, NONE, NONE];
                        self.tell(place, self.atoms.XdndEnter, offer)?;
                        target = Some(Target { place, accepts: false, owes: false });
                    }
                }
                let taken = target.as_ref().is_some_and(|target| target.accepts);
                super::TAKEN.store(taken, super::Ordering::Relaxed);
                if let Some(target) = target.as_mut().filter(|target| !target.owes) {
                    target.owes = true;
                    let at =
                        u32::from(at.0.cast_unsigned()) << 16 | u32::from(at.1.cast_unsigned());
                    let here = [0, at, CURRENT_TIME, self.atoms.XdndActionCopy];
                    self.tell(target.place, self.atoms.XdndPosition, here)?;
                }
                std::thread::sleep(LOOK);
            }
            Ok(())
        }

        fn let_go(mut self, target: Option<Target>) -> Done<()> {
            let began = Instant::now();
            let mut target = target;
            // What it thinks of the last place may be under way.
            while target.as_ref().is_some_and(|target| target.owes) && began.elapsed() < PATIENCE {
                self.answer(&mut target)?;
                std::thread::sleep(LOOK);
            }
            let Some(Target { place, accepts, .. }) = target else { return Ok(()) };
            if !accepts {
                return self.tell(place, self.atoms.XdndLeave, [0; 4]);
            }
            self.tell(place, self.atoms.XdndDrop, [0, CURRENT_TIME, 0, 0])?;
            while !self.finished && began.elapsed() < PATIENCE {
                self.answer(&mut None)?;
                std::thread::sleep(LOOK);
            }
            Ok(())
        }

        /// The uppermost window there that takes drops; the bare screen too has one that
        /// answers for it on some desktops.
        fn under(&self, (x, y): (i16, i16)) -> Done<Option<Place>> {
            let mut window = self.root;
            loop {
                let child = self.x.translate_coordinates(self.root, window, x, y)?.reply()?.child;
                if child == NONE {
                    return if window == self.root { self.place(window) } else { Ok(None) };
                }
                if let Some(place) = self.place(child)? {
                    return Ok(Some(place));
                }
                window = child;
            }
        }

        /// The window as one that takes drops. A proxy that does not name itself was left
        /// behind by a program that has ended.
        fn place(&self, window: Window) -> Done<Option<Place>> {
            let (proxy, aware) = (self.atoms.XdndProxy, self.atoms.XdndAware);
            let named = self.said(window, proxy, AtomEnum::WINDOW)?;
            let lives = |named: &Window| {
                self.said(*named, proxy, AtomEnum::WINDOW).is_ok_and(|own| own == Some(*named))
            };
            let speaker = named.filter(lives).unwrap_or(window);
            let takes = self.said(speaker, aware, AtomEnum::ATOM)?.is_some();
            Ok(takes.then_some(Place { window, speaker }))
        }

        /// The first word of a window's property.
        fn said(&self, window: Window, property: u32, kind: AtomEnum) -> Done<Option<u32>> {
            let said = self.x.get_property(false, window, property, kind, 0, 1)?.reply()?;
            Ok(said.value32().and_then(|mut words| words.next()))
        }

        /// A message of the protocol: its first word is always who drags, and it names the
        /// window under the mouse whoever answers for it.
        fn tell(&self, to: Place, what: u32, [a, b, c, d]: [u32; 4]) -> Done<()> {
            let message = ClientMessageEvent::new(32, to.window, what, [self.own, a, b, c, d]);
            self.x.send_event(false, to.speaker, EventMask::NO_EVENT, message)?;
            self.x.flush()?;
            Ok(())
        }

        /// Takes in what was answered, and gives the file's name to who asks for it.
        fn answer(&mut self, target: &mut Option<Target>) -> Done<()> {
            while let Some(event) = self.x.poll_for_event()? {
                match event {
                    Event::ClientMessage(message) => {
                        let [from, said, ..] = message.data.as_data32();
                        if message.type_ == self.atoms.XdndFinished {
                            self.finished = true;
                        }
                        if message.type_ == self.atoms.XdndStatus
                            && let Some(target) = target.as_mut().filter(|t| t.place.window == from)
                        {
                            (target.owes, target.accepts) = (false, said & 1 == 1);
                        }
                    }
                    Event::SelectionRequest(request) => self.hand_over(&request)?,
                    _ => {}
                }
            }
            Ok(())
        }

        fn hand_over(&self, request: &SelectionRequestEvent) -> Done<()> {
            let SelectionRequestEvent { requestor, target, property, .. } = *request;
            let property = match target {
                _ if target == self.atoms.UriList => {
                    let replace = PropMode::REPLACE;
                    self.x.change_property8(replace, requestor, property, target, self.uri)?;
                    property
                }
                _ if target == self.atoms.TARGETS => {
                    let kinds = [self.atoms.TARGETS, self.atoms.UriList];
                    let (replace, atom) = (PropMode::REPLACE, AtomEnum::ATOM);
                    self.x.change_property32(replace, requestor, property, atom, &kinds)?;
                    property
                }
                _ => NONE,
            };
            let told = SelectionNotifyEvent {
                response_type: SELECTION_NOTIFY_EVENT,
                sequence: 0,
                time: request.time,
                requestor,
                selection: request.selection,
                target,
                property,
            };
            self.x.send_event(false, requestor, EventMask::NO_EVENT, told)?;
            self.x.flush()?;
            Ok(())
        }
    }
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    use super::*;

    #[test]
    fn a_path_is_an_address_of_letters_that_every_program_reads() {
        let uri = uri(Path::new("/home/née/Take 1.mid"));
        assert_eq!(uri, b"file:///home/n%C3%A9e/Take%201.mid\r\n");
    }
}
