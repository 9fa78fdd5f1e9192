"""Tables that fit the console: words wrap between words, numbers stay whole as long as there is room."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from rich import box
from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, RenderableType
from rich.table import Table
from rich.text import Text

from fdm.output.tables.sentences import wrapped

GAP = 3  # characters between columns


@dataclass(frozen=True)
class ConsoleTable:
    """A table whose columns with numbers are those in `right`. Cells are no markup: a name may have [brackets]."""

    title: str
    columns: tuple[str, ...]
    right: frozenset[int] = frozenset()
    rows: list[tuple[tuple[str, ...], str]] = field(default_factory=list)  # cells, style

    def add_row(self, *cells: str, style: str = "") -> None:
        """One more row at the end."""
        self.rows.append((cells, style))

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        yield Text(self.title, style="bold")
        widths = self._widths(options.max_width)
        table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
        for k, (name, width) in enumerate(zip(self.columns, widths)):
            header = "\n".join(wrapped(line, width) for line in name.split("\n"))
            table.add_column(Text(header), justify="right" if k in self.right else "left", overflow="fold", width=width)
        for cells, style in self.rows:
            texts = (wrapped(cell, width) for cell, width in zip(cells, widths))
            table.add_row(*(Text(text, style=style) for text in texts))
        yield table

    def _widths(self, most: int) -> list[int]:
        """Of the columns, so that all of them have at most so many characters: as wide as their content where there is
        room, else the widest are narrowed down to their longest words, and only then numbers are split from their ±."""
        room = most - GAP * (len(self.columns) - 1)
        content = [[row[k] for row, _ in self.rows if k < len(row)] for k in range(len(self.columns))]
        heads = [name.split("\n") for name in self.columns]
        full = [max(map(cell_len, [*head, *cells]), default=1) or 1 for head, cells in zip(heads, content)]
        words = [_longest_word([*head, *cells]) for head, cells in zip(heads, content)]
        whole = [
            max(_longest_word(head), *map(cell_len, cells or [""])) if k in self.right else word
            for k, (head, cells, word) in enumerate(zip(heads, content, words))
        ]
        least = next((floor for floor in (whole, words) if sum(floor) <= room), [1] * len(full))
        while sum(full) > room:
            wide = [width if width > floor else 0 for width, floor in zip(full, least)]
            if not any(wide):
                break
            full[wide.index(max(wide))] -= 1
        return full


def new_table(title: str, columns: Sequence[str], right: Sequence[int] = ()) -> ConsoleTable:
    """An empty table, as all are drawn; the columns with numbers in `right`."""
    return ConsoleTable(title, tuple(columns), frozenset(right))


def _longest_word(texts: Sequence[str]) -> int:
    return max((cell_len(word) for text in texts for word in text.split()), default=1)
