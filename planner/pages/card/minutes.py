"""Minutes left on paper: gauges down the side, a size at a flow in each column."""

from __future__ import annotations

from planner.pages.drawing.flow import Flow
from planner.pages.drawing.layout import LEFT, WIDTH
from planner.pages.drawing.move import LINE, figure, lines_of, measure, paragraph, say
from planner.report.minutes_table import MinutesRow, MinutesTable

GAUGE = 70.0
"""Right edge of the gauges, points."""
WIDEST, MOST = 77.0, 8
"""Greatest width of a column, points, and the most columns side by side."""
APART = 5.0
"""Between two columns, points."""
GAP = 6.0


def draw_minutes(flow: Flow, table: MinutesTable) -> None:
    """The table, in parts one below the other where it has more columns than fit side by side."""
    for rows in _parts(table):
        _part(flow, table, rows)
    flow.y += GAP


def minutes_height(table: MinutesTable) -> float:
    """Height of the whole table, points."""
    return sum(_height(table, rows) for rows in _parts(table)) + GAP


def _parts(table: MinutesTable) -> list[tuple[MinutesRow, ...]]:
    """Parts of about one number of columns, as few as the widths of minutes and of words in the head allow."""
    minutes = max(measure(text, "regular") for row in table.rows for text in row.minutes)
    heads = (word for row in table.rows for text in (row.size, row.flow, row.what) for word in text.split())
    most = min(MOST, int((WIDTH - GAUGE) / (max(minutes, *(measure(word, "bold") for word in heads)) + APART)))
    parts = -(-len(table.rows) // most)
    each = -(-len(table.rows) // parts)
    return [table.rows[start : start + each] for start in range(0, len(table.rows), each)]


def _column(rows: tuple[MinutesRow, ...]) -> float:
    return min(WIDEST, (WIDTH - GAUGE) / len(rows))


def _heads(rows: tuple[MinutesRow, ...]) -> list[list[str]]:
    """What each column is for, wrapped to its width."""
    room = _column(rows) - APART
    return [
        [line for text in (row.size, row.supply, row.flow, row.what) for line in lines_of(text, room, "bold")]
        for row in rows
    ]


def _height(table: MinutesTable, rows: tuple[MinutesRow, ...]) -> float:
    deep = max(map(len, _heads(rows)))
    return LINE * (len(lines_of(table.title, WIDTH, "bold")) + deep + len(table.gauges)) + 6


def _part(flow: Flow, table: MinutesTable, rows: tuple[MinutesRow, ...]) -> None:
    heads, column = _heads(rows), _column(rows)
    deep = max(map(len, heads))
    flow.need(_height(table, rows))
    page = flow.page
    y = paragraph(page, LEFT, flow.y, WIDTH, table.title, "bold")
    for place, head in enumerate(heads, start=1):
        for number, text in enumerate(head):
            at = y + (deep - len(head) + number + 0.8) * LINE
            say(page, LEFT + GAUGE + place * column, at, text, face="bold", align="right")
    y += deep * LINE + 2
    page.rule(LEFT, y, LEFT + GAUGE + len(rows) * column, y, 1.4)
    for line, gauge in enumerate(table.gauges):
        figure(page, LEFT + GAUGE, y + 0.8 * LINE, gauge)
        for place, row in enumerate(rows, start=1):
            figure(page, LEFT + GAUGE + place * column, y + 0.8 * LINE, row.minutes[line], face="regular")
        y += LINE
        page.rule(LEFT, y, LEFT + GAUGE + len(rows) * column, y, 0.4)
    flow.y = y + 4
