//! Bar lines, repeats and endings in MusicXML.

use super::xml::Xml;
use super::{SheetBar, Volta};

pub(super) fn opening_line(xml: &mut Xml, bar: &SheetBar) {
    let starts = bar.ending.as_ref().filter(|ending| ending.starts);
    if !bar.repeat_from && starts.is_none() {
        return;
    }
    xml.open("barline", &[("location", "left")]);
    if bar.repeat_from {
        xml.leaf("bar-style", &[], "heavy-light");
    }
    if let Some(ending) = starts {
        bracket(xml, ending, "start");
    }
    if bar.repeat_from {
        xml.empty("repeat", &[("direction", "forward")]);
    }
    xml.close();
}

pub(super) fn closing_line(xml: &mut Xml, bar: &SheetBar, last: bool) {
    let stops = bar.ending.as_ref().filter(|ending| ending.stops);
    if bar.repeat_times.is_none() && stops.is_none() && !last {
        return;
    }
    xml.open("barline", &[("location", "right")]);
    if bar.repeat_times.is_some() || last {
        xml.leaf("bar-style", &[], "light-heavy");
    }
    if let Some(ending) = stops {
        let last_ending = bar.repeat_times.is_none() && !last;
        bracket(xml, ending, if last_ending { "discontinue" } else { "stop" });
    }
    if let Some(times) = bar.repeat_times {
        let times = times.to_string();
        xml.empty("repeat", &[("direction", "backward"), ("times", &times)]);
    }
    xml.close();
}

fn bracket(xml: &mut Xml, ending: &Volta, kind: &str) {
    let numbers: Vec<String> = ending.passes.iter().map(u8::to_string).collect();
    xml.empty("ending", &[("number", &numbers.join(",")), ("type", kind)]);
}
