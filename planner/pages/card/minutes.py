"""Minutes left on paper: gauges down the side, a size at a flow in each column."""

from __future__ import annotations

from planner.pages.drawing.flow import PageFlow
from planner.pages.drawing.fonts import Face
from planner.pages.drawing.layout import LEFT, WIDTH
from planner.pages.drawing.lines import figure_width
from planner.pages.drawing.move import LINE, SIZE, figure, lines_of, paragraph, text_line, text_width
from planner.report.minutes_table import MinutesRow, MinutesTable

WIDEST, MOST = 77.0, 8
"""Greatest width of a column, points, and the most columns side by side."""
APART = 4.0
"""Between two columns, points."""
GAP = 6.0


def draw_minutes(flow: PageFlow, table: MinutesTable) -> None:
    """The table, in parts one below the other where it has more columns than fit side by side."""
    for rows in _parts(table):
        _part(flow, table, rows)
    flow.y += GAP


def minutes_height(table: MinutesTable) -> float:
    """Height of the whole table, points."""
    return sum(_height(table, rows) for rows in _parts(table)) + GAP


def _parts(table: MinutesTable) -> list[tuple[MinutesRow, ...]]:
    """Parts of about one number of columns, as few as the widths of minutes and of words in the head allow."""
    minutes = max(text_width(text, "regular") for row in table.rows for text in row.minutes)
    words = [(word, face) for row in table.rows for text, face in _head(row) for word in text.split()]
    widest = max(minutes, *(text_width(word, face) for word, face in words)) + APART
    most = max(1, min(MOST, int((WIDTH - _gauge(table)) / widest)))
    parts = -(-len(table.rows) // most)
    each = -(-len(table.rows) // parts)
    return [table.rows[start : start + each] for start in range(0, len(table.rows), each)]


def _gauge(table: MinutesTable) -> float:
    """Right edge of the gauges, points."""
    return max(figure_width(gauge, SIZE, unit_size=SIZE) for gauge in table.gauges)


def _column(table: MinutesTable, rows: tuple[MinutesRow, ...]) -> float:
    return min(WIDEST, (WIDTH - _gauge(table)) / len(rows))


def _head(row: MinutesRow) -> tuple[tuple[str, Face], ...]:
    """What a column is for: of what, at which flow, and in bold when."""
    return ((row.size, "regular"), (row.supply, "regular"), (row.flow, "regular"), (row.what, "bold"))


def _heads(table: MinutesTable, rows: tuple[MinutesRow, ...]) -> list[list[tuple[str, Face]]]:
    """The head of each column, wrapped to its width."""
    room = _column(table, rows) - APART
    return [[(line, face) for text, face in _head(row) for line in lines_of(text, room, face)] for row in rows]


def _height(table: MinutesTable, rows: tuple[MinutesRow, ...]) -> float:
    deep = max(map(len, _heads(table, rows)))
    return LINE * (len(lines_of(table.title, WIDTH, "bold")) + deep + len(table.gauges)) + 6


def _part(flow: PageFlow, table: MinutesTable, rows: tuple[MinutesRow, ...]) -> None:
    heads, column, gauges = _heads(table, rows), _column(table, rows), LEFT + _gauge(table)
    deep = max(map(len, heads))
    flow.need(_height(table, rows))
    page = flow.page
    y = paragraph(page, LEFT, flow.y, WIDTH, table.title, "bold")
    for place, head in enumerate(heads, start=1):
        for number, (text, face) in enumerate(head):
            at = y + (deep - len(head) + number + 0.8) * LINE
            text_line(page, gauges + place * column, at, text, face=face, align="right")
    bottom = y + (deep + len(table.gauges)) * LINE + 2
    for place in range(len(rows)):  # which minutes belong to which head
        page.rule(gauges + place * column + APART / 2, y + 4, gauges + place * column + APART / 2, bottom, 0.3)
    y += deep * LINE + 2
    page.rule(LEFT, y, gauges + len(rows) * column, y, 1.4)
    for line, gauge in enumerate(table.gauges):
        figure(page, gauges, y + 0.8 * LINE, gauge)
        for place, row in enumerate(rows, start=1):
            figure(page, gauges + place * column, y + 0.8 * LINE, row.minutes[line], face="regular")
        y += LINE
        page.rule(LEFT, y, gauges + len(rows) * column, y, 0.4)
    flow.y = y + 4
