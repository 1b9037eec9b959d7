//! A small writer of XML: elements in order, text escaped, one a line.

/// An XML document as it grows.
#[derive(Default)]
pub(super) struct Xml {
    text: String,
    open: Vec<&'static str>,
}

/// Attributes, name and value.
pub(super) type Attributes<'a> = &'a [(&'static str, &'a str)];

impl Xml {
    /// The declaration and the document type of MusicXML 4.0.
    pub fn musicxml() -> Self {
        let text = concat!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n",
            "<!DOCTYPE score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\"",
            " \"http://www.musicxml.org/dtds/partwise.dtd\">\n"
        );
        Self { text: text.into(), open: Vec::new() }
    }

    fn tag(&mut self, name: &str, attributes: Attributes) {
        for _ in &self.open {
            self.text.push(' ');
        }
        self.text.push('<');
        self.text += name;
        for (key, value) in attributes {
            self.text.push(' ');
            self.text += key;
            self.text += "=\"";
            escape(value, &mut self.text);
            self.text.push('"');
        }
    }

    /// Opens an element; what follows is inside until [`Self::close`].
    pub fn open(&mut self, name: &'static str, attributes: Attributes) {
        self.tag(name, attributes);
        self.text += ">\n";
        self.open.push(name);
    }

    /// Closes the innermost open element.
    pub fn close(&mut self) {
        if let Some(name) = self.open.pop() {
            for _ in &self.open {
                self.text.push(' ');
            }
            self.text += "</";
            self.text += name;
            self.text += ">\n";
        }
    }

    /// An element with nothing inside.
    pub fn empty(&mut self, name: &str, attributes: Attributes) {
        self.tag(name, attributes);
        self.text += "/>\n";
    }

    /// An element with text.
    pub fn leaf(&mut self, name: &str, attributes: Attributes, value: impl std::fmt::Display) {
        self.tag(name, attributes);
        self.text.push('>');
        escape(&value.to_string(), &mut self.text);
        self.text += "</";
        self.text += name;
        self.text += ">\n";
    }

    /// The document; closes what is open.
    pub fn finish(mut self) -> String {
        while !self.open.is_empty() {
            self.close();
        }
        self.text
    }
}

/// Escapes markup, and leaves out what XML 1.0 does not allow at all.
pub(super) fn escape(value: &str, into: &mut String) {
    for character in value.chars() {
        match character {
            '&' => *into += "&amp;",
            '<' => *into += "&lt;",
            '>' => *into += "&gt;",
            '"' => *into += "&quot;",
            '\t' | '\n' | '\r' => into.push(' '),
            c if c.is_control() || matches!(c, '\u{FFFE}' | '\u{FFFF}') => {}
            c => into.push(c),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_in_a_title_stays_text() {
        let mut xml = Xml::default();
        xml.open("work", &[("id", "a\"b")]);
        xml.leaf("work-title", &[], "Salt & <Pepper>\u{0}");
        assert_eq!(
            xml.finish(),
            "<work id=\"a&quot;b\">\n <work-title>Salt &amp; &lt;Pepper&gt;</work-title>\n</work>\n"
        );
    }
}
