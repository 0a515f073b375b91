"""The docs cannot drift: every command, option, parameter and JSON field is described."""

from __future__ import annotations

import re
from pathlib import Path

import click
import pytest

from bedlore.facts import building, feedstocks
from bedlore.farm.load import parse_farm as load_farm_text
from tools import gen_docs

DOCS = gen_docs.DOCS


def part(module: str, name: str):
    """A part of the product, or skip while that part is not there."""
    found = gen_docs.load(module, name)
    if found is None:
        pytest.skip(f"{module} is not part of the product yet")
    return found


def read(name: str) -> str:
    return (DOCS / name).read_text("utf-8")


def test_generated_pages_are_current() -> None:
    stale = [
        path.name
        for path, text in gen_docs.pages().items()
        if not path.exists() or path.read_text("utf-8") != text
    ]
    assert stale == [], "run `make docs` and commit what it writes"


def test_every_command_and_option_is_documented() -> None:
    page = read("cli.md") if (DOCS / "cli.md").exists() else ""
    for path, command in gen_docs.commands(part("bedlore.cli.main", "cli")):
        words = " ".join(path)
        assert f"## {words}\n" in page, words
        assert (command.help or "").strip(), f"{words} says nothing about itself"
        section = page.split(f"## {words}\n")[1].split("\n## ")[0]
        for option in (p for p in command.params if isinstance(p, click.Option)):
            assert option.help, f"{words} {option.opts[0]} says nothing about itself"
            for name in option.opts:
                assert f"`{name}`" in section, f"{words} {name}"


def test_every_parameter_is_documented() -> None:
    table = part("bedlore.facts.parameters", "PARAMETERS")
    page = read("parameters.md")
    for parameter in gen_docs.records(table):
        row = next(line for line in page.splitlines() if line.startswith(f"| `{parameter.name}` "))
        assert parameter.source, f"{parameter.name} has no source"
        assert parameter.source.split("|")[0].strip() in row
        assert f" {parameter.known} " in row


def test_every_json_field_is_documented() -> None:
    page = read("nomenclature.md")
    for name, meaning in part("bedlore.service.fields", "FIELDS").items():
        assert f"`{name}`" in page, name
        assert meaning.strip(), f"{name} has no meaning"


def test_every_feedstock_and_building_material_is_documented() -> None:
    page = read("materials.md")
    for table in (feedstocks.load(), building.MATERIALS):
        assert table
        for name in table:
            assert f"`{name}`" in page, name


def test_every_output_of_the_model_is_documented() -> None:
    page = read("nomenclature.md")
    for name in part("bedlore.bed.outputs", "OUTPUT_NAMES"):
        assert f"`{name}`" in page, name


def test_links_between_pages_lead_somewhere() -> None:
    root = gen_docs.ROOT
    for page in [root / "README.md", root / "CONTRIBUTING.md", *sorted(DOCS.rglob("*.md"))]:
        for target in re.findall(r"\]\(([^)#]+?)(?:#[^)]*)?\)", page.read_text("utf-8")):
            if "://" not in target and not target.startswith("mailto:"):
                assert (page.parent / Path(target)).exists(), f"{page.name}: {target}"


def test_the_farm_file_of_the_guide_is_a_farm() -> None:
    page = read("keeper/setting-up.md")
    farm = load_farm_text(page.split("```toml\n")[1].split("```")[0])
    (bed,) = farm.beds
    assert bed.length_m == pytest.approx(1.2192)
    assert [zone.id for zone in bed.zones] == ["left", "right"]
    assert bed.zones[0].worms_kg == pytest.approx(0.9072, abs=1e-4)
    assert {item.material for item in farm.store} == {"food_mixed_kitchen", "bed_corrugated"}


def test_the_docs_use_no_promising_or_threatening_words() -> None:
    """Words this tool does not use, outside the lists that name them as such."""
    banned = re.compile(r"\b(safe|safely|guaranteed|cures?|kills?)\b", re.IGNORECASE)
    for page in [gen_docs.ROOT / "README.md", *sorted(DOCS.rglob("*.md"))]:
        for line in page.read_text("utf-8").splitlines():
            if "not used" not in line:
                assert banned.search(line) is None, f"{page.name}: {line}"


def test_a_stale_page_would_be_seen() -> None:
    @click.command()
    @click.option("--depth", default=3, help="Depth of the probe.")
    def probe(depth: int) -> None:
        """Write down a thermometer reading."""

    page = gen_docs.cli_page(click.Group("bedlore", commands={"probe": probe}))
    assert "## bedlore probe\n" in page
    assert "| `--depth` | Depth of the probe. (default 3) |" in page
    assert "Write down a thermometer reading." in page
    fields = f"a\n{gen_docs.FIELDS_BEGIN}\nold\n{gen_docs.FIELDS_END}\nz\n"
    new = gen_docs.nomenclature_page({"temp_c": "temperature [degC]"}, fields)
    assert new.startswith("a\n")
    assert new.endswith("\nz\n")
    assert "| `temp_c` | temperature [degC] |" in new
    assert "old" not in new
