"""Sentences on a console, whose lines end between words, and not between a number and its unit."""

import re
import textwrap
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rich.cells import cell_len
from rich.console import Console, ConsoleOptions
from rich.text import Text

TIED = re.compile(r"(?<=[0-9?]) (?=(?:±|%|(?:K|W|A|V|J|mm|m|s|h|min|days|kWh|degC|ohm)(?![a-z])))|(?<=[±=]) | (?== )")
ARTICLES = ("a", "all", "an", "both", "each", "every", "our", "the")  # words that stand in their place
TIE = "\u00a0"  # a space at which textwrap does not break
WIDER = "\ue000"  # stands behind a letter that takes the room of two


@dataclass(frozen=True)
class Sentence:
    """To print: a sentence on lines that fit the console. It is no markup."""

    text: str
    style: str = ""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[Text]:
        yield Text(wrapped(self.text, options.max_width), style=self.style)


def with_article(name: str) -> str:
    """The name of a thing within a sentence.

    >>> with_article("hot sink"), with_article("all walls")
    ('the hot sink', 'all walls')
    """
    return name if name.partition(" ")[0].lower() in ARTICLES else f"the {name}"


def print_sentences(sentences: Iterable[str], console: Console) -> None:
    """Each on lines of its own."""
    for sentence in sentences:
        console.print(Sentence(sentence), highlight=False)


def wrapped(sentence: str, width: int) -> str:
    """The sentence on lines of at most so many letters, wide ones twice; one that is indented goes on further in.

    >>> wrapped("the air is 4.46 ± 0.08 degC, the load 7 K", 16)
    'the air is\\n4.46 ± 0.08 degC,\\nthe load 7 K'
    >>> wrapped("室内 室内 air", 9)
    '室内 室内\\nair'
    """
    tied = "".join(c + WIDER * (cell_len(c) - 1) for c in TIED.sub(TIE, sentence))
    indent = " " * (len(sentence) - len(sentence.lstrip()))
    further = f"{indent}  " if indent else ""
    lines = textwrap.wrap(tied, width, subsequent_indent=further, break_on_hyphens=False, break_long_words=False)
    return "\n".join(lines).replace(TIE, " ").replace(WIDER, "")
