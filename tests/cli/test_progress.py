"""Work over a second says so on stderr; shorter work stays silent."""

from __future__ import annotations

import time

import pytest

from ringrow.cli import options


def test_short_work_says_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    with options.progress("Reading"):
        pass
    assert capsys.readouterr() == ("", "")


def test_long_work_says_what_it_is_once_and_only_on_stderr(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(options, "PROGRESS_AFTER_S", 0.01)
    with options.progress("Laying out 3 fields"):
        time.sleep(0.2)
    out, err = capsys.readouterr()
    assert out == ""
    assert err == "Laying out 3 fields ...\n"


def test_an_error_inside_comes_through(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(KeyError, match="north"), options.progress("Reading"):
        raise KeyError("north")
