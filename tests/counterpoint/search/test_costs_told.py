"""The page of the format tells every cost, what it counts and its price in use."""

from pathlib import Path

import yaml

from builder.counterpoint.search import costs

ROOT = Path(__file__).parents[3]
PRICES = yaml.safe_load(Path(costs.__file__).with_name("prices.yaml").read_text(encoding="utf-8"))


def price(name: str) -> str:
    if name in PRICES["by-ear"]:
        return f"{PRICES['by-ear'][name]:.2f}, by ear"
    return " / ".join(f"{each:.2f}" for each in PRICES["learned"][name])


def test_the_page_of_the_format_tells_every_cost_with_its_price():
    page = (ROOT / "content" / "format.md").read_text(encoding="utf-8")
    rows = [f"| `{name}` | {sentence} | {price(name)} |" for name, sentence in costs.COSTS.items()]
    assert "\n".join(rows) in page, "\n".join(rows)
