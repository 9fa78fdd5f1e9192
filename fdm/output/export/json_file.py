"""Plain data as JSON. result.json holds what `solving.result` or `cabinet.result` lists, and, where it is asked for,

uncertainty  inputs {place: nominal uncertainty between from_table table}      table: materials, usual or null
             answers {path: words value unit band uncertainty first_order_holds by {place: change share}}
sample       inputs samples left_out
             answers {path: words value unit band mean standard_deviation quantile_2.5 quantile_97.5 reached}
places       {name: should_read within bare unit ranges now} parts {part: in, on {air}, front, back}   airs {air}
             each place: x y misreading band slope share at
between      ranges {terminal: [low, high]}   warnings   answers {path: words unit, least, most: value band at}
sensitivity  inputs [name kind value unit]   answers {path: words unit value effect [of each input]}
             lengths: names {name: number}   answers {path: per_mm {name: change}}   left_out {name: why}
"""

import json
import sys
from pathlib import Path
from typing import Any

from fdm.section.files import written_beside


def write_json(data: dict[str, Any], path: str | Path) -> None:
    """Write plain data as JSON; to standard output where `path` is "-"."""
    text = json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    if str(path) == "-":
        sys.stdout.write(text)
        return
    with written_beside(path) as temporary:
        temporary.write_bytes(text.encode("utf-8", "backslashreplace"))  # which is JSON's own escape, too
