"""Who gets in: encrypted where there is a certificate, no word that is none, not all desks for one, no old cookie."""

import asyncio
import http.client
import os
import re
import ssl
import stat
import subprocess
import sys
from urllib.parse import urlencode

import pytest
from class_bench import Server

from helpers.serving import __main__ as command
from helpers.serving import desks as of_desks
from helpers.serving.__main__ import fingerprint, make_pair, tls_context
from helpers.serving.class_server import _secret
from helpers.serving.desks import Desks, Refused, WrongWord

WORD = "my own word"


@pytest.fixture
def desks(tmp_path, monkeypatch):
    monkeypatch.setattr(of_desks, "COST", {"n": 2, "r": 1, "p": 1})
    return Desks(tmp_path / "desks", 40, 6)


def test_a_desk_that_was_taken_anew_is_not_opened_by_the_old_cookie(desks):
    desk = desks.sit("Ada", WORD)
    old = desks.key(desk)
    assert desks.of_key(old).name == "Ada"
    (desk.folder / "desk.json").unlink()
    assert desks.of_key(old) is None
    desks.sit("Ada", "another word")
    assert desks.of_key(old) is None
    assert desks.of_key(desks.key(desk)).name == "Ada"
    for key in ("", ":", "../desks:x", f"{desk.folder.name}:", desk.folder.name, f"{desk.folder.name}:\u00e9"):
        assert desks.of_key(key) is None


def test_nobody_takes_all_desks_from_one_computer(desks):
    for number in range(6):
        desks.sit(f"Ghost {number}", WORD, "192.168.0.66")
    with pytest.raises(Refused, match="6 desks were taken from this computer already, as many as from one"):
        desks.sit("Ghost 7", WORD, "192.168.0.66")
    assert desks.sit("Ghost 3", WORD, "192.168.0.66").name == "Ghost 3"
    assert desks.sit("Ada", WORD, "192.168.0.7").name == "Ada"


def test_a_new_word_has_six_letters_and_an_older_one_of_four_still_opens_its_desk(desks, monkeypatch):
    with pytest.raises(Refused, match="6 letters"):
        desks.sit("Ada", "0731")
    monkeypatch.setattr(of_desks, "SHORTEST_NEW", 4)
    desks.sit("Bob", "0731")
    monkeypatch.setattr(of_desks, "SHORTEST_NEW", 6)
    assert desks.sit("Bob", "0731").name == "Bob"
    with pytest.raises(WrongWord):
        desks.sit("Bob", "0732")


TAKES = """
import sys
from pathlib import Path
from helpers.serving import desks
desks.COST = {"n": 2, "r": 1, "p": 1}
sys.stdin.readline()
try:
    desks.Desks(Path(sys.argv[1]), 40).sit("Ada", sys.argv[2])
    print("in")
except desks.WrongWord:
    print("out")
"""


