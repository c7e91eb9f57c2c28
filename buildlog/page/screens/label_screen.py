"""A label for the windshield: the car's name and the code that leads to its sheet."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from markupsafe import Markup

from buildlog.page.drawing.templating import drawn
from buildlog.report.qr_code import qr_svg

if TYPE_CHECKING:
    from buildlog.page.asked import Asked

_HERE = re.compile(r"//(127\.|\[::1\]|localhost|[^/]*\.localhost)")


def page(asked: Asked) -> str:
    """To be printed; the code holds the address of the car's sheet and nothing else."""
    car = asked.car.newest.configuration.car
    address = f"{getattr(asked, 'origin', '')}{asked.at()}"
    return drawn(
        "label", asked, said=car.name, column="windshield", address=address,
        here_only=bool(_HERE.search(address)), vin=(car.vin or "")[-6:],
        code=Markup(qr_svg(address, f"Code of {address}")), title=f"{car.name} · label",
    )  # fmt: skip
