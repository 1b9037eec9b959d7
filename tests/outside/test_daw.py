"""The VST3 in a DAW that other people wrote: Ardour, without its window.

Skipped, and said so, where it is not installed (`cargo xtask test` tries to)."""

import os
from pathlib import Path

import pytest
from daw_session import Ardour


C, A_MINOR, F, G = [64, 67, 72], [64, 69, 72], [65, 69, 72], [62, 67, 71]
ROOTS = [0, 9, 5, 7]
LAST = 60  # the split: keys from here up are the right hand's


@pytest.fixture(scope="module")
def ardour(tmp_path_factory):
    found = sorted(Path("/usr/bin").glob("ardour[0-9]*-lua"))
    if not found:
        pytest.skip("NOT CHECKED IN A DAW: Ardour is not installed")
    folder = Path(os.environ["SINISTRA"]).parent
    built = [folder / "libsinistra_plugin.so", folder / "deps/libsinistra_plugin.so"]
    library = max((path for path in built if path.exists()), key=lambda path: path.stat().st_mtime)
    return Ardour(found[-1], tmp_path_factory.mktemp("home"), library)


def made(ardour, tmp_path, bars, **words):
    session, said = ardour.session(tmp_path / "song", bars, **words)
    if session is None:
        pytest.skip(f"NOT CHECKED IN A DAW: Ardour {ardour.version} makes no session: {said[-400:]}")
    return session


def left(notes):
    """Beat, nearest thousandth, and class of each stroke of the left hand."""
    return [(round(on, 2), key % 12) for on, _, key in notes if key < LAST]


def right(notes):
    return [round(on, 3) for on, _, key in notes if key >= LAST]


def test_it_is_found_and_described(ardour):
    assert "Found Plugin: Sinistra" in ardour.scanned, ardour.scanned


@pytest.mark.parametrize("buffer", [1024, 256])
def test_roots_are_on_the_beat_and_none_before(ardour, tmp_path, buffer):
    session = made(ardour, tmp_path, [C, A_MINOR, F, G] * 2)
    notes = session.play(bars=7, buffer=buffer)
    expected = [(float(beat), ROOTS[beat // 4 % 4]) for beat in range(28)]
    assert left(notes)[:28] == expected
    assert right(notes)[:21:3] == [4.0 * bar for bar in range(7)]


@pytest.mark.parametrize("first", [0, 2])
def test_ahead_it_is_in_the_right_bar_from_the_first_on(ardour, tmp_path, first):
    # Two keys that are in both chords: only the chart can tell, by the bar.
    chart = "key: C\nmetre: 4/4\n\n| C | Em | C | Em | C | Em | C | Em |\n"
    session = made(ardour, tmp_path, [[64, 67]] * 8, ahead=4, chart=chart)
    notes = session.play(bars=4, first=first)
    assert session.latency == 4 * 24_000
    beats = range(4 * first, 4 * first + 16)
    # It may wait for two keys to settle (30 ms); here it is about the bar.
    played = [(round(on * 8) / 8, key) for on, key in left(notes)]
    assert played[:16] == [(float(beat), [0, 4][beat // 4 % 2]) for beat in beats]
    assert session.state()["params"]["ahead"] == {"i32": 4}


def test_a_waltz_has_three_beats_to_the_bar(ardour, tmp_path):
    session = made(ardour, tmp_path, [C, A_MINOR, F, G] * 2, beats=3, patrn=11)
    notes = session.play(bars=6)
    firsts = [(on, key) for on, key in left(notes) if on % 3 == 0]
    assert firsts[:6] == [(3.0 * bar, ROOTS[bar % 4]) for bar in range(6)]


def test_taken_away_while_it_plays_it_leaves_nothing_sounding(ardour, tmp_path):
    session = made(ardour, tmp_path, [C, A_MINOR, F, G] * 2)
    notes = session.play(bars=6, remove_in=2)
    assert left(notes)
    assert max(off for _, off, key in notes if key < LAST) <= 6 * 4 + 4
