"""What is heard, measured by another library: levels, pitches, the speakers.

Pitches against equal temperament at A4 = 440 Hz (ISO 16), by numpy's FFT.
"""

import sys
import wave

import numpy
import pytest

pytestmark = pytest.mark.real_time

CHART = """\
title: Long Tones
key: C
metre: 4/4
tempo: 60

| C | F | G7 | C |
"""


def read(path):
    """Both sides as floats of full scale 1, shape (frames, 2), and the rate."""
    with wave.open(str(path)) as file:
        assert file.getnchannels() == 2
        assert file.getsampwidth() == 2
        frames = numpy.frombuffer(file.readframes(file.getnframes()), dtype="<i2")
        return frames.reshape(-1, 2) / 32768, file.getframerate()


def classes(sound, rate):
    """How strong each pitch class is, C first, between C2 and C6."""
    middle = sound.mean(axis=1) * numpy.hanning(len(sound))
    strength = numpy.abs(numpy.fft.rfft(middle)) ** 2
    hertz = numpy.fft.rfftfreq(len(middle), 1 / rate)
    heard = (hertz > 64) & (hertz < 1050)
    keys = 69 + 12 * numpy.log2(hertz[heard] / 440)
    sums = numpy.zeros(12)
    numpy.add.at(sums, numpy.round(keys).astype(int) % 12, strength[heard])
    return sums / sums.sum()


@pytest.fixture
def chart(tmp_path):
    path = tmp_path / "long-tones.txt"
    path.write_text(CHART, encoding="utf-8")
    return path


def test_a_wav_file_sounds_the_chords_of_its_chart(sinistra, chart, tmp_path):
    wav = tmp_path / "out.wav"
    done = sinistra("perform", chart, "--wav", wav)
    assert done.returncode == 0, done.stderr
    sound, rate = read(wav)
    assert 0.05 < numpy.abs(sound).max() < 0.985, "heard, and not clipped"
    assert 16 <= len(sound) / rate <= 26, "four bars of four seconds, and a tail"
    assert numpy.abs(sound[-rate // 100 :]).max() < 0.002, "the tail is not cut off"
    for bar, tones in enumerate([(0, 4, 7), (5, 9, 0), (7, 11, 2, 5), (0, 4, 7)]):
        second = sound[int((bar * 4 + 0.1) * rate) : int((bar * 4 + 0.9) * rate)]
        strong = classes(second, rate)
        inside = sum(strong[tone] for tone in tones)
        assert inside > 0.8, f"bar {bar + 1}: {numpy.round(strong, 2)}"


def test_the_first_note_comes_on_time(sinistra, chart, tmp_path):
    wav = tmp_path / "out.wav"
    assert sinistra("perform", chart, "--wav", wav).returncode == 0
    sound, rate = read(wav)
    loud = numpy.abs(sound).max(axis=1) > 0.02
    assert numpy.argmax(loud) / rate < 0.02
    second = loud[4 * rate - rate // 2 : 4 * rate + rate // 2]
    assert second.any()


@pytest.mark.skipif(sys.platform != "linux", reason="ALSA is Linux's")
def test_what_the_speakers_get_is_the_same_music(sinistra, chart, tmp_path):
    """ALSA's own `file` device takes the place of a sound card."""
    out = tmp_path / "speakers.raw"
    config = tmp_path / "alsa.conf"
    config.write_text(
        f'pcm.nothing {{ type null }}\n'
        f'pcm.!default {{ type file slave.pcm "nothing" file "{out}" format "raw" }}\n',
        encoding="utf-8",
    )
    done = sinistra("perform", chart, cwd=tmp_path, env={"ALSA_CONFIG_PATH": str(config)})
    assert done.returncode == 0, done.stderr
    sound = numpy.frombuffer(out.read_bytes(), dtype="<f4").reshape(-1, 2)
    assert numpy.isfinite(sound).all()
    assert 0.01 < numpy.abs(sound).max() < 0.985
    strong = classes(sound[: 48000 * 3], 48000)
    assert strong[0] + strong[4] + strong[7] > 0.8, numpy.round(strong, 2)
    # It starts quiet.
    first, later = sound[:48000], sound[48000 * 12 : 48000 * 13]
    assert numpy.sqrt((first**2).mean()) < numpy.sqrt((later**2).mean())


def test_no_device_is_said_in_one_line(sinistra, chart, tmp_path):
    done = sinistra("perform", chart, cwd=tmp_path, env={"ALSA_CONFIG_PATH": "/nonexistent"})
    assert "ALSA lib" not in done.stderr, "the C library keeps quiet"
    assert "panicked" not in done.stderr
