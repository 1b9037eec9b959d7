//! The window in a host: the shared panel, on this instance's desk.

use std::path::PathBuf;
use std::sync::Arc;

use nice_plug::context::gui::GuiContext;
use nice_plug::editor::dpi::{LogicalSize, NativeSize};
use nice_plug::prelude::ResizeHint;
use nice_plug_egui::baseview::{HandlerError, WindowSize};
use nice_plug_egui::{
    EguiEditorState, EguiNiceSettings, Frame, NiceEguiApp, RepaintNotifier, create_egui_editor,
};
use sinistra_core::engine::Snapshot;
use sinistra_panel::control::{Control, Values};
use sinistra_panel::home::{Home, PatternCard, PlayersText};
use sinistra_panel::host::{HostMark, HostMenuEntry};
use sinistra_panel::{Panel, look};

use super::desk::Faulty;
use super::ending::DrawingThreads;
use super::parameters::Parameters;
use super::{DeskTask, DeskWorker, Instance, OurEditor};

/// Width and height at 100 %, in points.
const SIZE: (f64, f64) = (1040.0, 740.0);
/// Below this there is little sense in it.
const LEAST: LogicalSize<f32> = LogicalSize { width: 480.0, height: 320.0 };

/// The editor that the host may open; `None` if it cannot be made at all.
pub fn editor(
    desk: Arc<Instance>,
    parameters: Arc<Parameters>,
    worker: DeskWorker,
) -> Option<OurEditor> {
    let state = EguiEditorState::from_size(LogicalSize::new(SIZE.0, SIZE.1), 1.0);
    let settings = EguiNiceSettings::new()
        .with_tile("Sinistra")
        .with_resize_hint(ResizeHint::RESIZABLE.with_min_logical_size(LEAST));
    let ending = DrawingThreads::default();
    let room = PluginHome { desk: desk.clone(), parameters, worker, host: None };
    let window = Window { panel: Panel::default(), room, ending: ending.clone() };
    let framework = create_egui_editor(state, RepaintNotifier::new(), settings, window)?;
    Some(OurEditor { framework, ending, desk })
}

/// What the framework draws.
pub struct Window {
    panel: Panel,
    room: PluginHome,
    ending: DrawingThreads,
}

/// The panel's home.
struct PluginHome {
    desk: Arc<Instance>,
    parameters: Arc<Parameters>,
    /// The way to the host's main thread.
    worker: DeskWorker,
    /// There while the window is open.
    host: Option<GuiContext>,
}

impl NiceEguiApp for Window {
    fn build(
        &mut self,
        _context: egui::Context,
        host: GuiContext,
        _frame: &mut Frame,
    ) -> Result<(), HandlerError> {
        self.ending.draws();
        self.room.host = Some(host);
        self.room.desk.watch(true);
        self.panel = Panel::default(); // a new window is to be dressed anew
        Ok(())
    }

    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut Frame) {
        self.panel.ui(ui, &mut self.room);
    }

    fn resized(&mut self, size: WindowSize) {
        let size: NativeSize<u32> =
            NativeSize::from_logical_or_physical(size.logical, size.physical);
        self.room.desk.set_size((size.width, size.height));
    }

    fn editor_closed(&mut self) {
        self.room.host = None;
        self.room.desk.watch(false);
    }
}

impl Home for PluginHome {
    fn snapshot(&mut self) -> Snapshot {
        self.desk.snapshot()
    }

    fn values(&self) -> Values {
        self.parameters.values()
    }

    fn take_hold(&mut self, control: Control) {
        if let Some(host) = &self.host {
            self.parameters.take_hold(control, host);
        }
    }

    fn set(&mut self, control: Control, value: i32) {
        if let Some(host) = &self.host {
            self.parameters.set(control, value, host);
        }
    }

    fn let_go(&mut self, control: Control) {
        if let Some(host) = &self.host {
            self.parameters.let_go(control, host);
        }
    }

    fn host_mark(&self, control: Control) -> HostMark {
        self.desk.host.mark(control)
    }

    fn ask_menu(&mut self, control: Control) {
        self.worker.on_main_thread(DeskTask::AskMenu(control));
    }

    fn menu(&self, control: Control) -> Vec<HostMenuEntry> {
        self.desk.host.menu(control)
    }

    fn choose(&mut self, control: Control, number: u32) {
        self.worker.on_main_thread(DeskTask::Choose(control, number));
    }

    fn patterns(&self) -> Vec<PatternCard> {
        self.desk.cards().to_vec()
    }

    fn set_ups(&self) -> Option<PathBuf> {
        let folders = directories::ProjectDirs::from("", "", "sinistra")?;
        Some(folders.config_dir().join("set-ups"))
    }

    fn text(&self, which: PlayersText) -> String {
        self.desk.text(which)
    }

    fn set_text(&mut self, which: PlayersText, text: &str) {
        self.desk.set_text(which, text, Faulty::GoOn);
    }

    fn keep(&mut self, bars: usize) -> Result<PathBuf, String> {
        self.desk.keep(bars, &self.values().settings())
    }

    fn delay(&self) -> f64 {
        self.desk.delay.seconds()
    }

    fn look(&self) -> look::LookChoice {
        self.desk.look()
    }

    fn set_look(&mut self, look: look::LookChoice) {
        self.desk.set_look(look);
        self.edited(); // the look is kept with the project
    }

    fn edited(&mut self) {
        if let Some(host) = &self.host {
            self.parameters.count_edit(host);
        }
    }
}
