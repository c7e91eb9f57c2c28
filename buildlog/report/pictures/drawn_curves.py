"""Curves of several versions with their bands, the difference below, and small panels.

Up to six versions are named beside their ends where there is room, else by numbers and a list; of
more, the first, the last and the chosen ones are in colour. Beyond sixteen the numbers no longer
fit at the ends: the list above the curves then holds what is in colour, one below them the rest.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from buildlog.report.pictures import letters
from buildlog.report.pictures.curve_model import Panel, Picture, apart
from buildlog.report.pictures.frames import Frame, labels, ticks, x_axis
from buildlog.report.pictures.look import WIDE, PageSizes
from buildlog.report.pictures.panels import MANY, PanelDrawing, Scene, prominent, versions
from buildlog.report.pictures.paper import Paper, heading, notes, panel_title, shown
from buildlog.report.pictures.readings import readings, told_of

LISTED = 16  # versions whose list stands above the curves


def draw(picture: Picture, layout: PageSizes = WIDE, *, bare: bool = False) -> Paper:
    """The picture on paper; `bare` without headline, conditions and notes, which a page has."""
    paper = Paper(layout)
    if bare:
        paper.title, paper.y = picture.headline, 0.0
        paper.y = -1.1 * layout.panel
    else:
        heading(paper, picture.headline, picture.conditions)
    paper.description = _description(picture)
    scene = Scene(apart(picture, prominent(picture)), paper)
    _panels(scene)
    _others(scene)
    if not bare:
        notes(paper, _notes(picture))
    else:
        paper.y -= layout.margin * 0.8 - 2
    return paper


def _description(picture: Picture) -> str:
    """What a reader who sees nothing is told."""
    told = []
    for panel in picture.panels:
        names = "; ".join(
            f"{one.label} {one.top[2]}" if one.top else one.label for one in panel.curves
        )
        told.append(f"{panel.strong}, {panel.rest}: {names}" if panel.rest else
                    f"{panel.strong}: {names}")  # fmt: skip
    return f"{picture.conditions}. {'. '.join(told)}. Against {picture.x_label}.".replace(
        "\n", ". "
    )


def _notes(picture: Picture) -> str:
    names = versions(picture)
    if len(names) <= MANY:
        return picture.notes
    chosen = ", ".join(picture.chosen)
    told = f"Highlighted: the first{f', the last and {chosen}' if chosen else ' and the last'}"
    rest = len(names) - 2 - len(picture.chosen)
    return f"{told}. Gray: the other\N{NO-BREAK SPACE}{rest}. {picture.notes}".strip()


def _panels(scene: Scene) -> None:
    """All panels, and the axis below the last."""
    frame, framed = None, []
    for index, panel in enumerate(scene.picture.panels):
        panel_title(scene.paper, _title(scene, panel), panel.rest)
        if index == 0 and not scene.lane and not scene.alone and scene.names:
            shorter = len(scene.names) > LISTED
            kept = [n for n in scene.names if n in scene.coloured or not shorter]
            _list(scene, panel, kept)
        least, most, marks = scene.ticks[index]
        top = scene.paper.y + 8
        frame = Frame(scene.left, top, scene.right, top + scene.heights[index], scene.x0, scene.x1,
                      least, most)  # fmt: skip
        scene.paper.y = frame.bottom
        PanelDrawing(scene, panel, frame).draw(marks)
        framed.append((panel, frame))
    scene.paper.readings += readings(framed)
    scene.paper.columns = (scene.picture.x_label, *told_of(panel for panel, _ in framed))
    if frame is not None:
        layout = scene.paper.layout
        values = ticks(scene.x0, scene.x1, (frame.right - frame.left) / (4.6 * layout.tick))
        x_axis(scene.paper, frame, values, labels(values), scene.picture.x_label)


def _title(scene: Scene, panel: Panel) -> str:
    """A panel's title; of a difference whose names are too long for it, by the list's numbers."""
    layout = scene.paper.layout
    room = 0.8 * (layout.width - 2 * layout.margin)
    fits = letters.width(shown(panel.strong), layout.panel, True) <= room
    if panel.kind != "difference" or scene.lane or scene.alone or fits:
        return panel.strong
    ends = {f"{b} minus {a}": (j, i) for i, a in enumerate(scene.names, 1)
            for j, b in enumerate(scene.names, 1)}  # fmt: skip
    found = ends.get(panel.curves[0].label)
    return f"Difference, {found[0]} minus {found[1]}" if found else panel.strong


def _others(scene: Scene) -> None:
    """Below the curves of very many versions: those in grey, by number, name and peak."""
    names = [name for name in scene.names if name not in scene.coloured]
    if len(scene.names) > LISTED and not scene.lane:
        panel_title(scene.paper, f"The other {len(names)}", "in gray")
        _list(scene, scene.picture.panels[0], names)


def _list(scene: Scene, panel: Panel, names: Sequence[str]) -> None:
    """Sample, number, name and peak of each version; two columns from six rows on, more where
    they fit and the rows are many."""
    layout, paper, size = scene.paper.layout, scene.paper, scene.paper.layout.name
    curves = {one.label: one for one in panel.curves if one.kind == "version"}
    sampled = any(name in scene.coloured for name in names)
    first = (52 if sampled else 0) + letters.width("00", size, True)
    longest = max(letters.width(shown(name), size, True) for name in names)
    tops, inner = scene.tops, layout.width - 2 * layout.margin
    peaks = max((letters.width(text, size) for text in tops.values()), default=0.0)
    across = 2 if len(names) >= 6 and not layout.narrow else 1
    if first + 8 + longest + 20 + peaks > (inner - 28 * (across - 1)) / across:
        # where names would be cut the speed of the peak makes room for them
        tops = {name: text.split(" at ")[0] for name, text in tops.items()}
        peaks = max((letters.width(text, size) for text in tops.values()), default=0.0)
    whole = first + 8 + longest + 20 + peaks
    columns = 1
    if len(names) >= 6 and not layout.narrow:
        columns = max(2, min(int((inner + 28) // (whole + 28)), math.ceil(len(names) / 12)))
    rows = math.ceil(len(names) / columns)
    room = (inner - 28 * (columns - 1)) / columns
    wide = room if layout.narrow else min(room, whole)
    top = paper.y + 2
    for index, name in enumerate(names):
        x = layout.margin + (index // rows) * (wide + 28)
        y = top + (index % rows + 0.72) * layout.row
        curve = curves.get(name)
        if curve is None:
            continue
        bright = name in scene.coloured
        if bright:
            scene.sample(x, y - 0.32 * size, 40, curve)
        word = scene.colour(curve, "word")
        number = str(scene.names.index(name) + 1)
        paper.say(x + first, y, number, size, word if bright else "soft", bright, "end")
        told = letters.fitted(shown(name), size, wide - first - 8 - (peaks and peaks + 18), bright)
        paper.say(x + first + 8, y, told, size, word if bright else "soft", bright)
        if name in tops:
            paper.say(x + wide, y, tops[name], size, "ink" if bright else "soft", anchor="end")
    paper.y = top + rows * layout.row + 4
