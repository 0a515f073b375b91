"""The shed sheet and the label as PDF: one page, the keeper's words as data, codes that scan."""

from __future__ import annotations

import datetime as dt
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from bedlore.farm.load import load_farm
from bedlore.say import say, speaking
from bedlore.service.account import report_account
from bedlore.service.marks import Marked
from bedlore.service.shed_sheet import Sheet
from bedlore.service.shown import Shown
from bedlore.sheets.shed_sheet import label_pdf, shed_sheet_pdf
from tests.morning_fake import FARM_FILE, morning
from tests.unit.sheets.test_printed import MARKUP

FARM = load_farm(FARM_FILE)
ADDRESS = "https://mill.local:8021/at/ousel-mill-kitchen-garden/sluice/"
FEBRUARY = dt.date(2026, 2, 1)
needs_poppler = pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="no poppler here")


def marked(number: int = 1, name: str = "") -> Marked:
    bed = FARM.beds[number - 1]
    return Marked(bed.model_copy(update={"name": name or bed.name}), number)


@pytest.fixture(scope="module")
def beds() -> list[dict[str, Any]]:
    return list(report_account(morning(FARM))["beds"])


def sheet(beds: list[dict[str, Any]], units: str = "metric", name: str = "") -> bytes:
    told = next(bed for bed in beds if bed["bed"] == "sluice")
    return shed_sheet_pdf(FARM, marked(1, name), Sheet("sluice", FEBRUARY), told,
                          Shown(units), ADDRESS)  # type: ignore[arg-type] # fmt: skip


def words_of(pdf: bytes, folder: Path) -> tuple[str, str]:
    """The words of a PDF, and what poppler says about it."""
    path = folder / "a.pdf"
    path.write_bytes(pdf)
    run = [subprocess.run([tool, *more], capture_output=True, text=True, check=True).stdout
           for tool, *more in (("pdftotext", "-layout", str(path), "-"), ("pdfinfo", str(path)))]
    return run[0], run[1]


@needs_poppler
@pytest.mark.parametrize(("units", "paper", "sign"), [("metric", "A4", "[°C]"),
                                                      ("us", "letter", "[°F]")])  # fmt: skip
def test_a_sheet_is_one_page_with_its_lines_card_and_limits(
    units: str, paper: str, sign: str, beds: list[dict[str, Any]], tmp_path: Path
) -> None:
    words, about = words_of(sheet(beds, units), tmp_path)
    assert "Pages:           1" in about
    assert paper in about
    for part in ("Sluice", "February 2026", "Sheet 1", sign, "If you find", "crumbly",
                 "Not colder than", "blue bucket"):  # fmt: skip
        assert part in words, part
    lines = [int(line) for line in re.findall(r"^ *(\d+) *$", words, re.MULTILINE)]
    assert lines == list(range(1, 17))


@needs_poppler
def test_in_spanish_it_is_one_page_too(tmp_path: Path) -> None:
    with speaking("es"):
        words, about = words_of(sheet(list(report_account(morning(FARM))["beds"])), tmp_path)
    assert "Pages:           1" in about
    assert "Si encuentras" in words


@needs_poppler
def test_markup_of_the_keeper_stays_words(beds: list[dict[str, Any]], tmp_path: Path) -> None:
    for pdf in (sheet(beds, name=MARKUP),
                label_pdf(FARM, [marked(1, MARKUP)], [ADDRESS], Shown())):  # fmt: skip
        words, _about = words_of(pdf, tmp_path)
        assert '#panic("no")' in words.replace("\u201c", '"').replace("\u201d", '"')


@needs_poppler
def test_codes_on_paper_are_read_by_another_program(
    beds: list[dict[str, Any]], tmp_path: Path
) -> None:
    """ZXing, an independent reader of QR codes (ISO/IEC 18004), sees what was meant."""
    reader = pytest.importorskip("zxingcpp", reason="zxing-cpp is not installed")
    image = pytest.importorskip("PIL.Image")
    for pdf, count in ((sheet(beds), 1), (label_pdf(FARM, [marked()], [ADDRESS], Shown()), 2)):
        path = tmp_path / "code.pdf"
        path.write_bytes(pdf)
        subprocess.run(["pdftoppm", "-r", "150", "-gray", "-png", "-singlefile", str(path),
                        str(tmp_path / "code")], check=True, capture_output=True)  # fmt: skip
        found = reader.read_barcodes(image.open(tmp_path / "code.png"))
        assert [one.text for one in found] == [ADDRESS] * count


@needs_poppler
def test_a_label_a_page_and_none_has_a_code_without_an_address(tmp_path: Path) -> None:
    names = [marked(1), marked(2), marked(3, "A bed with quite a long name for such a label")]
    words, about = words_of(label_pdf(FARM, names, ["", "", ""], Shown()), tmp_path)
    assert "Pages:           3" in about
    assert "Scan" not in words


def test_without_an_outlook_the_card_is_left_out() -> None:
    made = shed_sheet_pdf(FARM, marked(), Sheet("sluice", FEBRUARY), None, Shown())
    assert made.startswith(b"%PDF")


@needs_poppler
def test_words_half_as_long_again_still_fit_one_page(
    beds: list[dict[str, Any]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def longer(words: str, **values: Any) -> str:
        said = str(say(words, **values))
        return f"{said} {said[: len(said) // 2]}" if " " in said else f"{said}{'x' * 4}"

    for module in ("shed_sheet", "typeset"):
        monkeypatch.setattr(f"bedlore.sheets.{module}.say", longer)
    _words, about = words_of(sheet(beds), tmp_path)
    assert "Pages:           1" in about
