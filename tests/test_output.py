"""A file appears whole or not at all."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

import pytest

from planner.files.output import OutputError, make_folder, write_text, write_whole


def test_a_text_is_written_as_it_is(tmp_path: Path) -> None:
    write_text(tmp_path / "a.csv", "größe\r\n")
    assert (tmp_path / "a.csv").read_bytes() == "größe\r\n".encode()
    assert [path.name for path in tmp_path.iterdir()] == ["a.csv"]


def test_a_failure_leaves_the_older_file_and_nothing_else(tmp_path: Path) -> None:
    target = tmp_path / "a.pdf"
    target.write_text("old", encoding="utf-8")

    def fail(path: Path) -> None:
        path.write_text("half", encoding="utf-8")
        raise RuntimeError("stop")

    with pytest.raises(RuntimeError, match="stop"):
        write_whole(target, fail)
    assert target.read_text(encoding="utf-8") == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["a.pdf"]


def test_ctrl_c_leaves_nothing(tmp_path: Path) -> None:
    def stop(_: Path) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_whole(tmp_path / "a.pdf", stop)
    assert list(tmp_path.iterdir()) == []


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("", encoding="utf-8")
    with pytest.raises(OutputError, match=r"is a file, not a folder\. Fix: give another folder with --output"):
        make_folder(tmp_path / "out")
    with pytest.raises(OutputError, match="cannot be written"):
        make_folder(tmp_path / "out" / "deeper")


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"gone: cannot be written \(no such file or directory\)"):
        write_text(tmp_path / "gone" / "a.csv", "x")


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such permissions")
def test_a_finished_file_is_no_more_private_than_others(tmp_path: Path) -> None:
    before = os.umask(0o022)
    try:
        write_text(tmp_path / "a.csv", "x")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "a.csv").stat().st_mode) == 0o644
