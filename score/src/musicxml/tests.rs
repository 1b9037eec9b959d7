//! Small scores, written after the element descriptions of MusicXML 4.0.

use std::io::Write;

use proptest::prelude::*;

use crate::{Chart, load_chart};
use sinistra_core::chord::Kind;

/// A partwise score of one part; attributes of the first measure are given.
fn score(measures: &[&str]) -> String {
    let measures: String = measures
        .iter()
        .enumerate()
        .map(|(n, measure)| format!("<measure number=\"{}\">\n{measure}\n</measure>\n", n + 1))
        .collect();
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <!DOCTYPE score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \
         \"http://www.musicxml.org/dtds/partwise.dtd\">\n\
         <score-partwise version=\"4.0\">\n<work><work-title>Ferry\n Song</work-title></work>\n\
         <part-list><score-part id=\"P1\"><part-name>L</part-name></score-part></part-list>\n\
         <part id=\"P1\">\n{measures}</part>\n</score-partwise>\n"
    )
}

fn head(fifths: i32, mode: &str, beats: u8, unit: u8) -> String {
    format!(
        "<attributes><divisions>2</divisions><key><fifths>{fifths}</fifths><mode>{mode}</mode>\
         </key><time><beats>{beats}</beats><beat-type>{unit}</beat-type></time></attributes>"
    )
}

fn harmony(step: &str, alter: i32, kind: &str, more: &str) -> String {
    format!(
        "<harmony><root><root-step>{step}</root-step><root-alter>{alter}</root-alter></root>\
         <kind>{kind}</kind>{more}</harmony>"
    )
}

fn rest(duration: u32) -> String {
    format!("<note><rest/><duration>{duration}</duration></note>")
}

fn read(text: &str) -> Chart {
    let chart = load_chart(text.as_bytes(), "song.xml").map_err(|faults| faults.to_string());
    chart.expect("a good score")
}

