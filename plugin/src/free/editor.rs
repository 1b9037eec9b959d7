//! The framework's editor, whose window is gone once it is closed.

use std::error::Error;
use std::sync::Arc;

use nice_plug::context::gui::GuiContext;
use nice_plug::editor::dpi::NativeSize;
use nice_plug::editor::{
    Editor, EditorHandle, HostMethods, Modifiers, ParentWindowHandle, ResizeHint, SpawnedEditor,
    VirtualKeyCode,
};
use nice_plug_egui::EguiEditor;

use super::ending::DrawingThreads;
use super::{Instance, Window};

type Framework = EguiEditor<Window>;
type FrameworkHandle = <Framework as Editor>::Handle;
type FrameworkWindow = <FrameworkHandle as EditorHandle>::Window;

/// What the host may open.
pub struct OurEditor {
    pub(super) framework: Framework,
    pub(super) ending: DrawingThreads,
    pub(super) desk: Arc<Instance>,
}

/// An open editor.
pub struct Handle(FrameworkHandle);

/// Its window. Dropping it waits until nothing draws in it any more.
pub struct OpenEditor {
    /// There until it is dropped.
    window: Option<FrameworkWindow>,
    ending: DrawingThreads,
}

impl Drop for OpenEditor {
    fn drop(&mut self) {
        drop(self.window.take());
        self.ending.wait();
    }
}

impl OurEditor {
    /// The size that was kept with the project.
    fn kept(&self) -> Option<NativeSize<u32>> {
        self.desk.size().map(|(width, height)| NativeSize::new(width, height))
    }
}

impl Editor for OurEditor {
    type Handle = Handle;

    fn spawn(
        &self,
        parent: Option<ParentWindowHandle>,
        wait_for_parent: bool,
        fallback_scale_factor: Option<f64>,
        gui_context: GuiContext,
        host: Option<HostMethods>,
    ) -> Result<SpawnedEditor<Handle>, Box<dyn Error>> {
        // Before the window tells its own.
        let kept = self.kept();
        let opened = self.framework.spawn(
            parent,
            wait_for_parent,
            fallback_scale_factor,
            gui_context,
            host,
        )?;
        if let Some(size) = kept {
            let _ = opened.handle.set_size(size, &opened.window); // else it is as at first
        }
        Ok(SpawnedEditor {
            handle: Handle(opened.handle),
            window: OpenEditor { window: Some(opened.window), ending: self.ending.clone() },
        })
    }

    fn size(&self) -> NativeSize<u32> {
        self.kept().unwrap_or_else(|| self.framework.size())
    }

    fn resize_hint(&self) -> ResizeHint {
        self.framework.resize_hint()
    }
}

impl EditorHandle for Handle {
    type Window = OpenEditor;
    type Error = <FrameworkHandle as EditorHandle>::Error;

    fn run_until_closed(mut window: OpenEditor) -> Result<(), Self::Error> {
        window.window.take().map_or(Ok(()), FrameworkHandle::run_until_closed)
    }

    fn set_parent(
        &self,
        parent: ParentWindowHandle,
        opened: &OpenEditor,
    ) -> Result<(), Self::Error> {
        opened.window.as_ref().map_or(Ok(()), |window| self.0.set_parent(parent, window))
    }

    fn show(&self, opened: &OpenEditor) -> Result<(), Self::Error> {
        opened.window.as_ref().map_or(Ok(()), |window| self.0.show(window))
    }

    fn hide(&self, opened: &OpenEditor) -> Result<(), Self::Error> {
        opened.window.as_ref().map_or(Ok(()), |window| self.0.hide(window))
    }

    fn set_size(&self, size: NativeSize<u32>, opened: &OpenEditor) -> Result<(), Self::Error> {
        opened.window.as_ref().map_or(Ok(()), |window| self.0.set_size(size, window))
    }

    fn adjust_size(&self, size: NativeSize<u32>, opened: &OpenEditor) -> Option<NativeSize<u32>> {
        opened.window.as_ref().and_then(|window| self.0.adjust_size(size, window))
    }

    fn set_fallback_scale_factor(
        &self,
        scale: f64,
        opened: &OpenEditor,
    ) -> Result<(), Self::Error> {
        let set = |window| self.0.set_fallback_scale_factor(scale, window);
        opened.window.as_ref().map_or(Ok(()), set)
    }

    fn host_main_thread_callback(&self, opened: &OpenEditor) {
        if let Some(window) = &opened.window {
            self.0.host_main_thread_callback(window);
        }
    }

    fn on_virtual_key_from_host(&self, key: VirtualKeyCode, down: bool, with: Modifiers) -> bool {
        self.0.on_virtual_key_from_host(key, down, with)
    }

    fn state_changed(&self) {
        self.0.state_changed();
    }

    fn param_value_changed(&self, id: &str, normalized: f32) {
        self.0.param_value_changed(id, normalized);
    }

    fn param_modulation_changed(&self, id: &str, offset: f32) {
        self.0.param_modulation_changed(id, offset);
    }
}
