"""Serving: addresses as typed, a place that is taken, and a server that answers."""

from __future__ import annotations

import http.client
import os
import re
import signal
import socket
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from brewlog.management.serving import (
    Address,
    AddressError,
    listen,
    names_of_this_machine,
    read_address,
)

ROOT = Path(__file__).resolve().parent.parent.parent


@pytest.mark.parametrize(
    ("typed", "host", "port"),
    [
        ("127.0.0.1:8000", "127.0.0.1", 8000),
        ("8080", "127.0.0.1", 8080),
        (":8080", "127.0.0.1", 8080),
        ("0.0.0.0:80", "0.0.0.0", 80),
        ("brewery.local:8000", "brewery.local", 8000),
        ("[::1]:8000", "::1", 8000),
    ],
)
def test_an_address_is_read_as_people_write_it(typed, host, port):
    assert read_address(typed) == Address(host, port)


@pytest.mark.parametrize("typed", ["", "localhost", "127.0.0.1:", "1.2.3.4:99999", "a:b", "a:-1"])
def test_what_is_no_address_is_refused_with_what_to_write(typed):
    with pytest.raises(AddressError, match="Write it like 127"):
        read_address(typed)


def test_a_place_that_is_taken_is_said_with_another_to_take():
    with listen(Address("127.0.0.1", 0)) as first:
        port = first.getsockname()[1]
        with pytest.raises(AddressError, match=f"--address 127.0.0.1:{port % 65535 + 1}"):
            listen(Address("127.0.0.1", port))


def test_a_place_that_is_not_ours_is_said():
    # 192.0.2.0/24 belongs to nobody (RFC 5737).
    with pytest.raises(AddressError, match=r"192\.0\.2\.1:8000 cannot be used"):
        listen(Address("192.0.2.1", 8000))


def test_others_reach_this_machine_by_its_name():
    assert socket.gethostname().lower() in names_of_this_machine()


def manage(folder: Path, *arguments: str) -> subprocess.Popen[str]:
    kept = {k: v for k, v in os.environ.items() if k in {"PATH", "HOME", "LANG"}}
    return subprocess.Popen(
        [sys.executable, "-u", "manage.py", *arguments],
        cwd=ROOT,
        env={**kept, "BREWLOG_DATA": str(folder)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def test_serving_where_something_listens_ends_with_a_sentence(tmp_path):
    with listen(Address("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        out, err = manage(tmp_path, "serve", "--address", f"{port}").communicate(timeout=180)
    assert out == ""
    assert err.startswith(f"Something listens at 127.0.0.1:{port} already")
    assert not (tmp_path / "brewlog.sqlite3").exists()


def test_a_new_brewery_is_made_served_and_stopped(tmp_path):
    server = manage(tmp_path, "serve", "--address", "127.0.0.1:0")
    assert server.stdout is not None
    said = [server.stdout.readline() for _ in range(4)]
    try:
        assert said[0].startswith("Bringing the database up to date")
        assert "Nobody can log in yet" in said[2]
        assert re.search(r"/first-manager/ with the set-up code [A-Z2-9-]{14},", said[2])
        place = re.search(r"http://127\.0\.0\.1:(\d+)/", said[1])
        assert place is not None

        with closing(http.client.HTTPConnection("127.0.0.1", int(place[1]), timeout=30)) as page:
            page.request("GET", "/")
            answer = page.getresponse()
        assert (answer.status, answer.getheader("Location")) == (302, "/log-in/?next=/")

        made = manage(tmp_path, "first_manager", "ines", "Inês Prado Vale")
        out, err = made.communicate("salt and tea 9\n", timeout=180)
        assert (made.returncode, out, err) == (0, "Inês Prado Vale can log in as ines.\n", "")
        again = manage(tmp_path, "first_manager", "rui", "Rui Prado")
        out, err = again.communicate("salt and tea 9\n", timeout=180)
        assert (again.returncode, out) == (1, "")
        assert "There is a manager already" in err
    finally:
        server.send_signal(signal.SIGTERM)
        _, err = server.communicate(timeout=180)
    assert (server.returncode, err) == (0, "")
