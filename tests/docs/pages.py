"""What a page of Markdown holds that can be checked: commands, what they show, the program's name in the text, links.

Commands stand in blocks marked `sh`; a block marked `text` right behind one is what it shows. Comments of HTML, which a
reader does not see, say what else the check has to know. Each stands on lines of its own, before the block:

    <!-- before: COMMANDS -->       what the reader is taken to have done (a recording made, say); run by the check
    <!-- not run: REASON -->        the next block is not run
    <!-- exit: N -->                the next block ends with this exit status
    <!-- until TEXT: COMMANDS -->   the next block goes on until stopped: when its output holds TEXT, the commands are run,
                                    and then it is stopped as by Ctrl-C; an address that it printed is $URL
"""

import re
from dataclasses import dataclass, field
from pathlib import Path

COMMENT = re.compile(r"<!--\s*(before|not run|exit|until [^:]+):\s*(.*?)\s*-->", re.S)
FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.M | re.S)
LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")


@dataclass
class Block:
    """One block of commands, and what the page says of it."""

    line: int
    commands: str
    shown: str | None = None
    before: str = ""
    not_run: str | None = None
    exit: int = 0
    until: tuple[str, str] | None = None


@dataclass
class Page:
    """A page: its commands in order, inline code, link targets, and the names of its headings."""

    path: Path
    blocks: list[Block] = field(default_factory=list)
    spans: list[tuple[int, str]] = field(default_factory=list)
    links: list[tuple[int, str]] = field(default_factory=list)
    anchors: set[str] = field(default_factory=set)
    # Lines of commands that stand indented, where no check would see them.
    indented: list[int] = field(default_factory=list)


def anchor(heading: str) -> str:
    """The name under which a heading is linked to."""
    plain = re.sub(r"[`*_]|\[([^\]]*)\]\([^)]*\)", r"\1", heading)
    return re.sub(r"[^\w\- ]", "", plain.strip().lower()).replace(" ", "-")


def prose(path: Path) -> Page:
    """Reads what stands outside of blocks: inline code, links, headings."""
    # Blocks and comments keep their lines, emptied.
    blank = lambda m: "\n" * m[0].count("\n")  # noqa: E731
    text = re.sub(r"<!--.*?-->", blank, FENCE.sub(blank, path.read_text()), flags=re.S)
    line_of = lambda m: text.count("\n", 0, m.start()) + 1  # noqa: E731
    return Page(
        path,
        spans=[(line_of(m), " ".join(m[1].split())) for m in re.finditer(r"`([^`]+)`", text)],
        links=[(line_of(m), m[1]) for m in LINK.finditer(text)],
        anchors={anchor(h) for h in re.findall(r"^#+ (.+)$", text, re.M)},
        indented=[line_of(m) for m in re.finditer(r"^(?: {4,}|\t)(?:takegauge|cargo|pip|tests/)", text, re.M)],
    )


def read(path: Path) -> Page:
    """Reads a page whose blocks are marked as above.

    Raises ValueError where a mark or a block is not understood: what is not understood would go unchecked."""
    page, text = prose(path), path.read_text()
    if page.indented:
        raise ValueError(f"{path}:{page.indented[0]}: commands that are indented are not run; mark them as a block of sh")
    fences = list(FENCE.finditer(text))
    if len(re.findall(r"^\s*```", text, re.M)) != 2 * len(fences):
        raise ValueError(f"{path}: a block is indented or not closed")
    comments = [c for c in COMMENT.finditer(text) if not any(f.start() <= c.start() < f.end() for f in fences)]
    if text.count("<!--") != len(comments):
        raise ValueError(f"{path}: a comment that this check does not know")
    said: list[tuple[str, str]] = []
    last_end = 0
    for part in sorted(fences + comments, key=lambda m: m.start()):
        line = text.count("\n", 0, part.start()) + 1
        if part.re is COMMENT:
            said.append((part[1], part[2]))
        elif part[1] == "sh":
            page.blocks.append(with_words(Block(line, part[2]), said))
            said = []
        elif part[1] == "text":
            if not page.blocks or page.blocks[-1].shown is not None or text[last_end : part.start()].strip():
                raise ValueError(f"{path}:{line}: shown text without commands right before it")
            page.blocks[-1].shown = part[2]
        elif part[1] == "":
            raise ValueError(f"{path}:{line}: say what the block is: sh, text, python, toml ...")
        last_end = part.end()
    if said:
        raise ValueError(f"{path}: a comment without a block of commands behind it: {said}")
    return page


def with_words(block: Block, said: list[tuple[str, str]]) -> Block:
    """The block with what the comments before it say."""
    for what, words in said:
        if what == "before":
            block.before += words + "\n"
        elif what == "not run":
            block.not_run = words
        elif what == "exit":
            block.exit = int(words)
        else:
            block.until = (what.removeprefix("until ").strip(), words)
    return block


def holds(output: str, shown: str) -> str | None:
    """None where the output is as shown, line by line; a line of `...` stands for any lines. Else the first line missing."""
    lines = [line.rstrip() for line in output.splitlines()]
    at, skip = 0, False
    for want in (line.rstrip() for line in shown.splitlines()):
        if want == "...":
            skip = True
            continue
        found = next((i for i in range(at, len(lines)) if lines[i] == want), None) if skip else at
        if found is None or found >= len(lines) or lines[found] != want:
            return want
        at, skip = found + 1, False
    return None if skip or at == len(lines) else lines[at]
