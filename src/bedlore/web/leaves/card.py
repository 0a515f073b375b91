"""The if-you-find card as the pages lay it out."""

from __future__ import annotations

from typing import Any

Context = dict[str, Any]


def with_spans(card: Context) -> Context:
    """The card with one cell where all bands say the same."""
    rows = []
    for row in card["rows"]:
        cells = [{**cell, "band": band, "span": 1}
                 for cell, band in zip(row["cells"], card["bands"], strict=True)]  # fmt: skip
        if len({(cell["act"], cell["why"]) for cell in row["cells"]}) == 1:
            cells = [{**cells[0], "span": len(cells)}]
        rows.append({**row, "told": cells})
    return {**card, "rows": rows}
