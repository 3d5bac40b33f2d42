"""Outputs are whole or not there; nothing but plain files is ever replaced."""

import os

import pytest

from passage.errors import OutputError
from passage.files import atomic_path, write_text


def test_write_text_makes_the_file_and_leaves_nothing_else(tmp_path):
    write_text(tmp_path / "a.txt", "hello")
    assert (tmp_path / "a.txt").read_text() == "hello"
    assert os.listdir(tmp_path) == ["a.txt"]  # noqa: PTH208


def test_existing_file_is_kept_without_force(tmp_path):
    target = tmp_path / "a.txt"
    target.write_text("old")
    with pytest.raises(OutputError, match="--force"):
        write_text(target, "new")
    assert target.read_text() == "old"
    write_text(target, "new", force=True)
    assert target.read_text() == "new"


def test_failure_inside_leaves_the_old_file_and_no_part(tmp_path):
    target = tmp_path / "a.txt"
    target.write_text("old")
    with pytest.raises(RuntimeError), atomic_path(target, force=True) as part:  # noqa: PT012
        part.write_text("half")
        raise RuntimeError
    assert target.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.txt"]


def test_device_and_pipe_are_refused(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(OutputError, match="plain file"):
        write_text(pipe, "x", force=True)
    with pytest.raises(OutputError, match="plain file"):
        write_text(tmp_path.__class__("/dev/null"), "x", force=True)


def test_link_keeps_pointing(tmp_path):
    real, link = tmp_path / "real.txt", tmp_path / "link.txt"
    real.write_text("old")
    link.symlink_to(real)
    write_text(link, "new", force=True)
    assert link.is_symlink()
    assert real.read_text() == "new"


def test_missing_folder_is_reported(tmp_path):
    with pytest.raises(OutputError, match="does not exist"):
        write_text(tmp_path / "no" / "a.txt", "x")


def test_what_is_flushed_to_the_disk_may_be_written(tmp_path, monkeypatch):
    """Windows refuses to flush through a handle that only reads."""
    fcntl = pytest.importorskip("fcntl")
    modes = []
    real = os.fsync

    def seen(handle):
        modes.append(fcntl.fcntl(handle, fcntl.F_GETFL) & os.O_ACCMODE)
        real(handle)

    monkeypatch.setattr(os, "fsync", seen)
    with atomic_path(tmp_path / "a.txt") as path:
        path.write_text("words", encoding="utf-8")
    assert modes
    assert os.O_RDONLY not in modes
