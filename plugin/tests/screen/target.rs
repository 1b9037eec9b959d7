//! A window of another program that takes what is dropped on it (freedesktop.org,
//! "Drag-and-Drop Protocol for the X Window System", version 5).

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use x11rb::connection::Connection;
use x11rb::protocol::Event;
use x11rb::protocol::xproto::{
    AtomEnum, ClientMessageEvent, ConnectionExt, CreateWindowAux, EventMask, PropMode, Window,
    WindowClass,
};
use x11rb::rust_connection::RustConnection;
use x11rb::wrapper::ConnectionExt as _;

x11rb::atom_manager! {
    Atoms: AtomsCookie {
        XdndAware, XdndProxy, XdndEnter, XdndPosition, XdndStatus, XdndLeave, XdndDrop, XdndFinished,
        XdndSelection, XdndActionCopy, Dropped,
        UriList: b"text/uri-list",
    }
}

pub struct DropTarget {
    x: RustConnection,
    /// What is dropped on, and what answers for it.
    window: Window,
    speaker: Window,
    atoms: Atoms,
    /// Something was held over it.
    offered: AtomicBool,
}

impl DropTarget {
    /// Right of the host's window, 300 pixels wide and high.
    pub fn open(display: &str, left: i16) -> Self {
        Self::under(display, Some(left), false)
    }

    /// The same, and an unseen window answers for it.
    pub fn behind_a_proxy(display: &str, left: i16) -> Self {
        Self::under(display, Some(left), true)
    }

    /// The bare screen, for which an unseen window answers.
    pub fn of_the_desktop(display: &str) -> Self {
        Self::under(display, None, true)
    }

    fn under(display: &str, left: Option<i16>, proxy: bool) -> Self {
        let (x, screen) = x11rb::connect(Some(display)).unwrap();
        let root = x.setup().roots[screen].root;
        let atoms = Atoms::new(&x).unwrap().reply().unwrap();
        let (class, look) = (WindowClass::INPUT_OUTPUT, CreateWindowAux::new().background_pixel(0));
        let depth = x11rb::COPY_DEPTH_FROM_PARENT;
        let window = left.map_or(root, |left| {
            let window = x.generate_id().unwrap();
            x.create_window(depth, window, root, left, 0, 300, 300, 0, class, 0, &look).unwrap();
            x.map_window(window).unwrap();
            window
        });
        let (replace, atom) = (PropMode::REPLACE, AtomEnum::ATOM);
        let speaker = if proxy { x.generate_id().unwrap() } else { window };
        if proxy {
            x.create_window(depth, speaker, root, -10, -10, 1, 1, 0, class, 0, &look).unwrap();
            for who in [window, speaker] {
                let (name, kind) = (atoms.XdndProxy, AtomEnum::WINDOW);
                x.change_property32(replace, who, name, kind, &[speaker]).unwrap();
            }
        }
        x.change_property32(replace, speaker, atoms.XdndAware, atom, &[5]).unwrap();
        x.sync().unwrap();
        Self { x, window, speaker, atoms, offered: AtomicBool::new(false) }
    }

    /// Whether something was held over it while it took part.
    pub fn was_offered(&self) -> bool {
        self.offered.load(Ordering::Relaxed)
    }

    /// Takes part until something was dropped or a minute has gone; the bytes.
    pub fn wait(&self) -> Option<String> {
        let (began, mut offered, mut from) = (Instant::now(), false, 0);
        while began.elapsed() < Duration::from_secs(60) {
            let Some(event) = self.x.poll_for_event().unwrap() else {
                std::thread::sleep(Duration::from_millis(5));
                continue;
            };
            match event {
                Event::ClientMessage(message) => {
                    assert_eq!(message.window, self.window, "it names what is under the mouse");
                    let [source, flags, kind, ..] = message.data.as_data32();
                    from = source;
                    match message.type_ {
                        enter if enter == self.atoms.XdndEnter => {
                            assert_eq!(flags >> 24, 5, "the version");
                            offered = kind == self.atoms.UriList;
                        }
                        place if place == self.atoms.XdndPosition => {
                            assert!(offered, "it has not come in");
                            let accepts = [u32::from(offered), 0, 0, self.atoms.XdndActionCopy];
                            self.tell(from, self.atoms.XdndStatus, accepts);
                            self.offered.store(true, Ordering::Relaxed);
                        }
                        leave if leave == self.atoms.XdndLeave => offered = false,
                        drop if drop == self.atoms.XdndDrop => {
                            let Atoms { XdndSelection, UriList, Dropped, .. } = self.atoms;
                            let (own, now) = (self.speaker, x11rb::CURRENT_TIME);
                            self.x
                                .convert_selection(own, XdndSelection, UriList, Dropped, now)
                                .unwrap();
                            self.x.flush().unwrap();
                        }
                        _ => {}
                    }
                }
                Event::SelectionNotify(told) if told.property != x11rb::NONE => {
                    let (own, property) = (self.speaker, self.atoms.Dropped);
                    let got = self.x.get_property(true, own, property, AtomEnum::ANY, 0, 1000);
                    let value = got.unwrap().reply().unwrap().value;
                    self.tell(from, self.atoms.XdndFinished, [1, self.atoms.XdndActionCopy, 0, 0]);
                    return String::from_utf8(value).ok();
                }
                _ => {}
            }
        }
        None
    }

    fn tell(&self, to: Window, what: u32, [a, b, c, d]: [u32; 4]) {
        let message = ClientMessageEvent::new(32, to, what, [self.window, a, b, c, d]);
        self.x.send_event(false, to, EventMask::NO_EVENT, message).unwrap();
        self.x.flush().unwrap();
    }
}
