"""Minutes left on paper: gauges down the side, a size at a flow in each column."""

from __future__ import annotations

from planner.pages.drawing.flow import Flow
from planner.pages.drawing.layout import LEFT, WIDTH
from planner.pages.drawing.move import LINE, figure, lines_of, paragraph, say
from planner.report.minutes_table import MinutesRow, MinutesTable

GAUGE, COLUMN, MOST = 78.0, 76.6, 6
"""Right edge of the gauges, width of a column, points; the most columns side by side."""
GAP = 6.0


def draw_minutes(flow: Flow, table: MinutesTable) -> None:
    """The table, in parts one below the other where it has more than six columns."""
    for rows in _parts(table):
        _part(flow, table, rows)
    flow.y += GAP


def minutes_height(table: MinutesTable) -> float:
    """Height of the whole table, points."""
    return sum(_height(table, rows) for rows in _parts(table)) + GAP


def _parts(table: MinutesTable) -> list[tuple[MinutesRow, ...]]:
    return [table.rows[start : start + MOST] for start in range(0, len(table.rows), MOST)]


def _heads(rows: tuple[MinutesRow, ...]) -> list[list[str]]:
    """What each column is for, wrapped to its width."""
    return [
        [line for text in (row.size, row.supply, row.flow, row.what) for line in lines_of(text, COLUMN - 6, "bold")]
        for row in rows
    ]


def _height(table: MinutesTable, rows: tuple[MinutesRow, ...]) -> float:
    deep = max(map(len, _heads(rows)))
    return LINE * (len(lines_of(table.title, WIDTH, "bold")) + deep + len(table.gauges)) + 6


def _part(flow: Flow, table: MinutesTable, rows: tuple[MinutesRow, ...]) -> None:
    heads = _heads(rows)
    deep = max(map(len, heads))
    flow.need(_height(table, rows))
    page = flow.page
    y = paragraph(page, LEFT, flow.y, WIDTH, table.title, "bold")
    for column, head in enumerate(heads, start=1):
        for number, text in enumerate(head):
            at = y + (deep - len(head) + number + 0.8) * LINE
            say(page, LEFT + GAUGE + column * COLUMN, at, text, face="bold", align="right")
    y += deep * LINE + 2
    page.rule(LEFT, y, LEFT + GAUGE + len(rows) * COLUMN, y, 1.4)
    for place, gauge in enumerate(table.gauges):
        figure(page, LEFT + GAUGE, y + 0.85 * LINE, gauge)
        for column, row in enumerate(rows, start=1):
            figure(page, LEFT + GAUGE + column * COLUMN, y + 0.85 * LINE, row.minutes[place], face="regular")
        y += LINE
        page.rule(LEFT, y, LEFT + GAUGE + len(rows) * COLUMN, y, 0.4)
    flow.y = y + 4
