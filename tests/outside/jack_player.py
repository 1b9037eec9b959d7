"""Keyboard, sound module and ear at a JACK server: a client of our own.

It runs in a process of its own, for two reasons. What the test does meanwhile
(reading files, comparing pictures) makes it miss no period. And it ends by
being killed: `jack_deactivate` cancels the thread that JACK calls us in, and a
thread that is cancelled while it waits for Python's lock keeps the whole
interpreter waiting for ever. A question that is not answered in time is an
error, with the stacks of the client on standard error.

    python jack_player.py SERVER [wall] [floods]     (asked over its pipes)

`wall`: counts by the clock on the wall, as the dummy driver's own falls behind
it on a busy machine. `floods`: can fill every period to the brim.
"""

import faulthandler
import os
import pickle
import select
import signal
import subprocess
import sys
import time

RATE = 48000
PATIENCE = 120  # seconds for an answer; the longest play is 50


class Player:
    """The test's side. Frames are the server's, at `RATE`."""

    def __init__(self, server, *abilities):
        command = [sys.executable, __file__, server, *abilities]
        self.running = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        self.all, self.begin = [], 0
        self.ask("time")  # it is there, and so is the server

    def ask(self, what, *words):
        pickle.dump((what, words), self.running.stdin)
        self.running.stdin.flush()
        if not select.select([self.running.stdout], [], [], PATIENCE)[0]:
            self.running.send_signal(signal.SIGABRT)
            raise AssertionError(f"the JACK client does not answer to {what}")
        done, answer = pickle.load(self.running.stdout)
        assert done, f"the JACK client, asked to {what}: {answer}"
        return answer

    def play(self, plan, seconds):
        """Messages at seconds from a moment after now; lets so much time go
        by, of the server's, as fast as everybody is done."""
        assert self.ask("play", plan, seconds), "all was sent"

    def plan(self, plan):
        """Messages at frames, in real time; instead of those before."""
        self.ask("expect", sorted(plan, key=lambda event: event[0]))

    @property
    def now(self):
        return self.ask("time")

    @property
    def sent(self):
        """Frame and message of all that went out."""
        return self.ask("gone")

    @property
    def heard(self):
        """Frame and message of what came since `forget`."""
        self.all += self.ask("came", len(self.all))
        return self.all[self.begin :]

    def forget(self):
        self.begin += len(self.heard)

    def sounding(self):
        """Channel and key of what began and was not ended by a message of its
        own (MIDI 1.0: note off, or note on with velocity 0)."""
        down = set()
        for _, m in self.heard:
            if m[0] & 0xF0 == 0x90 and m[2]:
                down.add((m[0] & 15, m[1]))
            elif m[0] & 0xF0 in (0x80, 0x90):
                down.discard((m[0] & 15, m[1]))
        return down

    def close(self):
        """Leaves the graph first: JACK waits five seconds for one that was killed."""
        pickle.dump(("leave", ()), self.running.stdin)
        self.running.stdin.flush()
        select.select([self.running.stdout], [], [], 1)
        self.running.kill()
        self.running.wait()
        self.running.stdin.close()
        self.running.stdout.close()


def client(name, abilities):
    """The client's side, at the server of that name."""
    import jack
    import numpy

    class Client:
        floods, flooded, echoes = False, 0, False

        def __init__(self):
            self.client = self.open()
            self.back = self.client.midi_inports.register("module")
            self.ear = self.client.inports.register("ear")
            self.planned, self.sent, self.heard, self.now = [], [], [], 0
            self.levels = []
            self.plug()
            self.client.set_process_callback(self.process)
            self.client.activate()

        def open(self):
            for left in reversed(range(100)):
                try:
                    return jack.Client("Player", no_start_server=True, servername=name)
                except jack.JackOpenError:
                    if not left:
                        raise
                time.sleep(0.1)

        def process(self, frames):
            if "wall" in abilities:
                self.now = round(time.monotonic() * RATE)
            now, self.now = self.now, self.now + frames
            if out := self.out:
                out.clear_buffer()
                self.send(out, now, frames)
            self.levels.append(float(numpy.abs(self.ear.get_array()).max()))
            for offset, data in self.back.incoming_midi_events():
                self.heard.append((now + offset, bytes(data)))
                if self.echoes:
                    self.planned.append((0, bytes(data)))

        def send(self, out, now, frames):
            while self.planned and self.planned[0][0] < now + frames:
                at, message = self.planned.pop(0)
                offset = max(at - now, 0)
                out.write_midi_event(offset, message)
                self.sent.append((now + offset, bytes(message)))
            if not self.floods:
                return
            self.flooded += 1
            for size in (2000, 200, 20, 1):
                message = b"\xf0\x7d" + bytes(size - 3) + b"\xf7" if size > 1 else b"\xfe"
                try:
                    while True:
                        out.write_midi_event(frames - 1, message)
                except jack.JackError:
                    pass

        def play(self, plan, seconds):
            self.client.set_freewheel(True)
            base = self.now + RATE // 4
            self.planned = sorted(((base + round(at * RATE), m) for at, m in plan), key=lambda e: e[0])
            for _ in range(1000):
                time.sleep(0.05)
                if self.now > base + seconds * RATE:
                    break
            self.client.set_freewheel(False)
            return not self.planned

        def expect(self, plan):
            self.planned = plan

        def time(self):
            return self.now

        def gone(self):
            return self.sent

        def came(self, begin):
            return self.heard[begin:]

        def loudest(self):
            """The loudest sample of each period."""
            return self.levels

        def flood(self, on):
            """Fills every period from now on, or no more; in how many so far."""
            assert "floods" in abilities
            self.floods = on
            return self.flooded

        def echo(self, on):
            """Sends back whatever comes, in the next period."""
            self.echoes = on

        def plug(self):
            self.out = self.client.midi_outports.register("keys")

        def unplug(self):
            out, self.out = self.out, None
            time.sleep(0.1)  # a period may be under way
            out.unregister()

        def leave(self):
            self.client.deactivate()

        def ports(self, pattern, flags):
            return [port.name for port in self.client.get_ports(pattern, **flags)]

        def connections(self, port):
            return [other.name for other in self.client.get_all_connections(port)]

        def connect(self, one, other):
            self.client.connect(one, other)

        def disconnect(self, one, other):
            self.client.disconnect(one, other)

    return Client()


def main(name, *abilities):
    # JACK writes a line for each message that found no room: to nowhere.
    said, answers, nowhere = os.dup(2), os.fdopen(os.dup(1), "wb"), os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1), os.dup2(nowhere, 2)
    sys.stderr = os.fdopen(said, "w", buffering=1)
    faulthandler.enable(sys.stderr)
    asked = client(name, abilities)
    while True:
        try:
            what, words = pickle.load(sys.stdin.buffer)
        except EOFError:
            os._exit(0)  # who asks is gone
        try:
            answer = True, getattr(asked, what)(*words)
        except Exception as error:
            answer = False, repr(error)
        pickle.dump(answer, answers)
        answers.flush()


if __name__ == "__main__":
    main(*sys.argv[1:])
