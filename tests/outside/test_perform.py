"""`sinistra perform` as a user meets it."""

import zipfile


def test_no_sound_device_writes_beside_and_never_over(sinistra, tmp_path):
    (tmp_path / "Kitchen Loop.mid").write_bytes(b"mine")
    done = sinistra("perform", "four-bar-loop", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    if "no sound here" in done.stdout:
        assert (tmp_path / "Kitchen Loop-2.mid").stat().st_size > 100
        assert (tmp_path / "Kitchen Loop-2.wav").stat().st_size > 100_000
    assert (tmp_path / "Kitchen Loop.mid").read_bytes() == b"mine"


def test_a_named_file_is_not_replaced_unasked(sinistra, tmp_path):
    out = tmp_path / "out.mid"
    out.write_bytes(b"mine")
    done = sinistra("perform", "four-bar-loop", "--midi", out)
    assert done.returncode == 2 and out.read_bytes() == b"mine"
    done = sinistra("perform", "four-bar-loop", "--midi", out, "--force")
    assert done.returncode == 0 and out.read_bytes().startswith(b"MThd")


def test_nothing_is_written_where_a_second_file_cannot_be(sinistra, tmp_path):
    one = tmp_path / "one.mid"
    for other in [one, tmp_path / "nowhere" / "two.wav"]:
        done = sinistra("perform", "four-bar-loop", "--midi", one, "--wav", other, "--force")
        assert done.returncode == 2 and str(other) in done.stderr
        assert list(tmp_path.iterdir()) == []
    files = ["--midi", one, "--wav", tmp_path / "two.wav"]
    done = sinistra("perform", "four-bar-loop", *files, "--soundfont", __file__)
    assert done.returncode == 2 and "not a SoundFont" in done.stderr
    assert list(tmp_path.iterdir()) == []
    sinistra("perform", "four-bar-loop", "--hands", "right", "--midi", one)
    done = sinistra("harmonise", one, "-o", tmp_path / "o.mid", "--report", tmp_path / "o.mid")
    assert done.returncode == 2 and list(tmp_path.iterdir()) == [one]


def test_a_bad_chart_is_told_line_by_line(sinistra, tmp_path):
    chart, out = tmp_path / "bad.txt", tmp_path / "out.mid"
    chart.write_text("key: H\n| C | Fx |\n| C . F |\n")
    done = sinistra("perform", "bad.txt", "--midi", out, cwd=tmp_path)
    assert done.returncode == 2 and done.stdout == "" and not out.exists()
    for place in ["bad.txt:1:6:", "bad.txt:2:8:", "bad.txt:3:3:"]:
        assert place in done.stderr
    assert done.stderr.count("hint:") == 3


def test_keys_move_and_modes_do_not(sinistra, tmp_path):
    done = sinistra("perform", "lantern-street", "--key", "Eb", "--midi", tmp_path / "a.mid")
    assert done.returncode == 0 and "E♭" in done.stdout and "Cm" in done.stdout
    done = sinistra("perform", "lantern-street", "--key", "Cm", "--midi", tmp_path / "b.mid")
    assert done.returncode == 2 and "major key" in done.stderr
    assert not (tmp_path / "b.mid").exists()


def test_no_colour_where_nobody_looks(sinistra, tmp_path):
    done = sinistra("perform", "slow-rain", "--midi", tmp_path / "a.mid")
    assert "\x1b" not in done.stdout
    assert "1   2   3   4   5   6   7   8   9   10  11  12" in done.stdout


def test_a_sheet_in_a_format_that_is_not_written_is_refused(sinistra, tmp_path):
    for name in ["evening.docx", "evening.mxl", "evening"]:
        done = sinistra("perform", "four-bar-loop", "--sheet", tmp_path / name)
        assert done.returncode == 2 and ".musicxml or .svg" in done.stderr
        assert list(tmp_path.iterdir()) == []


def test_our_sheet_and_its_archive_load_as_charts(sinistra, tmp_path):
    sheet = tmp_path / "sheet.musicxml"
    done = sinistra("perform", "millers-gate", "--sheet", sheet)
    assert done.returncode == 0, done.stderr
    first = sinistra("perform", sheet, "--midi", tmp_path / "a.mid")
    assert first.returncode == 0, first.stderr
    with zipfile.ZipFile(tmp_path / "sheet.mxl", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(
            "META-INF/container.xml",
            '<container><rootfiles><rootfile full-path="s.musicxml"/></rootfiles></container>',
        )
        archive.write(sheet, "s.musicxml")
    second = sinistra("perform", tmp_path / "sheet.mxl", "--midi", tmp_path / "b.mid")
    assert second.returncode == 0, second.stderr
    assert (tmp_path / "a.mid").read_bytes() == (tmp_path / "b.mid").read_bytes()


def test_unknown_names_list_what_ships(sinistra):
    done = sinistra("perform", "no-such-chart")
    assert done.returncode == 2 and "lantern-street" in done.stderr
    done = sinistra("perform", "lantern-street", "--pattern", "no-such-pattern")
    assert done.returncode == 2 and "roots-on-the-beat" in done.stderr
