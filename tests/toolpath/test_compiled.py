"""Compiled code is kept per kernel, and its absence is said."""

import logging
from pathlib import Path

import platformdirs
import pytest

from feedwright.toolpath import compiled
from feedwright.toolpath.prepare import compile_kernels


def test_the_folder_is_named_by_the_kernel_it_holds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(platformdirs, "user_cache_path", lambda *_, **__: tmp_path)
    assert compiled.cache_folder.__wrapped__() == tmp_path / f"compiled-{compiled.KERNEL_DIGEST[:16]}"


def test_without_a_writable_folder_the_log_says_what_that_costs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("")
    monkeypatch.setattr(platformdirs, "user_cache_path", lambda *_, **__: blocked)
    with caplog.at_level(logging.WARNING):
        assert compiled.cache_folder.__wrapped__() is None
    assert "compiled anew at every start" in caplog.text


def test_preparing_twice_compiles_once_and_then_says_nothing() -> None:
    compile_kernels(lambda _: None)
    said: list[str] = []
    compile_kernels(said.append)
    assert said == []
