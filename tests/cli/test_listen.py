"""An instrument at the other end of a pair of pseudo-terminals, heard through the real port library."""

from __future__ import annotations

import os
import threading
import time
import tty

import pytest

from lodestarch.cli.listen import Spool, _opened, hear_port
from lodestarch.common.errors import Refused
from lodestarch.work.bench.entered import Sent
from lodestarch.work.bench.instrument_lines import LineTyped, describe_line, heard_lately
from web.workbench import PERSON, Workbench

PATIENCE_S = 20.0


@pytest.fixture
def wire():
    instrument, port = os.openpty()
    tty.setraw(port)
    yield instrument, os.ttyname(port)
    os.close(instrument)
    os.close(port)


class Ear:
    """Hears in a thread of its own until told to stop."""

    def __init__(self, device, spool, send):
        self.stopped, self.hears = threading.Event(), threading.Event()
        self.spool = spool
        self._thread = threading.Thread(target=self._hear, args=(device, send))
        self._thread.start()
        assert self.hears.wait(PATIENCE_S)

    def _hear(self, device, send):
        with _opened(device, 9600, 8, "N", 1) as port:
            self.hears.set()
            hear_port(port, "bench one", self.spool, send, until=self.stopped.is_set)

    def stop(self):
        self.stopped.set()
        self._thread.join(PATIENCE_S)
        assert not self._thread.is_alive()


def wait_for(what):
    until = time.monotonic() + PATIENCE_S
    while not what():
        assert time.monotonic() < until
        time.sleep(0.01)


def test_lines_come_through_whole_in_order_and_once(wire, tmp_path):
    instrument, device = wire
    sent, fails = [], iter([True, False, True])

    def send(line):
        if next(fails, False):  # the workbench does not answer now and then
            return False
        sent.append(line)
        return True

    spool = Spool(tmp_path / "heard.jsonl")
    ear = Ear(device, spool, send)
    os.write(instrument, b"No 8814 T1:  2")
    time.sleep(0.7)  # longer than the port's patience: the line is joined again
    os.write(instrument, b"87 s\r\nNo 8814 T2:  291 s\r\n\r\n\xff\x07 odd\r\n")
    wait_for(lambda: len(sent) == 3)
    ear.stop()
    assert [line.text for line in sent] == ["No 8814 T1:  287 s", "No 8814 T2:  291 s", r"\xff\x07 odd"]
    assert bytes.fromhex(sent[2].received) == b"\xff\x07 odd\r\n"
    assert Spool(tmp_path / "heard.jsonl").waiting == {}


def test_what_was_not_sent_waits_on_disk_and_goes_first(wire, tmp_path):
    instrument, device = wire
    path = tmp_path / "heard.jsonl"
    ear = Ear(device, Spool(path), lambda _line: False)
    os.write(instrument, b"first\n")
    wait_for(lambda: ear.spool.waiting)
    ear.stop()
    with path.open("ab") as file:
        file.write(b'{"line_id": "cut off by a power f')
    again, sent = Spool(path), []
    ear = Ear(device, again, lambda line: sent.append(line.text) or True)
    os.write(instrument, b"second\n")
    wait_for(lambda: len(sent) == 2)
    ear.stop()
    assert sent == ["first", "second"]
    assert Spool(path).waiting == {}


def test_from_the_wire_to_the_records(wire, tmp_path):
    instrument, device = wire
    lab = Workbench(tmp_path / "lab.db").sign_in()
    typed = LineTyped("bench one", "No {ticket} T{position}: {seconds} s")
    describe_line(lab.records, Sent("describe", "0" * 64), typed, person=PERSON, at=lab.clock())
    lab.enter("/tickets", ticket="8814")
    lab.enter("/tickets/8814/lowerings", bath="A")

    def send(line):
        answer = lab.enter("/heard", line.line_id, source=line.source, text=line.text)
        return answer.status_code in {200, 201}

    ear = Ear(device, Spool(tmp_path / "heard.jsonl"), send)
    os.write(instrument, b"self test passed\nNo 8814 T1:  287 s\nNo 8814 T2:  291 s\n")
    wait_for(lambda: len(heard_lately(lab.records)) == 3)
    ear.stop()
    assert lab.client.get("/api/v1/tickets/8814").json()["result"]["seconds"] == 289
    page = lab.client.get("/setup/instruments", params={"pattern": typed.pattern, "text": "No 1 T2: 3 s"})
    assert "self test passed" in page.text
    assert "<td>3</td>" in page.text
    lab.records.close()


def test_a_port_that_is_not_there_is_said(tmp_path):
    with pytest.raises(Refused, match="cannot be heard"), _opened(str(tmp_path / "no"), 9600, 8, "N", 1):
        pass
