"""Draw the demo's pictures: cards, each of which says that it is no photograph of anything.

Run `python demo_vehicle/draw_cards.py`. The bytes of a JPEG follow the library that writes it, so
a test compares the pictures and not the bytes.
"""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

WIDE, HIGH, FINE = 960, 600, 3  # px; drawn larger by FINE, so that slanted lines come out smooth
GROUND, INK, PALE, LINE = "#eceeef", "#4c5358", "#d3d7da", 5
FONT = Path(__file__).parents[1] / "buildlog/report/pictures/fonts"
Point = tuple[float, float]


class Card:
    """A drawing on the ground of a card, in px of its final size."""

    def __init__(self) -> None:
        self.image = Image.new("RGB", (WIDE * FINE, HIGH * FINE), GROUND)
        self.pen = ImageDraw.Draw(self.image)

    def line(self, *points: Point) -> None:
        """A line through points."""
        at = [(x * FINE, y * FINE) for x, y in points]
        self.pen.line(at, fill=INK, width=LINE * FINE, joint="curve")

    def shape(self, *points: Point) -> None:
        """A closed, filled shape with its outline."""
        self.pen.polygon([(x * FINE, y * FINE) for x, y in points], fill=PALE)
        self.line(*points, points[0], points[1])

    def circle(self, x: float, y: float, radius: float, fill: str | None = PALE) -> None:
        """A circle about a point."""
        box = [(x - radius) * FINE, (y - radius) * FINE, (x + radius) * FINE, (y + radius) * FINE]
        self.pen.ellipse(box, fill=fill, outline=INK, width=LINE * FINE)

    def words(self, text: str) -> None:
        """A line of words at the foot of the card."""
        font = ImageFont.truetype(next(FONT.glob("*egular*.ttf")), 34 * FINE)
        self.pen.text((WIDE / 2 * FINE, 552 * FINE), text, fill=INK, font=font, anchor="mm")

    def jpeg(self) -> bytes:
        """The finished picture."""
        self.words("drawn card, no photograph")
        out = BytesIO()
        self.image.resize((WIDE, HIGH), Image.Resampling.LANCZOS).save(out, "JPEG", quality=82)
        return out.getvalue()


def car(card: Card) -> None:
    """The car from its side."""
    card.shape((120, 400), (110, 330), (150, 296), (300, 276), (400, 190), (600, 186),
               (706, 280), (826, 300), (850, 340), (846, 400))  # fmt: skip
    card.line((430, 212), (500, 208), (500, 276), (348, 280), (430, 212))
    card.line((524, 208), (590, 208), (660, 278), (524, 276), (524, 208))
    for x in (260, 720):
        card.circle(x, 400, 62)
        card.circle(x, 400, 26, GROUND)
    card.line((70, 463), (890, 463))


def turbocharger(card: Card) -> None:
    """A turbocharger from the side: turbine, bearing housing, compressor with its outlet."""
    card.shape((90, 150), (470, 150), (470, 196), (90, 196))  # manifold
    for x in (130, 220, 310):
        card.shape((x, 196), (x + 40, 196), (x + 40, 240), (x, 240))
    card.circle(330, 340, 130)
    card.circle(330, 340, 62, GROUND)
    card.shape((430, 300), (560, 300), (560, 380), (430, 380))
    card.shape((640, 110), (730, 110), (730, 260), (640, 230))
    card.circle(660, 340, 140)
    card.circle(660, 340, 58, GROUND)


def hose(card: Card) -> None:
    """A charge hose between pipe and throttle, with its two clamps and the pipe's bracket."""
    card.shape((80, 220), (380, 220), (380, 330), (80, 330))
    card.shape((600, 220), (860, 220), (860, 330), (600, 330))
    card.shape((330, 200), (650, 200), (650, 350), (330, 350))
    for x in (360, 590):
        card.shape((x, 186), (x + 34, 186), (x + 34, 364), (x, 364))
        card.circle(x + 17, 176, 18)
    card.shape((150, 330), (210, 330), (210, 450), (150, 450))
    card.line((90, 450), (270, 450))


CARDS: dict[str, Callable[[Card], None]] = {
    "05-stage-2-parts/attachments/turbocharger-on-its-manifold.jpg": turbocharger,
    "12-charge-hose-mended/attachments/charge-hose-with-new-clamp.jpg": hose,
    "16-stage-2-recheck/attachments/cover-marrow-tern.jpg": car,
}


def drawn(name: str) -> bytes:
    """One card as a JPEG."""
    card = Card()
    CARDS[name](card)
    return card.jpeg()


def main() -> None:
    """Write all of them."""
    for name in CARDS:
        path = Path(__file__).parent / "files" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(drawn(name))


if __name__ == "__main__":
    main()
