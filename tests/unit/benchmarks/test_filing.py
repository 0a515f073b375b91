from __future__ import annotations

from pathlib import Path

from benchmarks.filing import file_section, table


def test_a_section_is_replaced_and_the_others_are_kept(tmp_path: Path) -> None:
    results = tmp_path / "results.md"
    file_section("Speed", table(["run", "ns"], [["one", 1]]), results)
    file_section("Memory", "- 12 MB", results)
    file_section("Speed", table(["run", "ns"], [["two", 2]]), results)
    text = results.read_text("utf-8")
    assert text.startswith("# Figures of record")
    assert text.count("## Speed") == text.count("## Memory") == 1
    assert "| two | 2 |" in text
    assert "| one | 1 |" not in text
    assert "- 12 MB" in text
    assert text.index("## Memory") < text.index("## Speed")
