"""Plain data as JSON."""

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
