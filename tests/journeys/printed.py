"""What a command printed for people, taken apart again."""

import re


def rows(text: str) -> dict[str, str]:
    """The rows of the printed tables, by the name at their left (two blanks end it); the first of a name counts."""
    out: dict[str, str] = {}
    for line in text.splitlines():
        name, gap, rest = line.partition("  ")
        if gap and name.strip() == name and name:
            out.setdefault(name, rest.strip())
    return out


def figures(text: str) -> list[float]:
    """The numbers of a text, in order."""
    return [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", text)]


def squeezed(text: str) -> str:
    """The text with every run of blanks and line ends as one blank, so that folded sentences are whole again."""
    return re.sub(r"\s+", " ", text)
