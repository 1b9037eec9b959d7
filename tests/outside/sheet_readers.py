"""Reads practice sheets back with other people's programs.

    python sheet_readers.py DIR [--svg OUT] [--every N]

Each `*.musicxml` in DIR is validated against the MusicXML 4.0 schema (the W3C
document, from PyPI's `musicxml`, with lxml), read by `music21` and by
`verovio`, and what they count is compared. With `--svg`, verovio's pages are
written as SVG and PNG, to be looked at. `--every N` reads only each Nth with
the slow readers (all are validated).
"""

import argparse
import importlib.util
import io
import pathlib
import sys
import time

from lxml import etree

# The schema imports these two by network address; the parts that MusicXML
# uses of them, from the W3C recommendations.
XLINK = b"""<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
 targetNamespace="http://www.w3.org/1999/xlink">
 <xs:attribute name="href" type="xs:anyURI"/>
 <xs:attribute name="type" type="xs:string"/>
 <xs:attribute name="role" type="xs:token"/>
 <xs:attribute name="title" type="xs:token"/>
 <xs:attribute name="show" type="xs:token"/>
 <xs:attribute name="actuate" type="xs:token"/>
</xs:schema>"""
XML = b"""<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
 targetNamespace="http://www.w3.org/XML/1998/namespace">
 <xs:attribute name="lang" type="xs:language"/>
 <xs:attribute name="space" type="xs:NCName"/>
</xs:schema>"""


class Local(etree.Resolver):
    """Serves the two imported schemas without a network."""

    def resolve(self, url, public_id, context):
        if url.endswith("xlink.xsd"):
            return self.resolve_string(XLINK, context)
        if url.endswith("xml.xsd"):
            return self.resolve_string(XML, context)
        return None


def schema():
    """The MusicXML 4.0 schema as PyPI's `musicxml` ships it."""
    # Found without running the package, which takes seconds to import.
    home = pathlib.Path(importlib.util.find_spec("musicxml").origin).parent
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(Local())
    return etree.XMLSchema(etree.parse(home / "generate_classes" / "musicxml_4_0.xsd", parser))


def ours(document):
    """Bars, noteheads and chord symbols, counted in the document itself."""
    return {
        "bars": len(document.findall(".//measure")),
        "heads": len(document.findall(".//note/pitch")),
        "chords": len(document.findall(".//harmony")),
    }


def by_music21(path):
    import music21

    score = music21.converter.parse(path, format="musicxml")
    heads = [n for n in score.recurse().notes if not isinstance(n, music21.harmony.Harmony)]
    wrong = []
    for part in score.parts:
        for measure in part.getElementsByClass("Measure"):
            if measure.number == 0 or getattr(measure, "paddingLeft", 0) or measure.numberSuffix:
                continue
            filled = measure.duration.quarterLength
            due = measure.barDuration.quarterLength
            short = measure.showNumber == music21.stream.enums.ShowNumber.NEVER
            if abs(filled - due) > 1e-6 and not short:
                wrong.append(f"bar {measure.number} lasts {filled} quarters instead of {due}")
    return {
        "bars": len(score.parts[0].getElementsByClass("Measure")),
        "heads": sum(len(n.pitches) for n in heads),
        "chords": len(list(score.recurse().getElementsByClass(music21.harmony.Harmony))),
    }, wrong


def by_verovio(path, svg=None):
    import verovio

    verovio.enableLog(verovio.LOG_ERROR)
    toolkit = verovio.toolkit()
    toolkit.setOptions(
        {
            "pageHeight": 2970,
            "pageWidth": 2100,
            "scale": 60,
            "breaks": "line",
            "header": "encoded",
            "footer": "encoded",
            "svgViewBox": True,
        }
    )
    if not toolkit.loadFile(str(path)):
        raise ValueError(f"verovio cannot load {path}")
    mei = etree.fromstring(toolkit.getMEI({"removeIds": True}).encode())
    name = {"m": "http://www.music-encoding.org/ns/mei"}
    if svg:
        for page in range(1, toolkit.getPageCount() + 1):
            text = toolkit.renderToSVG(page)
            out = svg / f"{path.stem}-{page}"
            out.with_suffix(".svg").write_text(text)
            try:
                import cairosvg

                cairosvg.svg2png(
                    bytestring=text.encode(),
                    write_to=str(out.with_suffix(".png")),
                    output_width=1240,
                    background_color="white",
                )
            except ImportError:
                pass
    return {
        "bars": len(mei.findall(".//m:measure", name)),
        "heads": len(mei.findall(".//m:note", name)),
        "chords": len(mei.findall(".//m:harm", name)),
    }


def main():
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("folder", type=pathlib.Path)
    arguments.add_argument("--svg", type=pathlib.Path)
    arguments.add_argument("--every", type=int, default=1)
    asked = arguments.parse_args()
    if asked.svg:
        asked.svg.mkdir(parents=True, exist_ok=True)
    valid = schema()
    faults = []
    started = time.monotonic()
    paths = sorted(asked.folder.rglob("*.musicxml"))
    if not paths:
        sys.exit(f"no .musicxml in {asked.folder}")
    read = 0
    for index, path in enumerate(paths):
        document = etree.parse(io.BytesIO(path.read_bytes()))
        if not valid.validate(document):
            faults += [f"{path}:{e.line}: {e.message}" for e in valid.error_log][:5]
        if index % asked.every:
            continue
        read += 1
        counted = ours(document)
        theirs, wrong = by_music21(path)
        faults += [f"{path}: {fault}" for fault in wrong]
        for reader, counts in [("music21", theirs), ("verovio", by_verovio(path, asked.svg))]:
            if counts != counted:
                faults.append(f"{path}: {reader} counts {counts}, the sheet has {counted}")
    print("\n".join(faults[:50]))
    took = time.monotonic() - started
    print(f"{len(paths)} sheets validated, {read} read by music21 and verovio, {len(faults)} faults, {took:.1f} s")
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
