"""The demo record set: an invented fleet with planted wear, planted slips and the truth beside it."""

from wearcast.records.demo.tables import DEFAULT_SEED, Rows, build
from wearcast.records.demo.write import demo_files, write_demo

__all__ = ["DEFAULT_SEED", "demo_files", "demo_tables", "write_demo"]


def demo_tables(seed: int = DEFAULT_SEED) -> dict[str, Rows]:
    """Tables of the demo by name, each a list of rows (column name to cell text), in file order.

    Examples
    --------
    >>> [row["vessel"] for row in demo_tables()["engines"]]
    ['Ossel Brae', 'Tarn Ivelle', 'Merrow Dain', 'Quillo Fen']
    """
    return build(seed).tables
