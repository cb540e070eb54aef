"""The command as a process of its own: start-up, pipes, encodings."""

from __future__ import annotations

import os
import subprocess
import sys
import time

import pytest

from tideover import __version__

COMMAND = [sys.executable, "-m", "tideover"]


def call(*arguments, **environment):
    kept = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "PYTHONIOENCODING", "TIDEOVER_DEBUG")}
    kept |= {"PYTHONIOENCODING": "utf-8", **environment}
    return subprocess.run([*COMMAND, *arguments], capture_output=True, env=kept, check=False)


def test_the_version_comes_at_once():
    taken = []
    for _ in range(3):
        start = time.perf_counter()
        said = call("--version").stdout.decode()
        taken.append(time.perf_counter() - start)
        assert said == f"tideover {__version__}\n"
    assert min(taken) < 0.3


@pytest.mark.parametrize(
    "arguments", [["--version"], ["--help"], ["sheet", "--help"], ["parts"], ["parts", "relay"], ["parts", "sundial"]]
)
def test_light_commands_load_nothing_heavy(arguments):
    code = (
        "import sys\nfrom tideover.cli.program import run\n"
        f"run({arguments!r})\n"
        "print([m for m in ('numpy', 'scipy', 'pydantic', 'ruamel.yaml') if m in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, encoding="utf-8")
    assert done.stderr.splitlines()[-1] == "[]"


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp437", "utf-16", "utf-8"])
def test_any_encoding_can_be_written(encoding):
    for arguments in (["parts"], ["parts", "barrel jack 5.5/2.1"], ["parts", "µΩ²"], ["sheet", "Küste/ﬂut"]):
        done = call(*arguments, PYTHONIOENCODING=encoding, PYTHONUTF8="0")
        assert done.returncode in (0, 2)
        said = (done.stdout + done.stderr).decode(encoding, "replace") if encoding != "utf-16" else ""
        assert "Traceback" not in said and "Error" not in said and "fault of ours" not in said


def test_ascii_keeps_the_units_readable():
    said = call("parts", "barrel jack 5.5/2.1", PYTHONIOENCODING="ascii").stdout.decode("ascii")
    assert "15 mohm -50/+100 %" in said and "70 degC" in said and "?" not in said


def test_a_reader_who_leaves_early_is_no_fault():
    reading = subprocess.Popen([*COMMAND, "parts"], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    reading.stdout.close()
    assert reading.stderr.read() == b""
    reading.stderr.close()
    assert reading.wait() == 0


def test_pipes_get_no_colour():
    for arguments in (["parts", "relay"], ["parts", "--keys", "relay"]):
        assert b"\x1b" not in call(*arguments).stdout


def test_no_arguments_show_what_there_is():
    done = call()
    assert done.stdout == call("--help").stdout and done.stderr == b"" and done.returncode == 0
