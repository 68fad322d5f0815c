"""Markdown tables."""


def number(x, places):
    return "-" if x is None else f"{x:.{places}f}"


def table(heads, rows):
    lines = ["| " + " | ".join(heads) + " |", "|" + "|".join("---" if i == 0 else "--:" for i in range(len(heads))) + "|"]
    return lines + ["| " + " | ".join(str(c) for c in row) + " |" for row in rows]