/// The bars alone, as our text writes them.
fn bars(text: &str) -> String {
    let text = read(text).to_string();
    let (_, bars) = text.split_once("\n\n").expect("a head");
    bars.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn chords_stand_where_the_notes_before_them_end() {
    let first = head(-2, "major", 4, 4)
        + &harmony("B", -1, "major", "")
        + &rest(6)
        + &harmony("F", 0, "dominant", "<bass><bass-step>A</bass-step></bass>")
        + &rest(2);
    let second = harmony("G", 0, "minor-seventh", "") + &rest(8);
    let third = harmony("E", -1, "major", "")
        + "<harmony><root><root-step>F</root-step></root>\
         <kind>suspended-fourth</kind><offset>4</offset></harmony>"
        + &rest(8);
    let text = score(&[&first, &second, &third, &rest(8)]);
    assert_eq!(bars(&text), "| Bb . . F7/A | Gm7 | Eb Fsus4 | . |");
    let chart = read(&text);
    assert_eq!(chart.title(), "Ferry Song");
    assert_eq!(chart.draft().key.map(crate::chart::key_name).as_deref(), Some("Bb"));
}

#[test]
fn voices_and_chord_notes_do_not_move_the_place() {
    let first = head(0, "minor", 4, 4)
        + &harmony("A", 0, "minor", "")
        + "<note><pitch/><duration>4</duration></note>\
           <note><chord/><pitch/><duration>4</duration></note>\
           <note><grace/><pitch/></note>"
        + &harmony("D", 0, "minor", "")
        + &rest(4)
        + "<backup><duration>8</duration></backup><forward><duration>8</duration></forward>";
    let chart = read(&score(&[&first]));
    assert_eq!(bars(&score(&[&first])), "| Am Dm |");
    assert_eq!(chart.draft().key.map(crate::chart::key_name).as_deref(), Some("Am"));
}

#[test]
fn every_kind_of_the_standard_is_read() {
    for kind in Kind::ALL {
        let text =
            score(&[&(head(0, "major", 4, 4) + &harmony("D", 0, kind.name(), "") + &rest(8))]);
        let chart = read(&text);
        let chord = chart.unfold().chords()[0].chord;
        if *kind == Kind::None {
            assert_eq!(chord, None);
        } else {
            assert_eq!(chord.map(|c| c.quality.kind()), Some(*kind), "{kind:?}");
        }
    }
}

#[test]
fn degrees_change_their_kind() {
    let degree = |value: u8, alter: i32, kind: &str| {
        format!(
            "<degree><degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter>\
             <degree-type>{kind}</degree-type></degree>"
        )
    };
    for (kind, degrees, expected) in [
        ("dominant", degree(9, -1, "add"), "C7b9"),
        ("dominant", degree(5, 1, "alter"), "C+7"),
        ("dominant", degree(5, -1, "alter") + &degree(9, 1, "add"), "C7b5#9"),
        ("major", degree(9, 0, "add"), "Cadd9"),
        ("suspended-fourth", degree(7, 0, "add"), "C7sus4"),
        ("minor-seventh", degree(5, -1, "alter"), "Cm7b5"),
        ("major-seventh", degree(7, -1, "alter"), "C7"), // the major seventh lowered
        ("major-seventh", degree(11, 1, "add"), "Cmaj7#11"),
        ("dominant-ninth", degree(9, -1, "alter"), "C9b9"),
        ("major", degree(3, 0, "subtract"), "Cno3"),
        ("major-sixth", degree(9, 0, "add"), "C6/9"),
    ] {
        let first = head(0, "major", 4, 4) + &harmony("C", 0, kind, &degrees) + &rest(8);
        let expected = sinistra_core::chord::Symbol::read(expected).expect(expected);
        let chord = read(&score(&[&first])).unfold().chords()[0].chord.expect("a chord");
        assert_eq!(chord.tones(), expected.chord().tones(), "{kind} {degrees}");
    }
}

#[test]
fn jumps_are_followed_where_they_make_sense() {
    let sound = |what: &str| format!("<direction><sound {what}/></direction>");
    let bar = |root: &str, more: String| harmony(root, 0, "major", "") + &rest(8) + &more;
    let song = |fine: &str| {
        let first = head(0, "major", 4, 4) + &bar("C", String::new());
        score(&[&first, &bar("D", sound(fine)), &bar("E", sound("dacapo=\"yes\""))])
    };
    let chart = read(&song("fine=\"yes\""));
    assert_eq!(chart.unfold().bars().len(), 5, "{chart}");
    assert!(chart.to_string().contains("D Fine"), "{chart}");
    // No coda to go to: as it stands.
    let chart = read(&song("tocoda=\"c\""));
    assert_eq!(chart.unfold().bars().len(), 3, "{chart}");
}

#[test]
fn repeats_endings_and_sections_are_kept() {
    let chord = |step: &str| harmony(step, 0, "major", "");
    let left = |inner: &str| format!("<barline location=\"left\">{inner}</barline>");
    let right = |inner: &str| format!("<barline location=\"right\">{inner}</barline>");
    let first = head(0, "major", 4, 4)
        + &left("<repeat direction=\"forward\"/>")
        + "<direction><direction-type><rehearsal>A</rehearsal></direction-type></direction>"
        + &chord("C")
        + &rest(8);
    let second = left("<ending number=\"1, 2\" type=\"start\"/>")
        + &chord("F")
        + &rest(8)
        + &right(
            "<ending number=\"1, 2\" type=\"stop\"/><repeat direction=\"backward\" times=\"3\"/>",
        );
    let third = left("<ending number=\"3\" type=\"start\"/>")
        + &chord("G")
        + &rest(8)
        + &right("<ending number=\"3\" type=\"discontinue\"/>");
    let fourth = left("<repeat direction=\"forward\"/>")
        + &chord("A")
        + &rest(8)
        + &right("<repeat direction=\"backward\" times=\"4\"/>");
    let text = score(&[&first, &second, &third, &fourth]);
    assert_eq!(bars(&text), "[A] |: C | 1,2. F :| 3. G |: A :| x4");
    assert_eq!(read(&text).unfold().bars().len(), 2 + 2 + 2 + 4);
}

#[test]
fn measures_may_be_short_by_half_a_beat() {
    let chord = |step: &str| harmony(step, 0, "major", "");
    // An eighth before the first bar, and a last bar that it completes.
    let text = score(&[
        &(head(0, "major", 4, 4) + &chord("G") + &rest(1)),
        &(chord("C") + &rest(8)),
        &(chord("F") + &rest(7)),
        &(chord("G") + &rest(1)),
        &(chord("C") + &rest(8)),
    ]);
    assert_eq!(bars(&text), "| N.C. G | C | 7/8 F | 1/8 G | | 4/4 C |");
    assert_eq!(read(&text).draft().pick_up, Some(1));
    // A sixteenth is a pick-up too, and three and a half beats are most of a bar.
    let sixteenth = head(0, "major", 4, 4).replace(">2<", ">4<") + &chord("G") + &rest(1);
    let text = score(&[&sixteenth, &(chord("C") + &rest(16))]);
    assert_eq!(bars(&text), "| N.C. . . G | C |");
    let text = score(&[&(head(0, "major", 4, 4) + &chord("G") + &rest(7)), &rest(8)]);
    assert_eq!(bars(&text), "| N.C. G . . . . . . | . |");
}

#[test]
fn short_measures_are_pick_ups_or_bars_of_their_own() {
    let chord = |step: &str| harmony(step, 0, "major", "");
    let first = head(1, "major", 3, 4) + &chord("D") + &rest(2);
    let second = chord("G") + &rest(6);
    let last = chord("C") + &rest(4);
    let text = score(&[&first, &second, &last]);
    let chart = read(&text);
    assert_eq!(chart.draft().pick_up, Some(1));
    assert_eq!(bars(&text), "| D | G | 2/4 C |");
    assert_eq!(chart.unfold().start().beats(), -1.0);
}

#[test]
fn tempo_comes_from_the_sound_or_the_mark() {
    let plain = |first: &str| {
        let measure = head(0, "major", 6, 8) + first + &harmony("C", 0, "major", "") + &rest(6);
        read(&score(&[&measure])).draft().tempo
    };
    assert_eq!(plain("<sound tempo=\"90\"/>"), Some(60.0)); // dotted quarters
    let mark = "<direction><direction-type><metronome><beat-unit>quarter</beat-unit>\
                <beat-unit-dot/><per-minute>72</per-minute></metronome></direction-type></direction>";
    assert_eq!(plain(mark), Some(72.0));
    assert_eq!(plain(""), None);
}

#[test]
fn a_transposing_part_is_read_as_it_sounds() {
    // A part in B flat writes D minor for C minor.
    let first = "<attributes><divisions>2</divisions><key><fifths>-1</fifths><mode>minor</mode>\
                 </key><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>\
                 </attributes>"
        .to_owned()
        + &harmony("D", 0, "minor", "")
        + &rest(4)
        + &harmony("B", -1, "major", "")
        + &rest(4);
    assert_eq!(bars(&score(&[&first])), "| Cm Ab |");
    // One in E flat writes F sharp for A, six sharps and no flats.
    let first = "<attributes><divisions>2</divisions><key><fifths>6</fifths></key><transpose>\
                 <diatonic>-5</diatonic><chromatic>-9</chromatic></transpose></attributes>"
        .to_owned()
        + &harmony("F", 1, "major", "")
        + &rest(4)
        + &harmony("A", 0, "major", "")
        + &rest(4);
    assert_eq!(bars(&score(&[&first])), "| A C |");
}

#[test]
fn measure_repeats_are_the_bar_before_again() {
    let chord = |step: &str| harmony(step, 0, "major", "");
    let first = head(0, "major", 4, 4) + &chord("C") + &rest(4) + &chord("F") + &rest(4);
    let style = |kind: &str| {
        format!(
            "<attributes><measure-style><measure-repeat type=\"{kind}\">1</measure-repeat>\
                 </measure-style></attributes>"
        )
    };
    let text = score(&[
        &first,
        &(style("start") + &rest(8)),
        &rest(8),
        &(style("stop") + &chord("G") + &rest(8)),
    ]);
    assert_eq!(bars(&text), "| C F | % | % | G |");
}

fn packed(files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let options = zip::write::SimpleFileOptions::default();
    for (name, bytes) in files {
        zip.start_file(*name, options).expect("room");
        zip.write_all(bytes).expect("room");
    }
    zip.finish().expect("an archive").into_inner()
}

const CONTAINER: &[u8] = b"<?xml version=\"1.0\"?><container><rootfiles>\
    <rootfile full-path=\"page.pdf\" media-type=\"application/pdf\"/>\
    <rootfile full-path=\"deep/song.musicxml\"/></rootfiles></container>";

#[test]
fn a_compressed_score_is_unpacked() {
    let text = score(&[&(head(0, "major", 4, 4) + &harmony("C", 0, "major", "") + &rest(8))]);
    let mxl =
        packed(&[("META-INF/container.xml", CONTAINER), ("deep/song.musicxml", text.as_bytes())]);
    assert_eq!(load_chart(&mxl, "song.mxl").map(|c| c.to_string()), Ok(read(&text).to_string()));
    let utf16: Vec<u8> =
        [0xFF, 0xFE].into_iter().chain(text.encode_utf16().flat_map(u16::to_le_bytes)).collect();
    assert_eq!(load_chart(&utf16, "song.xml").map(|c| c.to_string()), Ok(read(&text).to_string()));
}

#[test]
fn the_first_file_is_the_score_where_no_type_says_so() {
    let text = score(&[&(head(0, "major", 4, 4) + &harmony("C", 0, "major", "") + &rest(8))]);
    let container = "<container><rootfiles><rootfile full-path=\"song.xml\" \
                     media-type=\"text/xml\"/></rootfiles></container>";
    let files = [("META-INF/container.xml", container.as_bytes()), ("song.xml", text.as_bytes())];
    let loaded = load_chart(&packed(&files), "song.mxl").map(|chart| chart.to_string());
    assert_eq!(loaded, Ok(read(&text).to_string()));
}

#[test]
fn bad_archives_are_refused() {
    let refusal = |bytes: &[u8]| load_chart(bytes, "song.mxl").expect_err("bad").to_string();
    let bomb = vec![b' '; 40 << 20];
    let mxl = packed(&[("META-INF/container.xml", CONTAINER), ("deep/song.musicxml", &bomb)]);
    assert!(mxl.len() < 1 << 20);
    assert!(refusal(&mxl).contains("unpacks to more than 16384 KiB"));
    assert!(refusal(&packed(&[("a.txt", b"hi")])).contains("META-INF/container.xml"));
    let nothing = packed(&[("META-INF/container.xml", CONTAINER)]);
    assert!(refusal(&nothing).contains("no `deep/song.musicxml` in the archive"));
    assert!(refusal(&mxl[..2000]).contains("cannot be opened"));
}

#[test]
fn bad_scores_are_refused_with_their_line() {
    let refusal =
        |text: &str| load_chart(text.as_bytes(), "song.xml").expect_err("bad").to_string();
    assert!(refusal("<a>").starts_with("song.xml:1:"), "{}", refusal("<a>"));
    assert!(refusal("<html></html>").contains("`html` is no MusicXML score"));
    assert!(refusal(&score(&[&rest(8)])).contains("no chord symbols in this score"));
    let bad = head(0, "major", 4, 4)
        + "\n"
        + &harmony("H", 0, "major", "")
        + "\n"
        + &harmony("C", 0, "shiny", "")
        + &rest(8);
    let told = refusal(&score(&[&bad]));
    assert!(told.contains("song.xml:10:1: no note `H`"), "{told}");
    assert!(told.contains("song.xml:11:1: no kind `shiny`"), "{told}");
    let open = head(0, "major", 4, 4)
        + "<barline><repeat direction=\"forward\"/></barline>"
        + &harmony("C", 0, "major", "")
        + &rest(8);
    assert!(refusal(&score(&[&open])).contains("a repeat starts here"));
    for (beats, unit) in [(0, 4), (4, 0), (4, 3)] {
        let told = refusal(&score(&[
            &(head(0, "major", beats, unit) + &rest(8)),
            &harmony("C", 0, "major", ""),
        ]));
        assert!(told.starts_with("song.xml:9:"), "{told}");
        assert!(told.contains(&format!("no metre `{beats}/{unit}`")), "{told}");
    }
    for divisions in ["0", "-3", "x"] {
        let first = format!("<attributes><divisions>{divisions}</divisions></attributes>")
            + &harmony("C", 0, "major", "");
        let told = refusal(&score(&[&first]));
        assert!(told.contains(&format!("`{divisions}` divisions of a quarter note")), "{told}");
    }
}

#[test]
fn hostile_xml_is_survived() {
    let deep = "<a>".repeat(200_000);
    assert!(load_chart(deep.as_bytes(), "x").is_err());
    let laughs = "<!DOCTYPE a [<!ENTITY b \"xxxxxxxxxx\"><!ENTITY c \"&b;&b;&b;&b;&b;&b;&b;&b;\">\
                  <!ENTITY d \"&c;&c;&c;&c;&c;&c;&c;&c;\"><!ENTITY e \"&d;&d;&d;&d;&d;&d;&d;&d;\">\
                  <!ENTITY f \"&e;&e;&e;&e;&e;&e;&e;&e;\">]><a>&f;&f;&f;</a>";
    assert!(load_chart(laughs.as_bytes(), "x").is_err());
    let huge = head(0, "major", 4, 4)
        + &harmony("C", 0, "major", "<offset>1e308</offset>")
        + "<note><rest/><duration>1e308</duration></note>\
           <note><rest/><duration>1e308</duration></note>";
    let _ = load_chart(score(&[&huge]).as_bytes(), "x");
}

proptest! {
    #[test]
    fn no_bytes_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let _ = load_chart(&bytes, "x").map_err(|faults| faults.to_string());
        let zipped = [b"PK\x03\x04", &bytes[..]].concat();
        let _ = load_chart(&zipped, "x").map_err(|faults| faults.to_string());
    }

    #[test]
    fn no_damaged_score_panics(
        place in 0usize..2000, length in 0usize..40, filling in "[<>/a-z0-9\" =&;-]{0,20}",
    ) {
        let text = score(&[
            &(head(0, "major", 4, 4) + &harmony("C", 0, "dominant",
                "<degree><degree-value>9</degree-value><degree-alter>-1</degree-alter>\
                 <degree-type>add</degree-type></degree>") + &rest(8)),
            &(harmony("F", 0, "major", "") + &rest(8)),
        ]);
        let from = place.min(text.len());
        let to = (from + length).min(text.len());
        let damaged = format!("{}{filling}{}", &text[..from], &text[to..]);
        if let Ok(chart) = load_chart(damaged.as_bytes(), "x") {
            prop_assert!(Chart::read("x", &chart.to_string()).is_ok(), "{}", chart);
        }
    }
}

#[test]
fn swing_is_read_as_it_is_written() {
    for (percent, first, second, value) in [
        (Some(67), 2, 1, ""),
        (Some(58), 58, 42, "<swing-type>eighth</swing-type>"),
        (Some(75), 3, 1, ""),
        (None, 2, 1, "<swing-type>16th</swing-type>"),
    ] {
        let swing = format!(
            "<direction><direction-type><words>swing</words></direction-type><sound><swing>\
             <first>{first}</first><second>{second}</second>{value}</swing></sound></direction>"
        );
        let harmony = "<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>";
        let text = format!(
            "<score-partwise><part-list/><part id=\"P1\"><measure number=\"1\">{swing}{harmony}\
             </measure></part></score-partwise>"
        );
        let chart = load_chart(text.as_bytes(), "s.musicxml").expect("a chart");
        assert_eq!(chart.draft().swing, percent);
    }
}
