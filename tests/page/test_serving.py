"""The server itself: heard as soon as its address is printed, on this machine alone, and ended at once by a signal."""

from __future__ import annotations

import http.client
import signal
import socket
import subprocess
import sys

import pytest

from optiform import starter_brief
from optiform.faults import BadInput
from optiform.page.serving import opened


@pytest.mark.slow
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_ends_it_in_the_middle_of_a_question(tmp_path, number):
    (tmp_path / "x.toml").write_text(starter_brief("oily", "gel"), encoding="utf-8")
    command = [sys.executable, "-m", "optiform", "open", str(tmp_path), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None and process.stderr is not None
        address = process.stdout.readline().strip()
        talk = http.client.HTTPConnection(address.split("/")[2])
        talk.request("GET", "/?" + address.partition("?")[2])
        answer = talk.getresponse()
        cookie = answer.headers["set-cookie"].partition(";")[0]
        answer.read()
        talk.request("GET", "/curve/x.toml", headers={"cookie": cookie})
        assert b"One moment" in talk.getresponse().read()
        talk.close()
        process.send_signal(number)
        assert process.wait(60) == 4
        assert "Traceback" not in process.stderr.read()


def test_it_listens_on_this_machine_alone_and_says_when_a_port_is_taken(tmp_path):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        with pytest.raises(BadInput, match="cannot be used"):
            opened(tmp_path, other.getsockname()[1])


def test_the_rest_of_an_answer_does_not_wait_until_its_head_is_acknowledged(tmp_path, monkeypatch):
    """By RFC 896 it would, and by RFC 1122, 4.2.3.2, an acknowledgement may be late: on Linux by 40 ms (memory)."""
    made = []

    class Noted(socket.socket):
        def __init__(self, *arguments, **more):
            super().__init__(*arguments, **more)
            made.append(self)

    with monkeypatch.context() as noted:
        noted.setattr(socket, "socket", Noted)
        opened(tmp_path, 0)
        listening = made[0]
    with socket.create_connection(listening.getsockname()), listening.accept()[0] as talk, listening:
        assert talk.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)