def test_of_two_servers_that_give_one_desk_away_one_does(tmp_path):
    for number in range(3):
        line = [sys.executable, "-c", TAKES, str(tmp_path / str(number))]
        both = [
            subprocess.Popen([*line, word], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
            for word in ("first word", "other word")
        ]
        for one in both:
            one.stdin.write("\n")
            one.stdin.flush()
        assert sorted(one.communicate()[0].strip() for one in both) == ["in", "out"]
        assert not list(tmp_path.rglob(".desk.json*"))


@pytest.mark.parametrize("kept", ["", "\n \n", "ab", "x" * 300])
def test_a_word_of_the_class_that_is_none_starts_no_server(tmp_path, kept, capsys):
    (tmp_path / "class_word.txt").write_text(kept)
    with pytest.raises(SystemExit) as ended:
        command.main(["run", str(tmp_path)])
    assert ended.value.code == 1
    assert "class_word.txt must hold a word of 4 to 200 letters" in capsys.readouterr().err


def test_a_secret_that_is_none_starts_no_server(tmp_path):
    (tmp_path / "cookie_secret").write_bytes(b"")
    with pytest.raises(ValueError, match="cookie_secret must hold 32 bytes, got 0"):
        _secret(tmp_path / "cookie_secret")


def test_a_disk_that_is_full_leaves_no_empty_word(tmp_path, monkeypatch, capsys):
    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(SystemExit):
        command.main(["run", str(tmp_path)])
    assert "could not be written: the disk is full" in capsys.readouterr().err
    assert not (tmp_path / "class_word.txt").exists()


def test_a_pair_for_encryption_is_its_owners_alone_and_is_not_written_over(tmp_path, capsys):
    command.main(["certificate", str(tmp_path), "--address", "127.0.0.1"])
    told = capsys.readouterr().out
    certificate, key = tmp_path / "certificate.pem", tmp_path / "key.pem"
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert re.search(r"\b([0-9A-F]{2}:){31}[0-9A-F]{2}\b", told)[0] == fingerprint(certificate)
    before = key.read_bytes()
    with pytest.raises(ValueError, match=r"key\.pem cannot be written: File exists"):
        make_pair(tmp_path, "127.0.0.1")
    assert key.read_bytes() == before
    make_pair(tmp_path / "other", "class-pc")
    with pytest.raises(ValueError, match="certificate and key must be files in PEM that belong together"):
        tls_context(certificate, tmp_path / "other" / "key.pem")
    with pytest.raises(ValueError, match=r"certificate key\.pem must be a file in PEM that holds a certificate"):
        fingerprint(key)


@pytest.mark.skipif(sys.platform == "win32", reason="a server of this kind runs on Linux and macOS")
def test_a_class_with_a_certificate_is_encrypted_and_says_what_to_compare(tmp_path):
    certificate, key = make_pair(tmp_path / "pair", "127.0.0.1")
    (tmp_path / "class").mkdir()
    server = Server(tmp_path / "class", 2, cold=True)
    server.command += ["--pages=0", f"--certificate={certificate}", f"--key={key}"]
    with server:
        asyncio.run(up(server))
        told = (tmp_path / "class" / "server.log").read_text()
        assert f"The class is at https://127.0.0.1:{server.port}/" in told
        assert f"Fingerprint (SHA-256) that a browser must show: {fingerprint(certificate)}" in told
        trusted = ssl.create_default_context(cafile=str(certificate))  # and the address must be the one it was made for
        status, headers, page = asked(server, trusted, "GET", "/login")
        assert status == 200
        ticket = next(line for line in headers.get_all("Set-Cookie") if line.startswith("_xsrf"))
        assert "secure" in ticket.lower()
        address = re.search(r'action="(/login\?[^"]+)"', page)[1]
        form = urlencode({"name": "Ada", "word": WORD, "class_word": server.word})
        status, headers, _ = asked(server, trusted, "POST", address, form, ticket.partition(";")[0])
        assert status == 302
        (cookie,) = [line.lower() for line in headers.get_all("Set-Cookie") if line.startswith("pressure-loop-desk")]
        assert all(word in cookie for word in ("httponly", "secure", "samesite=lax"))


async def up(server):
    for _ in range(300):
        try:
            _, writer = await asyncio.open_connection("127.0.0.1", server.port)
        except OSError:
            await asyncio.sleep(0.1)
        else:
            writer.close()
            return


def asked(server, trusted, method, path, body=None, cookie=""):
    line = http.client.HTTPSConnection("127.0.0.1", server.port, timeout=20, context=trusted)
    line.request(method, path, body, {"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded"})
    answer = line.getresponse()
    text = answer.read().decode()
    line.close()
    return answer.status, answer.headers, text


@pytest.mark.parametrize(
    "wish",
    ["--port 99999", "--port -1", "--port 0", "--idle-minutes inf", "--idle-minutes nan", "--idle-minutes 0", "--desks 0", "--pages -3"],
)
def test_no_server_is_started_with_a_number_that_no_class_can_have(tmp_path, wish, capsys):
    with pytest.raises(SystemExit):
        command.main(["run", str(tmp_path / "class"), *wish.split()])
    assert re.search("must be from [01] to", capsys.readouterr().err)
    assert not (tmp_path / "class").exists()


def test_a_folder_without_a_desk_is_not_collected_in_silence(tmp_path, capsys):
    with pytest.raises(SystemExit):
        command.main(["collect", str(tmp_path / "another"), str(tmp_path / "into")])
    assert "There is no desk in another/desks" in capsys.readouterr().err
    assert not (tmp_path / "into").exists()
